"""Who plays what: the cheapest way for two hands and two feet to play a passage, and where there is none."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np

from grooveforge.analysis.chains import MISSED, Chain, Step, foot_chain, hand_chain
from grooveforge.analysis.instants import LETTERS, Ints, Passage, Work
from grooveforge.analysis.options import (
    KICK_ZONE,
    NOTHING,
    PEDAL_ZONE,
    Option,
    foot_options,
    hand_options,
)
from grooveforge.analysis.search import Instants, Searcher, walked
from grooveforge.core.profile import LEFT, RIGHT, Profile

HANDS, FEET = "hand", "foot"
"""The two pairs of limbs."""


@dataclass(frozen=True, eq=False)
class Assigned:
    """What one pair of limbs plays.

    Parameters
    ----------
    name : "hand" or "foot". work : what there was to do. taken : the option of each instant.
    cost : of all of them. steps : of both limbs at each instant; empty where nothing is wrong.
    bar_costs : (bars,) what each bar costs at least, in the situation that it stands in.
    """

    name: str
    work: Work
    taken: tuple[Option, ...]
    cost: int
    steps: tuple[tuple[Step, Step], ...]
    bar_costs: Ints

    @property
    def playable(self) -> bool:
        return self.cost < MISSED


@dataclass(eq=False)
class Pair:
    """Two hands or two feet that try passages, and remember bars.

    Parameters
    ----------
    name : "hand" or "foot". chain : their limits. zones : where they start. options : the ways to play an instant of
        some work.
    """

    name: str
    chain: Chain
    zones: tuple[int, int]
    options: Callable[[Work, int], tuple[Option, ...]]

    def __post_init__(self) -> None:
        self._quick, self._full = Searcher(self.chain, strict=True), Searcher(self.chain)
        self._start = self._full.start(self.zones)

    def play(self, passage: Passage) -> Assigned:
        """What they play of a passage."""
        bars = self._bars(passage)
        found = self._quick.best(bars, self._start) or self._full.best(bars, self._start)
        assert found is not None  # the full search always finds a way
        taken, costs = found
        flat = tuple(option for bar in taken for option in bar)
        steps: tuple[tuple[Step, Step], ...] = ()
        cost = costs[-1] if costs else 0
        if cost >= MISSED:
            instants = tuple(row for _, rows in bars for row in rows)
            steps = tuple(walked(self.chain, self._start, instants, flat))
        return Assigned(self.name, self._work(passage), flat, cost, steps, np.diff(costs, prepend=0))

    def playable(self, passage: Passage) -> bool:
        """Whether they can play a passage; quicker than playing it where they cannot."""
        return self._quick.best(self._bars(passage), self._start) is not None

    def _work(self, passage: Passage) -> Work:
        return passage.hands if self.name == HANDS else passage.feet

    def _bars(self, passage: Passage) -> list[tuple[bytes, Instants]]:
        """The bars of their work for the search; equal ones share their instants."""
        work = self._work(passage)
        known: dict[bytes, Instants] = {}
        bars: list[tuple[bytes, Instants]] = []
        for low, high in pairwise(passage.edges(work)):
            key = work.key(low, high)
            if key not in known:
                known[key] = tuple((int(work.gap[at]), self.options(work, at)) for at in range(low, high))
            bars.append((key, known[key]))
        return bars


@dataclass
class Player:
    """A drummer who sits down and tries: searches passages for one profile, and remembers bars.

    Parameters
    ----------
    progress : is told the share that is done, 0 to 1, while changes are tried out.
    """

    profile: Profile
    progress: Callable[[float], None] = lambda share: None

    def __post_init__(self) -> None:
        self._hand_options = lru_cache(maxsize=4096)(hand_options)
        self._foot_options = lru_cache(maxsize=64)(foot_options)
        self.hands = Pair(HANDS, hand_chain(self.profile), (NOTHING, NOTHING), self._of_hands)
        self.feet = Pair(FEET, foot_chain(self.profile), (KICK_ZONE, PEDAL_ZONE), self._of_feet)

    def limb_names(self, pair: str) -> tuple[str, str]:
        """The leading and the other limb: right and left, or the mirror."""
        other = LEFT if self.profile.handed == RIGHT else RIGHT
        return f"{self.profile.handed} {pair}", f"{other} {pair}"

    def _of_hands(self, work: Work, at: int) -> tuple[Option, ...]:
        return self._hand_options(work.hand_strokes(at), self.profile, LETTERS[int(work.written[at])])

    def _of_feet(self, work: Work, at: int) -> tuple[Option, ...]:
        return self._foot_options(*work.foot_work(at), self.profile)
