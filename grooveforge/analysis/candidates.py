"""Thousands of candidates for a section against what was heard before, as array operations.

A candidate is a frame (kick, snare, other strokes and the hand's rhythm) under an assignment (which surface the hand
stands on in each bar). Frames and assignments are laid out once; the distances of all pairs of them follow from
counts. What is exact here is exact for bare bars: arrivals, endings and fills come later, in what is shown.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, lcm

import numpy as np
from numpy.typing import NDArray

from grooveforge.analysis.distance import LANES, PLACE_WEIGHT, SURFACE_WEIGHT, lane_of
from grooveforge.analysis.limits import possible
from grooveforge.core.groove import KICK, SNARE, Groove, Lane
from grooveforge.core.kit import GRACE_STROKES, SURFACE_CODES, Kind, sounding
from grooveforge.core.profile import Profile

Bytes = NDArray[np.uint8]
Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Truths = NDArray[np.bool_]

MOST_BARS = 64
"""Bars of a section that are looked at; a longer one is a loop by then (the shown candidates are measured whole)."""

LIMIT_BARS = 8
"""Bars that the necessary limits are tried on."""

Row = tuple[int, str]
"""A lane (index into `LANES`) and a surface that it strikes; the hand is no row."""


@dataclass(frozen=True)
class Grid:
    """Where every frame is laid out: steps to a whole note, steps of the widest bar, bars."""

    grid: int
    width: int
    bars: int

    @classmethod
    def holding(cls, grooves: Sequence[Groove], bars: int) -> Grid:
        grid = lcm(*(groove.coarsest.grid for groove in grooves))
        return cls(grid, max(ceil(groove.meter.whole * grid) for groove in grooves), min(bars, MOST_BARS))

    def laid(self, values: NDArray[np.uint8], groove: Groove) -> Bytes:
        """(bars, width) the cells of a lane, as a loop."""
        found = np.zeros((groove.bars, self.width), np.uint8)
        bar, within = np.divmod(np.flatnonzero(values), groove.steps_per_bar)
        found[bar, within * self.grid // groove.grid] = values[values > 0]
        return found[np.arange(self.bars) % groove.bars]


def _cells(lane: Lane) -> Bytes:
    """1 + kind where a lane is struck."""
    return np.where(lane.velocity > 0, lane.kind + 1, 0).astype(np.uint8)


@dataclass(frozen=True, eq=False)
class Frames:
    """Strokes laid out on a grid.

    Parameters
    ----------
    rows : what the second axis of `strokes` stands for. strokes : (frames, rows, bars, width), 1 + kind or 0.
    hand : (frames, bars, width), the same.
    """

    grid: Grid
    rows: tuple[Row, ...]
    strokes: Bytes
    hand: Bytes

    @classmethod
    def of(cls, grooves: Sequence[Groove], grid: Grid, rows: Sequence[Row]) -> Frames:
        strokes = np.zeros((len(grooves), len(rows), grid.bars, grid.width), np.uint8)
        hand = np.zeros((len(grooves), grid.bars, grid.width), np.uint8)
        index = {row: number for number, row in enumerate(rows)}
        for number, groove in enumerate(grooves):
            for name, lane in groove.voices:
                if lane is groove.hand:
                    hand[number] = grid.laid(_cells(lane), groove)
                else:
                    strokes[number, index[(lane_of(name), name)]] = grid.laid(_cells(lane), groove)
        return cls(grid, tuple(rows), strokes, hand)

    def lane(self, name: str) -> Truths:
        """(frames, bars, width) where a lane other than the hand is struck."""
        rows = [number for number, (lane, _) in enumerate(self.rows) if LANES[lane] == name]
        struck: Truths = np.any(self.strokes[:, rows] > 0, axis=1)
        return struck

    def picked(self, frames: Ints) -> Frames:
        return Frames(self.grid, self.rows, self.strokes[frames], self.hand[frames])


def rows_of(grooves: Iterable[Groove]) -> tuple[Row, ...]:
    """Every lane and surface beside the hand's that some groove strikes."""
    names = {name for groove in grooves for name, lane in groove.voices if lane is not groove.hand}
    return tuple(sorted((lane_of(name), name) for name in names))


@dataclass(frozen=True, eq=False)
class Measured:
    """What all pairs of a frame and an assignment are like, beside one section.

    Parameters
    ----------
    distance : (frames, assignments). kick, snare : (frames,) whether the lane is struck at the same places.
    surface : (frames, assignments) whether no common stroke of the hand changes surface.
    """

    distance: Floats
    kick: Truths
    snare: Truths
    surface: Truths

    @property
    def keeps_one(self) -> Truths:
        """(frames, assignments) whether kick, snare or surface stays."""
        kept: Truths = (self.kick | self.snare)[:, None] | self.surface
        return kept


