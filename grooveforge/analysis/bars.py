"""Where the bars of a performance stand."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.perform import Performance

Ints = NDArray[np.int64]


def bar_lines(performance: Performance) -> Ints:
    """(bars + 1,) the ticks of a performance's bar lines, the last one at its end."""
    lines: list[int] = []
    starts = [*performance.meters, (performance.end, None)]
    for (begin, meter), (end, _) in pairwise(starts):
        if meter is None:
            continue
        length = meter.quarters * performance.division
        count = max(-(-Fraction(end - begin) // length), 0)
        lines += [begin + int(number * length) for number in range(int(count))]
    return np.array([*lines, max(performance.end, lines[-1] + 1 if lines else 0)], np.int64)


def beats_of_bars(performance: Performance) -> Ints:
    """(bars,) how many beats the metre of each bar has."""
    changes = np.array([tick for tick, _ in performance.meters], np.int64)
    beats = np.array([len(meter.beats) for _, meter in performance.meters], np.int64)
    return beats[np.searchsorted(changes, bar_lines(performance)[:-1], side="right") - 1]
