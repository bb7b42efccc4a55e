"""The smallest change that makes something playable: a stroke or two taken out or moved, or one lane thinned."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.kit import Kind
from grooveforge.core.perform import Performance
from grooveforge.core.strokes import Events

Stroke = tuple[int, int]
"""A stroke by the tick of its place on the grid and its surface code."""

MOST_STROKES = 2
"""Strokes that a change touches at most where it does not thin a lane."""


@dataclass(frozen=True)
class Change:
    """A change to a performance.

    Parameters
    ----------
    in_words : as a report says it.
    removed : strokes taken out. moved : (stroke, surface code that it goes to).
    plain : flams and drags that become one stroke. ringing : cymbals that are not damped.
    thinned : the surface code of a lane that is thinned, whose strokes `removed` then holds; None where none is.
    spacing : ticks between the strokes that a thinned lane keeps.
    """

    in_words: str
    removed: tuple[Stroke, ...] = ()
    moved: tuple[tuple[Stroke, int], ...] = ()
    plain: tuple[Stroke, ...] = ()
    ringing: tuple[Stroke, ...] = ()
    thinned: int | None = None
    spacing: int = 0

    @property
    def touched(self) -> int:
        """How many strokes it touches."""
        return len(self.removed) + len(self.moved) + len(self.plain) + len(self.ringing)

    @property
    def small(self) -> bool:
        """Whether it is as small as a change may be."""
        lanes = {code for _, code in self.removed}
        return self.touched <= MOST_STROKES or (self.thinned is not None and lanes == {self.thinned})


def apply_change(performance: Performance, change: Change) -> Performance:
    """The performance with a change made to it; grace strokes go with their stroke."""
    events = performance.events
    keys = _keys(events)
    kept = ~np.isin(keys, [_key(stroke) for stroke in change.removed])
    surface, kind = events.surface.copy(), events.kind.copy()
    plain = np.isin(keys, [_key(stroke) for stroke in change.plain])
    kept &= ~(plain & (kind == Kind.GHOST) & (events.offset < 0))
    kind[plain | np.isin(keys, [_key(stroke) for stroke in change.ringing])] = Kind.PLAIN
    for stroke, to in change.moved:
        surface[keys == _key(stroke)] = to
    rows = Events(events.tick, surface, events.velocity, kind, events.offset).rows(kept)
    order = np.lexsort((rows.surface, rows.tick))
    return replace(performance, events=rows.rows(order))


_SPAN = 1000


def _key(stroke: Stroke) -> int:
    return stroke[0] * _SPAN + stroke[1]


def _keys(events: Events) -> NDArray[np.int64]:
    keys: NDArray[np.int64] = np.maximum(events.tick - events.offset, 0) * _SPAN + events.surface
    return keys
