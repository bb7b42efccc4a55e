"""Small songs that the tests of the sound share, as tables of strokes."""

from __future__ import annotations

import io
from collections.abc import Sequence
from fractions import Fraction

import mido
import numpy as np

from grooveforge.core.kit import SURFACE_CODES, Kind
from grooveforge.core.meter import Meter
from grooveforge.core.perform import Performance
from grooveforge.core.strokes import Events

Stroke = tuple[int, str, int] | tuple[int, str, int, Kind]


def song(
    strokes: Sequence[Stroke], bpm: int = 120, end: int = 1920, tempos: dict[int, int] | None = None
) -> Performance:
    """A performance of (tick, surface, velocity[, kind]) at 480 ticks to a quarter note, in 4/4."""
    rows = [(row[0], SURFACE_CODES[row[1]], row[2], row[3] if len(row) > 3 else Kind.PLAIN) for row in sorted(strokes)]
    tick, surface, velocity, kind = (np.array(column) for column in zip(*rows))
    events = Events(tick, surface, velocity.astype(np.uint8), kind.astype(np.uint8), np.zeros(tick.size, np.int64))
    changes = tuple((at, Fraction(rate)) for at, rate in (tempos or {0: bpm}).items())
    return Performance(480, events, changes, ((0, Meter(4, 4)),), (), end)


def times_by_mido(data: bytes) -> list[tuple[float, int]]:
    """(seconds, note) of every stroke of a MIDI file, as mido plays it."""
    now, found = 0.0, []
    for message in mido.MidiFile(file=io.BytesIO(data)):
        now += message.time
        if message.type == "note_on" and message.velocity:
            found.append((now, message.note))
    return found
