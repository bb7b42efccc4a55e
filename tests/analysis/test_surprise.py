"""Surprise: a model that learns bar by bar; probabilities, and what must surprise more."""

from __future__ import annotations

from itertools import pairwise
from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.analysis.surprise import Bar, Listener, bar_of, bars_of, surprise
from grooveforge.core.arrange import arrange
from grooveforge.core.perform import perform
from grooveforge.project.sheets import read_sheet
from tests.test_public_names import SONG

PLACES = [step / 8 for step in range(8)]
PLAIN = bar_of([0.0, 0.25, 0.5, 0.75], [0, 1, 0, 1], 1.0)
MOVED = bar_of([0.0, 0.25, 0.5, 0.625], [0, 1, 0, 1], 1.0)


def bars() -> st.SearchStrategy[Bar]:
    """Bars of a few strokes on two surfaces."""
    strokes = st.lists(st.tuples(st.sampled_from(PLACES), st.integers(0, 1)), max_size=6)
    return strokes.map(lambda rows: bar_of([place for place, _ in rows], [code for _, code in rows], 1.0))


def test_the_first_bar_by_hand() -> None:
    """Nothing is known at first: the one symbol that may come has the whole chance; after two bars counts speak."""
    listener = Listener()
    beat = bar_of([0.0], [0], 1.0)
    assert listener.heard(beat) == 0.0
    # Known: beat and bar line once each, each after the other. The beat after (beat, bar line) was never followed
    # by anything; after () it is (1 + 2/3) / (2 + 2); after (bar line) no count yet.
    assert listener.bits(beat[:1]) == pytest.approx(-log2((1 + 2 / 3) / 4))


def test_what_returns_surprises_less_and_less() -> None:
    """The same bar again and again: each time fewer bits, towards none."""
    found = surprise([PLAIN] * 12)
    assert all(late <= early for early, late in pairwise(found[1:]))
    assert found[-1] < 0.3


def test_a_moved_stroke_surprises() -> None:
    """After eight equal bars another one costs more than the same again, a stranger one more still."""
    listener = Listener()
    for _ in range(8):
        listener.learn(PLAIN)
    strange = bar_of([0.125, 0.375], [1, 1], 1.0)
    assert listener.bits(PLAIN) < listener.bits(MOVED) < listener.bits(strange)


@given(st.lists(bars(), max_size=6), bars())
def test_chances_are_chances(heard: list[Bar], following: Bar) -> None:
    """No bar has less than no surprise, and asking does not teach."""
    listener = Listener()
    for bar in heard:
        assert listener.heard(bar) >= 0.0
    assert listener.bits(following) == listener.bits(following) >= 0.0


@given(st.lists(bars(), min_size=1, max_size=5))
def test_the_chances_of_all_symbols_add_up_to_at_most_one(heard: list[Bar]) -> None:
    """What was heard and everything new share one whole."""
    listener = Listener()
    for bar in heard:
        listener.learn(bar)
    known = {symbol for bar in heard for symbol in bar}
    total = sum(2 ** -(listener.bits((symbol,)) * max(len(symbol[1]), 1)) for symbol in known)
    assert total < 1.0 + 1e-9


def test_a_whole_song() -> None:
    """One value a bar; the bar in which the last chorus turns surprises more than the one after it."""
    arrangement = arrange(read_sheet(str(SONG)).song)
    found = surprise(bars_of(perform(arrangement)))
    assert len(found) == arrangement.bars
    last = next(section.bar for section in arrangement.sections if section.name == "last chorus") - 1
    assert found[last] > found[last + 1]
