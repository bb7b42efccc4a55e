"""The cheapest way for two limbs to play a passage: exact dynamic programming over their states.

Bars are searched one after the other. What a bar does to a state before it depends on the two alone, so a bar that
comes again is looked up.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial

import numpy as np
from numpy.typing import NDArray

from grooveforge.analysis.chains import MISSED, ZONE_COST, Breach, Chain, Limb, Step
from grooveforge.analysis.options import NOTHING, OTHER, Option

State = tuple[Limb, Limb, int]
"""The leading and the other limb at one instant, and the mask of those that struck then."""

Front = tuple[tuple[State, int], ...]
"""States with their least costs."""

Instants = tuple[tuple[int, tuple[Option, ...]], ...]
"""(microseconds since the instant before, ways to play it) of each instant of a bar."""

FORGOTTEN = 1_000_000
"""Microseconds after which strokes start anew with the leading limb (house rule)."""

FEW = 8
"""Bars of a passage that is searched bar by bar, since a table is worth its while only where it is used again."""

MOST_REMEMBERED = 4096
"""Bars, ways through them and tables that a search keeps from one passage to the next: a few megabytes."""

_Reached = dict[State, tuple[int, State, Option]]

Costs = NDArray[np.int64]
"""The least cost of each of some states."""

_Row = tuple[int, ...]
"""The cost of a state, or its costs from several states before."""

Found = tuple[list[tuple[Option, ...]], list[int]]
"""Options by bar, and the cost up to the end of each bar."""

_Ways = dict[State, tuple[int, State, tuple[Option, ...]]]
"""States after a bar: least cost, the state before the bar that it comes from, and the options taken."""

_WayBack = Callable[[State], tuple[State, tuple[Option, ...]]]
"""From a state after a bar to the one before it and the options taken between."""

_Step = tuple[tuple[State, ...], Costs, _WayBack]
"""States after a bar, their least costs, and the way back; no states where a strict search ends."""


@dataclass(frozen=True, eq=False)
class _Table:
    """What a bar does to some states before it: (before, after) the least cost from one to the other."""

    after: tuple[State, ...]
    costs: NDArray[np.int64]


_NEVER = 2**61
"""The cost of what cannot be; more than any passage costs."""


@dataclass
class Searcher:
    """Searches the bars of one chain, and remembers them.

    A `strict` one goes only where every stroke can be played, which is quick; what it finds is the cheapest way of all,
    since one breach costs more than anything else.

    The first time a bar comes it is searched from all states at once. Where it comes again it is searched from each
    state on its own, and a table from states to states does for every further time.
    """

    chain: Chain
    strict: bool = False
    _seen: set[object] = field(default_factory=set)
    _alone: dict[tuple[object, State], _Ways] = field(default_factory=dict)
    _tables: dict[tuple[object, tuple[State, ...]], _Table] = field(default_factory=dict)

    def start(self, zones: tuple[int, int]) -> State:
        """Two rested limbs."""
        return self.chain.rested(zones[0]), self.chain.rested(zones[1]), 0

    def best(self, bars: Sequence[tuple[object, Instants]], start: State) -> Found | None:
        """The options that the cheapest way through a passage takes in each of its bars, and the least cost up to
        each bar's end; None where a strict search finds no way.

        Parameters
        ----------
        bars : for each bar a key that equal bars share, and its instants. start : the limbs before it.
        """
        if self.remembered > MOST_REMEMBERED:
            for memory in (self._seen, self._alone, self._tables):
                memory.clear()
        states: tuple[State, ...] = (start,)
        costs = np.zeros(1, np.int64)
        back: list[_WayBack] = []
        total, totals = 0, []
        for key, instants in bars:
            go = self._looked_up if key in self._seen and len(bars) > FEW else self._gone_through
            states, costs, way_back = go(key, instants, states, costs)
            if not states:
                return None
            back.append(way_back)
            least = int(costs.min())
            costs = costs - least
            if (costs > self.chain.worst).any():
                states = tuple(state for state, cost in zip(states, costs.tolist()) if cost <= self.chain.worst)
                costs = costs[costs <= self.chain.worst]
            total += least
            totals.append(total)
        state = states[int(np.argmin(costs))]
        taken = []
        for step in reversed(back):
            state, options = step(state)
            taken.append(options)
        return taken[::-1], totals

    @property
    def remembered(self) -> int:
        """How many bars, ways through them and tables it keeps."""
        return len(self._seen) + len(self._alone) + len(self._tables)

    def _gone_through(self, key: object, instants: Instants, states: tuple[State, ...], costs: Costs) -> _Step:
        """The states after a bar, searched from all states before it at once."""
        self._seen.add(key)
        ways = self._searched(instants, tuple(zip(states, costs.tolist())))
        after = tuple(sorted(ways))
        return after, np.array([ways[state][0] for state in after], np.int64), partial(_last_step, ways)

    def _looked_up(self, key: object, instants: Instants, states: tuple[State, ...], costs: Costs) -> _Step:
        """The states after a bar that came before, by its table."""
        table = self._table(key, instants, states)
        if not table.after:
            return (), costs, partial(_last_step, {})
        sums = costs[:, None] + table.costs
        came = np.argmin(sums, axis=0)
        origin = dict(zip(table.after, [states[at] for at in came.tolist()]))
        return table.after, np.take_along_axis(sums, came[None, :], 0)[0], partial(self._way_back, key, origin)

    def _way_back(self, key: object, origin: dict[State, State], state: State) -> tuple[State, tuple[Option, ...]]:
        before = origin[state]
        return before, self._alone[key, before][state][2]

    def _table(self, key: object, instants: Instants, states: tuple[State, ...]) -> _Table:
        found = self._tables.get((key, states))
        if found is not None:
            return found
        rows: list[_Ways] = []
        for state in states:
            if (key, state) not in self._alone:
                self._alone[key, state] = self._searched(instants, ((state, 0),))
            rows.append(self._alone[key, state])
        reached = sorted({state for ways in rows for state in ways})
        columns = {state: tuple(ways[state][0] if state in ways else _NEVER for ways in rows) for state in reached}
        kept = pruned(columns, self.chain) if reached else columns
        costs = np.array(list(kept.values()), np.int64).reshape(len(kept), len(states)).T
        table = self._tables[key, states] = _Table(tuple(kept), costs)
        return table

    def _searched(self, instants: Instants, front: Front) -> _Ways:
        levels: list[_Reached] = []
        costs: Mapping[State, _Row] = {state: (cost,) for state, cost in front}
        for gap, options in instants:
            reached = self._reached(costs, gap, options)
            costs = pruned({state: (row[0],) for state, row in reached.items()}, self.chain)
            levels.append(reached)
        ways: _Ways = {}
        for last, (cost, *_) in costs.items():
            state, taken = last, []
            for reached in reversed(levels):
                _, state, option = reached[state]
                taken.append(option)
            ways[last] = (cost, state, tuple(taken[::-1]))
        return ways

    def _reached(self, costs: Mapping[State, _Row], gap: int, options: tuple[Option, ...]) -> _Reached:
        """The states after an instant, each by the cheapest way; of equals the first found."""
        reached: _Reached = {}
        anew = gap >= FORGOTTEN
        limit = MISSED if self.strict else _NEVER
        leads = {limb: [moved(self.chain, limb, gap, option.moves[0]) for option in options]
                 for limb in {state[0] for state in costs}}  # fmt: skip
        others = {limb: [moved(self.chain, limb, gap, option.moves[1]) for option in options]
                  for limb in {state[1] for state in costs}}  # fmt: skip
        for state, (before, *_) in costs.items():
            for option, lead, other in zip(options, leads[state[0]], others[state[1]]):
                added = option.cost + lead.cost + other.cost
                if added >= limit:
                    continue
                if anew:
                    added += option.mask == OTHER
                elif option.alternates and option.mask == state[2]:
                    added += self.chain.doubled
                new = (lead.limb, other.limb, option.mask)
                old = reached.get(new)
                if old is None or before + added < old[0]:
                    reached[new] = (before + added, state, option)
        if not reached:
            return reached
        most = min(row[0] for row in reached.values()) + self.chain.worst
        return {state: row for state, row in reached.items() if row[0] <= most}


def _last_step(ways: _Ways, state: State) -> tuple[State, tuple[Option, ...]]:
    return ways[state][1:]


def moved(chain: Chain, limb: Limb, gap: int, to: tuple[int, int]) -> Step:
    """What a limb does at an instant: strike the zone `to[0]` (-1: nothing), then damp the zone `to[1]` (-1: none)."""
    zone, grab = to
    step = Step(chain.waited(limb, gap), 0, Breach.NONE) if zone == NOTHING else chain.step(limb, gap, zone)
    if grab == NOTHING:
        return step
    return Step(chain.grabbing(step.limb, grab), step.cost + chain.reach(step.limb, grab), step.breach)


def pruned(costs: Mapping[State, _Row], chain: Chain) -> Mapping[State, _Row]:
    """The states without those that another one is at least as good as, whatever comes.

    Parameters
    ----------
    costs : for each state its cost, or its costs from several states before.
    """
    if len(costs) < 2:
        return costs
    kept: dict[State, _Row] = {}
    for state in sorted(costs, key=lambda state: (costs[state], state)):
        mine = costs[state]
        for other, theirs in kept.items():
            more = handicap(other, state, chain)
            if more is not None and all(cost + more <= than for cost, than in zip(theirs, mine)):
                break
        else:
            kept[state] = mine
    return kept


def handicap(one: State, other: State, chain: Chain) -> int | None:
    """The most that whatever comes can cost more from one state than from another; None where that is not known.

    It is known where no limb has rested less, damps for longer, or is further ahead of its limit in a longer run: a
    breach that the better state is spared it may commit once later, for no more, since from a stroke that is too fast
    the run counts anew. Then only the places count, and which limbs struck last: a limb that stands elsewhere and has
    time to go anywhere pays for the way between, and the next stroke may be a second one in a row.
    """
    more = 0 if one[2] == other[2] else chain.doubled
    for a, b in zip(one, other[:2]):
        assert isinstance(a, Limb)
        if a.age < b.age or a.debt > b.debt or a.strokes > b.strokes or a.hold > b.hold:
            return None
        if a.zone != b.zone and a.zone >= 0:
            if a.age < chain.moves[-1]:
                return None
            more += ZONE_COST * (abs(a.zone - b.zone) if b.zone >= 0 else len(chain.moves) - 1)
    return more


def walked(chain: Chain, start: State, instants: Instants, taken: Sequence[Option]) -> Iterator[tuple[Step, Step]]:
    """The steps of both limbs along a way that was found, one pair an instant."""
    lead, other, _ = start
    for (gap, _), option in zip(instants, taken):
        steps = tuple(
            moved(chain, limb, gap, to) for limb, to in zip((lead, other), zip(option.zones, option.grabs))
        )
        lead, other = steps[0].limb, steps[1].limb
        yield steps[0], steps[1]
