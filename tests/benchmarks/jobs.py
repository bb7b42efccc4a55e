"""The six jobs that are measured at three sizes, and what three libraries do with the same notes.

Each job is measured in a process of its own (`python -m tests.benchmarks.jobs JOB LIBRARY TIMES`), so that nothing
is remembered from another one and the memory is the job's. The song lasts five minutes and has 12,000 note events
(give or take its fills): the strokes of `render_song`, but in 100 bars of ten quarter notes at 200 bpm, so that a
hundred times it is just the longest song that a sheet may hold. Ten and a hundred times it are its sections again.
"""

from __future__ import annotations

import ctypes
import gc
import io
import json
import re
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib import import_module
from itertools import product
from pathlib import Path
from typing import Any, Protocol

from tests.benchmarks.timing import best

OURS, MIDO, PRETTY, SYMUSIC = "grooveforge", "mido", "pretty_midi", "symusic"
LIBRARIES = (MIDO, PRETTY, SYMUSIC)
SIZES = (1, 10, 100)
ROUNDS = {1: 7, 10: 3, 100: 1}

SAVE, LOAD = "build and save", "load"

TEMPO = 200
METER = "10/4"
PARTS = """
[defaults]
groove = "sixteenths"

[grooves.sixteenths]
tab = '''
HH x-x-x-x-x-x-x-x-x-x-x-x-x-x-x-x-x-x-x-x-
SN ----O-------O-------O-------O-------O---
BD oooo-oooooooo-oooooo-oooooooo-oooooo-ooo
'''

[parts.intro]
bars = 4
[parts.verse]
bars = 16
fill = "1 beat"
[parts.chorus]
bars = 16
timekeeper = "ride bell"
[parts.bridge]
bars = 16
feel = "half"
"""
FORM = ("intro", "verse", "chorus", "verse", "chorus", "bridge", "chorus")
LAST = "last chorus"


class Measured(Protocol):
    """Takes the work of a job and measures it; the memory is that of this process or another one."""

    def __call__(self, work: Callable[[], object], process: int | None = None, /) -> None: ...


def sheet_text(times: int) -> str:
    """The song so many times over, as a sheet."""
    form = [f'"{part}"' for part in FORM * times]
    form[-1] = f'{{ part = "{FORM[-1]}", name = "{LAST}" }}'
    return f'title = "Five Minutes"\ntempo = {TEMPO}\nmeter = "{METER}"\nform = [{", ".join(form)}]\n{PARTS}'


def song_bytes(times: int) -> bytes:
    """The song as a MIDI file."""
    from grooveforge.project.rendering import render
    from grooveforge.project.sheets import sheet_from

    return render(sheet_from(sheet_text(times).encode(), "song.toml")).files["song.mid"]


def to_bytes(times: int, measured: Measured) -> None:
    """From a sheet that was read to the song's MIDI file."""
    from grooveforge.core.arrange import arrange
    from grooveforge.core.perform import perform
    from grooveforge.formats.midi import song_midi
    from grooveforge.project.sheets import song_from

    song = song_from(sheet_text(times), "song.toml")
    measured(lambda: song_midi(perform(arrange(song)), song.title).data)


def load(times: int, measured: Measured) -> None:
    """A MIDI file as arrays of notes."""
    from grooveforge.formats.smf_read import read_smf

    data = song_bytes(times)
    measured(lambda: read_smf(data))


def check(times: int, measured: Measured) -> None:
    """What a drummer cannot play, and what the parts cost, from the performance."""
    from grooveforge.analysis.playability import check
    from grooveforge.core.arrange import arrange
    from grooveforge.core.profile import EXPERIENCED
    from grooveforge.project.checking import performance_to_check
    from grooveforge.project.sheets import song_from

    performance = performance_to_check(arrange(song_from(sheet_text(times), "song.toml")))
    measured(lambda: check(performance, EXPERIENCED))


def options(times: int, measured: Measured) -> None:
    """Five alternatives for the last chorus."""
    from grooveforge.project.options import options
    from grooveforge.project.sheets import sheet_from

    sheet = sheet_from(sheet_text(times).encode(), "song.toml")
    measured(lambda: options(sheet, LAST))


def mix(times: int, measured: Measured) -> None:
    """The song mixed and limited, block after block as it goes into a file."""
    from grooveforge.core.arrange import arrange
    from grooveforge.core.perform import perform
    from grooveforge.project.sheets import song_from
    from grooveforge.sound.mix import Mixer

    performance = perform(arrange(song_from(sheet_text(times), "song.toml")))

    def blocks() -> None:
        for _ in Mixer(performance).blocks():
            pass

    measured(blocks)


