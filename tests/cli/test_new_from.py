"""`new --from`: a sheet from a drum MIDI file's markers that renders to the file's strokes on the grid."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import mido
import pytest

from grooveforge.project.comparing import compare_bytes
from grooveforge.project.library import library
from grooveforge.project.sheet_from import sheet_from_midi
from tests.cli.conftest import Ran, Run
from tests.corpora import FREEDOOM, needed
from tests.drumfiles import (
    BELL,
    CHINA,
    CLOSED,
    CRASH,
    KICK,
    OPEN,
    RIDE,
    SIXTEENTH,
    SNARE,
    heard,
    meter,
    midi,
    notes_of,
    tempo,
    track,
)
from tests.read_back import of

BAR = 1920
VERSE = {CLOSED: "x-x-x-x-x-x-x-x-", SNARE: "----X-------X---", KICK: "x-----x-x-------"}
CHORUS = {RIDE: "x---x---x---x---", BELL: "--x-------------", SNARE: "--------X-------", KICK: "x-x-------------"}
LAST = {CHINA: "x---x---x---x---", SNARE: "--------X-----xx", KICK: "x--x------------"}
REST = {KICK: "-" * 16}

FIXTURES = sorted((Path(__file__).parent.parent / "fixtures" / "freedoom").glob("*.mid"))


def marker(text: str) -> mido.MetaMessage:
    return mido.MetaMessage("marker", text=text)


def song(*bars: dict[int, str], marks: dict[int, str] | None = None, bpm: float = 120) -> bytes:
    """Bars of 4/4 with markers at ticks."""
    notes = [note for number, bar in enumerate(bars) for note in notes_of(bar, start=number * BAR)]
    head = [(0, meter(4, 4)), (0, tempo(bpm)), *((tick, marker(text)) for tick, text in (marks or {}).items())]
    return midi(track([], end=len(bars) * BAR, extra=head), track(notes, end=len(bars) * BAR))


FORM = song(
    *[VERSE] * 4, *[CHORUS] * 2, *[VERSE] * 2, CHORUS, LAST,
    marks={0: "verse", 4 * BAR: "chorus", 6 * BAR: "verse", 8 * BAR: "chorus"},
)  # fmt: skip


def made(run: Run, folder: Path, data: bytes, *words: str) -> tuple[Ran, dict[str, Any]]:
    """The sheet made from a file, as TOML."""
    (folder / "drums.mid").write_bytes(data)
    ran = run("new", folder / "song.toml", "--from", folder / "drums.mid", *words)
    assert ran.status == 0, ran
    return ran, tomllib.loads((folder / "song.toml").read_text(encoding="utf-8"))


def rendered(run: Run, folder: Path) -> bytes:
    ran = run("render", folder / "song.toml", "-o", folder / "out", "--force")
    assert ran.status == 0, ran
    return (folder / "out" / "song.mid").read_bytes()


def strokes(data: bytes) -> list[tuple[int, int]]:
    """(tick, note) of every drum note, as mido reads them."""
    return [row[:2] for row in heard(data)]


def markers(data: bytes) -> list[tuple[int, str]]:
    return [(tick, row.text) for tick, row in of(data, "marker")]


def tempi(data: bytes) -> list[tuple[int, int]]:
    return [(tick, row.tempo) for tick, row in of(data, "set_tempo")]


# -- form ------------------------------------------------------------------------------------------------


def test_form_from_markers(run: Run, tmp_path: Path) -> None:
    """One part a name; a return that only differs in length says so, one that plays otherwise has a groove."""
    ran, sheet = made(run, tmp_path, FORM)
    assert ran.err == ""
    assert sheet["form"] == [
        "verse",
        "chorus",
        {"part": "verse", "bars": 2},
        {"part": "chorus", "groove": "chorus 2"},
    ]
    assert list(sheet["parts"]) == ["verse", "chorus"]
    assert {name: part["bars"] for name, part in sheet["parts"].items()} == {"verse": 4, "chorus": 2}
    assert sheet["grooves"]["verse"]["tab"].splitlines()[0] == "HH |x-x-x-x-x-x-x-x-|"


def test_the_same_strokes_and_markers(run: Run, tmp_path: Path) -> None:
    """Rendering the sheet gives the file's ticks and notes, its markers and its tempo."""
    made(run, tmp_path, FORM)
    data = rendered(run, tmp_path)
    assert strokes(data) == strokes(FORM)
    assert markers(data) == markers(FORM)
    assert tempi(data) == tempi(FORM)


