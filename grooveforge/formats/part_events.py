"""The drums of a MIDI file as a performance that sounds as the file does: every stroke at its own tick."""

from __future__ import annotations

import numpy as np

from grooveforge.core.kit import Kind
from grooveforge.core.perform import Performance
from grooveforge.core.strokes import Events
from grooveforge.formats.drum_part import DrumPart


def events_of_part(part: DrumPart, markers: tuple[tuple[int, str], ...] = ()) -> Performance:
    """The strokes of a part as events, by tick, then surface.

    Parameters
    ----------
    markers : (tick, name) where sections begin; those behind the end are left out.
    """
    order = np.lexsort((part.surfaces, part.tick))
    plain = np.full(len(part), int(Kind.PLAIN), np.uint8)
    offset = np.zeros(len(part), np.int64)
    events = Events(part.tick, part.surfaces, part.velocity.astype(np.uint8), plain, offset).rows(order)
    named = tuple((tick, " ".join(name.split())) for tick, name in markers if tick < part.end)
    return Performance(part.division, events, part.tempo_map, part.meter_map, named, part.end)
