"""From a parsed sheet to bytes, beside mido building and saving the same notes; and the start of the command."""

from __future__ import annotations

import io
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import mido

from grooveforge.core.arrange import arrange
from grooveforge.core.perform import perform
from grooveforge.core.song import Song
from grooveforge.formats.midi import song_midi
from grooveforge.project.sheets import song_from
from tests.benchmarks.timing import Row, best, cold
from tests.sheet_parts import SIXTEENTHS

SHEET = """
title = "Five Minutes"
tempo = 200
form = [
  "intro", "verse", "chorus", "verse", { part = "chorus", timekeeper = "china" }, "bridge",
  { part = "verse", timekeeper = ["ride", "crash"] }, { part = "chorus", bars = 34, timekeeper = "crash" },
]

[defaults]
groove = "sixteenths"
arrival = false

""" + SIXTEENTHS + """
[parts.intro]
bars = 24
[parts.verse]
bars = 32
[parts.chorus]
bars = 32
[parts.bridge]
bars = 32
"""
"""250 bars at 200 bpm with 24 strokes a bar: hand 8, snare 2, kicks 14; 6,000 notes, 12,000 note events."""

ONE_COMMAND = """
import typer
app = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)
@app.command()
def only(name: str = typer.Argument(help="A name.")) -> None:
    "Say a name."
app()
"""


def to_bytes(song: Song) -> bytes:
    return song_midi(perform(arrange(song)), song.title).data


def by_mido(notes: list[tuple[int, int, int, int]], tempo: int) -> bytes:
    """The same notes built and saved by mido: (tick, note, velocity, duration)."""
    file = mido.MidiFile(type=1, ticks_per_beat=480)
    head, drums = mido.MidiTrack(), mido.MidiTrack()
    file.tracks += [head, drums]
    head.append(mido.MetaMessage("time_signature", numerator=4, denominator=4))
    head.append(mido.MetaMessage("set_tempo", tempo=tempo))
    events = sorted(_events(notes))
    now = 0
    for tick, on, note, velocity in events:
        kind = "note_on" if on else "note_off"
        drums.append(mido.Message(kind, channel=9, note=note, velocity=velocity, time=tick - now))
        now = tick
    saved = io.BytesIO()
    file.save(file=saved)
    return saved.getvalue()


def _events(notes: list[tuple[int, int, int, int]]) -> Iterator[tuple[int, bool, int, int]]:
    for tick, note, velocity, duration in notes:
        yield tick, True, note, velocity
        yield tick + duration, False, note, 64


def notes_of(data: bytes) -> list[tuple[int, int, int, int]]:
    from grooveforge.formats.smf_read import read_smf

    table = read_smf(data).tracks[1].notes
    columns = (table.tick, table.note, table.velocity, table.duration)
    return list(zip(*(column.tolist() for column in columns)))


def rows() -> Iterator[Row]:
    song = song_from(SHEET, "five-minutes.toml")
    notes = notes_of(to_bytes(song))
    assert len(notes) == 6000, len(notes)
    ours, theirs = best(lambda: to_bytes(song), 15), best(lambda: by_mido(notes, 300000))
    yield Row("sheet to bytes, 6,000 notes", ours, "mido build and save", theirs, goal=0.2)
    ten = replace(song, form=song.form * 10)
    yield Row("sheet to bytes, ten times the song", best(lambda: to_bytes(ten)), "once the song", ours, goal=12)
    with tempfile.TemporaryDirectory() as folder:
        script = Path(folder) / "one_command.py"
        script.write_text(ONE_COMMAND, encoding="utf-8")
        bare = cold([str(script), "--help"])
        help_ = cold(["-m", "grooveforge", "--help"])
        yield Row("grooveforge --help", help_, "a one-command app's --help", bare, goal=1.3)
