"""`compare`: sheets, grooves and MIDI files against each other, told by content."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import mido
import pytest

from grooveforge.project.library import library
from tests.cli.conftest import SHEET, Run
from tests.drumfiles import CHINA, CLOSED, CRASH, KICK, RIDE, SNARE, bars_file, meter, midi, notes_of, tempo, track

GROOVE = """\
tab = '''
HH x-x-x-x-x-x-x-x-
SN ----O-------O---
BD o-------o-------
'''
"""

FULL = {CLOSED: "x-x-x-x-x-x-x-x-", SNARE: "----X-------X---", KICK: "x-------x-------"}
HALF = {CLOSED: "x-x-x-x-x-x-x-x-", SNARE: "--------X-------", KICK: "x---------------"}


def put(folder: Path, name: str, data: bytes | str) -> Path:
    path = folder / name
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


def compared(run: Run, one: Path | str, other: Path | str, *more: str) -> dict[str, Any]:
    ran = run("compare", one, other, *more, "--json")
    assert ran.status == 0, ran
    found: dict[str, Any] = json.loads(ran.out)
    return found


def bars(*lines: dict[int, str]) -> dict[int, str]:
    """Bars of marks one after the other."""
    notes = dict.fromkeys(note for bar in lines for note in bar)
    return {note: "".join(bar.get(note, "-" * 16) for bar in lines) for note in notes}


# -- what is no difference -------------------------------------------------------------------------------


def same_music() -> dict[str, bytes]:
    """One bar of drums twice, written in other ways."""
    lines = bars(FULL, FULL)
    head = [(0, meter(4, 4)), (0, tempo(120))]
    notes = notes_of(lines)
    split = [track([row for row in notes if row[1] == note], end=3840) for note in lines]
    coarse = [(tick // 5, note, velocity, 12) for tick, note, velocity, _ in notes]
    return {
        "another resolution": midi(track(coarse, end=768, extra=head), division=96),
        "another channel": midi(track(notes, 3, "Drum kit", 3840, head)),
        "a track a note": midi(track([], end=3840, extra=head), *split),
        "format 0": midi(track(notes, end=3840, extra=head), form=0),
        "another order on a tick": midi(track(notes[::-1], end=3840, extra=head)),
        "longer notes": midi(track([(t, n, v, 100) for t, n, v, _ in notes], end=3840, extra=head)),
        "some ms late": midi(track([(t + 4, n, v, d) for t, n, v, d in notes], end=3840, extra=head)),
        "beside a piano": midi(track(notes, end=3840, extra=head), track([(0, 60, 90, 480)], 1, "piano")),
    }


@pytest.mark.parametrize("what", same_music())
def test_what_is_no_difference(what: str, run: Run, tmp_path: Path) -> None:
    """Resolution, channel, tracks, order, lengths and small offsets are no differences."""
    one = put(tmp_path, "one.mid", bars_file(bars(FULL, FULL)))
    other = put(tmp_path, "other.mid", same_music()[what])
    found = compared(run, one, other)
    assert found["distance"] == 0.0
    assert found["bars"] == []
    assert set(found["lanes"].values()) == {0.0}
    assert found["surface"] == 0.0


def test_the_channels_of_both(run: Run, tmp_path: Path) -> None:
    """--channel given twice is A's and B's; the error that asks for one can be followed."""
    one = put(tmp_path, "one.mid", bars_file(FULL))
    unnamed = midi(track(notes_of(FULL), 3, end=1920), track(notes_of({KICK: "x"}), 4, end=1920))
    other = put(tmp_path, "other.mid", unnamed)
    ran = run("compare", one, other)
    assert (ran.status, "--channel" in ran.err, str(other) in ran.err) == (2, True, True)
    assert compared(run, one, other, "--channel", "10", "--channel", "3")["distance"] == 0.0
    assert run("compare", one, other, *["--channel", "10"] * 3).status == 2


def test_a_sheet_and_what_it_renders_to(run: Run, tmp_path: Path) -> None:
    """Every demo song is the same as its MIDI file."""
    songs = sorted((library() / "songs").glob("*.toml"))
    assert len(songs) == 4
    for song in songs:
        assert run("render", song, "-o", tmp_path).status == 0
        found = compared(run, song, tmp_path / f"{song.stem}.mid")
        assert (found["distance"], found["bars"], found["levels"]) == (0.0, [], 0.0)


@pytest.mark.parametrize(
    "name", ["gallop", "seven-eight-drive", "twelve-eight-sway", "d-beat-v1", "hard-shuffle", "flam-backbeats"]
)
def test_a_groove_and_itself_as_midi(name: str, run: Run, tmp_path: Path) -> None:
    """A groove file is the same as a MIDI file of it, four times as long: it is a loop."""
    path = library() / "grooves" / f"{name}.toml"
    held = json.loads(run("inspect", path, "--json").out)["bars"]
    figures = held[0]["meter"]
    part = f'groove = "{name}"\nbars = {4 * len(held)}\narrival = false\n'
    sheet = put(tmp_path, "song.toml", f'form = ["a"]\nmeter = "{figures}"\n[parts.a]\n{part}')
    assert run("render", sheet, "-o", tmp_path).status == 0
    found = compared(run, path, tmp_path / "song.mid")
    assert (found["distance"], found["bars"], found["compared_bars"]) == (0.0, [], 4 * len(held))


def test_grooves_are_loops(run: Run, tmp_path: Path) -> None:
    """A groove of one bar and one of two equal bars are the same loop."""
    double = GROOVE.replace("-\n", "-|X-X-X-X-X-X-X-X-\n", 1).replace("----O-------O---", "----O-------O---|" * 2)
    double = double.replace("o-------o-------", "o-------o-------|" * 2)
    one, two = put(tmp_path, "one.toml", GROOVE), put(tmp_path, "two.toml", double)
    found = compared(run, one, two)
    assert (found["distance"], found["compared_bars"]) == (0.0, 2)
    assert found["levels"] == pytest.approx(8 / 24, abs=1e-4)


# -- what is one -----------------------------------------------------------------------------------------


def test_full_against_half(run: Run, tmp_path: Path) -> None:
    """Two bars of full time, then one of half: only that bar is listed, with its words."""
    one = put(tmp_path, "one.mid", bars_file(bars(FULL, FULL, FULL, FULL)))
    other = put(tmp_path, "other.mid", bars_file(bars(FULL, FULL, HALF, HALF)))
    found = compared(run, one, other)
    words = "half time instead of full time: backbeat on 3 instead of 2 and 4; kick no more on 3"
    assert found["bars"] == [{"bar": bar, "distance": 0.3077, "in_words": words} for bar in (3, 4)]
    assert found["lanes"] == {"kick": 0.25, "snare": pytest.approx(6 / 10), "timekeeper": 0.0, "other": 0.0}


def test_the_numbers_of_a_whole_groove(run: Run, tmp_path: Path) -> None:
    """A plain groove at full against half: 0.31; ride against china: 0.15 (house rule)."""
    full, half = put(tmp_path, "full.mid", bars_file(FULL)), put(tmp_path, "half.mid", bars_file(HALF))
    assert compared(run, full, half)["distance"] == pytest.approx(0.31, abs=0.005)
    ride = {RIDE: FULL[CLOSED], SNARE: FULL[SNARE], KICK: FULL[KICK]}
    china = {CHINA: FULL[CLOSED], SNARE: FULL[SNARE], KICK: FULL[KICK]}
    found = compared(run, put(tmp_path, "ride.mid", bars_file(ride)), put(tmp_path, "china.mid", bars_file(china)))
    assert found["distance"] == pytest.approx(0.15, abs=0.005)
    assert found["surface"] == 1.0
    assert [bar["in_words"] for bar in found["bars"]] == ["the hand moves from ride to china"]


def test_a_bar_more(run: Run, tmp_path: Path) -> None:
    """A MIDI file is no loop: a bar that only one has counts in full."""
    one, other = put(tmp_path, "1.mid", bars_file(FULL)), put(tmp_path, "2.mid", bars_file(bars(FULL, FULL)))
    found = compared(run, one, other)
    assert found["distance"] == 0.5
    assert found["bars"] == [{"bar": 2, "distance": 1.0, "in_words": "only in the second: 12 strokes"}]


def test_metre_and_tempo_are_said(run: Run, tmp_path: Path) -> None:
    """A bar of the same strokes at another tempo or metre is listed with a distance of 0."""
    one = put(tmp_path, "one.mid", bars_file(FULL, bpm=120))
    other = put(tmp_path, "other.mid", bars_file(FULL, (8, 8), bpm=90))
    found = compared(run, one, other)
    assert found["distance"] == 0.0
    assert found["bars"] == [{"bar": 1, "distance": 0.0, "in_words": "8/8 instead of 4/4; tempo 90 instead of 120"}]


def test_two_sheets_tell_half_open_from_open(run: Run, tmp_path: Path) -> None:
    """Where neither input is MIDI the half-open hi-hat is a surface of its own; beside MIDI it is the open one."""
    half_open = SHEET.replace('"ride"', '"half-open hi-hat"')
    one = put(tmp_path, "one.toml", half_open)
    other = put(tmp_path, "other.toml", SHEET.replace('"ride"', '"open hi-hat"'))
    assert "the hand moves from half-open hi-hat to open hi-hat" in run("compare", one, other).out
    assert run("render", other, "-o", tmp_path).status == 0
    assert compared(run, one, tmp_path / "other.mid")["distance"] == 0.0


def test_an_arrival(run: Run, tmp_path: Path) -> None:
    """A crash that comes in is the other lane, and the bar is the section's first."""
    path = put(tmp_path, "with.toml", SHEET)
    without = put(tmp_path, "without.toml", SHEET + "arrival = false\n")
    found = compared(run, without, path)
    assert [bar["bar"] for bar in found["bars"]] == [5]
    assert "crash on 1, before none" in found["bars"][0]["in_words"]
    assert found["lanes"]["other"] > 0
    assert found["lanes"]["snare"] == 0


