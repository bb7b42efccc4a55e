"""What changed between two bars, in words; names of beats: common practice."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given

from grooveforge.analysis.distance import distance
from grooveforge.core.groove import Groove
from grooveforge.core.meter import Meter
from grooveforge.formats.bar_words import bar_words
from grooveforge.formats.tab import read_tab
from grooveforge.project.comparing import groove_side
from tests.laws.strategies import grooves

HAT, SNARE, KICK = "HH x-x-x-x-x-x-x-x-", "SN ----O-------O---", "BD o-------o-------"
PLAIN = f"{HAT}\n{SNARE}\n{KICK}\n"


def groove(text: str, meter: str = "4/4", grid: int = 16, hand: str | None = None) -> Groove:
    upper, lower = meter.split("/")
    return read_tab(text).groove(Meter(int(upper), int(lower)), grid, hand)


def words(before: Groove, now: Groove) -> str:
    return bar_words(groove_side(before).views[0], groove_side(now).views[0])


def from_plain(now: str, was: str, **lines: str) -> str:
    """The words from the plain bar to one with a line replaced."""
    return words(groove(PLAIN), groove(PLAIN.replace(was, now) + "".join(f"{line}\n" for line in lines.values())))


CHANGES = {
    "SN --------O-------": (SNARE, "half time instead of full time: backbeat on 3 instead of 2 and 4"),
    "SN ----------------": (SNARE, "no backbeat, before on 2 and 4"),
    "SN ----O--g----O---": (SNARE, "snare also on 2a"),
    "SN ------O-------O-": (SNARE, "both backbeats an eighth later"),
    "SN ---O-------O----": (SNARE, "both backbeats a sixteenth earlier"),
    "SN ----@-------@---": (SNARE, "side stick instead of snare"),
    "BD o-----o-o-------": (KICK, "kick also on 2&"),
    "BD o---------------": (KICK, "kick no more on 3"),
    "BD o---------o-----": (KICK, "kick on 3& instead of 3"),
    "BD ----------------": (KICK, "no kick, before on 1 and 3"),
    "BD oooooooooooooooo": (KICK, "kick: 16 strokes instead of 2"),
    "Rd x-x-x-x-x-x-x-x-": (HAT, "the hand moves from closed hi-hat to ride"),
    "CC c---c---c---c---": (HAT, "the hand moves from closed hi-hat to china, in 1/4 instead of 1/8"),
    "HH x---x---x---x---": (HAT, "the hand in 1/4 instead of 1/8"),
    "HH x-x-x-x-x-x-x---": (HAT, "the hand no more on 4&"),
    "HH x-x-x-x-x-x-x-o-": (HAT, "open hi-hat on 4&, before none"),
    "HH ----------------": (HAT, "no hand keeps time"),
    f"{HAT}\nCC x---------------": (HAT, "crash on 1, before none"),
}


@pytest.mark.parametrize("line", CHANGES)
def test_a_change_of_one_line(line: str) -> None:
    """One line of a plain bar replaced is one thing to say."""
    was, said = CHANGES[line]
    assert from_plain(line, was) == said


def test_ride_to_china() -> None:
    """The hand on another cymbal is said by both names."""
    china = groove(PLAIN, hand="closed hi-hat").move_hand("china")
    assert words(china.move_hand("ride"), china) == "the hand moves from ride to china"


def test_several_changes() -> None:
    """Hand, snare, kick and the rest are said in this order."""
    now = "CC x---------------\nRd x-x-x-x-x-x-x-x-\nSN --------O-------\nBD o---------------\n"
    assert words(groove(PLAIN), groove(now, hand="ride")) == (
        "the hand moves from closed hi-hat to ride; half time instead of full time: "
        "backbeat on 3 instead of 2 and 4; kick no more on 3; crash on 1, before none"
    )


def test_another_metre() -> None:
    """Another metre is said first, and its beats count its own lower figure."""
    odd = groove("HH x-x-x-x-x-x-x-\nSN ----O---------\nBD o-------o-----\n", "7/8")
    said = words(groove(PLAIN), odd)
    assert said.startswith("7/8 instead of 4/4; ")
    assert "backbeat on 3 instead of 2 and 4" in said


def test_a_place_without_a_name() -> None:
    """A triplet has no letter: it is a decimal of the beat."""
    triplet = groove("BD oo----------", "4/4", 12)
    assert words(groove("BD o-----------", "4/4", 12), triplet) == "kick also on 1.33"


def test_another_tempo() -> None:
    """Equal strokes at another tempo differ in the tempo alone."""
    view = groove_side(groove(PLAIN)).views[0]
    assert bar_words(replace(view, bpm=132.0), replace(view, bpm=98.5)) == "tempo 98.5 instead of 132"
    assert bar_words(replace(view, bpm=None), replace(view, bpm=98.5)) == ""


def test_a_bar_of_one_side() -> None:
    """A bar that one side has not is said with what stands in it."""
    view = groove_side(groove(PLAIN)).views[0]
    assert bar_words(view, None) == "only in the first: 12 strokes"
    assert bar_words(None, replace(view, strokes=frozenset())) == "only in the second: a bar of rest"


FOUR = Meter(4, 4)


@given(grooves(FOUR, 16, 1), grooves(FOUR, 16, 1))
def test_words_exactly_where_strokes_differ(one: Groove, other: Groove) -> None:
    """A bar has words exactly where its distance is over 0, whatever the two sides strike."""
    assert bool(words(one, other)) == (distance(one, other) > 0)


@given(grooves(FOUR, 16, 1))
def test_nothing_to_say_of_equal_bars(one: Groove) -> None:
    """A bar against itself has no words."""
    assert words(one, one) == ""
