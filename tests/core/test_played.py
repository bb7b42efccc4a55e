"""Bars as a drummer played them, in place of those that were arranged: their events, and what is said of them."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from grooveforge.core.arrange import arrange
from grooveforge.core.kit import GHOST, SURFACE_CODES, Kind
from grooveforge.core.perform import Performance, perform
from grooveforge.core.played_bar import ChangedBar, Grace, PlayedBar
from grooveforge.core.song import Song
from grooveforge.project.sheets import song_from
from tests.bars import groove

SHEET = """
title = "Ash Ferry"
tempo = 120
form = ["verse"]
[parts.verse]
groove = "driving eighths"
bars = 8
arrival = false
"""
SNARE = SURFACE_CODES["snare"]


def played(changes: dict[int, ChangedBar]) -> tuple[Performance, tuple[str, ...]]:
    song: Song = song_from(SHEET, "ash.toml")
    made = arrange(replace(song, changes=changes, changes_from="ash.changes.toml"))
    return perform(made), made.notes


def flam_bar(*graces: Grace, mark: str = "f") -> ChangedBar:
    """A bar with one ornamented snare stroke on the 3 alone."""
    return ChangedBar(PlayedBar(groove(snare=f"--------{mark}-------"), graces))


def snares(performance: Performance, bar: int) -> list[tuple[int, int, int, int]]:
    """(ticks from the bar's 3, velocity, kind, offset) of the snare strokes of a bar."""
    beat = performance.division
    low, high = (bar - 1) * 4 * beat, bar * 4 * beat
    events = performance.events
    columns = (events.tick, events.surface, events.velocity, events.kind, events.offset)
    rows = zip(*(column.tolist() for column in columns))
    return [(tick - low - 2 * beat, *rest) for tick, code, *rest in rows if code == SNARE and low <= tick < high]


def test_a_flam_that_was_not_written_out_has_its_grace_stroke_30_ms_before() -> None:
    """At 120 a minute 30 ms are 28.8 of 480 ticks (facts of hearing: a flam's is 20-45 ms before the stroke)."""
    performance, _ = played({3: flam_bar()})
    (grace, stroke) = snares(performance, 3)
    assert grace == (-29, GHOST, Kind.GHOST, -29)
    assert (stroke[0], stroke[2], stroke[3]) == (0, Kind.FLAM, 0)


def test_a_drag_has_two() -> None:
    performance, _ = played({3: flam_bar(mark="d")})
    assert [row[0] for row in snares(performance, 3)] == [-58, -29, 0]


def test_grace_strokes_that_were_played_stand_as_they_were() -> None:
    performance, _ = played({3: flam_bar(Grace("snare", 8, Fraction(-1, 16), 33))})
    first, *others = snares(performance, 3)
    assert first[:2] == (-30, 33)
    assert len(others) == 1


@pytest.mark.parametrize(
    ("bars", "said"),
    [
        ([3], "bar 3"),
        ([3, 4], "bars 3-4"),
        ([1, 3, 4, 5, 8], "bars 1, 3-5 and 8"),
        ([2, 4], "bars 2 and 4"),
    ],
)
def test_the_notes_say_which_bars(bars: list[int], said: str) -> None:
    _, notes = played(dict.fromkeys(bars, flam_bar()))
    assert notes == (f"played as in ash.changes.toml: {said}",)


def test_all_other_bars_are_as_they_were() -> None:
    plain, _ = played({})
    changed, _ = played({3: flam_bar()})
    for bar in (1, 2, 4, 5, 6, 7, 8):
        assert snares(changed, bar) == snares(plain, bar) != []


def test_a_bar_behind_the_song_is_left_out() -> None:
    performance, notes = played({9: flam_bar()})
    assert notes == ("bar 9 of ash.changes.toml is left out: the song has 8 bars",)
    assert len(performance) == len(played({})[0])
