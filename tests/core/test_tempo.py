"""Tempo: numbers, ratios and ramps laid over one another, and how long they last.

House rules of the song sheet; microseconds a quarter note: Standard MIDI File 1.0 (MMA RP-001).
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.core.song import Tempo, TempoRamp, TempoRatio
from grooveforge.core.tempo import check_tempo, microseconds, resolve, seconds
from grooveforge.errors import MusicError

SONG = Fraction(132)
LONG = Fraction(64)
TWO_THIRDS = TempoRatio(Fraction(2, 3))


def _steps(*layers: Tempo | None, quarters: Fraction = LONG) -> list[tuple[Fraction | int, Fraction | int]]:
    return list(resolve(SONG, layers, quarters))


def _number(bpm: int) -> Fraction:
    return Fraction(bpm)


# -- layers ------------------------------------------------------------------------------------------------

LAYERS: list[tuple[tuple[Tempo | None, ...], Fraction]] = [
    ((), Fraction(132)),
    ((None, None, None), Fraction(132)),
    ((None, _number(150), None), Fraction(150)),
    ((_number(100), _number(150), None), Fraction(150)),
    ((_number(100), _number(150), _number(160)), Fraction(160)),
    ((None, None, TWO_THIRDS), Fraction(88)),
    ((None, _number(150), TWO_THIRDS), Fraction(100)),
    ((None, TWO_THIRDS, None), Fraction(88)),
    ((None, TWO_THIRDS, TempoRatio(Fraction(3, 2))), Fraction(132)),
    ((None, TWO_THIRDS, _number(90)), Fraction(90)),
    ((_number(99), TWO_THIRDS, None), Fraction(66)),
]


@pytest.mark.parametrize(("layers", "bpm"), LAYERS)
def test_a_number_holds_and_a_ratio_is_of_what_would_hold_without_it(
    layers: tuple[Tempo | None, ...], bpm: Fraction
) -> None:
    """The entry over the part over the defaults over the song, a ratio of the tempo below it, exactly."""
    assert _steps(*layers) == [(0, bpm)]


def test_a_ratio_is_exact() -> None:
    """Two thirds of 100 are 66 and two thirds, not a rounded number."""
    assert _steps(_number(100), TWO_THIRDS) == [(0, Fraction(200, 3))]


# -- ramps -------------------------------------------------------------------------------------------------


def test_a_ramp_has_a_step_at_each_beat_and_its_goal_from_the_last() -> None:
    """Beat k of the section (k = 0 ... n-1) has a + (b - a) * k / n, from beat n on b."""
    found = _steps(_number(100), TempoRamp(Fraction(180), 4))
    assert found == [(0, 100), (1, 120), (2, 140), (3, 160), (4, 180)]


def test_a_ramp_slows_down_too() -> None:
    """{ to = 98, over = 8 } from 132."""
    found = _steps(TempoRamp(Fraction(98), 8))
    assert found == [(Fraction(k), 132 - Fraction(34 * k, 8)) for k in range(9)]


def test_a_ramp_begins_at_the_tempo_of_the_layer_below() -> None:
    """In an entry it starts from the part's tempo."""
    assert _steps(_number(90), _number(120), TempoRamp(Fraction(140), 2)) == [(0, 120), (1, 130), (2, 140)]


def test_a_ratio_over_a_ramp_is_of_its_first_tempo() -> None:
    """And the ramp falls away."""
    assert _steps(_number(150), TempoRamp(Fraction(180), 4), TWO_THIRDS) == [(0, 100)]


def test_a_ramp_over_a_ratio_begins_at_the_ratio_s_tempo() -> None:
    """The tempo that the section would have without the ramp."""
    assert _steps(_number(150), TWO_THIRDS, TempoRamp(Fraction(120), 2)) == [(0, 100), (1, 110), (2, 120)]


def test_a_ramp_over_a_ramp_begins_at_the_first_tempo_of_the_other() -> None:
    """Only one ramp holds in a section."""
    found = _steps(_number(100), TempoRamp(Fraction(200), 8), TempoRamp(Fraction(120), 2))
    assert found == [(0, 100), (1, 110), (2, 120)]


def test_a_number_over_a_ramp_ends_it() -> None:
    """An entry with a tempo of its own keeps it throughout."""
    assert _steps(TempoRamp(Fraction(200), 8), _number(140)) == [(0, 140)]


