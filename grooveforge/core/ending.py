"""Phrase endings: one or two strokes of the last beats move in time, so that no return is a copy.

House rules. Strokes of kick and snare move, others only where those have no free place; a stroke goes to a
free step of its own beat or the next, never out of the ending, never onto a stroke of its lane. It keeps its
surface, kind and level. Free steps are those of the groove's own rate first (eighths, sixteenths or eighth
triplets), then sixteenths.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from itertools import accumulate, combinations, pairwise
from math import lcm
from random import Random

import numpy as np

from grooveforge.core.chance import generator
from grooveforge.core.groove import FINEST_GRID, KICK, Groove, Lane
from grooveforge.core.hands import same_hand
from grooveforge.core.kit import BACKBEAT_SURFACES

EIGHTHS, TRIPLETS, SIXTEENTHS = 8, 12, 16

HAND = "the hand"
"""The timekeeping hand among the lanes of an ending; the others go by their surface."""


@dataclass(frozen=True)
class Move:
    """A stroke that moves: its lane (`HAND` or a surface), its step and where it goes."""

    lane: str
    step: int
    to: int


Moves = tuple[Move, ...]


@dataclass(frozen=True)
class Tail:
    """The bars that an ending stands in.

    Parameters
    ----------
    groove : those bars. beats : lengths of the ending's beats, whole notes, up to the groove's end.
    fixed : steps at the beginning that neither lose nor take a stroke. kick_stays : the kick follows a riff.
    """

    groove: Groove
    beats: tuple[Fraction, ...]
    fixed: int = 0
    kick_stays: bool = False


class Endings:
    """The endings of a song's returns: what a statement chose follows from seed, part and number alone."""

    def __init__(self, seed: int) -> None:
        self.seed = seed
        self._chosen: dict[tuple[str, Tail], list[Moves]] = {}

    def ending(self, part: str, statement: int, tail: Tail) -> Groove:
        """The tail as a statement plays it: the first keeps the groove's own, and so do all if nothing can move."""
        tail = with_sixteenths(tail)
        tiers = moves(tail)
        if statement < 2 or not tiers:
            return tail.groove
        # What earlier statements chose is drawn over this one's bars, so that no other section has a say in it.
        chosen = self._chosen.setdefault((part, tail), [])
        while len(chosen) < statement - 1:
            chance = generator(self.seed, part, len(chosen) + 2, "ending")
            chosen.append(_drawn(tiers, chosen, chance))
        return moved(tail.groove, chosen[statement - 2])


def _drawn(tiers: tuple[tuple[Moves, ...], ...], chosen: list[Moves], chance: Random) -> Moves:
    """An ending unlike all chosen ones, of the first tier that has one; unlike the last when all are used up."""
    count = sum(len(tier) for tier in tiers)
    used = set(chosen[len(chosen) // count * count :])
    if not used and count > 1:
        used = set(chosen[-1:])
    left = next(rows for tier in tiers if (rows := [row for row in tier if row not in used]))
    wanted = 1 + chance.randrange(2)
    rows = [row for row in left if len(row) == wanted] or left
    return rows[chance.randrange(len(rows))]


def with_sixteenths(tail: Tail) -> Tail:
    """The tail on a grid with all sixteenths, where its bars have them."""
    groove = tail.groove
    grid = lcm(groove.grid, SIXTEENTHS)
    if grid == groove.grid or grid > FINEST_GRID or (grid * groove.meter.whole).denominator != 1:
        return tail
    return Tail(groove.regrid(grid), tail.beats, tail.fixed * grid // groove.grid, tail.kick_stays)


@lru_cache(maxsize=256)
def moves(tail: Tail) -> tuple[tuple[Moves, ...], ...]:
    """All endings of a tail in tiers, those to be used first in front; no two of them are alike."""
    rates = _rates(tail.groove)
    names = [name for name, _ in _lanes(tail.groove)]
    first = [name for name in names if name in (KICK, *BACKBEAT_SURFACES) and not (tail.kick_stays and name == KICK)]
    rest = [name for name in names if name not in (KICK, *BACKBEAT_SURFACES)]
    tiers: list[tuple[Moves, ...]] = []
    known: set[Moves] = set()
    for lanes, most in ((first, 2), (rest, 1)):
        for rate in rates:
            singles = list(_single_moves(tail, lanes, rate))
            tier: list[Moves] = [(move,) for move in singles]
            if most == 2:
                tier += list(_pairs(singles))
            new = tuple(row for row in tier if row not in known)
            known.update(new)
            tiers.append(new)
    return tuple(tier for tier in tiers if tier)


def _pairs(singles: list[Move]) -> Iterator[Moves]:
    """Two moves together, each set of resulting strokes once."""
    seen: set[frozenset[tuple[str, int, bool]]] = set()
    for one, two in combinations(singles, 2):
        if one.lane == two.lane and (one.step == two.step or one.to == two.to):
            continue
        after = frozenset(
            (move.lane, *change) for move in (one, two) for change in ((move.step, False), (move.to, True))
        )
        if after not in seen:
            seen.add(after)
            yield one, two


def _rates(groove: Groove) -> tuple[tuple[int, ...], ...]:
    """Which notes free steps may be: the groove's own rate, then all that its strokes and sixteenths know."""
    grid = groove.coarsest.grid
    if EIGHTHS % grid == 0:
        return (EIGHTHS,), (SIXTEENTHS,)
    if SIXTEENTHS % grid == 0:
        return ((SIXTEENTHS,),)
    if TRIPLETS % grid == 0:
        return (TRIPLETS,), (SIXTEENTHS,)
    return ((SIXTEENTHS, TRIPLETS) if grid % 3 == 0 else (SIXTEENTHS,),)


def _lanes(groove: Groove) -> list[tuple[str, Lane]]:
    return [(HAND if lane is groove.hand else name, lane) for name, lane in groove.voices]


def _single_moves(tail: Tail, lanes: Iterable[str], rate: tuple[int, ...]) -> Iterator[Move]:
    groove = tail.groove
    end = groove.steps
    begin = end - int(sum(tail.beats, Fraction(0)) * groove.grid)
    edges = [begin + int(edge * groove.grid) for edge in accumulate(tail.beats, initial=Fraction(0))]
    listed = dict(_lanes(groove))
    for name in lanes:
        taken = _taken(groove, name)
        for start, (close, last) in zip(edges, pairwise([*edges[1:], end])):
            inside = [step for step in listed[name].struck.tolist() if max(start, tail.fixed) <= step < close]
            free = [
                step
                for step in range(max(start, tail.fixed), last)
                if step not in taken and any(step * note % groove.grid == 0 for note in rate)
            ]
            for step in inside:
                yield from (Move(name, step, to) for to in free)


def _taken(groove: Groove, name: str) -> set[int]:
    """The steps that strokes of a lane's surface stand on, in this lane or in another that is the same hand."""
    surface = groove.surface if name == HAND else name
    return {step for other, lane in groove.voices if same_hand(other, surface) for step in lane.struck.tolist()}


def moved(groove: Groove, strokes: Moves) -> Groove:
    """The groove with strokes moved."""
    for name in dict.fromkeys(move.lane for move in strokes):
        lane = dict(_lanes(groove))[name]
        order = np.arange(len(lane))
        keep = np.ones(len(lane), bool)
        for move in strokes:
            if move.lane == name:
                order[move.to] = move.step
                keep[move.step] = False
        lane = lane.at(order).only(keep)
        groove = replace(groove, hand=lane) if name == HAND else groove.with_lane(name, lane)
    return groove
