"""A drum MIDI file as the groove of a sheet, and what commands say of MIDI files that hold no drums; read by mido."""

from __future__ import annotations

import io
import json
from pathlib import Path

import mido
import pytest

from tests.cli.conftest import Run
from tests.drumfiles import CLOSED, KICK, SNARE, heard, midi, track

SHEET = 'form = ["a"]\n{more}\n[parts.a]\ngroove = "drums.mid"\nbars = 2\narrival = false\nlevels = "flat"\n'
LOOSE = {KICK: [0, 192], SNARE: [96 + 7, 288 - 2], CLOSED: [0, 48, 96, 144 + 5, 192, 240, 288, 336]}
"""One bar of full time in ticks of a 96th of a quarter, some strokes off the grid."""


def drums(folder: Path, notes: dict[int, list[int]], division: int = 96) -> None:
    """A file drums.mid with strokes at ticks, at a division of its own."""
    played = sorted((tick, note, 100, 10) for note, ticks in notes.items() for tick in ticks)
    song = mido.MidiFile(file=io.BytesIO(midi(track(played, end=4 * division))))
    song.ticks_per_beat = division
    song.save(folder / "drums.mid")


def ticks(run: Run, folder: Path, more: str = "") -> dict[int, list[int]]:
    """The rendered strokes of each note."""
    (folder / "song.toml").write_text(SHEET.replace("{more}", more), encoding="utf-8")
    done = run("render", folder / "song.toml", "-o", folder / "out")
    assert done.status == 0, done.err
    found: dict[int, list[int]] = {}
    for tick, note, *_ in heard((folder / "out" / "song.mid").read_bytes()):
        found.setdefault(note, []).append(tick)
    return found


def test_strokes_stand_on_the_grid_plus_offsets_rounded_once(run: Run, tmp_path: Path) -> None:
    """From 96 to 480 ticks a quarter every offset is five times as many, in both bars."""
    drums(tmp_path, LOOSE)
    expected = {note: [5 * tick for tick in at] for note, at in LOOSE.items()}
    assert ticks(run, tmp_path) == {note: at + [tick + 1920 for tick in at] for note, at in expected.items()}


@pytest.mark.parametrize("division", [89, 100, 1000])
def test_a_division_that_is_no_part_of_480_is_half_a_tick_off_at_most(run: Run, tmp_path: Path, division: int) -> None:
    """Strokes a few ticks beside quarters come out where the exact ratio puts them."""
    late = {SNARE: [division + 3, 3 * division - 2], KICK: [0, 2 * division]}
    drums(tmp_path, late, division)
    found = ticks(run, tmp_path)
    for note, at in late.items():
        assert found[note][:2] == pytest.approx([tick * 480 / division for tick in at], abs=0.5)


def test_the_groove_is_read_by_the_key_map_of_the_sheet(run: Run, tmp_path: Path) -> None:
    """A kit that has its kick on 24 and its snare on 26 reads them so; the song is written for the same kit."""
    drums(tmp_path, {24: [0, 192], 26: [96, 288], CLOSED: LOOSE[CLOSED]})
    (tmp_path / "shed.toml").write_text('base = "gm"\n[notes]\nkick = 24\nsnare = 26\n', encoding="utf-8")
    found = ticks(run, tmp_path, 'key_map = "shed.toml"')
    assert (found[24][:2], found[26][:2]) == ([0, 960], [480, 1440])
    told = json.loads(run("inspect", tmp_path / "song.toml", "--json").out)
    assert (told["bars"][0]["feel"], told["unknown_notes"]) == ("full", {})
    (tmp_path / "song.toml").write_text(SHEET.replace("{more}", ""), encoding="utf-8")
    assert json.loads(run("inspect", tmp_path / "song.toml", "--json").out)["unknown_notes"] == {"24": 4, "26": 4}


RIFF = midi(track([(120 * n, 28, 100, 60) for n in range(8)], channel=1))


@pytest.mark.parametrize(
    "words", [("inspect", "IN"), ("vary", "IN", "-o", "OUT", "--feel", "half"), ("new", "OUT", "--from", "IN"),
              ("compare", "IN", "IN")], ids=lambda words: str(words[0])
)  # fmt: skip
def test_a_guitar_riff_is_no_drums(run: Run, tmp_path: Path, words: tuple[str, ...]) -> None:
    """The error names what channels there are and the option; nothing is written."""
    (tmp_path / "riff.mid").write_bytes(RIFF)
    named = {"IN": str(tmp_path / "riff.mid"), "OUT": str(tmp_path / "made")}
    done = run(*(named.get(word, word) for word in words))
    assert (done.status, done.out) == (2, "")
    assert "channel 1" in done.err and "--channel" in done.err
    assert not (tmp_path / "made").exists()
    assert run("inspect", tmp_path / "riff.mid", "--channel", "1").status == 0


def test_a_midi_file_without_notes(run: Run, tmp_path: Path) -> None:
    """It is read with a warning, holds no bars, and comes out of `vary` as it was; no sheet is made of it."""
    (tmp_path / "empty.mid").write_bytes(midi(track([])))
    done = run("inspect", tmp_path / "empty.mid", "--json")
    told = json.loads(done.out)
    assert (done.status, told["bars"], told["hits"], told["warnings"]) == (0, [], 0, ["the file has no notes"])
    assert run("vary", tmp_path / "empty.mid", "-o", tmp_path / "out.mid", "--feel", "half").status == 0
    assert heard((tmp_path / "out.mid").read_bytes()) == []
    assert run("new", tmp_path / "made.toml", "--from", tmp_path / "empty.mid").status == 2


def test_one_bar_is_one_bar(run: Run, tmp_path: Path) -> None:
    """The count under the table speaks of one in the singular."""
    drums(tmp_path, {KICK: [0]})
    assert run("inspect", tmp_path / "drums.mid").out.splitlines()[-1] == "1 stroke in 1 bar"