def test_levels_by_band(run: Run, tmp_path: Path) -> None:
    """Ghosts, taps, normal strokes and accents stay in their bands (20-45, 60-84, 85-104, 105-124: common practice)."""
    data = song({SNARE: "g---X---n---x---", KICK: "x-------X-------"})
    made(run, tmp_path, data)
    found = [velocity for _, note, velocity in heard(rendered(run, tmp_path)) if note == SNARE]
    for velocity, (low, high) in zip(found, ((20, 45), (105, 124), (60, 84), (85, 104)), strict=True):
        assert low <= velocity <= high


def test_without_markers_one_part(run: Run, tmp_path: Path) -> None:
    """A file without markers is one part."""
    _, sheet = made(run, tmp_path, song(VERSE, VERSE, CHORUS))
    assert sheet["form"] == ["drums"]
    assert sheet["parts"] == {"drums": {"groove": "drums", "bars": 3}}


def test_bars_before_the_first_marker(run: Run, tmp_path: Path) -> None:
    """What stands before the first marker is a lead-in; where it rests it is tacet."""
    data = song(REST, VERSE, marks={BAR: "verse"})
    _, sheet = made(run, tmp_path, data)
    assert sheet["form"] == ["lead-in", "verse"]
    assert sheet["parts"]["lead-in"] == {"bars": 1, "tacet": True}
    assert strokes(rendered(run, tmp_path)) == strokes(data)


def test_a_rest_among_the_statements(run: Run, tmp_path: Path) -> None:
    """A statement that rests and one that plays again come back as they are."""
    data = song(REST, VERSE, REST, VERSE, marks={0: "a", BAR: "a", 2 * BAR: "b", 3 * BAR: "b"})
    _, sheet = made(run, tmp_path, data)
    assert sheet["form"] == [
        "a",
        {"part": "a", "groove": "a", "tacet": False},
        "b",
        {"part": "b", "groove": "a", "tacet": False},
    ]
    assert strokes(rendered(run, tmp_path)) == strokes(data)


def test_a_marker_beside_the_bar_line(run: Run, tmp_path: Path) -> None:
    """A marker belongs to the nearest bar line; far inside a bar, at the end or on a taken bar a warning says so."""
    marks = {0: "a", 10: "second a", BAR - 3: "b", 2 * BAR + 900: "c", 4 * BAR: "end"}
    ran, sheet = made(run, tmp_path, song(*[VERSE] * 4, marks=marks))
    assert [entry if isinstance(entry, str) else entry["part"] for entry in sheet["form"]] == ["a", "b", "c"]
    assert "'c' stands inside a bar: its section begins with bar 3" in ran.err
    assert "bar 1 has the markers 'a' and 'second a'" in ran.err
    assert "'end' stands where the music ends" in ran.err
    assert ran.err.count("warning: ") == 3


NAMES = ('say "now"', "Übergang", "a\\b", "[parts.x]", "7", "true", "#", "  spaced\tout  ", "'''")


@pytest.mark.parametrize("name", NAMES)
def test_any_marker_is_a_name(name: str, run: Run, tmp_path: Path) -> None:
    """Whatever a marker says is a part's name in the sheet, written so that it reads back."""
    notes = notes_of(VERSE)
    text = mido.MetaMessage("marker", text=name.encode().decode("latin-1"))
    data = midi(track(notes, end=BAR, extra=[(0, text)]))
    _, sheet = made(run, tmp_path, data)
    assert sheet["form"] == [" ".join(name.split())]
    assert strokes(rendered(run, tmp_path)) == strokes(data)


# -- metre, tempo, grid ----------------------------------------------------------------------------------


def test_metres(run: Run, tmp_path: Path) -> None:
    """A section whose metre changes is cut there, and what follows is a part of its own."""
    odd = {CLOSED: "x-x-x-x-x-x-x-", SNARE: "----X---------", KICK: "x-----x-------"}
    notes = [*notes_of(VERSE), *notes_of(odd, start=BAR), *notes_of(odd, start=BAR + 1680)]
    head = [(0, meter(4, 4)), (BAR, meter(7, 8)), (0, marker("verse")), (BAR + 1680, marker("out"))]
    data = midi(track(notes, end=BAR + 2 * 1680, extra=head))
    ran, sheet = made(run, tmp_path, data)
    assert sheet["form"] == ["verse", "verse b", "out"]
    assert sheet["parts"]["verse b"]["meter"] == "7/8"
    assert "cut at bar 2" in ran.err
    assert strokes(rendered(run, tmp_path)) == strokes(data)
    assert json.loads(run("inspect", tmp_path / "out/song.mid", "--json").out)["bars"][1]["meter"] == "7/8"