def page(times: int, measured: Measured) -> None:
    """A change of a late section's feel on the page: written into the sheet, worked out, and answered."""
    from tests.benchmarks.page_change import FEELS, change, opened
    from tests.page.browsing import serving

    with tempfile.TemporaryDirectory() as folder, serving(Path(folder), "song.toml", sheet_text(times)) as served:
        connection, token = opened(served)
        # Each once, so that no answer was worked out before.
        asked = product(range(len(FORM) * times - 4, len(FORM) * times), FEELS)

        def answer() -> None:
            section, feel = next(asked)
            change(connection, token, section, "feel", feel)

        measured(answer, served.process.pid)
        connection.close()


Notes = list[tuple[int, int, int, int]]
"""(tick, note, velocity, duration)."""


def notes_of(data: bytes) -> tuple[int, Notes]:
    """The ticks to a quarter note of a MIDI file, and the notes of its last track."""
    from grooveforge.formats.smf_read import read_smf

    file = read_smf(data)
    table = file.tracks[-1].notes
    columns = (table.tick, table.note, table.velocity, table.duration)
    return file.division, list(zip(*(column.tolist() for column in columns)))


def save_mido(division: int, notes: Notes) -> bytes:
    from tests.benchmarks.render_song import by_mido

    return by_mido(notes, 60_000_000 // TEMPO)


def save_pretty(division: int, notes: Notes) -> bytes:
    from pretty_midi import Instrument, Note, PrettyMIDI

    file = PrettyMIDI(resolution=division, initial_tempo=TEMPO)
    drums = Instrument(0, is_drum=True)
    second = 60 / TEMPO / division
    drums.notes = [Note(level, key, at * second, (at + long) * second) for at, key, level, long in notes]
    file.instruments.append(drums)
    saved = io.BytesIO()
    file.write(saved)
    return saved.getvalue()


def save_symusic(division: int, notes: Notes) -> bytes:
    from symusic import Note, Score, Tempo, Track

    score: Any = Score(division)  # its stubs do not know its fields
    score.tempos.append(Tempo(0, TEMPO))
    track: Any = Track(is_drum=True)
    for at, key, level, long in notes:
        track.notes.append(Note(at, long, key, level))
    score.tracks.append(track)
    return bytes(score.dumps_midi())


def load_mido(data: bytes) -> object:
    import mido

    return mido.MidiFile(file=io.BytesIO(data))


def load_pretty(data: bytes) -> object:
    from pretty_midi import PrettyMIDI, pretty_midi

    pretty_midi.MAX_TICK = 1e10  # it takes longer files than its own bound for broken ones
    return PrettyMIDI(io.BytesIO(data))


def load_symusic(data: bytes) -> object:
    from symusic import Score

    return Score.from_midi(data)


SAVERS = {MIDO: save_mido, PRETTY: save_pretty, SYMUSIC: save_symusic}
LOADERS = {MIDO: load_mido, PRETTY: load_pretty, SYMUSIC: load_symusic}

JOBS = {
    "sheet to bytes": (to_bytes, SAVE),
    "MIDI load": (load, LOAD),
    "check": (check, SAVE),
    "options": (options, SAVE),
    "mix": (mix, SAVE),
    "page answer": (page, SAVE),
}
"""A job -> what does it, and what the libraries do beside it."""


def _megabytes(place: Path, what: str) -> float:
    """What Linux counts of a process (proc(5)), in MiB."""
    status = (place / "status").read_text(encoding="utf-8")
    return int(re.findall(rf"{what}:\s+(\d+) kB", status)[0]) / 1024


@contextmanager
def _peak(process: int | None) -> Iterator[list[float]]:
    """How far a process's memory rises above what it holds now, in MiB; the list has it at the end."""
    found: list[float] = []
    place = Path("/proc", "self" if process is None else str(process))
    gc.collect()
    ctypes.CDLL(None).malloc_trim(0)
    (place / "clear_refs").write_text("5", encoding="utf-8")
    before = _megabytes(place, "VmRSS")
    yield found
    found.append(max(_megabytes(place, "VmHWM") - before, 0.0))


def main(job: str, library: str, times: int) -> None:
    """Measure one job and print what it took: seconds of the fastest run, and the MiB that the first one held."""

    def measured(work: Callable[[], object], process: int | None = None) -> None:
        start = time.perf_counter()
        with _peak(process) as found:
            work()
        once = time.perf_counter() - start
        rounds = ROUNDS[times] - 1
        print(json.dumps([min(once, best(work, rounds)) if rounds else once, found[0]]))

    if library == OURS:
        JOBS[job][0](times, measured)
        return
    import_module(library)  # what it takes to import one is no part of its job, as ours is not
    data = song_bytes(times)
    if job == LOAD:
        measured(lambda: LOADERS[library](data))
    else:
        division, notes = notes_of(data)
        measured(lambda: SAVERS[library](division, notes))


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]))
