"""The drums of a MIDI file as a performance: strokes on their grid, flams and drags as kinds."""

from __future__ import annotations

import numpy as np

from grooveforge.core.kit import GRACE_STROKES
from grooveforge.core.perform import Performance
from grooveforge.core.strokes import Events
from grooveforge.formats.drum_part import DrumPart
from grooveforge.formats.drums_groove import place_part

ON_THE_GRID = 0.025
"""Seconds: a stroke this close to its step is played there as far as limbs go; further off it stays where it is."""


def performance_of(part: DrumPart) -> Performance:
    """The strokes of a part as events, without its grace strokes; those near a step stand on it.

    A stroke that shares its step with another one of its surface stays where it is.
    """
    tempos, meters = part.tempo_map, part.meter_map
    if not part.bars or not len(part):
        return Performance(part.division, Events.joined(()), tempos, meters, (), part.end)
    placed = place_part(part)
    lines = part.bar_starts()
    steps = lines[placed.bar] + placed.step * (4 * part.division) / placed.grid[placed.bar]
    near = np.abs(placed.offset) * part.division * part.seconds_a_tick(part.tick) <= ON_THE_GRID
    counts = np.bincount(placed.main[placed.is_grace], minlength=len(part))
    kinds = np.zeros(len(part), np.uint8)
    for kind, graces in GRACE_STROKES.items():
        kinds[counts == graces] = kind
    kept = ~placed.is_grace
    codes, kinds = part.surfaces[kept], kinds[kept]
    whole = np.rint(steps[kept]).astype(np.int64)
    _, inverse, together = np.unique(whole * 1000 + codes, return_inverse=True, return_counts=True)
    ticks = np.where(near[kept] & (together[inverse] == 1), whole, part.tick[kept])
    order = np.lexsort((codes, ticks))
    velocity = part.velocity[kept].astype(np.uint8)
    columns = (ticks, codes, velocity, kinds, np.zeros(ticks.size, np.int64))
    return Performance(part.division, Events(*columns).rows(order), tempos, meters, (), part.end)


