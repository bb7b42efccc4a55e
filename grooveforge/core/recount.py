"""Recounting: tempo and note values change together, so that every stroke sounds when it did.

130 in half time is the same as 65 in full time; a writer counts a riff the way that reads best.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import lcm

from grooveforge.core.groove import COARSEST_GRID, FINEST_GRID, Groove
from grooveforge.errors import MusicError

DOUBLE, HALVE = "x2", "/2"
FACTORS = {DOUBLE: Fraction(2), HALVE: Fraction(1, 2)}
"""How a recount changes tempo, note values and numbers of bars."""


def recount_groove(groove: Groove, factor: Fraction) -> Groove:
    """The groove with all note values (and its number of bars) times 2 or 1/2; a loop of odd bars is doubled first.

    Raises
    ------
    MusicError
        When the halved values need a grid over 96 steps to a whole note.
    """
    if factor > 1:
        finer = groove
        while finer.grid % 2 or finer.grid // 2 < COARSEST_GRID:
            finer = finer.regrid(finer.grid * 2)
        return _on_grid(finer, finer.grid // 2, finer.bars * 2, factor)
    loop = groove.bars_of(lcm(groove.bars, 2)).coarsest
    if loop.grid * 2 > FINEST_GRID:
        raise MusicError(
            f"halved note values need a grid of {loop.grid * 2} steps to a whole note", allowed=f"at most {FINEST_GRID}"
        )
    return _on_grid(loop, loop.grid * 2, loop.bars // 2, factor)


def _on_grid(groove: Groove, grid: int, bars: int, factor: Fraction) -> Groove:
    """The same cells read on another grid; what the groove said of its feel no longer holds."""
    return groove.map_lanes(
        lambda lane: replace(lane, offset=lane.offset * float(factor)),
        grid=grid,
        bars=bars,
        feel=None,
        spelling=None,
        backbeats=None,
    )
