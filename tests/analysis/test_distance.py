"""The distance of two grooves: a metric, with the values that the weights give."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import lcm

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.analysis.distance import LANES, difference, distance, joined, strokes_of
from grooveforge.core.feel import FeelChange, set_feel
from grooveforge.core.groove import Groove, empty
from grooveforge.core.kit import BACKBEAT_SURFACES, Kind, sounding
from grooveforge.core.meter import Meter
from grooveforge.formats.tab import read_tab
from tests.laws.strategies import grooves

FOUR = Meter(4, 4)

PLAIN = """
HH x-x-x-x-x-x-x-x-
SN ----O-------O---
BD o-------o-------
"""


def tab(text: str, timekeeper: str | None = None) -> Groove:
    return read_tab(text).groove(FOUR, 16, timekeeper)


def without_hand(groove: Groove) -> Groove:
    """The same strokes with no hand named, as a MIDI file has them."""
    if groove.hand is None or groove.surface is None:
        return groove
    return replace(groove.with_lane(groove.surface, groove.hand), hand=None, surface=None)


def elements(groove: Groove) -> dict[tuple[object, ...], int]:
    """The elements of a groove that names its hand, with their weights, by the definition and nothing else."""
    found: dict[tuple[object, ...], int] = {}
    for name, lane in groove.voices:
        label = name if name == "kick" else "snare" if name in BACKBEAT_SURFACES else "other"
        label = "timekeeper" if lane is groove.hand else label
        for step in lane.struck.tolist():
            bar, inside = divmod(step, groove.steps_per_bar)
            place = (bar, Fraction(inside, groove.grid), label)
            found[place] = 7
            found[(*place, sounding(name, Kind(int(lane.kind[step])), 1)[0])] = 1
    return found


def by_definition(one: Groove, other: Groove) -> float:
    a, b = elements(one), elements(other)
    either = sum({**a, **b}.values())
    shared = sum(weight for key, weight in a.items() if key in b)
    return (either - shared) / either if either else 0.0


def named() -> st.SearchStrategy[Groove]:
    return grooves(most_bars=2).filter(lambda groove: groove.hand is not None)


# -- values ----------------------------------------------------------------------------------------------


def test_full_against_half() -> None:
    """A plain groove at full against half time: 0.31 (house rule: 4 of 13 strokes are not shared)."""
    full = tab(PLAIN)
    half = set_feel(full, FeelChange("half"))
    assert distance(full, half) == pytest.approx(4 / 13)
    assert round(distance(full, half), 2) == 0.31
    found = difference(strokes_of(full), strokes_of(half))
    assert dict(found.lanes) == {"kick": 0.5, "snare": 1.0, "timekeeper": 0.0, "other": 0.0}
    assert found.surface == 0.0


def test_ride_against_china() -> None:
    """The hand on a china instead of a ride, all else equal: 0.15 (house rule: 16 of 104 parts)."""
    ride, china = tab(PLAIN).move_hand("ride"), tab(PLAIN).move_hand("china")
    assert distance(ride, china) == pytest.approx(16 / 104)
    assert round(distance(ride, china), 2) == 0.15
    found = difference(strokes_of(ride), strokes_of(china))
    assert set(found.lanes.values()) == {0.0}
    assert found.surface == 1.0


def test_a_groove_against_silence() -> None:
    """Nothing shared is a distance of 1; silence against silence is 0."""
    assert distance(tab(PLAIN), empty(FOUR)) == 1.0
    assert distance(empty(FOUR), empty(FOUR, bars=3)) == 0.0


def test_levels_are_no_distance() -> None:
    """Louder strokes are counted apart, in `level`."""
    loud = tab(PLAIN.replace("x", "X"))
    found = difference(strokes_of(tab(PLAIN)), strokes_of(loud))
    assert found.distance == 0.0
    assert found.level == pytest.approx(8 / 12)


def test_the_bars_have_distances_of_their_own() -> None:
    """Each bar is measured alone; a bar that only one side has is 1, two rests are 0."""
    full, rests = tab(PLAIN), empty(FOUR, 16)
    longer = full.then(set_feel(full, FeelChange("half"))).then(rests).then(full)
    found = difference(strokes_of(full.repeat(2)), strokes_of(longer))
    assert found.bars.tolist() == [0.0, pytest.approx(4 / 13), 0.0, 1.0]


def test_side_stick_is_the_snare_lane() -> None:
    """A side stick in the snare's place changes a surface, no position."""
    stick = tab(PLAIN.replace("O", "@"))
    assert difference(strokes_of(tab(PLAIN)), strokes_of(stick)).lanes["snare"] == 0.0
    assert distance(tab(PLAIN), stick) == pytest.approx(4 / (12 * 7 + 10 + 4))


