"""Who plays what: the cheapest way for two hands and two feet to play a passage, and where there is none."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np

from grooveforge.analysis.chains import BREACH, MISSED, Breach, Step, foot_chain, hand_chain
from grooveforge.analysis.instants import LETTERS, Ints, Passage, Work
from grooveforge.analysis.options import (
    KICK_ZONE,
    LEADING,
    NOTHING,
    OTHER,
    PEDAL_ZONE,
    Option,
    foot_options,
    hand_options,
)
from grooveforge.analysis.profile import LEFT, RIGHT, Profile
from grooveforge.analysis.search import Instants, Searcher, State, walked

HANDS, FEET = "hand", "foot"

Options = Callable[[Work, int], tuple[Option, ...]]
"""The ways to play an instant of some work."""

Searchers = tuple[Searcher, Searcher]
"""The quick search, for what can be played, and the full one."""


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

    @cached_property
    def wrong(self) -> tuple[int, ...]:
        """The instants at which something is wrong."""
        return tuple(
            at
            for at, (option, steps) in enumerate(zip(self.taken, self.steps))
            if option.dropped or any(step.breach for step in steps)
        )


@dataclass
class Player:
    """A drummer who sits down and tries: searches passages for one profile, and remembers bars."""

    profile: Profile
    hands: Searchers = field(init=False)
    feet: Searchers = field(init=False)

    def __post_init__(self) -> None:
        hands, feet = hand_chain(self.profile), foot_chain(self.profile)
        self.hands = Searcher(hands, strict=True), Searcher(hands)
        self.feet = Searcher(feet, strict=True), Searcher(feet)
        self._hand_options = lru_cache(maxsize=4096)(hand_options)
        self._foot_options = lru_cache(maxsize=64)(foot_options)

    def limb_names(self, chain: str) -> tuple[str, str]:
        """The leading and the other limb: right and left, or the mirror."""
        other = LEFT if self.profile.handed == RIGHT else RIGHT
        return f"{self.profile.handed} {chain}", f"{other} {chain}"

    def play(self, passage: Passage) -> tuple[Assigned, Assigned]:
        """What hands and feet play of a passage."""
        return self.play_hands(passage), self.play_feet(passage)

    def play_hands(self, passage: Passage) -> Assigned:
        start = self.hands[0].start((NOTHING, NOTHING))
        return self._assigned(HANDS, (passage, passage.hands), (self.hands, start, self._of_hands))

    def play_feet(self, passage: Passage) -> Assigned:
        start = self.feet[0].start((KICK_ZONE, PEDAL_ZONE))
        return self._assigned(FEET, (passage, passage.feet), (self.feet, start, self._of_feet))

    def playable(self, passage: Passage, feet: bool) -> bool:
        """Whether the feet, or the hands, can play a passage; quicker than playing it where they cannot."""
        if feet:
            bars = self._bars(passage, passage.feet, self._of_feet)
            return self.feet[0].best(bars, self.feet[0].start((KICK_ZONE, PEDAL_ZONE))) is not None
        bars = self._bars(passage, passage.hands, self._of_hands)
        return self.hands[0].best(bars, self.hands[0].start((NOTHING, NOTHING))) is not None

    def _of_hands(self, work: Work, at: int) -> tuple[Option, ...]:
        return self._hand_options(work.hand_strokes(at), self.profile, LETTERS[int(work.written[at])])

    def _of_feet(self, work: Work, at: int) -> tuple[Option, ...]:
        return self._foot_options(*work.foot_work(at), self.profile)

    def _bars(self, passage: Passage, work: Work, options: Options) -> list[tuple[object, Instants]]:
        """The bars of some work for the search; equal ones share their instants."""
        known: dict[bytes, Instants] = {}
        bars: list[tuple[object, Instants]] = []
        for low, high in pairwise(passage.edges(work)):
            key = work.key(low, high)
            if key not in known:
                known[key] = tuple((int(work.gap[at]), options(work, at)) for at in range(low, high))
            bars.append((key, known[key]))
        return bars

    def _assigned(self, name: str, of: tuple[Passage, Work], ways: tuple[Searchers, State, Options]) -> Assigned:
        (passage, work), ((quick, full), start, options) = of, ways
        bars = self._bars(passage, work, options)
        found = quick.best(bars, start) or full.best(bars, start)
        assert found is not None  # the full search always finds a way
        taken, costs = found
        flat = tuple(option for bar in taken for option in bar)
        steps: tuple[tuple[Step, Step], ...] = ()
        cost = costs[-1] if costs else 0
        if cost >= MISSED:
            instants = tuple(row for _, rows in bars for row in rows)
            steps = tuple(walked(full.chain, start, instants, flat))
        return Assigned(name, work, flat, cost, steps, np.diff(costs, prepend=0))


__all__ = ["BREACH", "FEET", "HANDS", "LEADING", "OTHER", "Assigned", "Breach", "Player"]