def measured(frames: Frames, surfaces: Sequence[str], assigned: Ints, base: Frames, stood: Ints) -> Measured:
    """The distance of every frame under every assignment from a section.

    Parameters
    ----------
    surfaces : what the hand may stand on. assigned : (assignments, bars) indices into `surfaces`.
    base : one frame on the same grid and rows. stood : (bars,) the same indices, of the section.
    """
    places, shared = np.zeros(len(frames.hand)), np.zeros(len(frames.hand))
    base_places = 0.0
    same = {}
    for name in LANES:
        mine, other = (frames.lane(name), base.lane(name))
        places += mine.sum(axis=(1, 2))
        shared += (mine & other).sum(axis=(1, 2))
        base_places += float(other.sum())
        same[name] = (mine == other).all(axis=(1, 2))
    kinds, shared_kinds = ((array > 0).sum(axis=(1, 2, 3)) for array in (frames.strokes, frames.strokes * base.strokes))
    base_kinds = float((base.strokes > 0).sum())
    hand, base_hand = frames.hand > 0, base.hand[0] > 0
    common = (hand & base_hand).sum(axis=2)  # (frames, bars)
    own, base_own = hand.sum(axis=(1, 2)), float(base_hand.sum())
    same_kinds = _same_kinds(frames, surfaces, _sounding(base.hand[0], surfaces, stood))
    met = same_kinds[:, assigned, np.arange(frames.grid.bars)].sum(axis=2)  # (frames, assignments)
    here = shared + common.sum(axis=1)
    either = places + own + base_places + base_own - here
    weight = PLACE_WEIGHT * here[:, None] + SURFACE_WEIGHT * (shared_kinds[:, None] + met)
    total = PLACE_WEIGHT * either[:, None] + SURFACE_WEIGHT * (
        (kinds + own + base_kinds + base_own - shared_kinds)[:, None] - met
    )
    ratio = np.where(total > 0, (total - weight) / np.maximum(total, 1), 0.0)
    return Measured(ratio, same[KICK], same[SNARE], met == common.sum(axis=1)[:, None])


def _table(surfaces: Sequence[str]) -> Ints:
    """(surfaces, 1 + kinds) the code that sounds, -1 for a rest."""
    table = np.full((len(surfaces), len(Kind) + 1), -1, np.int64)
    for number, name in enumerate(surfaces):
        for kind in Kind:
            table[number, kind + 1] = SURFACE_CODES[sounding(name, kind, 1)[0]]
    return table


def _sounding(hand: Bytes, surfaces: Sequence[str], stood: Ints) -> Ints:
    """(bars, width) the codes that one hand strikes."""
    codes: Ints = _table(surfaces)[stood[:, None], hand]
    return codes


def _same_kinds(frames: Frames, surfaces: Sequence[str], codes: Ints) -> NDArray[np.int32]:
    """(frames, surfaces, bars) how many strokes of the hand meet the given codes if it stands on each surface."""
    table = _table(surfaces)
    found = np.zeros((len(frames.hand), len(surfaces), frames.grid.bars), np.int32)
    for number in range(len(surfaces)):
        mine = table[number][frames.hand]
        found[:, number] = ((mine == codes) & (mine >= 0)).sum(axis=2)
    return found


def pairwise(frames: Frames, surfaces: Sequence[str], assigned: Ints) -> Floats:
    """(n, n) the distances of candidates from one another.

    Parameters
    ----------
    frames : n of them. assigned : (n, bars) where the hand of each stands.
    """
    count = len(frames.hand)
    codes = _table(surfaces)[assigned[:, :, None], frames.hand]
    struck = codes >= 0
    kinds = [(codes == code).reshape(count, -1) for code in np.unique(codes[struck]).tolist()]
    rows = (frames.strokes > 0).reshape(count, -1)
    places = np.concatenate([frames.lane(name).reshape(count, -1) for name in LANES] + [struck.reshape(count, -1)], 1)
    weight = PLACE_WEIGHT * _meet(places) + SURFACE_WEIGHT * _meet(np.concatenate([rows, *kinds], 1))
    own = np.diag(weight)
    total = own[:, None] + own[None, :] - weight
    found: Floats = np.where(total > 0, (total - weight) / np.maximum(total, 1), 0.0)
    return found


def _meet(bits: Truths) -> Floats:
    used = bits[:, bits.any(axis=0)].astype(np.float32)
    found: Floats = (used @ used.T).astype(np.float64)
    return found


def playable(frames: Frames, whole_seconds: float, profile: Profile) -> Truths:
    """(frames,) which pass the necessary limits of hands and feet, whatever surface the hand stands on.

    Parameters
    ----------
    whole_seconds : how long a whole note lasts.
    """
    bars = min(frames.grid.bars, LIMIT_BARS)
    strokes = np.concatenate([frames.strokes[:, :, :bars], frames.hand[:, None, :bars]], axis=1)
    count = np.array([0, *(min(1 + GRACE_STROKES.get(kind, 0), 2) for kind in Kind)], np.uint8)[strokes]
    flat = count.reshape(len(strokes), strokes.shape[1], -1)
    names = [name for _, name in frames.rows] + ["ride"]
    return possible(flat, names, whole_seconds / frames.grid.grid, profile, loop=False)


def spread(distances: Floats, count: int, apart: float) -> list[int]:
    """Up to `count` of some candidates as far from one another as may be, none nearer than `apart`.

    From a first one always the one whose nearest taken one is farthest follows; of equals the first in rank. The first
    is the first in rank from which so many are found; where there is none, that with most.

    Parameters
    ----------
    distances : (n, n), in order of rank.
    """
    best: list[int] = []
    for first in range(len(distances)):
        taken = [first]
        nearest = distances[first].copy()
        while len(taken) < count and nearest.max(initial=0.0) >= apart:
            one = int(np.argmax(nearest))
            if one in taken:
                break
            taken.append(one)
            nearest = np.minimum(nearest, distances[one])
        if len(taken) > len(best):
            best = taken
        if len(best) >= count:
            break
    return best