def test_a_ramp_longer_than_its_section_is_cut() -> None:
    """A tempo belongs to its section: no step stands at its end or later."""
    found = _steps(_number(100), TempoRamp(Fraction(180), 8), quarters=Fraction(4))
    assert found == [(0, 100), (1, 110), (2, 120), (3, 130)]


def test_a_ramp_as_long_as_its_section_never_arrives_in_it() -> None:
    """Beat n is the next section's first, which has its own tempo."""
    found = _steps(_number(100), TempoRamp(Fraction(180), 4), quarters=Fraction(4))
    assert [bpm for _, bpm in found] == [100, 120, 140, 160]


def test_a_ramp_counts_quarters_in_any_metre() -> None:
    """In a bar of 7/8, three quarters and a half long, the last step stands at quarter 3."""
    found = _steps(_number(100), TempoRamp(Fraction(140), 8), quarters=Fraction(7, 2))
    assert [start for start, _ in found] == [0, 1, 2, 3]


# -- ranges ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("bpm", [20, 400])
def test_tempi_reach_from_20_to_400(bpm: int) -> None:
    """Both ends are allowed."""
    assert check_tempo(Fraction(bpm)) == bpm


@pytest.mark.parametrize(
    "layer",
    [
        Fraction(19),
        Fraction(401),
        TempoRatio(Fraction(4)),
        TempoRatio(Fraction(1, 8)),
        TempoRamp(Fraction(401), 4),
        TempoRamp(Fraction(10), 4),
    ],
)
def test_a_tempo_out_of_range_is_an_error_that_says_the_range(layer: Tempo) -> None:
    """Whether it is said, or comes of a ratio or ramp."""
    with pytest.raises(MusicError, match="20 to 400"):
        resolve(SONG, [layer], LONG)


# -- in seconds --------------------------------------------------------------------------------------------

IN_FILE = [(60, 0x0F4240), (90, 0x0A2C2B), (120, 0x07A120), (132, 454545), (140, 0x068A1B), (174, 0x0542FC),
           (180, 0x051615), (200, 0x0493E0)]  # fmt: skip


@pytest.mark.parametrize(("bpm", "number"), IN_FILE)
def test_microseconds_a_quarter_note(bpm: int, number: int) -> None:
    """Tempo FF 51 03 of a file (Standard MIDI File 1.0, MMA RP-001)."""
    assert microseconds(Fraction(bpm)) == number


def test_four_quarters_at_120_are_two_seconds() -> None:
    """Half a second each (worked example of the SMF specification: 384 ticks at 96 to a quarter, 2.0 s)."""
    assert seconds(resolve(Fraction(120), [], LONG), Fraction(4)) == 2.0


def test_a_ramp_lasts_as_long_as_its_steps() -> None:
    """Quarters at 60, 90, 120, 120: 1 + 2/3 + 1/2 + 1/2 s, to a microsecond a quarter."""
    steps = resolve(Fraction(60), [TempoRamp(Fraction(120), 2)], Fraction(4))
    assert seconds(steps, Fraction(4)) == pytest.approx(1 + 2 / 3 + 0.5 + 0.5, abs=2e-6)


def test_the_end_may_stand_inside_a_step() -> None:
    """Half a quarter at 60 is half a second."""
    steps = resolve(Fraction(60), [TempoRamp(Fraction(120), 2)], Fraction(4))
    assert seconds(steps, Fraction(1, 2)) == 0.5


@given(st.integers(20, 400), st.integers(20, 400), st.integers(1, 32), st.integers(1, 64))
def test_a_ramp_moves_one_way_and_by_equal_steps(first: int, last: int, over: int, quarters: int) -> None:
    """From a towards b, never past it, never back, the same amount each beat."""
    steps = resolve(Fraction(first), [TempoRamp(Fraction(last), over)], Fraction(quarters))
    assert steps[0] == (Fraction(0), Fraction(first))
    assert [start for start, _ in steps] == list(range(min(over + 1, quarters)))
    moves = {after - before for (_, before), (_, after) in pairwise(steps)}
    assert moves <= {Fraction(last - first, over)}
    assert all(min(first, last) <= bpm <= max(first, last) for _, bpm in steps)
    if quarters > over:
        assert steps[-1][1] == last
