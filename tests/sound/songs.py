"""Small songs that the tests of the sound share, as tables of strokes."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

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


