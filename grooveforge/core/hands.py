"""Which surfaces one hand plays together, and how its strokes are told apart.

Open and closed hi-hat are one hand, and so are a ride and its bell (common practice). A stroke on another
surface of the hand than the one it stands on is a colour of it: an open stroke on the closed hi-hat.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from grooveforge.core.groove import KICK, OTHER, SNARE, TIMEKEEPER, Groove, Lane
from grooveforge.core.kit import BACKBEAT_SURFACES, COLOURS, HI_HATS, Kind

HANDS: tuple[tuple[str, ...], ...] = (HI_HATS, ("ride", "ride bell"))
"""Surfaces that are one hand together; every other surface is a hand of its own."""

_HAND_OF: Mapping[str, tuple[str, ...]] = MappingProxyType({name: hand for hand in HANDS for name in hand})

_KINDS = (Kind.OPEN, Kind.HALF_OPEN, Kind.CLOSED, Kind.BELL)


def hand_of(surface: str) -> tuple[str, ...]:
    """The surfaces that are one hand with this one, itself among them."""
    return _HAND_OF.get(surface, (surface,))


def same_hand(one: str | None, other: str | None) -> bool:
    """Whether two surfaces are struck by one hand; None, no hand, is like None alone."""
    return one == other or (one is not None and other is not None and hand_of(one) == hand_of(other))


def lane_of(surface: str, hand: str | None) -> str:
    """The lane of a surface where the timekeeping hand stands on `hand`; side stick and clap are the snare's."""
    if hand is not None and surface in hand_of(hand):
        return TIMEKEEPER
    if surface == KICK:
        return KICK
    return SNARE if surface in BACKBEAT_SURFACES else OTHER


def colour_on(base: str, surface: str) -> Kind:
    """The kind that a stroke of the hand on `surface` has while the hand stands on `base`."""
    if base == surface:
        return Kind.PLAIN
    preferred = Kind.BELL if surface == "ride bell" else Kind.OPEN
    kinds = [kind for kind in (preferred, *_KINDS) if COLOURS.get((base, kind)) == surface]
    return kinds[0] if kinds else Kind.PLAIN


def with_hand(groove: Groove, base: str) -> Groove:
    """The groove with the lanes of one hand made its timekeeping lane, standing on `base`.

    Where two of its surfaces are struck together the louder stroke stands in the lane.
    """
    lanes = dict(groove.others)
    hand = Lane.rests(groove.steps)
    for name in hand_of(base):
        lane = lanes.pop(name, None)
        if lane is not None:
            colour = colour_on(base, name)
            if colour is not Kind.PLAIN:
                lane = Lane(lane.velocity, np.full(len(lane), colour, np.uint8), lane.offset)
            hand = lane.only(lane.velocity > hand.velocity).over(hand)
    return replace(groove, hand=hand, surface=base, others=tuple(lanes.items()))
