"""Grooves laid over and behind one another, and read at half and double note values."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from grooveforge.core.groove import Groove, Lane
from grooveforge.core.kit import Kind
from grooveforge.core.meter import Meter
from grooveforge.core.recount import recount_groove
from grooveforge.errors import MusicError
from tests.bars import FOUR_FOUR

HALVES, OFFBEATS = (0, 8), (2, 6, 10, 14)


def hand(surface: str, steps: tuple[int, ...] = HALVES, **said: Any) -> Groove:
    return replace(Groove(FOUR_FOUR, hand=Lane.of(16, steps), surface=surface), **said)


def test_another_hand_laid_over_becomes_a_lane_of_its_surface() -> None:
    """A hand is in one place: the strokes of the second one stay, as strokes on its surface."""
    made = hand("ride") | hand("china", OFFBEATS)
    assert made.surface == "ride"
    assert made.hand is not None and made.hand.struck.tolist() == [0, 8]
    assert made.lane_on("china").struck.tolist() == list(OFFBEATS)


def test_another_hand_behind_becomes_a_lane_of_its_surface() -> None:
    made = hand("ride") + hand("china", OFFBEATS)
    assert made.surface == "ride"
    assert made.hand is not None and made.hand.struck.tolist() == [0, 8]
    assert made.lane_on("china").struck.tolist() == [16 + step for step in OFFBEATS]


def test_the_same_hand_goes_on() -> None:
    made = hand("ride") + hand("ride", OFFBEATS)
    assert made.hand is not None and made.hand.struck.tolist() == [0, 8, 18, 22, 26, 30]
    assert made.others == ()


def test_a_groove_without_a_hand_takes_the_one_behind_it() -> None:
    made = Groove(FOUR_FOUR, kick=Lane.of(16, [0])) + hand("china")
    assert made.surface == "china"
    assert made.hand is not None and made.hand.struck.tolist() == [16, 24]


def test_what_two_grooves_say_alike_is_kept() -> None:
    one, other = hand("ride", feel="blast", spelling="unison"), hand("ride", feel="blast", spelling="alternating")
    assert ((one + one).feel, (one + one).spelling) == ("blast", "unison")
    assert ((one + other).feel, (one + other).spelling) == ("blast", None)


def test_half_the_note_values_move_every_lane() -> None:
    """An offset is in quarter notes, so it is halved too; a bar of sixteenths becomes half a bar of 32nds."""
    late = Lane(np.where(np.arange(16) == 4, 96, 0), np.zeros(16, np.uint8), np.full(16, 0.1))
    made = recount_groove(Groove(FOUR_FOUR, kick=Lane.of(16, [0]), others=(("china", late),)), Fraction(1, 2))
    china = made.lane_on("china")
    assert [made.position(step) for step in china.struck] == [Fraction(1, 8), Fraction(5, 8)]
    assert china.offset[china.struck].tolist() == [0.05, 0.05]
    assert china.velocity[china.struck].tolist() == [96, 96]


def test_a_lane_is_shown_by_its_marks() -> None:
    """The marks of a tab (common practice): x a stroke, X an accent, o open, - a rest."""
    assert repr(Lane.of(8, [0, 2], 96, Kind.OPEN)).startswith("Lane('")
    marks = repr(Lane.of(8, [0, 2], 96)).split("'")[1]
    assert marks == "x-x-----"


def test_bars_of_different_metres_cannot_follow() -> None:
    with pytest.raises(MusicError, match="cannot go from a groove in 4/4 on to one in 3/4"):
        hand("ride").then(Groove(Meter(3, 4), kick=Lane.of(12, [0])))
