"""Ghosts, fills and arrivals of a bar, and what is told of them in songs that were built with them. House rules."""

from __future__ import annotations

import pytest

from grooveforge.core.bar_roles import BarRoles
from grooveforge.core.inspect import bar_facts
from grooveforge.core.meter import Meter
from grooveforge.formats.drums_read import read_drums
from grooveforge.formats.smf_read import read_smf
from grooveforge.project.inspecting import midi_inspection
from grooveforge.project.rendering import render
from grooveforge.project.sheets import sheet_from
from tests.bars import groove, lane
from tests.sheet_parts import PLAIN

EIGHTHS = "x-x-x-x-x-x-x-x-"
PLAY = ("x-------x-------", "----X-------X---", EIGHTHS)


def roles(*bars: tuple[str, str, str], meter: Meter | None = None, **others: str) -> list[BarRoles]:
    """The roles of bars of (kick, snare, closed hi-hat), with more lanes by name."""
    kick, snare, hat = ("".join(lines) for lines in zip(*bars))
    lanes = (("closed hi-hat", lane(hat)), *((name.replace("_", " "), lane(line)) for name, line in others.items()))
    return [bar.roles for bar in bar_facts(groove(kick, snare, others=lanes, meter=meter or Meter(4, 4)))]


def test_a_bar_that_only_plays_has_none() -> None:
    assert roles(PLAY) == [BarRoles(0, None, False)]


def test_ghost_strokes_are_counted_by_level() -> None:
    """Three ghosts beside two accents."""
    assert roles(("x-------x-------", "--g-X-g---g-X---", EIGHTHS))[0].ghosts == 3


@pytest.mark.parametrize(
    ("kick", "snare", "hat", "begins"),
    [
        ("x-------x-------", "----X-------xxxx", "x-x-x-x-x-x-----", 4.0),
        ("x---------------", "----X---x-x-xxxx", "x-x-x-x---------", 3.0),
        ("----------------", "x-xxx-xxx-xxx-xx", "----------------", 1.0),
        ("x-----------x-x-", "----X---xx-xx---", "x-x-x-x---------", 3.0),  # kicks count, with the snare
        ("x-------x-------", "----X-------x---", "x-x-x-x-x-x-----", None),  # one stroke is a stop
        ("x-----------x-x-", "----X-----------", "x-x-x-x-x-x-----", None),  # kicks alone are none
        ("x-------x-------", "----xxxx----X---", "x-x-----x-x-x-x-", None),  # the hand is back before the bar line
    ],
)
def test_a_fill_is_busy_drums_without_the_hand_up_to_the_bar_line(
    kick: str, snare: str, hat: str, begins: float | None
) -> None:
    assert [each.fill for each in roles(PLAY, (kick, snare, hat))] == [None, begins]


def test_drums_before_any_hand_are_no_fill() -> None:
    """A song that begins on the snare alone has nothing to fill."""
    assert roles(("----------------", "x-x-x-x-x-x-x-x-", "-" * 16))[0].fill is None


def test_a_fill_of_two_bars_and_one_in_seven() -> None:
    """Both bars are fills; in 7/8 (2+2+3) the last group begins on the fifth eighth, quarter note 3."""
    rolled = ("-" * 16, "x-x-x-x-x-x-x-x-", "-" * 16)
    assert [each.fill for each in roles(PLAY, rolled, rolled)] == [None, 1.0, 1.0]
    seven = ("x-------------", "----X---------", "x-x-x-x-x-x-x-")
    ending = ("x-------------", "----X---xxxxxx", "x-x-x-x-------")
    assert [each.fill for each in roles(seven, ending, meter=Meter(7, 8))] == [None, 3.0]


def test_an_arrival_is_a_crash_with_the_kick_on_1() -> None:
    """Without the kick, or later in the bar, it is an accent; a hand that rides the crash does not arrive on it."""
    crash = "x" + "-" * 15
    assert roles(PLAY, crash=crash)[0].arrival
    assert roles(PLAY, second_crash=crash)[0].arrival
    assert not roles(("-" * 16, *PLAY[1:]), crash=crash)[0].arrival
    assert not roles(PLAY, crash="--------x-------")[0].arrival
    riding = ("x-------x-------", "----X-------X---", "-" * 16)
    assert not roles(riding, crash="x---x---x---x---")[0].arrival
    assert roles(riding, crash="x---x---x---x---", second_crash=crash)[0].arrival


SONG = """
title = "Moss Turbine"
tempo = 140
seed = {seed}
form = ["verse", "chorus", "verse", "chorus"]

""" + PLAIN + """
[parts.verse]
groove = "plain"
bars = 4
fill = "{length}"

[parts.chorus]
groove = "plain"
timekeeper = "{hand}"
bars = 4
"""


@pytest.mark.parametrize("seed", range(1, 7))
@pytest.mark.parametrize(("length", "begins"), [("1 beat", 4.0), ("2 beats", 3.0), ("1 bar", 1.0)])
@pytest.mark.parametrize("hand", ["ride", "china"])
def test_fills_and_arrivals_of_a_song_are_told_where_it_has_them(
    seed: int, length: str, begins: float, hand: str
) -> None:
    """Fills lead from each verse into its chorus; every section begins with an arrival, and no other bar does."""
    made = render(sheet_from(SONG.format(seed=seed, length=length, hand=hand).encode(), "moss-turbine.toml"))
    bars = midi_inspection(read_drums(read_smf(next(iter(made.files.values())))))["bars"]
    assert {bar["bar"]: bar["fill"] for bar in bars if bar["fill"] is not None} == {4: begins, 12: begins}
    assert [bar["bar"] for bar in bars if bar["arrival"]] == [1, 5, 9, 13]