def test_tempi(run: Run, tmp_path: Path) -> None:
    """A return at another tempo says it; the tempo events come back to the microsecond."""
    marks = {0: "a", 2 * BAR: "b", 4 * BAR: "a"}
    notes = [note for bar in range(6) for note in notes_of(VERSE, start=bar * BAR)]
    head = [(0, meter(4, 4)), *((tick, marker(text)) for tick, text in marks.items())]
    head += [(0, tempo(132)), (2 * BAR, tempo(98.5)), (4 * BAR, tempo(140))]
    data = midi(track(notes, end=6 * BAR, extra=head))
    _, sheet = made(run, tmp_path, data)
    assert sheet["tempo"] == 132
    assert sheet["parts"]["b"]["tempo"] == 98.5
    assert sheet["form"][2] == {"part": "a", "tempo": 140}
    assert tempi(rendered(run, tmp_path)) == tempi(data)


def test_a_ramp_comes_back(run: Run, tmp_path: Path) -> None:
    """A tempo ramp of a rendered song is a ramp again; every tempo event and stroke is the same."""
    for name in ("the-slow-lock", "copper-weather", "orchard-of-glass-bees", "tin-observatory"):
        assert run("render", library() / "songs" / f"{name}.toml", "-o", tmp_path).status == 0
        data = (tmp_path / f"{name}.mid").read_bytes()
        ran, _ = made(run, tmp_path, data, "--force")
        assert ran.err == ""
        again = rendered(run, tmp_path)
        assert (tempi(again), markers(again)) == (tempi(data), markers(data)), name


def test_a_ramp_is_written_as_one(run: Run, tmp_path: Path) -> None:
    """Every quarter's tempo of a section is one key, { to, over }."""
    head = [(0, meter(4, 4)), (0, marker("slower")), (0, tempo(160))]
    head += [((k + 1) * 480, tempo(160 - 5 * (k + 1))) for k in range(8)]
    notes = [note for bar in range(3) for note in notes_of(VERSE, start=bar * BAR)]
    data = midi(track(notes, end=3 * BAR, extra=head))
    ran, sheet = made(run, tmp_path, data)
    assert (ran.err, sheet["form"]) == ("", [{"part": "slower", "tempo": {"to": 120, "over": 8}}])
    assert tempi(rendered(run, tmp_path)) == tempi(data)


def test_a_tempo_that_no_sheet_holds(run: Run, tmp_path: Path) -> None:
    """Tempi out of range or inside a bar are left out with a warning each, never in silence."""
    head = [(0, meter(4, 4)), (0, tempo(12)), (BAR + 700, tempo(90))]
    data = midi(track([*notes_of(VERSE), *notes_of(VERSE, start=BAR)], end=2 * BAR, extra=head))
    ran, sheet = made(run, tmp_path, data)
    assert sheet["tempo"] == 20
    assert "another tempo than the file in 2 bars, the first is bar 1" in ran.err
    assert "1 tempo changes stand inside a bar, the first in bar 2" in ran.err


def test_triplets_and_unknown_notes(run: Run, tmp_path: Path) -> None:
    """A bar of triplets has a grid of its own, a note that no kit knows a line with its number."""
    triplets = notes_of({CLOSED: "x" * 12, KICK: "x-----x-----", 88: "---x--------"}, step=160)
    data = midi(track([*triplets, *notes_of(VERSE, start=BAR)], end=2 * BAR, extra=[(0, marker("swing"))]))
    _, sheet = made(run, tmp_path, data)
    lines = sheet["grooves"]["swing"]["tab"].splitlines()
    assert [line.replace("-", "").split("|")[1:3] for line in lines if line.startswith("88 ")] == [["x", ""]]
    assert strokes(rendered(run, tmp_path)) == strokes(data)


def test_open_and_closed_hi_hat_together(run: Run, tmp_path: Path) -> None:
    """Surfaces of one hand on one step, and a crash with a china, are all kept."""
    bar = {CLOSED: "x-x-x-x-", OPEN: "--x-----", CRASH: "x-------", CHINA: "x-------", 57: "x-------"}
    data = song({note: line + "-" * 8 for note, line in bar.items()})
    made(run, tmp_path, data)
    assert strokes(rendered(run, tmp_path)) == strokes(data)


