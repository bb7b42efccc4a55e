"""The search for the cheapest way to play, against all ways of playing.

The rules are written out here a second time, from their words: what each stroke of a chosen way costs.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise, product
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.analysis import chains as c
from grooveforge.analysis import search
from grooveforge.analysis.options import NOTHING, HandStroke, Option, foot_options, hand_options
from grooveforge.analysis.search import FORGOTTEN, Instants, Searcher
from grooveforge.analysis.zones import ALTERNATED, MOVE_SECONDS, ZONES
from grooveforge.core.kit import SURFACE_CODES
from grooveforge.core.profile import EXPERIENCED, EXTREME, LEARNING, Profile

MS = 1000

Stroke = tuple[int, str]
"""Microseconds since the stroke before, and what is struck."""

Passage = Sequence[Stroke]


def instants_of(passage: Passage, profile: Profile) -> Instants:
    """A passage for the search: strokes with no time between are one instant."""
    groups: list[tuple[int, list[HandStroke]]] = []
    for gap, name in passage:
        stroke = HandStroke(SURFACE_CODES[name])
        if gap or not groups:
            groups.append((gap, [stroke]))
        else:
            groups[-1][1].append(stroke)
    return tuple((gap, hand_options(tuple(strokes), profile)) for gap, strokes in groups)


def least_cost(passage: Passage, profile: Profile) -> int:
    """What the search finds; the quick search must agree where it finds anything."""
    instants = instants_of(passage, profile)
    chain = c.hand_chain(profile)
    full, quick = Searcher(chain), Searcher(chain, strict=True)
    found = full.best([("all", instants)], full.start((NOTHING, NOTHING)))
    assert found is not None
    cost = found[1][-1]
    easy = quick.best([("all", instants)], quick.start((NOTHING, NOTHING)))
    assert (easy is None) == (cost >= c.MISSED)
    assert easy is None or easy[1][-1] == cost
    return cost


# -- the same, stroke by stroke ---------------------------------------------------------------------------------


class Hand:
    """One hand as the rules describe it, in plain seconds."""

    def __init__(self, profile: Profile) -> None:
        self.profile = profile
        self.zone: int | None = None
        self.last = -1e9
        self.run = (-1e9, 0)

    def strike(self, at: int, zone: int) -> int:
        """The cost of a stroke at a time in microseconds."""
        unit = int(1e6 / self.profile.hand)
        comfort = int(1e6 / self.profile.hand / self.profile.comfort)
        shortest = int(1e6 / self.profile.hand / self.profile.burst_factor)
        since = at - self.last
        cost = 0
        distance = 0 if self.zone is None else abs(self.zone - zone)
        cost += c.ZONE_COST * distance
        if since < comfort:
            cost += int(min(c.RATE_COST * (comfort - since) // max(since, 1), c.RATE_COST * c.WORST_RATIO))
        ahead, strokes = self.run
        catches_up = ahead - at <= c.TOLERANCE
        strokes = 1 if catches_up else strokes + 1
        # A burst that is as fast as may be is so far ahead after its last stroke; nothing counts as further ahead.
        furthest = int(1e6 / self.profile.hand * (4 - 3 / self.profile.burst_factor))
        too_soon = since < shortest - c.TOLERANCE
        too_fast = too_soon or strokes > 4
        self.run = (min((at if catches_up or too_fast else ahead) + unit, at + furthest), 1 if too_fast else strokes)
        too_far = since < round(MOVE_SECONDS[distance] * 1e6) - c.TOLERANCE
        if too_fast:
            ratio = min(unit / max(since, 1), c.WORST_RATIO) if too_soon else 1.0
            cost += int(c.BREACH * ratio * ratio)
        elif too_far:
            cost += c.BREACH
        self.zone, self.last = zone, at
        return cost


def cost_of(groups: list[tuple[int, list[str]]], ways: Sequence[tuple[int, ...]], profile: Profile) -> int:
    """The cost of one way; for each stroke of each instant hand 0, 1, or -1 for none."""
    hands = Hand(profile), Hand(profile)
    total, at = 0, 0
    before: tuple[int, ...] = ()
    for (gap, names), way in zip(groups, ways):
        at += gap
        total += c.BREACH * way.count(-1)
        for hand, name in sorted(zip(way, names)):
            if hand >= 0:
                total += hands[hand].strike(at, ZONES[name])
                if hand == 1 and name not in ALTERNATED and not profile.open_handed:
                    total += c.OTHER_HAND_COST
        used = tuple(sorted(hand for hand in way if hand >= 0))
        if len(used) == 1:
            name = names[way.index(used[0])]
            if gap >= FORGOTTEN:
                total += used == (1,)
            elif name in ALTERNATED and used == before:
                total += c.DOUBLED_COST
        elif len(used) == 2:
            right, left = (names[way.index(hand)] for hand in (0, 1))
            if (right in ALTERNATED) == (left in ALTERNATED) and ZONES[right] < ZONES[left]:
                total += c.CROSSED_COST
        before = used
    return total


def all_ways(sizes: Sequence[int]) -> Iterator[tuple[tuple[int, ...], ...]]:
    """Every way for two hands to play instants of so many strokes, each hand one stroke of an instant at most, no
    stroke left out that a hand is free for."""
    per_size = {
        size: [
            way
            for way in product((0, 1, -1), repeat=size)
            if way.count(0) <= 1 and way.count(1) <= 1 and way.count(-1) == max(size - 2, 0)
        ]
        for size in set(sizes)
    }
    return product(*(per_size[size] for size in sizes))


def brute_force(passage: Passage, profile: Profile) -> int:
    groups: list[tuple[int, list[str]]] = []
    for gap, name in passage:
        if gap or not groups:
            groups.append((gap, [name]))
        else:
            groups[-1][1].append(name)
    sizes = [len(names) for _, names in groups]
    return min(cost_of(groups, ways, profile) for ways in all_ways(sizes))


FIRST = 1000 * 1000 * MS
"""Before the first stroke everything rests."""


@pytest.mark.parametrize("length", range(1, 6))
def test_every_short_passage(length: int) -> None:
    """All passages of up to five strokes over three surfaces and two distances are played at the least cost."""
    surfaces = ("closed hi-hat", "snare", "floor tom")
    for names in product(surfaces, repeat=length):
        for gaps in product((85 * MS, 170 * MS), repeat=length - 1):
            passage = list(zip((FIRST, *gaps), names))
            assert least_cost(passage, EXPERIENCED) == brute_force(passage, EXPERIENCED), passage


@pytest.mark.parametrize("part", range(8))
def test_random_passages_over_the_whole_kit(part: int) -> None:
    """2,000 random passages of seven strokes, some of them together, are played at the least cost."""
    draw = Random(part)
    for _ in range(250):
        profile = draw.choice((LEARNING, EXPERIENCED, EXTREME))
        gaps = [FIRST, *(draw.choice((0, 45, 62, 76, 95, 110, 130, 150, 190, 260, 1200)) * MS for _ in range(6))]
        passage: list[Stroke] = []
        for gap in gaps:
            taken = {name for before, name in passage[::-1] if before == 0} | {passage[-1][1] if passage else ""}
            passage.append((gap, draw.choice([name for name in ZONES if gap or name not in taken])))
        assert least_cost(passage, profile) == brute_force(passage, profile), (passage, profile.name)


# -- bars -------------------------------------------------------------------------------------------------------


def total(searcher: Searcher, bars: Sequence[Instants], start: tuple[int, int]) -> int:
    found = searcher.best([(bar, bar) for bar in bars], searcher.start(start))
    return -1 if found is None else found[1][-1]


@st.composite
def bars_of_hands(draw: st.DrawFn) -> list[Instants]:
    """Two different bars in some order, many times over."""
    names = st.sampled_from(["closed hi-hat", "snare", "floor tom", "china", "ride"])
    gap = st.sampled_from([70 * MS, 100 * MS, 140 * MS, 200 * MS])
    bar = st.lists(st.tuples(gap, names), min_size=1, max_size=5)
    kinds = [instants_of(draw(bar), EXPERIENCED) for _ in range(2)]
    return [kinds[at] for at in draw(st.lists(st.integers(0, 1), min_size=1, max_size=9))]


@given(bars_of_hands(), st.booleans())
def test_bars_looked_up_are_as_bars_searched(bars: list[Instants], strict: bool) -> None:
    """A passage costs as much in one piece as in bars of which most are looked up."""
    chain = c.hand_chain(EXPERIENCED)
    whole = tuple(instant for bar in bars for instant in bar)
    start = (NOTHING, NOTHING)
    assert total(Searcher(chain, strict), bars, start) == total(Searcher(chain, strict), [whole], start)


@given(st.lists(st.tuples(st.sampled_from([60, 77, 90, 154, 320]), st.integers(0, 2), st.booleans()), max_size=8))
def test_feet_are_played_at_the_least_cost(strokes: list[tuple[int, int, bool]]) -> None:
    """Two feet, of which one has the hi-hat's pedal too, against every choice of options."""
    chain = c.foot_chain(EXPERIENCED)
    instants = tuple((gap * MS, foot_options(kicks, pedal, EXPERIENCED)) for gap, kicks, pedal in strokes)
    searcher = Searcher(chain)

    def cost(taken: Sequence[Option]) -> int:
        limbs = list(searcher.start((0, 1))[:2])
        added = 0
        for (gap, _), option in zip(instants, taken):
            added += option.cost
            for at in (0, 1):
                zone = option.zones[at]
                if zone == NOTHING:
                    limbs[at] = chain.waited(limbs[at], gap)
                else:
                    step = chain.step(limbs[at], gap, zone)
                    limbs[at] = step.limb
                    added += step.cost
        return added

    ways = product(*(options for _, options in instants))
    assert total(searcher, [instants], (0, 1)) == min(map(cost, ways))


