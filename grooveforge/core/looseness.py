"""Looseness: how strokes leave the grid, in milliseconds, when it is asked for.

Drummers do not jitter, they drift: their deviations have a long memory (1/f noise), listeners like that better
than independent errors (Hennig et al. 2011, Räsänen et al. 2015), and limbs wander together (Fujii et al. 2011).
So a section has one drift that all limbs share and a small one of each limb's own. Both are noise whose power
falls with its frequency, over musical time: at another tempo a stroke is off by the same milliseconds.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.strokes import LIMBS

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Truths = NDArray[np.bool_]

SHARED, OWN = 0.85, 0.15
"""How much of the variance is the shared drift, and how much each limb's own (house rule)."""

BOUND = 3
"""No stroke is further off than three spreads."""

LEAST_BARS = 4
"""Shorter sections keep the spread that their piece of drift happens to have."""

POINTS_A_QUARTER = 4
SHORTEST_DRIFT = 256
"""Points of noise: one a sixteenth, and no fewer in all, so that a short section is a piece of a longer drift."""

GUARD = Fraction(1, 48)
"""Quarters that the first stroke of a section may come before its bar line; the strokes before keep out of them.
It is half the finest grid step, so that lanes keep their order across sections that know nothing of each other."""


@lru_cache(maxsize=32)
def _weights(points: int) -> Floats:
    """What makes white noise pink: amplitudes by frequency, shape (points // 2 + 1,), for a variance of 1."""
    frequency = np.arange(points // 2 + 1, dtype=np.float64)
    amplitude = np.zeros(frequency.size)
    amplitude[1:] = frequency[1:] ** -0.5
    # Each frequency but the highest stands for two bins of the whole spectrum.
    power = 2 * float(np.sum(amplitude**2)) - float(amplitude[-1] ** 2)
    weights: Floats = amplitude / np.sqrt(power / points)
    return weights


def pink(chance: np.random.Generator, rows: int, points: int) -> Floats:
    """Rows of 1/f noise of variance 1 (over all rows that might be drawn), shape (rows, points), points even."""
    white = chance.standard_normal((rows, points))
    return np.fft.irfft(np.fft.rfft(white) * _weights(points), points)


def drift(chance: np.random.Generator, quarters: Floats, limb: NDArray[np.int8]) -> Floats:
    """The drift of each stroke, of variance 1 in the long run.

    Parameters
    ----------
    quarters : where the strokes stand in their section, from 0. limb : which limb plays each.
    """
    at = quarters * POINTS_A_QUARTER
    below = at.astype(np.int64)
    points = SHORTEST_DRIFT
    while points < 2 * (int(below.max(initial=0)) + 2):
        points *= 2
    noise = pink(chance, 1 + LIMBS, points)
    limbs = np.sqrt(SHARED) * noise[0] + np.sqrt(OWN) * noise[1:]
    part = at - below
    moved: Floats = limbs[limb, below] * (1 - part) + limbs[limb, below + 1] * part
    return moved


def milliseconds(moved: Floats, free: Truths, looseness: float, bars: int) -> Floats:
    """How far each stroke is off, in ms: centred, scaled to the looseness asked for, bounded; 0 where not free.

    The spread is the standard deviation over the free strokes of the section.
    """
    found = np.zeros(moved.size)
    if not free.any():
        return found
    chosen = moved[free] - moved[free].mean()
    spread = float(chosen.std())
    # Under this there is nothing to scale: all strokes stand at one place.
    scale = looseness / spread if bars >= LEAST_BARS and spread > 1e-9 else looseness
    found[free] = np.clip(chosen * scale, -BOUND * looseness, BOUND * looseness)
    return found


def ticks_of(ms: Floats, tick: Ints, tempo: Sequence[tuple[Fraction, Fraction]], division: int) -> Ints:
    """Milliseconds as whole ticks at the tempo of each stroke; `tempo` is (quarters, quarters a minute) steps."""
    starts = np.array([float(start) * division for start, _ in tempo])
    rates = np.array([float(bpm) for _, bpm in tempo]) * division / 60_000
    rows = np.maximum(np.searchsorted(starts, tick, side="right") - 1, 0)
    return np.rint(ms * rates[rows]).astype(np.int64)


def in_order(tick: Ints, moved: Ints, free: Truths, start: int, end: int, guard: int) -> Ints:
    """Where the strokes of one limb go: as moved, in the order they had, and none over the section's edges.

    Parameters
    ----------
    tick : rising ticks from the section's start. moved : where they would go. free : False where they may not.
    start : the section's own tick in the song: nothing goes before tick 0. end : its length.
    guard : ticks that strokes may come before the section's start, and keep out of at its end.
    """
    rank = np.cumsum(np.diff(tick, prepend=tick[0]) > 0)
    floor = min(int(tick[0]), max(-guard, -start))
    ceiling = max(int(tick[-1]), end - guard - 1)
    fixed = tick - rank
    wanted = np.maximum.accumulate(np.where(free, moved - rank, floor))
    highest = np.minimum.accumulate(np.where(free, ceiling - rank[-1], fixed)[::-1])[::-1]
    lowest = np.maximum.accumulate(np.where(free, floor, fixed))
    placed: Ints = np.clip(wanted, lowest, highest) + rank
    return placed


def loosened(tick: Ints, limb: NDArray[np.int8], free: Truths, off: Ints, edges: tuple[int, int, int]) -> Ints:
    """The ticks of a section's strokes moved by `off`, in order within each limb; `edges` as in `in_order`."""
    found = tick + off
    order = np.lexsort((tick, limb))
    for rows in np.split(order, np.flatnonzero(np.diff(limb[order])) + 1):
        found[rows] = in_order(tick[rows], found[rows], free[rows], *edges)
    return found