def test_loose_playing_goes_to_the_grid(run: Run, tmp_path: Path) -> None:
    """Strokes off the grid stand on it in the sheet."""
    notes = [(max(0, tick + shift), note, velocity, 60) for shift, (tick, note, velocity, _) in
             zip((3, -7, 9, 4, -5) * 9, notes_of(VERSE))]  # fmt: skip
    made(run, tmp_path, midi(track(notes, end=BAR)))
    assert strokes(rendered(run, tmp_path)) == strokes(song(VERSE))


def test_what_is_left_out_is_said(run: Run, tmp_path: Path) -> None:
    """Two notes of one surface on a step are one stroke, and grace strokes on cymbals have no mark: both are said."""
    snares = [(0, 38, 90, 20), (0, 40, 70, 20)]
    graces = [(SIXTEENTH * 4 - 30, RIDE, 30, 10), (SIXTEENTH * 4, RIDE, 100, 20)]
    ran, _ = made(run, tmp_path, midi(track([*snares, *graces], end=BAR)))
    assert "1 strokes share a step of the grid with another of their surface: left out" in ran.err
    assert "1 grace strokes on cymbals have no mark in a tab: left out" in ran.err


# -- real files ------------------------------------------------------------------------------------------


def same_on_the_grid(name: str, data: bytes) -> None:
    text, _ = sheet_from_midi(data, name, "song.toml")
    found = compare_bytes((data, text.encode()), (name, "song.toml")).facts()
    assert found["distance"] == 0.0, (name, found["bars"][:3])


@pytest.mark.parametrize("path", FIXTURES, ids=lambda path: path.stem)
def test_real_files(path: Path) -> None:
    """Game music that was not written by us comes back on the grid."""
    same_on_the_grid(path.name, path.read_bytes())


def test_the_corpus() -> None:
    """Every drum file of the freedoom package comes back on the grid."""
    drums = {name: data for name, data in needed(FREEDOOM).items() if heard(data)}
    assert len(drums) > 50
    for name, data in drums.items():
        same_on_the_grid(name, data)


# -- the command -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("option", [("--form", "a b"), ("--tempo", "100"), ("--meter", "4/4")])
def test_from_says_all(option: tuple[str, str], run: Run, tmp_path: Path) -> None:
    """Form, tempo and metre come from the file, so their options cannot stand beside --from."""
    (tmp_path / "drums.mid").write_bytes(FORM)
    ran = run("new", tmp_path / "song.toml", "--from", tmp_path / "drums.mid", *option)
    assert (ran.status, option[0] in ran.err) == (2, True)
    assert not (tmp_path / "song.toml").exists()


def test_wrong_input(run: Run, tmp_path: Path) -> None:
    """No MIDI file, no drums, no such file: an error with the file's name, and no sheet."""
    (tmp_path / "text.mid").write_text("tab = 3")
    (tmp_path / "silent.mid").write_bytes(midi(track([], end=BAR)))
    for name, words in (("text.mid", "no MIDI file"), ("silent.mid", "no drums"), ("none.mid", "no such file")):
        ran = run("new", tmp_path / "song.toml", "--from", tmp_path / name)
        assert (ran.status, words in ran.err, name in ran.err) == (2, True, True), ran
    assert not (tmp_path / "song.toml").exists()


def test_the_channel(run: Run, tmp_path: Path) -> None:
    """--channel picks the drums; without --from it means nothing."""
    data = midi(track(notes_of(VERSE), 3, end=BAR), track(notes_of({KICK: "x"}), 4, end=BAR))
    (tmp_path / "two.mid").write_bytes(data)
    assert "--channel" in run("new", tmp_path / "song.toml", "--from", tmp_path / "two.mid").err
    assert run("new", tmp_path / "song.toml", "--from", tmp_path / "two.mid", "--channel", "3").status == 0
    assert run("new", tmp_path / "other.toml", "--channel", "3").status == 2


def test_no_file_is_replaced(run: Run, tmp_path: Path) -> None:
    """A sheet that is there stays, unless --force says otherwise; then it is kept beside."""
    (tmp_path / "drums.mid").write_bytes(FORM)
    sheet = tmp_path / "song.toml"
    sheet.write_text("mine")
    assert run("new", sheet, "--from", tmp_path / "drums.mid").status == 2
    assert sheet.read_text() == "mine"
    assert run("new", sheet, "--from", tmp_path / "drums.mid", "--force").status == 0
    assert (tmp_path / "song.toml.1").read_text() == "mine"
