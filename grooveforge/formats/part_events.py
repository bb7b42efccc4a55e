"""The drums of a MIDI file as a performance that sounds as the file does: every stroke at its own tick."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from grooveforge.core.kit import Kind
from grooveforge.core.perform import Performance
from grooveforge.core.strokes import Events
from grooveforge.core.tempo import MICROSECONDS_A_MINUTE
from grooveforge.formats.drum_part import DEFAULT_MICROSECONDS, DrumPart


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
    meters = [(bar.tick, bar.meter) for bar in part.bars]
    changed = [row for before, row in zip([None, *meters], meters) if before is None or before[1] != row[1]]
    named = tuple((tick, " ".join(name.split())) for tick, name in markers if tick < part.end)
    return Performance(part.division, events, _tempos(part), tuple(changed), named, part.end)


def _tempos(part: DrumPart) -> tuple[tuple[int, Fraction], ...]:
    rows = {0: DEFAULT_MICROSECONDS}
    rows |= {tick: micro for tick, micro in zip(part.tempos.tick.tolist(), part.tempos.microseconds.tolist()) if micro}
    return tuple((tick, Fraction(MICROSECONDS_A_MINUTE, micro)) for tick, micro in sorted(rows.items()))
