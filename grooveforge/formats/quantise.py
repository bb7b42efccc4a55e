"""Strokes on ticks put on the grid: for each bar the coarsest grid that tells its strokes apart.

Nothing is lost by it: each stroke keeps how far it stands from its step. The tolerances are house rules; they
follow from the grids themselves, whose steps lie at least 1/24 of a quarter note apart.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.kit import BANDS

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

PLAIN_GRIDS = (8, 12, 16, 24, 32)
"""Steps to a whole note: eighths to thirty-seconds and triplets, coarse to fine."""

MIXED_GRIDS = (48, 96)
"""Straight notes and triplets in one bar."""

GRIDS = (*PLAIN_GRIDS, *MIXED_GRIDS)

CLOSE = 0.035
"""Quarter notes: a stroke this close to a step is on it. Under 1/24, the least distance between steps of two
plain grids, so that strokes exactly on one grid never pass for another."""

EXACT = 0.004
"""Quarter notes: on mixed grids a step is so near everywhere that only (nearly) exact strokes tell them."""

LOOSE = 0.05
"""Quarter notes, root mean square over a bar: loose playing on a plain grid."""

LOOSEST = 0.11
"""Quarter notes: no stroke of a loosely played bar stands further off; under half a sixteenth."""

GRACE_SECONDS = 0.040
"""A ghost stroke this close before a louder one of its surface is its grace stroke (a flam is 20-45 ms)."""

MOST_GRACES = 2
"""Grace strokes of a drag; more than these are a roll."""

GHOST_TOP = BANDS[0].high


@dataclass(frozen=True)
class Placement:
    """Where strokes stand on the grid.

    Parameters
    ----------
    grid : (bars,) steps to a whole note of each bar.
    bar, step : (n,) each stroke's bar from 0, and its step of that bar's grid.
    offset : (n,) quarter notes that it stands after (before: negative) its step.
    main : (n,) for a grace stroke the row of the stroke it belongs to (its place is that one's); else its own.
    """

    grid: Ints
    bar: Ints
    step: Ints
    offset: Floats
    main: Ints

    @property
    def is_grace(self) -> Bools:
        """(n,) whether a stroke is a grace stroke."""
        return np.not_equal(self.main, np.arange(len(self.main)))


def find_graces(tick: Ints, surface: Ints, velocity: Ints, seconds_a_tick: Floats) -> Ints:
    """For each stroke the row of the stroke whose grace stroke it is, or its own row.

    One ghost close before a louder stroke of its surface makes a flam, two make a drag.

    Parameters
    ----------
    tick, surface, velocity : (n,) in any order. seconds_a_tick : (n,) how long a tick lasts at each.
    """
    order = np.lexsort((tick, surface))
    main = np.arange(len(tick))
    if len(tick) < 2:
        return main
    ticks, ghost = tick[order], velocity[order] <= GHOST_TOP
    gap = np.diff(ticks) * seconds_a_tick[order][:-1]
    close = ghost[:-1] & (np.diff(surface[order]) == 0) & (gap > 0) & (gap <= GRACE_SECONDS)
    longest = MOST_GRACES + 1  # one more than counts, to know a roll
    padded = np.concatenate((np.zeros(longest, bool), close))
    chain = np.zeros(len(tick), np.int64)
    linked = ~ghost
    for back in range(1, longest + 1):
        linked = linked & padded[longest - back : longest - back + len(tick)]
        chain += linked
    for count in range(1, MOST_GRACES + 1):
        stroke = np.flatnonzero((chain >= count) & (chain <= MOST_GRACES))
        main[order[stroke - count]] = order[stroke]
    return main


def place_on_grids(
    tick: Ints, bar_lines: Floats, division: int, figures: tuple[Ints, Ints], main: Ints | None = None
) -> Placement:
    """Put strokes on the best grid of each bar.

    A stroke that is nearest to the next bar line belongs to the next bar; in the last bar it stays on the last
    step.

    Parameters
    ----------
    tick : (n,) ticks from 0 up, rising. bar_lines : (bars + 1,) ticks. division : ticks to a quarter note.
    figures : upper and lower figures of each bar's metre, (bars,) each.
    main : (n,) as `find_graces` gives it; grace strokes have no say in the grid.
    """
    own = np.arange(len(tick))
    main = own if main is None else main
    bars = len(bar_lines) - 1
    bar = np.clip(np.searchsorted(bar_lines, tick, side="right") - 1, 0, max(bars - 1, 0))
    place = (tick - bar_lines[bar]) / division
    counted = main == own
    grid = _best_grids(place[counted], bar[counted], figures, EXACT if division == 0 else max(EXACT, 0.5 / division))
    step = np.rint(place * grid[bar] / 4).astype(np.int64)
    length = np.asarray(grid * figures[0] // figures[1], np.int64)
    over = (step >= length[bar]) & (bar < bars - 1)
    bar = bar + over
    step = np.where(over, 0, np.minimum(step, length[bar] - 1))
    bar, step = bar[main], step[main]
    offset = (tick - bar_lines[bar]) / division - step * 4 / grid[bar]
    return Placement(grid, bar, step, offset, main)


def _best_grids(place: Floats, bar: Ints, figures: tuple[Ints, Ints], exact: float) -> Ints:
    """(bars,) the grid of each bar; `place` in quarter notes from the bar line."""
    bars = len(figures[0])
    fits: dict[int, Bools] = {}
    furthest: dict[int, Floats] = {}
    spread: dict[int, Floats] = {}
    count = np.maximum(np.bincount(bar, minlength=bars), 1)
    for grid in GRIDS:
        off = np.abs(place - np.rint(place * grid / 4) * 4 / grid)
        fits[grid] = (grid * figures[0]) % figures[1] == 0
        furthest[grid] = np.zeros(bars)
        np.maximum.at(furthest[grid], bar, off)
        spread[grid] = np.sqrt(np.bincount(bar, off * off, minlength=bars) / count)
    best = np.full(bars, GRIDS[-1], np.int64)
    tightest = np.full(bars, np.inf)
    for grid in PLAIN_GRIDS:  # the last resort: whichever plain grid is nearest
        nearer = fits[grid] & (spread[grid] < tightest)
        best[nearer], tightest[nearer] = grid, spread[grid][nearer]
    loose = [(grid, (spread[grid] <= LOOSE) & (furthest[grid] <= LOOSEST)) for grid in PLAIN_GRIDS]
    mixed = [(grid, furthest[grid] <= exact + 1e-9) for grid in MIXED_GRIDS]
    close = [(grid, furthest[grid] <= CLOSE) for grid in PLAIN_GRIDS]
    for rule in (loose, mixed, close):  # the strictest rule is asked last and has the last word
        for grid, met in reversed(rule):
            best[met & fits[grid]] = grid
    return best


def residue_ms(placement: Placement, division: int, seconds_a_tick: Floats) -> float:
    """How far the strokes stand from their steps, in ms, on average; grace strokes are left out.

    Parameters
    ----------
    seconds_a_tick : (n,) how long a tick lasts at each stroke.
    """
    counted = ~placement.is_grace
    if not counted.any():
        return 0.0
    off = np.abs(placement.offset[counted]) * division * seconds_a_tick[counted]
    return float(1000 * off.mean())
