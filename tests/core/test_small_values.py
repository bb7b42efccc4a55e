"""Small values that others rest on: a drummer's numbers, a count-in, an insert's words, a riff's choices."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from grooveforge.core.arrange import arrange
from grooveforge.core.count_in import with_count_in
from grooveforge.core.feel import FeelChange, set_feel
from grooveforge.core.figures import Insert, last_beats
from grooveforge.core.kit import NORMAL, SURFACE_NAMES
from grooveforge.core.lane import Lane
from grooveforge.core.levels import Touch
from grooveforge.core.loop import loop_performance
from grooveforge.core.meter import Meter
from grooveforge.core.perform import perform
from grooveforge.core.profile import BOUNDS, PROFILES, Profile
from grooveforge.core.riff import chosen, follow, listed_riff, typed_riff
from grooveforge.core.timekeeper import add_hi_hat_foot
from grooveforge.errors import MusicError
from grooveforge.project.sheets import song_from
from tests.bars import FOUR_FOUR, groove

SHEET = """
title = "Salt Meter"
tempo = 120
form = ["verse"]
[parts.verse]
groove = "driving eighths"
bars = 2
"""


def test_a_count_in_moves_everything_and_the_end() -> None:
    plain = perform(arrange(song_from(SHEET, "salt.toml")))
    behind = with_count_in(plain, 2)
    lead = 2 * 4 * plain.division
    assert behind.end == plain.end + lead
    np.testing.assert_array_equal(behind.events.tick, plain.events.tick + lead)
    assert behind.markers == ((0, "count-in"), (lead, "verse"))
    assert behind.tempos == plain.tempos and behind.meters == plain.meters
    assert with_count_in(plain, 0) is plain


def drummer(**said: Any) -> Profile:
    return Profile("me", **({"hand": 6.0, "feet": 12.0} | said))


@pytest.mark.parametrize("key", BOUNDS)
def test_a_drummers_numbers_reach_to_their_bounds_and_no_further(key: str) -> None:
    low, high, unit = BOUNDS[key]
    whole = key == "burst"
    for edge in (low, high):
        kept = getattr(drummer(**{key: int(edge) if whole else edge}), key)
        assert kept == edge
        assert isinstance(kept, int if whole else float)
    for outside in (low - 0.5, high + 0.5, float("nan"), float("inf")):
        with pytest.raises(MusicError, match="a drummer's number is out of range") as fault:
            drummer(**{key: outside})
        (said,) = fault.value.faults
        assert said.path == (key,)
        assert said.allowed == f"{low:g} to {high:g} {unit}"


def test_whole_numbers_of_a_drummer_are_kept_as_fractions() -> None:
    """A profile from a file says `hand = 7`; two that mean the same are equal."""
    said = Profile("me", 7, 14, comfort=1, burst_factor=2)
    assert [type(value) for value in (said.hand, said.feet, said.comfort, said.burst_factor)] == [float] * 4
    assert said == Profile("me", 7.0, 14.0, comfort=1.0, burst_factor=2.0)
    assert all(row.comfort == 0.8 for row in PROFILES.values())


def test_an_insert_says_what_it_is() -> None:
    assert str(Insert(3, 1)) == "1 beat before bar 3"
    assert str(Insert(1, 2)) == "2 beats before bar 1"


@pytest.mark.parametrize(("bars", "found"), [(1, "1 bar"), (2, "2 bars")])
def test_more_bars_than_there_are(bars: int, found: str) -> None:
    with pytest.raises(MusicError) as fault:
        last_beats(f"{bars + 1} bars", [FOUR_FOUR] * bars)
    assert fault.value.faults[0].found == found


def test_the_low_attacks_of_a_riff() -> None:
    riff = listed_riff([0, 3, 6, 8], 16, accents=[3, 8], low=[6, 0])
    assert riff.low == (0, 6)
    low = chosen(riff, "low")
    assert (low.attacks, low.accents, low.low) == ((0, 6), (), (0, 6))
    loud = chosen(riff, "accents")
    assert (loud.attacks, loud.accents, loud.low) == ((3, 8), (3, 8), ())
    assert listed_riff([0, 3], 16).low is None


def test_a_typed_riff_does_not_know_its_low_attacks() -> None:
    with pytest.raises(MusicError, match="does not say which attacks are low") as fault:
        chosen(typed_riff("x--X--x-", 16), "low")
    assert fault.value.faults[0].hint == "a MIDI file, or mode accents"
    with pytest.raises(MusicError, match="no such riff mode") as fault:
        chosen(typed_riff("x--X--x-", 16), "high")
    said = fault.value.faults[0]
    assert (said.found, said.allowed) == ("'high'", "all, accents, low")


def test_a_riff_off_the_grid_says_which_grids_there_are() -> None:
    """Sixteenths of the hand and 36ths of the riff need 144 steps to a whole note."""
    with pytest.raises(MusicError, match="do not fit the groove's grid") as fault:
        follow(groove(hand="xxxxxxxxxxxxxxxx"), typed_riff("xxxxx", 36))
    assert fault.value.faults[0].hint == "a riff_grid that divides 96"


def test_a_groove_as_a_loop() -> None:
    """So many turns of it at its tempo, in its metre, without a crash on the 1; plain levels are flat."""
    three = groove(kick="o-----o-----", hand="x-x-x-x-x-x-", meter=Meter(3, 4), grid=16)
    made = loop_performance(three, 117.5, 3, plain=True)
    assert made.end == 3 * 3 * made.division
    assert made.tempos == ((0, Fraction(235, 2)),)
    assert [(at, str(meter)) for at, meter in made.meters] == [(0, "3/4")]
    assert {SURFACE_NAMES[code] for code in made.events.surface.tolist()} == {"kick", "closed hi-hat"}
    assert len(made) == 3 * (2 + 6)
    assert set(made.events.velocity.tolist()) == {NORMAL}
    once = loop_performance(three)
    assert (once.end, once.tempos) == (3 * once.division, ((0, Fraction(120)),))


@pytest.mark.parametrize(
    "change",
    [
        FeelChange(spelling="v1"),
        FeelChange(backbeats=(Fraction(1, 4),)),
        FeelChange(kick="figure"),
    ],
)
def test_a_groove_without_a_backbeat_wants_a_feel_by_name(change: FeelChange) -> None:
    with pytest.raises(MusicError, match="the groove has no feel: it has no backbeat") as fault:
        set_feel(groove(kick="o-------o-------", hand="x-x-x-x-x-x-x-x-"), change)
    assert fault.value.faults[0].hint == "a feel by name beside it, such as full"


def test_the_foot_that_a_groove_has_stays() -> None:
    """The hi-hat's foot is added on the backbeats; strokes that the writer gave it keep their place and level."""
    pedal = Lane.of(16, [0, 4], 60)
    made = add_hi_hat_foot(
        groove(kick="o-------o-------", snare="----o-------o---", hand="x-x-x-x-x-x-x-x-", surface="ride",
               others=(("pedal hi-hat", pedal),))
    )  # fmt: skip
    foot = made.lane_on("pedal hi-hat")
    assert foot.struck.tolist() == [0, 4, 12]
    assert foot.velocity[[0, 4, 12]].tolist() == [60, 60, NORMAL]


def test_a_stroke_behind_a_sections_end_has_its_last_draw() -> None:
    """One that swing or looseness pushed over the bar line."""
    draws = np.arange(2 * 3, dtype=np.uint8).reshape(2, 3)
    touch = Touch(draws, 20)
    limbs = np.array([0, 1, 1], np.int8)
    assert touch.at(limbs, np.array([0, 59, 1000], np.int64)).tolist() == [0, 5, 5]
