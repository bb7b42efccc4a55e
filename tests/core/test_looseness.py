"""Looseness: the drift, its scale, its bounds and the order of the strokes.

A slow drift with a long memory: Hennig et al. 2011; shared by the limbs: Fujii et al. 2011. The numbers (how
much is shared, bounds, short sections) are house rules.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.core.looseness import drift, in_order, loosened, milliseconds, pink, ticks_of
from grooveforge.core.strokes import CYMBAL_HAND, DRUM_HANDS, FOOT, LIMBS


def chance(seed: int = 1) -> np.random.Generator:
    return np.random.default_rng(seed)


# -- the drift -----------------------------------------------------------------------------------------


def test_pink_noise_has_variance_1_and_no_mean() -> None:
    """Over many rows; the power of a frequency is what its variance is made of."""
    noise = pink(chance(), 400, 1024)
    assert float(noise.var()) == pytest.approx(1, rel=0.02)
    assert np.allclose(noise.mean(axis=1), 0)


def test_power_falls_with_frequency() -> None:
    """1/f: on logarithmic axes the mean spectrum falls with a slope of -1 (Hennig et al. 2011: between 0.5 and 1.5)."""
    power = (np.abs(np.fft.rfft(pink(chance(), 400, 1024))) ** 2).mean(axis=0)[1:-1]
    slope = np.polyfit(np.log(np.arange(1, power.size + 1)), np.log(power), 1)[0]
    assert slope == pytest.approx(-1, abs=0.05)


def test_limbs_share_most_of_the_drift() -> None:
    """Two limbs at one place correlate by the shared part of the variance, and neither copies the other."""
    quarters = np.repeat(np.arange(0, 512, 0.25), 2)
    limb = np.tile(np.array([FOOT, CYMBAL_HAND], np.int8), 2048)
    found = np.mean([_correlation(drift(chance(seed), quarters, limb)) for seed in range(20)])
    assert found == pytest.approx(0.85, abs=0.05)


def _correlation(moved: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> float:
    return float(np.corrcoef(moved[::2], moved[1::2])[0, 1])


def test_one_limb_at_one_place_is_off_once() -> None:
    """Two strokes of a limb on one place drift alike, so neither their order nor their being together changes."""
    quarters = np.array([0.0, 0.0, 1.5, 1.5])
    found = drift(chance(), quarters, np.full(4, DRUM_HANDS, np.int8))
    assert found[0] == found[1] and found[2] == found[3] and found[0] != found[2]


def test_a_stroke_more_leaves_the_drift_of_the_others() -> None:
    """The drift goes by the place in the section, not by the count of strokes."""
    limb = np.zeros(3, np.int8)
    few = drift(chance(), np.array([0.0, 1.0, 2.0]), limb)
    more = drift(chance(), np.array([0.0, 0.5, 1.0, 2.0]), np.zeros(4, np.int8))
    assert few.tolist() == more[[0, 2, 3]].tolist()


# -- milliseconds ----------------------------------------------------------------------------------------

SIZES = st.integers(20, 400)


@given(SIZES, st.integers(0, 1000), st.floats(0.1, 15), st.integers(4, 100))
def test_spread_is_exactly_what_was_asked(size: int, seed: int, asked: float, bars: int) -> None:
    """From four bars on, the standard deviation over the free strokes is the looseness and their mean is 0."""
    moved = np.clip(chance(seed).standard_normal(size), -2, 2)  # nothing that the bound would cut
    free = chance(seed + 1).random(size) < 0.8
    found = milliseconds(moved, free, asked, bars)
    assert not found[~free].any()
    assert float(found[free].std()) == pytest.approx(asked)
    assert float(found[free].mean()) == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("bars", [1, 2, 3])
def test_short_sections_are_centred_and_not_scaled(bars: int) -> None:
    """Under four bars a small piece of drift stays small."""
    found = milliseconds(np.array([0.1, 0.2, 0.3]), np.ones(3, bool), 5.0, bars)
    assert found.tolist() == pytest.approx([-0.5, 0, 0.5])


def test_no_stroke_is_over_three_spreads() -> None:
    """One stroke far out is brought back to the bound."""
    moved = np.zeros(400)
    moved[7], moved[9] = 1, -1
    found = milliseconds(moved, np.ones(400, bool), 4.0, 8)
    assert (float(found[7]), float(found[9])) == (12, -12)


def test_nothing_to_scale() -> None:
    """A section of tight strokes alone, or of one free stroke, stands still."""
    assert not milliseconds(np.array([0.4, 0.6]), np.zeros(2, bool), 5.0, 8).any()
    assert not milliseconds(np.array([0.4]), np.ones(1, bool), 5.0, 8).any()


def test_ticks_at_the_tempo_of_each_stroke() -> None:
    """10 ms are 9.6 ticks of 480 at 120 bpm and 4.8 at 60; each stroke is rounded once."""
    tempo = [(Fraction(0), Fraction(120)), (Fraction(4), Fraction(60))]
    found = ticks_of(np.array([10.0, -10.0, 10.0]), np.array([0, 1919, 1920]), tempo, 480)
    assert found.tolist() == [10, -10, 5]


# -- order ---------------------------------------------------------------------------------------------


@st.composite
def moves(draw: st.DrawFn) -> tuple[list[int], list[int], list[bool], int]:
    """Rising ticks of a section of 2,000, how far each would move, which are free, and the section's start."""
    ticks = sorted(draw(st.lists(st.integers(0, 1979), min_size=1, max_size=20)))
    off = draw(st.lists(st.integers(-300, 300), min_size=len(ticks), max_size=len(ticks)))
    free = draw(st.lists(st.booleans(), min_size=len(ticks), max_size=len(ticks)))
    return ticks, off, free, draw(st.sampled_from([0, 5, 1920]))