def test_the_same_passage_is_always_played_alike() -> None:
    """Of equal costs the same way is taken each time."""
    bars = [instants_of([(150 * MS, "snare")] * 8, EXPERIENCED)] * 3
    chain = c.hand_chain(EXPERIENCED)
    found = [Searcher(chain, strict=True).best([(bar, bar) for bar in bars], Searcher(chain).start((-1, -1)))
             for _ in range(3)]  # fmt: skip
    assert found[0] == found[1] == found[2]


def test_what_is_remembered_has_a_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    """A search that forgets between passages keeps no more than its limit and one passage, and costs nothing more."""
    monkeypatch.setattr(search, "MOST_REMEMBERED", 40)
    chain = c.hand_chain(EXPERIENCED)
    searcher = Searcher(chain)
    sizes = []
    for number in range(30):
        rows = [[((80 + 7 * number) * MS, name)] * 3 for name in ("snare", "floor tom", "china")]
        bars, fresh = [instants_of(row, EXPERIENCED) for row in rows] * 4, Searcher(chain)
        assert total(searcher, bars, (NOTHING, NOTHING)) == total(fresh, bars, (NOTHING, NOTHING))
        assert searcher.remembered <= 40 + fresh.remembered
        sizes.append(searcher.remembered)
    assert any(later < before for before, later in pairwise(sizes))