def test_an_open_stroke_is_a_surface_of_the_hand() -> None:
    """One open hi-hat among eight strokes is an eighth of the hand's surfaces."""
    opened = tab(PLAIN.replace("HH x-x-x-x-x-x-x-x-", "HH x-x-x-x-x-x-x-o-"))
    found = difference(strokes_of(tab(PLAIN)), strokes_of(opened))
    assert (found.surface, found.lanes["timekeeper"]) == (1 / 8, 0.0)


@pytest.mark.parametrize("grid", [32, 48, 96])
def test_the_grid_is_no_difference(grid: int) -> None:
    """The same strokes on a finer grid are the same groove."""
    assert distance(tab(PLAIN), tab(PLAIN).regrid(grid)) == 0.0


@pytest.mark.parametrize("surface", ["closed hi-hat", "ride", "crash", "china", "floor tom"])
def test_a_hand_that_is_not_named_is_found(surface: str) -> None:
    """A groove without a named hand has the one that keeps time."""
    groove = tab(PLAIN).move_hand(surface)
    assert distance(groove, without_hand(groove)) == 0.0


def test_a_bar_with_few_strokes_keeps_the_hand_of_the_bar_before() -> None:
    """Two china strokes in a bar stay the hand's where the bar before has eight, at the start too."""
    busy, sparse = (tab(f"CC {line}\nBD o---------------\n", "china") for line in ("c-" * 8, "c-------c-------"))
    for groove in (busy.then(sparse), sparse.then(busy)):
        assert distance(groove, without_hand(groove)) == 0.0


# -- laws ------------------------------------------------------------------------------------------------


@given(named(), named())
def test_the_definition(one: Groove, other: Groove) -> None:
    """The arrays give what the definition gives over plain sets."""
    assert distance(one, other) == pytest.approx(by_definition(one, other))


@given(grooves(most_bars=2))
def test_no_distance_to_itself(groove: Groove) -> None:
    """d(a, a) = 0."""
    assert distance(groove, groove) == 0.0


@given(named(), named())
def test_zero_only_for_the_same_strokes(one: Groove, other: Groove) -> None:
    """d(a, b) = 0 exactly where both have the same strokes on the same surfaces."""
    assert (distance(one, other) == 0.0) == (elements(one) == elements(other))


@given(grooves(most_bars=2), grooves(most_bars=2))
def test_symmetry(one: Groove, other: Groove) -> None:
    """d(a, b) = d(b, a), and so for the lanes, the surface and every bar."""
    there, back = (difference(strokes_of(a), strokes_of(b)) for a, b in ((one, other), (other, one)))
    assert there.distance == back.distance
    assert (dict(there.lanes), there.surface, there.level) == (dict(back.lanes), back.surface, back.level)
    assert np.array_equal(there.bars, back.bars)


@given(st.data())
def test_triangle(data: st.DataObject) -> None:
    """d(a, c) <= d(a, b) + d(b, c), also where the three share most strokes."""
    meter = Meter(4, 4)
    base = data.draw(grooves(meter, 16, 1))
    three = [base.overlay(data.draw(grooves(meter, 16, 1))) if data.draw(st.booleans()) else base for _ in range(2)]
    three.append(data.draw(grooves(meter, 16, 1)))
    a, b, c = data.draw(st.permutations(three))
    assert distance(a, c) <= distance(a, b) + distance(b, c) + 1e-12


@given(grooves(most_bars=2), grooves(most_bars=2))
def test_the_range(one: Groove, other: Groove) -> None:
    """All ratios lie between 0 and 1, and every lane has one."""
    found = difference(strokes_of(one), strokes_of(other))
    ratios = [found.distance, found.surface, found.level, *found.lanes.values(), *found.bars.tolist()]
    assert all(0.0 <= ratio <= 1.0 for ratio in ratios)
    assert tuple(found.lanes) == LANES
    assert len(found.bars) == max(one.bars, other.bars)


@given(named(), st.integers(1, 7))
def test_a_loop_is_the_repeated_groove(groove: Groove, bars: int) -> None:
    """Looped strokes are those of the groove as a loop."""
    assert difference(strokes_of(groove).looped(bars), strokes_of(groove.bars_of(bars))).distance == 0.0


@given(grooves(Meter(4, 4)), grooves(Meter(7, 8)))
def test_joined_pieces_keep_their_places(one: Groove, other: Groove) -> None:
    """Pieces of two metres and grids stand one after the other."""
    both = joined([strokes_of(one), strokes_of(other)])
    assert both.bars == one.bars + other.bars
    assert both.grid == lcm(one.grid, other.grid)
    counts = np.bincount(both.bar, minlength=both.bars)
    assert counts[: one.bars].sum() == strokes_of(one).bar.size
    assert counts[one.bars :].sum() == strokes_of(other).bar.size
