"""Stickings: alternate strokes, the published rudiments by name, and a written one that cannot be played.

Rudiments: Percussive Arts Society, 40 International Drum Rudiments.
"""

from __future__ import annotations

import pytest

from grooveforge.analysis.findings import Reason
from grooveforge.analysis.playability import Checked, check, check_groove
from grooveforge.analysis.sticking import by_turns
from grooveforge.core.profile import EXPERIENCED
from grooveforge.core.rudiments import RUDIMENTS
from grooveforge.formats.groovefile import GrooveFile, read_groove_file
from grooveforge.project.checking import CheckedInput, check_pattern
from tests.analysis.test_playability import groove, song

PUBLISHED = {
    "single stroke roll": "R L R L",
    "double stroke roll": "R R L L",
    "single paradiddle": "R L R R L R L L",
    "double paradiddle": "R L R L R R L R L R L L",
    "paradiddle-diddle": "R L R R L L",
}


def hands_of(checked: Checked) -> list[str]:
    """The hands in order, bar after bar."""
    by_bar = {bar: row["hands"].split() for row in checked.sticking.patterns() for bar in row["bars"]}
    return [hand for bar in sorted(by_bar) for hand in by_bar[bar]]


def file(text: str) -> GrooveFile:
    return read_groove_file(text)


def checked(tab: str, bpm: float, more: str = "") -> CheckedInput:
    return check_pattern(file(f"tab = '''\n{tab}\n'''\n{more}"), EXPERIENCED, bpm)


@pytest.mark.parametrize("name", PUBLISHED)
@pytest.mark.parametrize("bpm", [60, 90, 110])
def test_a_rudiment_comes_out_as_published(name: str, bpm: float) -> None:
    """Asked for by name, sixteenths on the snare have the rudiment's sticking over and over, with no finding."""
    found = checked("SN " + "o" * 48, bpm, f'sticking = "{name}"\nmeter = "12/4"').checked
    published = PUBLISHED[name].split()
    hands = hands_of(found)
    assert hands == (published * 48)[: len(hands)]
    assert len(hands) == 96
    assert found.playable


def test_the_table_holds_what_is_published() -> None:
    """The table of the code, letter by letter."""
    assert {name: "".join(hands.split()) for name, hands in PUBLISHED.items()} == dict(RUDIMENTS)


@pytest.mark.parametrize("bpm", [60, 100, 140, 180, 195])
def test_a_plain_roll_alternates(bpm: float) -> None:
    """Without a name strokes alternate from the leading hand on."""
    hands = hands_of(check_groove(groove([{"SN": "o" * 16}]), bpm, EXPERIENCED))
    assert hands == ["R", "L"] * 16


def test_a_roll_round_the_toms_alternates() -> None:
    """Also over several drums."""
    bar = {"SN": "oooo------------", "T1": "----oooo--------", "T3": "--------oooo----", "FT": "------------oooo"}
    assert hands_of(check_groove(groove([bar]), 120, EXPERIENCED)) == ["R", "L"] * 16


def test_a_written_line_is_followed() -> None:
    """The line St says which hand; B is both, small letters are soft strokes, - is any hand."""
    found = checked("HH x-------x-------\nSN o-o-o-o-o-o-o-o-\nSt B-L-l-R-B-R-L---", 80).checked
    assert found.playable
    assert hands_of(found)[:7] == ["B", "L", "L", "R", "B", "R", "L"]


def test_a_written_line_that_cannot_be_played_is_said() -> None:
    """Sixteenths by one hand at 120 are 8 a second; in turn they are 4 a hand."""
    tab = "SN oooooooooooooooo\nSt RRRRRRRRRRRRRRRR"
    found = checked(tab, 120).checked.findings
    assert {row.reason for row in found} == {Reason.STICKING}
    assert found[0].fits == 100  # 6.7 a second
    assert checked("SN oooooooooooooooo\nSt RLRLRLRLRLRLRLRL", 120).checked.playable


def test_one_hand_cannot_strike_two_surfaces() -> None:
    """A written R where two surfaces are struck is impossible at every tempo, and said at each such place."""
    found = checked("HH x-x-x-x-x-x-x-x-\nSN ----o-------o---\nSt R-R-R-R-R-R-R-R-", 60).checked.findings
    assert [(row.bar, row.beat) for row in found] == [(1, 2.0), (1, 4.0), (2, 2.0), (2, 4.0)]
    assert {row.reason for row in found} == {Reason.STICKING}
    assert {row.fits for row in found} == {None}


def test_turns_are_counted_over_instants_of_the_hands() -> None:
    """Kicks take no turn."""
    performance = song([{"BD": "oooooooooooooooo", "SN": "o---o---o---o---"}], 100)
    assert list(by_turns("RRL", performance).values()) == ["R", "R", "L", "R"]


def test_a_written_sticking_is_part_of_the_check() -> None:
    """The same strokes without a sticking have nothing to find."""
    performance = song([{"SN": "o" * 16}], 150)
    assert check(performance, EXPERIENCED).playable
    assert not check(performance, EXPERIENCED, by_turns("R", performance)).playable
