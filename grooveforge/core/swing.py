"""Swing: time bent inside each pulse, so that its first half is longer than its second.

The pulse is what holds two eighths: a quarter in simple time, whatever the beat is called (2/2 swings its
eighths too). In metres of eighths or sixteenths a group of an even number of units holds pulses of two units,
so the twos of 7/8 swing; a group of three has three equal parts already and stays straight, and so does all
of 6/8, 9/8 and 12/8. House rule; eighths swung in a ratio between 1:1 and 3:1 are common practice.

Inside each half time runs evenly, so order is kept and whatever stands on the pulse stays there.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.meter import Meter

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

STRAIGHT = Fraction(1)


def pulses(meter: Meter) -> tuple[tuple[Fraction, Fraction], ...]:
    """The pulses of a bar that swing, as (start, length) in whole notes."""
    if meter.lower <= 4:
        quarter = Fraction(1, 4)
        return tuple((number * quarter, quarter) for number in range(int(meter.whole / quarter)))
    pair = 2 * meter.unit
    found: list[tuple[Fraction, Fraction]] = []
    start = Fraction(0)
    for size in meter.grouping:
        if size % 2 == 0:
            found += [(start + number * pair, pair) for number in range(size // 2)]
        start += size * meter.unit
    return tuple(found)


@lru_cache(maxsize=256)
def _bends(meter: Meter, ratio: Fraction, division: int) -> tuple[Floats, Floats]:
    """Straight ticks of a bar and where they go; both start at 0 and end at the bar line."""
    straight, swung = [Fraction(0)], [Fraction(0)]
    for start, length in pulses(meter):
        middle, late = start + length / 2, start + length * ratio / (ratio + 1)
        for place, target in ((start, start), (middle, late)):
            if place > straight[-1]:
                straight.append(place)
                swung.append(target)
        straight.append(start + length)
        swung.append(start + length)
    if straight[-1] < meter.whole:
        straight.append(meter.whole)
        swung.append(meter.whole)
    ticks = [np.array([float(4 * division * place) for place in places]) for places in (straight, swung)]
    return ticks[0], ticks[1]


def swung(within: Ints, meter: Meter, ratio: Fraction, division: int) -> Ints:
    """Where ticks go when the pulse's halves stand in a ratio.

    Parameters
    ----------
    within : ticks from a bar line, any shape; those outside the bar are taken as of a bar before or after.
    ratio : long to short half, 1 to 3. division : ticks to a quarter.

    Returns
    -------
    Ticks from the same bar line, each rounded once; a ratio is exact where its halves are whole ticks.
    """
    if ratio == STRAIGHT:
        return within
    straight, bent = _bends(meter, ratio, division)
    bar = int(meter.quarters * division)
    bars, inside = np.divmod(within, bar)
    moved: Ints = np.floor(np.interp(inside, straight, bent) + 0.5).astype(np.int64) + bars * bar
    return moved
