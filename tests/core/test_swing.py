"""Swing: where straight ticks go, by metre and ratio (house rules of `core.swing`)."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.core.arrange import arrange
from grooveforge.core.meter import Meter, parse_meter
from grooveforge.core.perform import perform
from grooveforge.core.swing import pulses, swung
from grooveforge.project.sheets import song_from
from tests.laws import strategies

RATIOS = st.fractions(1, 3, max_denominator=16)


def moved(meter: str, ratio: Fraction, eighths: list[int], division: int = 480) -> list[int]:
    """Where eighths of a bar go, in ticks."""
    ticks = np.array(eighths, np.int64) * (division // 2)
    return [int(tick) for tick in swung(ticks, parse_meter(meter), ratio, division)]


@pytest.mark.parametrize("ratio", [Fraction(3, 2), Fraction(5, 3), Fraction(2), Fraction(5, 2), Fraction(3)])
def test_the_halves_stand_in_the_ratio(ratio: Fraction) -> None:
    """The long half is `ratio` times the short one, exactly where both are whole ticks."""
    division = 480 * (ratio + 1).numerator
    places = moved("4/4", ratio, list(range(9)), division)
    for start, middle, end in zip(places[::2], places[1::2], places[2::2]):
        assert Fraction(middle - start, end - middle) == ratio
        assert end - start == division


def test_a_ratio_between_ticks_is_rounded_once() -> None:
    """7:5 of 480 ticks is 280 to 200; 1.7:1 is 302.2, so 302."""
    assert moved("4/4", Fraction(7, 5), [1]) == [280]
    assert moved("4/4", Fraction(17, 10), [1]) == [302]


def test_sixteenths_lie_evenly_inside_their_half() -> None:
    """2:1 puts the sixteenths of a beat at 0, 1/3, 2/3 and 5/6 of it."""
    ticks = np.arange(0, 480, 120)
    assert swung(ticks, Meter(4, 4), Fraction(2), 480).tolist() == [0, 160, 320, 400]


@pytest.mark.parametrize(
    ("meter", "ends"),
    [
        ("4/4", [320, 800, 1280, 1760]),  # the & of each quarter
        ("2/2", [320, 800, 1280, 1760]),  # the same bar counted in halves
        ("3/4", [320, 800, 1280]),
        ("7/8", [320, 800]),  # 2+2+3: the three stays straight
        ("5/8", [720 + 320]),  # 3+2
        ("6/8", []),
        ("12/8", []),
        ("4/8", [320, 800]),
    ],
)
def test_which_off_beats_move(meter: str, ends: list[int]) -> None:
    """At 2:1 the second eighth of every pulse moves by 80 ticks of 480; all other eighths stay."""
    metre = parse_meter(meter)
    straight = np.arange(0, int(metre.quarters * 480), 240)
    found = swung(straight, metre, Fraction(2), 480)
    assert found[found != straight].tolist() == ends
    assert (found - straight)[found != straight].tolist() == [80] * len(ends)


def test_a_grouping_says_which_eighths_pair() -> None:
    """7/8 as 3+2+2 swings its last two groups; 6/8 as 2+2+2 all three."""
    assert pulses(Meter(7, 8, (3, 2, 2))) == ((Fraction(3, 8), Fraction(1, 4)), (Fraction(5, 8), Fraction(1, 4)))
    assert len(pulses(Meter(6, 8, (2, 2, 2)))) == 3


@given(st.data(), RATIOS)
def test_order_lines_and_pulses_stay(data: st.DataObject, ratio: Fraction) -> None:
    """Ticks of any bar, the one before and the one after keep their order, and its bar lines and pulses stay."""
    meter = data.draw(strategies.meters())
    bar = int(meter.quarters * 480)
    ticks = np.arange(-bar, 2 * bar + 1, 5)
    found = swung(ticks, meter, ratio, 480)
    assert (np.diff(found) > 0).all()
    fixed = [0, bar, -bar, 2 * bar] + [int(4 * 480 * start) for start, _ in pulses(meter)]
    assert swung(np.array(fixed), meter, ratio, 480).tolist() == fixed


@given(strategies.meters())
def test_one_to_one_changes_nothing(meter: Meter) -> None:
    ticks = np.arange(0, int(meter.quarters * 480))
    assert np.array_equal(swung(ticks, meter, Fraction(1), 480), ticks)


@given(strategies.meters())
def test_pulses_lie_in_the_bar_in_order(meter: Meter) -> None:
    """No pulse overlaps the next one or the bar line."""
    edges = [edge for start, length in pulses(meter) for edge in (start, start + length)]
    assert edges == sorted(edges)
    assert not edges or (edges[0] >= 0 and edges[-1] <= meter.whole)


def test_inserted_beats_swing_wherever_the_section_stands() -> None:
    """The same strokes at the same distances from the section's start, first in the song or behind another part."""
    sheet = """
title = "Tin Oar"
tempo = 120
meter = "7/8"
form = [{form}]
[defaults]
groove = "limp"
bars = 4
levels = "flat"
arrival = false
[parts.calm]
[parts.late]
swing = "2:1"
insert = [{{ beats = 3, before_bar = 3 }}]
[grooves.limp]
tab = '''
HH xxxxxxxxxxxxxx
SN ----o-----o---
BD o-------o-----
'''
"""

    def late(form: str) -> list[tuple[int, ...]]:
        made = perform(arrange(song_from(sheet.format(form=form), "oar.toml")))
        start = next(at for at, name in made.markers if name == "late")
        rows = zip(made.events.tick.tolist(), made.events.surface.tolist(), made.events.velocity.tolist())
        return [(tick - start, *rest) for tick, *rest in rows if tick >= start]

    alone = late('"late"')
    assert len(alone) > 40
    assert any(tick % 120 for tick, *_ in alone), "swung"
    assert late('"calm", "late"') == alone
