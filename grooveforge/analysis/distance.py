"""How different two grooves are: a weighted share of the strokes that they do not have in common.

Each stroke is two elements: (lane, position) of weight 7 and (lane, position, surface) of weight 1. The distance
is the weight of what only one side has by the weight of what either has, a metric (Jaccard distance of weighted
sets): 0 only for the same strokes on the same surfaces, 1 where nothing is shared. The weights are a house rule:
half time under the same hand is about twice as far as the same beat with the hand on another cymbal.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate, pairwise
from math import lcm
from types import MappingProxyType
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from grooveforge.core import detect_hand
from grooveforge.core.groove import KICK, OTHER, SNARE, TIMEKEEPER, Groove, Lane
from grooveforge.core.hands import hand_of
from grooveforge.core.hands import lane_of as lane_name
from grooveforge.core.kit import BANDS, SURFACE_CODES, SURFACE_NAMES, Kind, sounding
from grooveforge.core.meter import Meter

PLACE_WEIGHT, SURFACE_WEIGHT = 7, 1

LANES = (KICK, SNARE, TIMEKEEPER, OTHER)
"""The lanes in the order of their codes."""

_HAND, _OTHER = LANES.index(TIMEKEEPER), LANES.index(OTHER)
_CODES = max(SURFACE_NAMES) + 1

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


class Strokes(NamedTuple):
    """Strokes as columns of one length, in any order.

    Parameters
    ----------
    grid : steps to a whole note. bars : how many there are, resting ones counted.
    bar : from 0. step : from the bar line. lane : index into `LANES`. surface : `kit.SURFACE_CODES`.
    velocity : 1 to 127.
    """

    grid: int
    bars: int
    bar: Ints
    step: Ints
    lane: Ints
    surface: Ints
    velocity: Ints

    def on(self, grid: int) -> Strokes:
        """The same strokes on a grid that is a multiple of theirs."""
        return self._replace(grid=grid, step=self.step * (grid // self.grid))

    def looped(self, bars: int) -> Strokes:
        """The strokes as a loop, `bars` bars of it."""
        if not self.bars or bars == self.bars:
            return self
        turns = -(-bars // self.bars)
        bar = (self.bar[None, :] + self.bars * np.arange(turns)[:, None]).reshape(-1)
        kept = bar < bars
        columns = [np.tile(column, turns)[kept] for column in self[3:]]
        return Strokes(self.grid, bars, bar[kept], *columns)


@dataclass(frozen=True, eq=False)
class Difference:
    """How different two sides are.

    Parameters
    ----------
    distance : 0 to 1. lanes : for each lane the same ratio over positions alone.
    surface : share of the hand's common strokes that stand on another surface.
    level : share of all common strokes that stand in another band of levels; no part of the distance.
    bars : (bars,) the distance bar by bar; 0 where both rest.
    """

    distance: float
    lanes: Mapping[str, float]
    surface: float
    level: float
    bars: Floats


def distance(one: Groove, other: Groove) -> float:
    """The distance of two grooves as they stand, bar against bar: 0 to 1.

    A groove's hand is the one that it names; where it names none, the one that keeps time in each bar.
    """
    return difference(strokes_of(one), strokes_of(other)).distance


# -- strokes ---------------------------------------------------------------------------------------------


def strokes_of(groove: Groove) -> Strokes:
    """The strokes of a groove, colours of the hand resolved into the surfaces that sound."""
    columns = [_columns(groove, name, lane) for name, lane in groove.voices]
    if not columns:
        return joined([], groove.grid, groove.bars)
    step, lane, surface, velocity = (np.concatenate(column) for column in zip(*columns))
    bar, step = np.divmod(step, groove.steps_per_bar)
    strokes = Strokes(groove.grid, groove.bars, bar, step, lane, surface, velocity)
    return strokes if groove.hand is not None else _with_hands(strokes, groove.meter)


def joined(pieces: Iterable[Strokes], grid: int = 1, bars: int = 0) -> Strokes:
    """Pieces one after the other, on the coarsest grid that holds all; of no pieces, rests."""
    listed = list(pieces)
    if not listed:
        return Strokes(grid, bars, *(np.zeros(0, np.int64) for _ in range(5)))
    grid = lcm(*(piece.grid for piece in listed))
    starts = list(accumulate((piece.bars for piece in listed), initial=0))
    rows = [piece.on(grid)._replace(bar=piece.bar + start) for piece, start in zip(listed, starts)]
    return Strokes(grid, starts[-1], *(np.concatenate(column) for column in list(zip(*rows))[2:]))


def _columns(groove: Groove, name: str, lane: Lane) -> tuple[Ints, Ints, Ints, Ints]:
    """Step, lane, surface and velocity of every stroke of a voice."""
    steps = lane.struck
    kinds = lane.kind[steps]
    surfaces = np.full(steps.size, SURFACE_CODES[name], np.int64)
    for kind in np.unique(kinds).tolist():
        surfaces[kinds == kind] = SURFACE_CODES[sounding(name, Kind(kind), 1)[0]]
    code = _HAND if lane is groove.hand else lane_of(name)
    return steps, np.full(steps.size, code, np.int64), surfaces, lane.velocity[steps].astype(np.int64)


@lru_cache(maxsize=512)
def lane_of(surface: str) -> int:
    """Index into `LANES` of what a surface is while the timekeeping hand does not stand on it."""
    return LANES.index(lane_name(surface, None))


def _with_hands(strokes: Strokes, meter: Meter) -> Strokes:
    """The strokes of the hand that keeps time in each bar moved to its lane.

    In a bar in which none does (too few strokes, a fill) it is the hand of the bar before, else of the one after.
    """
    order = np.lexsort((strokes.surface, strokes.step, strokes.bar))
    sorted_ = Strokes(strokes.grid, strokes.bars, *(column[order] for column in strokes[2:]))
    edges = np.searchsorted(sorted_.bar, np.arange(strokes.bars + 1)).tolist()
    hands = [
        _hand(sorted_.step[low:high].tobytes(), sorted_.surface[low:high].tobytes(), meter, strokes.grid)
        for low, high in pairwise(edges)
    ]
    lane = sorted_.lane.copy()
    for (low, high), hand in zip(pairwise(edges), _held(hands)):
        if hand is not None:
            lane[low:high][np.isin(sorted_.surface[low:high], [SURFACE_CODES[name] for name in hand_of(hand)])] = _HAND
    return sorted_._replace(lane=lane)


@lru_cache(maxsize=4096)
def _hand(steps: bytes, surfaces: bytes, meter: Meter, grid: int) -> str | None:
    """The hand that keeps time in one bar; bars are alike far more often than not."""
    at, codes = np.frombuffer(steps, np.int64), np.frombuffer(surfaces, np.int64)
    return detect_hand.timekeeper_of({SURFACE_NAMES[c]: at[codes == c] for c in np.unique(codes).tolist()}, meter, grid)


def _held(hands: list[str | None]) -> Iterator[str | None]:
    """The hands with gaps filled from the bar before; those at the start from the first that there is."""
    held = next((hand for hand in hands if hand is not None), None)
    for hand in hands:
        held = hand or held
        yield held


# -- difference ------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Side:
    """One side's elements as rising whole numbers: bar, step, lane, then surface in `kinds`; bands beside them."""

    places: Ints
    kinds: Ints
    bands: Ints