def test_the_text(run: Run, tmp_path: Path) -> None:
    """Equal changes in a row share a line; equal inputs say so."""
    one = put(tmp_path, "one.mid", bars_file(bars(FULL, FULL, FULL)))
    other = put(tmp_path, "other.mid", bars_file(bars(FULL, HALF, HALF)))
    lines = run("compare", one, other).out.splitlines()
    assert lines[0].startswith("distance 0.21 (0 the same, 1 nothing shared): kick 0.33, snare 0.75, ")
    assert lines[-1].split(maxsplit=2)[:2] == ["2-3", "0.31"]
    assert run("compare", one, one).out == "the same strokes on the same surfaces in 3 bars\n"


# -- wrong input -----------------------------------------------------------------------------------------


def test_wrong_input(run: Run, tmp_path: Path) -> None:
    """A fault names the input that has it, and both cannot be standard input."""
    good = put(tmp_path, "good.mid", bars_file(FULL))
    bad = put(tmp_path, "bad.toml", "form = [")
    none = tmp_path / "none.mid"
    for words, wrong in (((good, bad), bad), ((bad, good), bad), ((good, none), none), ((none, good), none)):
        ran = run("compare", *words)
        assert (ran.status, ran.out) == (2, "")
        assert ran.err.startswith(f"error: {wrong}: ")
    ran = run("compare", "-", "-")
    assert (ran.status, "standard input" in ran.err) == (2, True)


def test_rests(run: Run, tmp_path: Path) -> None:
    """A file without notes is silence: the same as itself, nothing shared with a groove."""
    silent = put(tmp_path, "silent.mid", midi(track([], end=1920)))
    assert compared(run, silent, silent)["distance"] == 0.0
    assert compared(run, put(tmp_path, "full.mid", bars_file(FULL)), silent)["distance"] == 1.0
    empty = io.BytesIO()
    mido.MidiFile(type=1).save(file=empty)
    nothing = put(tmp_path, "nothing.mid", empty.getvalue())
    assert compared(run, nothing, put(tmp_path, "loop.toml", GROOVE))["bars"][0]["in_words"].startswith("only in")


def test_the_crash_of_an_arrival_is_no_hand(run: Run, tmp_path: Path) -> None:
    """A lone crash beside a hi-hat is struck beside the hand, also in MIDI."""
    one = put(tmp_path, "one.mid", bars_file(FULL))
    other = put(tmp_path, "other.mid", bars_file({**FULL, CRASH: "x---------------"}))
    found = compared(run, one, other)
    assert found["lanes"] == {"kick": 0.0, "snare": 0.0, "timekeeper": 0.0, "other": 1.0}
