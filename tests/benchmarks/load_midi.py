"""Reading a MIDI file beside mido, and how time and memory grow with the number of events."""

from __future__ import annotations

import io
import tracemalloc
from collections.abc import Iterator

import mido

from grooveforge.formats.drums_read import read_drums
from grooveforge.formats.smf_read import read_smf
from tests.benchmarks.render_song import by_mido
from tests.benchmarks.timing import Row, best_cpu

NOTES = 6000
"""12,000 note events: a song of five minutes."""

SURFACES = (36, 42, 38, 42)


def song(times: int = 1) -> bytes:
    """A file of `NOTES` notes a sixteenth apart, so many times over; written by mido."""
    notes = [(120 * n, SURFACES[n % 4], 40 + n % 80, 60) for n in range(NOTES * times)]
    return by_mido(notes, 300_000)


def peak(data: bytes) -> float:
    """Most MiB that reading a file's drums holds at one time."""
    tracemalloc.start()
    try:
        read_drums(read_smf(data))
        return tracemalloc.get_traced_memory()[1] / 2**20
    finally:
        tracemalloc.stop()


def rows() -> Iterator[Row]:
    once, ten, hundred = (song(times) for times in (1, 10, 100))
    ours = best_cpu(lambda: read_smf(once), 15)
    theirs = best_cpu(lambda: mido.MidiFile(file=io.BytesIO(once)))
    yield Row("loading 12,000 note events", ours, "mido", theirs, goal=0.2)
    drums = best_cpu(lambda: read_drums(read_smf(once)), 15)
    yield Row("loading 120,000 note events", best_cpu(lambda: read_smf(ten)), "12,000", ours, goal=13)
    yield Row("loading 1,200,000 note events", best_cpu(lambda: read_smf(hundred), 3), "12,000", ours, goal=130)
    yield Row("and as drums in bars, 120,000", best_cpu(lambda: read_drums(read_smf(ten))), "12,000", drums, goal=13)
    least = peak(once)
    for name, times, data in (("120,000", 10, ten), ("1,200,000", 100, hundred)):
        yield Row(f"memory for {name} note events", peak(data), "12,000", least, goal=1.3 * times, unit="MiB")