def _side(strokes: Strokes, base: int) -> _Side:
    places = (strokes.bar * base + strokes.step) * len(LANES) + strokes.lane
    kinds = places * _CODES + strokes.surface
    order = np.lexsort((-strokes.velocity, kinds))  # of one surface struck twice on a step the louder counts
    kinds, first = np.unique(kinds[order], return_index=True)
    bands = np.searchsorted([band.high for band in BANDS], strokes.velocity[order][first])
    return _Side(np.unique(places), kinds, bands.astype(np.int64))


def difference(one: Strokes, other: Strokes) -> Difference:
    """How different two sides are, bar against bar; bars that only one side has count in full."""
    grid = lcm(one.grid, other.grid)
    one, other = one.on(grid), other.on(grid)
    base = 1 + max((int(side.step.max()) for side in (one, other) if side.step.size), default=0)
    a, b = _side(one, base), _side(other, base)
    bars, to_bar = max(one.bars, other.bars), base * len(LANES)
    shared_places, shared_kinds = np.intersect1d(a.places, b.places), np.intersect1d(a.kinds, b.kinds)
    places, kinds = np.union1d(a.places, b.places), np.union1d(a.kinds, b.kinds)

    def weight(of_places: Ints, of_kinds: Ints) -> Ints:
        in_bars = np.bincount(of_places // to_bar, minlength=bars) * PLACE_WEIGHT
        return in_bars + np.bincount(of_kinds // _CODES // to_bar, minlength=bars) * SURFACE_WEIGHT

    shared, either = weight(shared_places, shared_kinds), weight(places, kinds)
    by_lane = [np.bincount(rows % len(LANES), minlength=len(LANES)) for rows in (shared_places, places)]
    return Difference(
        _ratio(int(shared.sum()), int(either.sum())),
        MappingProxyType({name: _ratio(int(both), int(all_)) for name, both, all_ in zip(LANES, *by_lane)}),
        _moved(shared_places, np.setxor1d(a.kinds, b.kinds)),
        _other_levels(a, b, shared_kinds),
        np.array([_ratio(both, all_) for both, all_ in zip(shared.tolist(), either.tolist())], np.float64),
    )


def _ratio(shared: int, either: int) -> float:
    """What is not shared by what there is; 0 where there is nothing."""
    return (either - shared) / either if either else 0.0


def _moved(shared_places: Ints, differing: Ints) -> float:
    """Share of the hand's common places whose surfaces differ."""
    hand = shared_places[shared_places % len(LANES) == _HAND]
    return float(np.isin(hand, differing // _CODES).mean()) if hand.size else 0.0


def _other_levels(a: _Side, b: _Side, shared: Ints) -> float:
    bands = [side.bands[np.searchsorted(side.kinds, shared)] for side in (a, b)]
    return float((bands[0] != bands[1]).mean()) if shared.size else 0.0
