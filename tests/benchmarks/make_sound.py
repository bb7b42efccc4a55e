"""Audio beside the song's own length, and the voices of a song beside mido building and saving it."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

from grooveforge import files
from grooveforge.core.arrange import arrange
from grooveforge.core.perform import Performance, perform
from grooveforge.core.song import Song
from grooveforge.project.library import SONGS, library_files
from grooveforge.project.sheets import read_sheet, song_from
from grooveforge.sound.mix import Mixer, performance_seconds, voice_keys
from grooveforge.sound.sounds import performance_sounds, placed
from grooveforge.sound.voices import Bank
from grooveforge.sound.wav import wav_of_blocks
from tests.benchmarks.render_song import SHEET, by_mido, notes_of, to_bytes
from tests.benchmarks.timing import Row, best

TIMES_MIDO = 20


def written(performance: Performance, folder: Path) -> None:
    """Mixing, limiting and writing; the voices are ready."""
    mixer = Mixer(performance)
    files.write_output(folder / "song.wav", wav_of_blocks(mixer.blocks(), mixer.length))
    (folder / "song.wav").unlink()


def made(performance: Performance) -> None:
    """Every voice that a song uses, in a new bank."""
    fresh = Bank()
    strokes = placed(performance_sounds(performance), fresh.rate)
    for key in set(zip(*(column.tolist() for column in voice_keys(strokes)))):
        fresh.stereo(*key)


def rows() -> Iterator[Row]:
    song = song_from(SHEET, "five-minutes.toml")
    five = perform(arrange(song))
    with tempfile.TemporaryDirectory() as name:
        seconds = best(lambda: written(five, Path(name)), 9)
    length = performance_seconds(five)
    yield Row("five minutes mixed, limited, written as WAV", seconds, "the song's length", length, goal=1 / 600)
    yield voices_row("voices of that song", song)
    for path in library_files(SONGS):
        yield voices_row(f"voices of {path.stem}", read_sheet(str(path)).song)


def voices_row(what: str, song: Song) -> Row:
    """The voices of a song beside mido and the same song."""
    performance, notes = perform(arrange(song)), notes_of(to_bytes(song))
    theirs = best(lambda: by_mido(notes, 500_000), 15)
    return Row(what, best(lambda: made(performance)), "mido build and save", theirs, goal=TIMES_MIDO)