@given(moves())
def test_in_order(given_moves: tuple[list[int], list[int], list[bool], int]) -> None:
    """Order is kept stroke by stroke, tight strokes stand, nothing is before tick 0 or over the section's edges."""
    ticks, off, loose, start = given_moves
    # What stands on one tick is tight or free together, as one place of a section is.
    tick = np.array(ticks)
    free = np.array([loose[ticks.index(at)] for at in ticks])
    found = in_order(tick, tick + np.array(off) * free, free, start, 2000, 10)
    assert found[~free].tolist() == tick[~free].tolist()
    assert (np.diff(found)[np.diff(tick) > 0] > 0).all()
    assert int(found.min()) + start >= 0
    assert int(found.min()) >= -10
    assert int(found.max()) < 2000 - 10


@given(st.lists(st.integers(0, 95), min_size=1, max_size=30, unique=True), st.integers(0, 100))
def test_small_moves_are_made_as_they_are(steps: list[int], seed: int) -> None:
    """Where neighbours cannot meet and no edge is near, every stroke goes where its drift takes it."""
    tick = 200 + 20 * np.array(sorted(steps))
    off = chance(seed).integers(-9, 10, tick.size)
    found = loosened(tick, np.zeros(tick.size, np.int8), np.ones(tick.size, bool), off, (0, 4000, 10))
    assert found.tolist() == (tick + off).tolist()


@given(st.integers(0, 1000))
def test_limbs_are_ordered_each_for_itself(seed: int) -> None:
    """Two limbs may pass each other; within each limb the order is kept."""
    numbers = chance(seed)
    limb = numbers.integers(0, LIMBS, 60).astype(np.int8)
    tick = np.sort(numbers.integers(0, 400, 60))
    off = numbers.integers(-40, 41, (LIMBS, 400))[limb, tick]
    found = loosened(tick, limb, np.ones(60, bool), off, (1000, 500, 10))
    for one in range(LIMBS):
        rows = limb == one
        assert (np.diff(found[rows])[np.diff(tick[rows]) > 0] > 0).all()
        assert (np.diff(found[rows])[np.diff(tick[rows]) == 0] == 0).all()
