"""Arrivals: crash and kick on a section's 1 (common practice), softly without the crash (house rule)."""

from __future__ import annotations

from fractions import Fraction

import pytest

from grooveforge.core.arrange import arrange
from grooveforge.core.arrival import arrival, final_hit, soft_arrival
from grooveforge.core.groove import Groove
from grooveforge.core.kit import ACCENT, Kind
from grooveforge.core.meter import Meter
from grooveforge.project.sheets import song_from
from tests.bars import groove

SHEET = """
form = ["verse", "chorus"]
[grooves.plain]
tab = '''
HH x-x-x-x-x-x-x-x-
SN ----O-------O---
BD --o-----o-------
'''
[parts.verse]
groove = "plain"
bars = 4
[parts.chorus]
groove = "plain"
bars = 4
"""


def at_one(of: Groove) -> dict[str, tuple[int, Kind]]:
    """What sounds on the first step."""
    return {name: (int(lane.velocity[0]), Kind(int(lane.kind[0]))) for name, lane in of.voices if lane.velocity[0]}


def first_bars(text: str) -> list[dict[str, tuple[int, Kind]]]:
    return [at_one(section.spans[0].groove) for section in arrange(song_from(text, "x.toml")).sections]


ARRIVALS = [
    ("closed hi-hat", "crash"),
    ("half-open hi-hat", "crash"),
    ("open hi-hat", "crash"),
    ("pedal hi-hat", "crash"),
    ("floor tom", "crash"),
    ("high floor tom", "crash"),
    ("ride", "second crash"),
    ("ride bell", "second crash"),
    ("china", "second crash"),
    ("crash", "second crash"),
    ("second crash", "crash"),
    ("cowbell", "crash"),
    ("low tom", "crash"),
]
"""Where the hand stands, and the crash that an arrival takes (house rule)."""


@pytest.mark.parametrize(("hand", "crash"), ARRIVALS)
def test_which_crash(hand: str, crash: str) -> None:
    """The crash takes the place of the hand's stroke; which one goes by where the hand stands."""
    after = arrival(groove("x-------", "----x---", "x-x-x-x-", surface=hand, grid=8))
    assert at_one(after) == {"kick": (94, Kind.PLAIN), crash: (ACCENT, Kind.ACCENT)}
    assert after.hand is not None
    assert after.hand.struck.tolist() == [2, 4, 6]


def test_added_where_the_hand_has_no_stroke_and_the_kick_none() -> None:
    after = arrival(groove("--x-----", "----x---", "-x-x-x-x", grid=8))
    assert at_one(after) == {"kick": (ACCENT, Kind.ACCENT), "crash": (ACCENT, Kind.ACCENT)}
    assert at_one(arrival(groove("--x-----", grid=8))) == at_one(after)


def test_soft_has_an_accent_and_the_kick_but_no_crash() -> None:
    """The hand's own stroke is the accent, added where it has none; a coloured one keeps its colour."""
    for hand in ("x-x-x-x-", "--x-x-x-"):
        after = soft_arrival(groove("--x-----", "----x---", hand, grid=8))
        assert at_one(after) == {"kick": (94, Kind.PLAIN), "closed hi-hat": (ACCENT, Kind.ACCENT)}
    assert at_one(soft_arrival(groove("--x-----", grid=8))) == {"kick": (ACCENT, Kind.ACCENT)}
    opened = groove("x-------", None, "x-x-x-x-", grid=8)
    assert opened.hand is not None
    lane = opened.hand.put((0,), 94, Kind.OPEN)
    assert at_one(soft_arrival(Groove(opened.meter, 8, 1, hand=lane, surface="closed hi-hat"))) == {
        "closed hi-hat": (ACCENT, Kind.OPEN),
        "kick": (94, Kind.PLAIN),
    }


def test_only_the_lanes_named_play() -> None:
    """The crash is the hand's, so that a part without it arrives with the kick alone."""
    source = groove("--x-----", "----x---", grid=8)
    assert at_one(arrival(source, frozenset({"kick", "snare"}))) == {"kick": (ACCENT, Kind.ACCENT)}
    assert at_one(arrival(groove(None, None, "x-x-x-x-", grid=8), frozenset({"timekeeper"}))) == {
        "crash": (ACCENT, Kind.ACCENT)
    }


def test_arrivals_in_a_song() -> None:
    """On by default, soft or off where said; an arrival is never loosened."""
    loud = {"crash": (ACCENT, Kind.ACCENT), "kick": (ACCENT, Kind.ACCENT)}
    plain = {"closed hi-hat": (94, Kind.PLAIN)}
    assert first_bars(SHEET) == [loud, loud]
    assert first_bars(SHEET + "arrival = false") == [loud, plain]
    soft = {"closed hi-hat": (ACCENT, Kind.ACCENT), "kick": (94, Kind.PLAIN)}
    assert first_bars(SHEET + 'arrival = "soft"') == [loud, soft]
    assert [section.spans[0].tight for section in arrange(song_from(SHEET, "x")).sections] == [(0,), (0,)]


def test_no_arrival_stays_none_after_a_fill() -> None:
    text = SHEET.replace("bars = 4\n[parts.chorus]", 'bars = 4\nfill = "1 bar"\n[parts.chorus]') + "arrival = false"
    song = arrange(song_from(text, "x.toml"))
    assert song.sections[0].spans[-1].groove.hand is None  # a fill there
    assert at_one(song.sections[1].spans[0].groove) == {"closed hi-hat": (94, Kind.PLAIN)}


@pytest.mark.parametrize("line", ['stops = "1.3"', "tacet = true"])
def test_parts_with_stops_or_silence_have_no_arrival(line: str) -> None:
    assert first_bars(SHEET + line)[1] == {}


def test_the_final_hit_is_crash_and_kick_on_one() -> None:
    """A bar of its own in any metre, with nothing else in it."""
    for meter in (Meter(4, 4), Meter(7, 8), Meter(3, 4), Meter(5, 16)):
        bar = final_hit(meter)
        assert set(at_one(bar)) == {"kick", "crash"}
        assert (bar.meter, bar.bars, sum(len(lane.struck) for _, lane in bar.voices)) == (meter, 1, 2)


def test_the_final_hit_has_the_last_metre_and_tempo() -> None:
    """One more bar in the last section's metre; a ramp that ended before it does not go on (house rule)."""
    text = SHEET.replace('form = ["verse", "chorus"]', 'final = "hit"\nform = ["verse", "chorus"]')
    text += "tempo = { to = 60, over = 32 }\n"
    song = arrange(song_from(text, "x.toml"))
    last = song.sections[-1]
    assert (last.bars, last.own_bars, song.bars) == (5, 4, 9)
    assert last.tempo[-1] == (Fraction(15), 120 - 60 * Fraction(15, 32))
    assert [span.own for span in last.spans] == [True, False]
    assert last.quarters == 20


@pytest.mark.parametrize("meter", [Meter(4, 4), Meter(7, 8), Meter(7, 32), Meter(3, 1)], ids=str)
def test_a_song_ends_with_a_hit_in_every_metre(meter: Meter) -> None:
    """Bars without whole sixteenths too."""
    hit = final_hit(meter)
    assert (hit.meter, hit.bars) == (meter, 1)
    assert {name: lane.struck.tolist() for name, lane in hit.voices} == {"kick": [0], "crash": [0]}
