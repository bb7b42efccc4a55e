"""How fills lie over the groove: its lanes rest, the fill's strokes take their place."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from math import lcm

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.figures import Fill
from grooveforge.core.groove import FINEST_GRID, KICK, SNARE, Groove, Lane
from grooveforge.core.section import Span
from grooveforge.core.spans import Spans, bar_at, cut_at_bar, starts, whole
from grooveforge.errors import MusicError

NOTHING: frozenset[str] = frozenset()

Column = tuple[NDArray[np.int64], NDArray[np.uint8], NDArray[np.uint8]]


def with_fills(spans: Spans, fills: Iterable[tuple[Fraction, Fill]], kept: frozenset[str] = NOTHING) -> Spans:
    """The spans with fills laid over them.

    Parameters
    ----------
    fills : (where it ends, a bar line in whole notes; the fill), rising and none over another.
    kept : surfaces whose lanes play on: the kick that follows a riff.

    Raises
    ------
    MusicError
        When a fill is longer than what stands before it, or needs a grid over 96 steps to a whole note.
    """
    done: list[Span] = []
    rest = spans
    for end, fill in fills:
        start = end - fill.whole
        if start < 0:
            raise MusicError(f"the fill {fill.name!r} is longer than what it stands in", hint="a shorter fill")
        before, rest = cut_at_bar(rest, bar_at(spans, start))
        under, rest = cut_at_bar(rest, bar_at(spans, end))
        done += before
        inside = start - whole(done)
        done += [
            replace(span, groove=filled(span.groove, fill, inside - edge, kept))
            for span, edge in zip(under, starts(under))
        ]
    return (*done, *rest)


def filled(groove: Groove, fill: Fill, start: Fraction, kept: frozenset[str] = NOTHING) -> Groove:
    """A groove that a fill covers from `start` on (whole notes from its own start, below 0 for an earlier one)."""
    groove, grid = _on_grid(groove, lcm(fill.grid, start.denominator))
    first = int(start * grid)
    lanes: dict[str, Lane] = {}
    begin = max(first, 0)
    for name, lane in ((KICK, groove.kick), (SNARE, groove.snare), *groove.others):
        if lane is not None:
            lanes[name] = lane if name in kept else _cut(lane, begin)
    for name, column in _columns(fill, grid).items():
        lanes[name] = _put(lanes.get(name) or Lane.rests(groove.steps), column, first)
    return replace(
        groove,
        kick=lanes.pop(KICK, None),
        snare=lanes.pop(SNARE, None),
        hand=None if groove.hand is None else _cut(groove.hand, begin),
        others=tuple(lanes.items()),
    )


def _on_grid(groove: Groove, steps: int) -> tuple[Groove, int]:
    """The groove on a grid that also has all steps of another one."""
    grid = lcm(groove.grid, steps)
    if grid > FINEST_GRID:
        grid = lcm(groove.coarsest.grid, steps)
    if grid > FINEST_GRID:
        raise MusicError(
            f"fill and groove together need a grid of {grid} steps to a whole note",
            allowed=f"at most {FINEST_GRID}",
            hint="a fill by name, or none",
        )
    return groove.regrid(grid), grid


@lru_cache(maxsize=1024)
def _columns(fill: Fill, grid: int) -> dict[str, Column]:
    """By surface: steps from the fill's start, velocities, kinds."""
    found: dict[str, Column] = {}
    for surface in dict.fromkeys(stroke.surface for stroke in fill.strokes):
        rows = [stroke for stroke in fill.strokes if stroke.surface == surface]
        found[surface] = (
            np.array([int(stroke.place * grid) for stroke in rows], np.int64),
            np.array([stroke.velocity for stroke in rows], np.uint8),
            np.array([stroke.kind for stroke in rows], np.uint8),
        )
    return found


def _cut(lane: Lane, first: int) -> Lane:
    """The lane up to a step, rests from there on."""
    velocity = lane.velocity.copy()
    velocity[first:] = 0
    return Lane(velocity, lane.kind, lane.offset)


def _put(lane: Lane, column: Column, first: int) -> Lane:
    """The lane with a fill's strokes, as far as they stand in it."""
    steps, velocities, kinds = column
    inside = (steps + first >= 0) & (steps + first < len(lane))
    places = steps[inside] + first
    velocity, kind, offset = lane.velocity.copy(), lane.kind.copy(), lane.offset.copy()
    velocity[places], kind[places], offset[places] = velocities[inside], kinds[inside], 0.0
    return Lane(velocity, kind, offset)
