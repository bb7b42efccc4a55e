"""Candidates as arrays: the distances are those of the grooves themselves, and the choice among them is spread."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.analysis.candidates import Frames, Grid, measured, pairwise, playable, rows_of, spread
from grooveforge.analysis.distance import Strokes, difference, joined, strokes_of
from grooveforge.core.groove import Groove, Lane
from grooveforge.core.meter import Meter
from grooveforge.core.profile import EXPERIENCED
from grooveforge.formats.tab import read_tab
from tests.laws.strategies import grooves

SURFACES = ("closed hi-hat", "ride", "crash", "china")
BARS = 3


def with_hands() -> st.SearchStrategy[Groove]:
    """Grooves of one metre whose hand is no lane of its surface as well."""
    found = grooves(Meter(4, 4), most_bars=2).filter(lambda groove: groove.hand is not None)
    return found.filter(lambda groove: not {name for name, _ in groove.others} & {*SURFACES, "ride bell"})


def under(groove: Groove, names: list[str]) -> Strokes:
    """The groove as a loop with the hand on a surface in each bar."""
    whole = groove.bars_of(len(names))
    return joined(strokes_of(whole.slice(bar, bar + 1).move_hand(name)) for bar, name in enumerate(names))


def assignments(count: int) -> st.SearchStrategy[list[list[str]]]:
    one = st.lists(st.sampled_from(SURFACES), min_size=BARS, max_size=BARS)
    return st.lists(one, min_size=count, max_size=count)


def plain(groove: Groove) -> Groove:
    """Without colours on the lanes beside the hand, which arrays leave to the exact measure."""
    others = tuple((name, Lane.of(len(lane), lane.struck.tolist())) for name, lane in groove.others)
    return replace(groove, others=others)


@given(st.lists(with_hands().map(plain), min_size=2, max_size=4), assignments(3))
def test_distances_are_those_of_the_grooves(rows: list[Groove], hands: list[list[str]]) -> None:
    """Every frame under every assignment, and candidates among themselves."""
    grid, names = Grid.holding(rows, BARS), rows_of(rows)
    frames, base = Frames.of(rows, grid, names), Frames.of(rows[:1], grid, names)
    assigned = np.array([[SURFACES.index(name) for name in hand] for hand in hands])
    found = measured(frames, SURFACES, assigned, base, assigned[0])
    first = under(rows[0], hands[0])
    for number, groove in enumerate(rows):
        for which, hand in enumerate(hands):
            exact = difference(first, under(groove, hand))
            assert found.distance[number, which] == pytest.approx(exact.distance)
            assert found.surface[number, which] == (exact.surface == 0)
            assert (found.kick[number], found.snare[number]) == (exact.lanes["kick"] == 0, exact.lanes["snare"] == 0)
    chosen = [hands[number % 3] for number in range(len(rows))]
    among = pairwise(frames, SURFACES, np.array([[SURFACES.index(name) for name in hand] for hand in chosen]))
    for number, groove in enumerate(rows):
        for other, its in enumerate(rows):
            exact = difference(under(groove, chosen[number]), under(its, chosen[other]))
            assert among[number, other] == pytest.approx(exact.distance)


def test_what_no_feet_can_play_is_left_out() -> None:
    """Sixteenth kicks are possible at 150 and not at 260 for an experienced drummer (13 kicks a second)."""
    fast = read_tab("HH x---x---x---x---\nBD oooooooooooooooo\n").groove(Meter(4, 4), 16)
    slow = read_tab("HH x---x---x---x---\nBD o---o---o---o---\n").groove(Meter(4, 4), 16)
    frames = Frames.of([fast, slow], Grid.holding([fast, slow], 4), rows_of([fast, slow]))
    assert playable(frames, 240 / 150, EXPERIENCED).tolist() == [True, True]
    assert playable(frames, 240 / 260, EXPERIENCED).tolist() == [False, True]


@given(st.integers(0, 12), st.integers(1, 6), st.floats(0, 1), st.integers(0, 2**32 - 1))
def test_spread(size: int, count: int, apart: float, seed: int) -> None:
    """No more than asked, each once, none nearer than asked; all where nothing is asked for."""
    points = np.random.default_rng(seed).random((size, 2))
    distances = np.abs(points[:, None] - points[None]).max(axis=2)
    found = spread(distances, count, apart)
    assert len(found) <= min(count, size)
    assert len(set(found)) == len(found)
    assert all(distances[one, other] >= apart for one in found for other in found if one != other)
    assert len(spread(distances, count, 0.0)) == min(count, size)
    assert (len(found) > 0) == (size > 0)
