"""Strokes on the grid: the coarsest that fits, loose playing, bar lines, and how far strokes stand off."""

from __future__ import annotations

from fractions import Fraction
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.formats.quantise import GRIDS, PLAIN_GRIDS, Placement, find_graces, place_on_grids, residue_ms

DIVISION = 480


def placed(
    quarters: list[float], bars: int = 1, figures: tuple[int, int] = (4, 4), division: int = DIVISION
) -> Placement:
    """Strokes at quarter notes from the first bar line."""
    lines = np.arange(bars + 1, dtype=np.float64) * (4 * figures[0] * division / figures[1])
    ticks = np.array([round(place * division) for place in sorted(quarters)], np.int64)
    return place_on_grids(ticks, lines, division, (np.full(bars, figures[0]), np.full(bars, figures[1])))


def steps_of(grid: int, quarters: int = 4) -> list[float]:
    return [step * 4 / grid for step in range(quarters * grid // 4)]


@pytest.mark.parametrize("grid", PLAIN_GRIDS)
@pytest.mark.parametrize("division", [24, 96, 100, 120, 480, 960])
def test_a_full_bar_of_one_grid_is_read_on_it(grid: int, division: int) -> None:
    """Also where the division rounds the grid's places to the next tick."""
    found = placed(steps_of(grid), division=division)
    assert found.grid.tolist() == [grid]
    assert found.step.tolist() == list(range(grid))


def test_straight_and_triplet_in_one_bar_is_a_mixed_grid() -> None:
    """Sixteenths and triplet eighths meet on 48, thirty-seconds and triplets on 96."""
    assert placed([0, 0.25, 0.5, 0.75, 1, 4 / 3, 5 / 3, 2]).grid.tolist() == [48]
    assert placed([0, 0.125, 0.25, 1, 4 / 3, 5 / 3, 2]).grid.tolist() == [96]


def test_each_bar_has_its_own_grid() -> None:
    """A bar of triplets between bars of eighths."""
    found = placed([*steps_of(8), *(4 + place for place in steps_of(12)), *(8 + place for place in steps_of(8))], 3)
    assert found.grid.tolist() == [8, 12, 8]
    assert found.bar.tolist() == [0] * 8 + [1] * 12 + [2] * 8


@pytest.mark.parametrize(("figures", "grid"), [((7, 16), 16), ((5, 32), 32), ((3, 8), 8), ((7, 8), 8), ((12, 8), 8)])
def test_the_grid_divides_the_bar(figures: tuple[int, int], grid: int) -> None:
    """In every metre, also for a bar with a single stroke."""
    assert placed([0.0], figures=figures).grid.tolist() == [grid]


@given(st.sampled_from(PLAIN_GRIDS[:4]), st.randoms(use_true_random=False))
def test_loose_playing_stays_on_its_grid(grid: int, random: Random) -> None:
    """Strokes up to 16 ms off at 120 bpm are on the step they are meant for, and come back to the tick."""
    meant = steps_of(grid)
    played = [max(0.0, place + random.uniform(-0.032, 0.032)) for place in meant]
    found = placed(played)
    assert found.grid.tolist() == [grid]
    # The last stroke of a bar never comes early enough to be the next bar's.
    assert found.step.tolist() == list(range(grid))


def test_very_loose_eighths_are_no_mixed_grid() -> None:
    """Grids of 48 and 96 have a step near any place: they are for (nearly) exact strokes only."""
    played = [0, 0.55, 1.04, 1.46, 2.05, 2.45, 3.06, 3.52]
    assert placed(played).grid.tolist() == [8]


def test_one_late_stroke_makes_no_finer_bar() -> None:
    """35 ms late at 120 bpm among eighths: nearer to a thirty-second, and still the eighth."""
    found = placed([0, 0.57, 1, 1.5, 2, 2.5, 3, 3.5])
    assert (found.grid.tolist(), found.step.tolist()) == ([8], list(range(8)))


TICKS = st.lists(st.integers(0, 4 * 4 * DIVISION - 1), min_size=1, max_size=40)


@given(TICKS, st.sampled_from([(4, 4), (7, 8), (5, 16)]))
def test_step_and_offset_are_the_tick(ticks: list[int], figures: tuple[int, int]) -> None:
    """Whatever the ticks: nothing is rounded away, and every step lies in its bar."""
    length = DIVISION * 4 * figures[0] // figures[1]
    bars = 16 * DIVISION // length + 1
    found = placed([tick / DIVISION for tick in ticks], bars, figures)
    back = (found.bar * length / DIVISION + found.step * 4 / found.grid[found.bar] + found.offset) * DIVISION
    assert np.rint(back).astype(int).tolist() == sorted(ticks)
    assert np.abs(back - np.rint(back)).max() < 1e-6
    assert np.all(found.step < found.grid[found.bar] * figures[0] // figures[1])
    assert set(found.grid.tolist()) <= set(GRIDS)


def test_a_stroke_just_before_a_bar_line_is_the_next_bars_1() -> None:
    """Played early, meant for the downbeat; in the last bar there is no next one."""
    found = placed([0, 1, 2, 3, 3.98, 5, 6, 7.98], bars=2)
    assert list(zip(found.bar.tolist(), found.step.tolist()))[4] == (1, 0)
    assert found.offset[4] == pytest.approx(-0.02, abs=1e-3)
    assert (found.bar[-1], found.step[-1]) == (1, found.grid[1] - 1)


def test_a_pickup_is_no_early_downbeat() -> None:
    """A thirty-second before the bar line is a stroke of its bar."""
    found = placed([0, 1, 2, 3, 3.875, 4], bars=2)
    assert found.bar.tolist() == [0, 0, 0, 0, 0, 1]
    assert found.grid[0] == 32


def test_grace_strokes_have_no_say_in_the_grid() -> None:
    """A flam 30 ms before the beat leaves the bar on eighths, and shares its stroke's step."""
    gap = 29
    tick = np.array([0, 480 - gap, 480, 960], np.int64)
    velocity = np.array([90, 30, 110, 90], np.int64)
    main = find_graces(tick, np.array([0, 1, 1, 0]), velocity, np.full(4, 0.5 / DIVISION))
    assert main.tolist() == [0, 2, 2, 3]
    found = place_on_grids(tick, np.array([0.0, 1920.0]), DIVISION, (np.array([4]), np.array([4])), main)
    assert found.grid.tolist() == [8]
    assert found.step.tolist() == [0, 2, 2, 4]
    assert found.is_grace.tolist() == [False, True, False, False]
    assert found.offset[1] == pytest.approx(-gap / DIVISION)


@pytest.mark.parametrize(
    ("velocities", "surfaces", "gap", "is_grace"),
    [
        ((30, 110), (1, 1), 29, True),
        ((30, 110), (1, 2), 29, False),  # another surface
        ((90, 110), (1, 1), 29, False),  # no ghost
        ((30, 30), (1, 1), 29, False),  # before no louder stroke
        ((30, 110), (1, 1), 60, False),  # 62 ms: a thirty-second
    ],
)
def test_what_is_a_grace_stroke(
    velocities: tuple[int, int], surfaces: tuple[int, int], gap: int, is_grace: bool
) -> None:
    """A ghost 20-45 ms before a louder stroke of the same surface (facts of hearing)."""
    tick = np.array([480, 480 + gap], np.int64)
    main = find_graces(tick, np.array(surfaces), np.array(velocities), np.full(2, 0.5 / DIVISION))
    assert (main.tolist() == [1, 1]) is is_grace


def test_the_residue_is_a_mean_in_milliseconds() -> None:
    """Half the strokes 0.02 quarters off at 120: 10 ms for those, 5 ms on average."""
    found = placed([0, 1.02, 2, 3.02], division=500)
    assert residue_ms(found, 500, np.full(4, 0.5 / 500)) == pytest.approx(5.0)
    assert residue_ms(placed([]), DIVISION, np.zeros(0)) == 0.0


def test_places_between_the_ticks_of_a_division() -> None:
    """A third of a quarter at 100 ticks is 33.33: one tick of rounding is no loose playing."""
    thirds = [Fraction(step, 3) for step in range(12)]
    found = placed([float(place) for place in thirds], division=100)
    assert found.grid.tolist() == [12]
    assert np.abs(found.offset).max() <= 0.5 / 100
