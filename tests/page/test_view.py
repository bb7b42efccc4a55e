"""The song as the page draws and plays it, against the MIDI file and the arrangement."""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from grooveforge.core.arrange import arrange
from grooveforge.formats import keys
from grooveforge.formats.roadmap import road_map
from grooveforge.page.tables import tables
from grooveforge.page.view import Shown
from grooveforge.project.library import SONGS, library_files
from grooveforge.project.rendering import render
from grooveforge.project.sheets import Sheet, read_sheet, song_from
from grooveforge.sound.loudness import song_level
from grooveforge.sound.sounds import damped_at, performance_sounds
from tests.page.inprocess import SHEET, desk
from tests.read_back import struck_seconds

HAND, SNARE, KICK, OTHER = range(4)


@cache
def shown(path: Path) -> tuple[Sheet, dict[str, Any]]:
    sheet = read_sheet(str(path))
    return sheet, Shown.of(sheet).view()


def view_of(text: str) -> dict[str, Any]:
    return Shown.of(Sheet("song.toml", text.encode(), song_from(text, "song.toml"))).view()


every_song = pytest.mark.parametrize("path", library_files(SONGS), ids=lambda path: path.stem)


@every_song
def test_strokes_are_those_of_the_midi_file(path: Path) -> None:
    """mido reads the rendered file: the same notes at the same seconds with the same velocities (within 1 µs)."""
    sheet, view = shown(path)
    events = view["events"]
    notes = [view["notes"][str(code)] for code in events["surface"]]
    ours = sorted(zip(events["tick"], notes, events["velocity"], events["time"]))
    theirs = sorted(struck_seconds(next(iter(render(sheet).files.values()))))
    assert sorted(row[1:3] for row in ours) == sorted(row[1:] for row in theirs)
    assert sorted(events["time"]) == pytest.approx([time for time, _, _ in theirs], abs=2e-6)


@every_song
def test_bars_lie_end_to_end(path: Path) -> None:
    """Bars follow one another without a gap, in ticks and in seconds, to the song's end; each is in its section."""
    sheet, view = shown(path)
    bars = view["bars"]
    assert len(bars) == arrange(sheet.song).bars
    assert [bar["bar"] for bar in bars] == list(range(1, len(bars) + 1))
    for one, after in pairwise(bars):
        assert one["tick"] + one["ticks"] == after["tick"]
        assert one["time"] + one["seconds"] == pytest.approx(after["time"], abs=2e-6)
    assert bars[-1]["time"] + bars[-1]["seconds"] == pytest.approx(view["seconds"], abs=2e-6)
    for section in view["sections"]:
        inside = bars[section["bar"] - 1 : section["bar"] - 1 + section["bars"]]
        assert {bar["section"] for bar in inside} == {section["index"]}
        assert sum(move["bars"] for move in section["hand"]) == section["bars"]


@every_song
def test_clicks_are_the_beats(path: Path) -> None:
    """One strong click a bar, on its line."""
    _, view = shown(path)
    strong = [time for time, first in view["clicks"] if first]
    assert strong == [bar["time"] for bar in view["bars"]]


@every_song
def test_sections_are_the_road_map(path: Path) -> None:
    """Names, bars and differences are those that `render` prints."""
    sheet, view = shown(path)
    rows = (re.match(r" *(\d+)(?:-\d+)? .*", line) for line in road_map(arrange(sheet.song)).splitlines()[2:])
    lines = {int(row[1]): row[0] for row in rows if row}
    assert [section["bar"] for section in view["sections"]] == sorted(lines)
    assert any(section["differences"] for section in view["sections"])
    for section in view["sections"]:
        line = lines[section["bar"]]
        assert section["name"] in line
        for row in section["differences"]:
            assert row["in_words"] in line


@every_song
def test_a_section_stands_at_its_line(path: Path) -> None:
    """The line of a section is that of its entry of the form."""
    sheet, view = shown(path)
    lines = sheet.text.split("\n")
    assert len(view["sections"]) == len(arrange(sheet.song).sections)
    for section in view["sections"]:
        assert f'"{section["part"]}"' in lines[section["line"] - 1]


def test_lines_say_who_plays() -> None:
    """Kick and snare have lines of their own; the hand is what it strikes where it stands; all else is the fourth."""
    text = SHEET.replace('timekeeper = ["ride", "crash"]', 'timekeeper = ["ride", "crash"]\nfill = "1 bar"')
    view = view_of(text)
    names = view["surfaces"]
    rows = list(zip(view["events"]["tick"], view["events"]["surface"], view["events"]["line"]))
    found: dict[str, set[int]] = {}
    for _, code, line in rows:
        found.setdefault(names[str(code)], set()).add(line)
    assert found["kick"] == {KICK}
    assert found["snare"] == {SNARE}
    assert found["closed hi-hat"] == {HAND}
    assert found["crash"] == {HAND, OTHER}  # ridden at the chorus's end, struck on arrivals elsewhere
    first = next(line for tick, code, line in rows if tick == 0 and names[str(code)] == "crash")
    assert first == OTHER


def test_what_a_return_does_otherwise_is_new() -> None:
    """In half time the snare moves to 3: those strokes are new, the hand's are not; a first statement has none."""
    view = view_of(SHEET)
    events = view["events"]
    bars = view["bars"]
    assert [section["against"] for section in view["sections"]] == [None, None, 0, 1]
    starts = [bars[section["bar"] - 1]["tick"] for section in view["sections"]]
    new = np.array(events["new"])
    ticks = np.array(events["tick"])
    assert not new[ticks < starts[3]].any()
    last = ticks >= starts[3]
    line = np.array(events["line"])
    beats = ((ticks - starts[3]) % 1920) / 480 + 1
    assert set(beats[last & (line == SNARE) & (new == 1)].tolist()) == {3.0}
    assert not new[last & (line == HAND)].any()
    assert bars[-1]["backbeats"] == (3.0,)
    assert bars[0]["backbeats"] == (2.0, 4.0)


RIFF = '[parts.chorus]\nriff = "x--X--x-"\n'


def test_a_riff_sounds_where_it_is_typed() -> None:
    """Every attack of the line, accents told apart, at its sixteenth (120 bpm: an eighth of a second)."""
    view = view_of(SHEET.replace("[parts.chorus]\n", RIFF))
    section = view["sections"][1]
    start = view["bars"][section["bar"] - 1]["time"]
    rows = [[round((time - start) / 0.125, 3), accent, muted] for time, accent, muted in section["riff"]]
    assert rows[:6] == [[0, 0, 1], [3, 1, 0], [6, 0, 1], [8, 0, 1], [11, 1, 0], [14, 0, 1]]
    assert len(rows) == 24
    assert view["sections"][0]["riff"] is None


def test_a_riff_waits_in_inserted_beats() -> None:
    """Two beats put before the second bar: the riff is silent in them and goes on behind them."""
    text = SHEET.replace("[parts.chorus]\n", RIFF + "insert = [{ before_bar = 2, beats = 2 }]\n")
    view = view_of(text)
    section = view["sections"][1]
    start = view["bars"][section["bar"] - 1]["time"]
    sixteenths = [round((time - start) / 0.125) for time, _, _ in section["riff"]]
    assert not [at for at in sixteenths if 16 <= at < 24]
    assert next(at for at in sixteenths if at >= 24) == 24


def test_a_relative_feel_is_named() -> None:
    """ "/2" of full time holds as half time; what the entry itself says is shown as it is written."""
    section = view_of(SHEET.replace('feel = "half"', 'feel = "/2"'))["sections"][3]
    assert section["settings"]["feel"] == "half"
    assert section["own"]["feel"] == "/2"


def test_a_small_kit_is_enough_for_a_small_song(tmp_path: Path) -> None:
    """A kit that lacks what the song does not strike plays it; what is struck instead is said."""
    (tmp_path / "kit.toml").write_text(
        '[notes]\nkick = 36\nsnare = 38\n"closed hi-hat" = 42\nride = 51\n[fallbacks]\ncrash = "ride"\n'
        '"second crash" = "ride"\n',
        encoding="utf-8",
    )
    state = desk(tmp_path, 'key_map = "kit.toml"\n' + SHEET).state()
    song = state["song"]
    codes = {name: code for code, name in song["surfaces"].items()}
    assert (song["notes"][codes["ride"]], song["notes"][codes["crash"]]) == (51, 51)
    assert codes["china"] not in song["notes"]
    assert [warning for warning in state["warnings"] if "crash" in warning and "ride" in warning]


# -- tables ----------------------------------------------------------------------------------------------


def listed_keys() -> list[dict[str, Any]]:
    found = tables()["keys"]
    assert isinstance(found, list)
    return found


def test_every_key_of_the_sheet_is_in_the_tables() -> None:
    """The page's keys are the reader's, with where they stand and what they mean."""
    rows = {str(row["name"]): row for row in listed_keys()}
    for place in (keys.SONG, keys.PART, keys.ENTRY):
        for name in keys.keys_at(place):
            assert place in rows[name]["where"]
            assert rows[name]["what"]


def test_every_listed_value_is_one_that_the_sheet_reads() -> None:
    """What a list offers, the key's own reader takes."""
    readers = {key.name: key.read for key in keys.KEYS if {keys.SONG, keys.PART, keys.ENTRY} & set(key.places)}
    offered = [(row["name"], value) for row in listed_keys() for value in row.get("values", [])]
    assert len(offered) > 50
    for name, value in offered:
        readers[name](value)


@every_song
def test_choked_strokes_are_damped_on_the_page_as_in_the_wav(path: Path) -> None:
    """The event table of the WAV: an eighth after it sounds, at the tempo there; no column where nothing is choked."""
    sheet, view = shown(path)
    performance = render(sheet).performance
    wanted = damped_at(performance)
    assert ("until" in view["events"]) == bool(np.isfinite(wanted).any())
    given = [np.inf if second is None else second for second in view["events"].get("until", [None] * len(wanted))]
    assert given == pytest.approx(wanted.tolist(), abs=1e-6)
    assert view["level"] == song_level(performance_sounds(performance))


def test_a_song_with_chokes_is_among_the_demo_songs() -> None:
    assert any("until" in shown(path)[1]["events"] for path in library_files(SONGS))
