"""The ways to play one instant: which limb strikes what, for two hands and for two feet.

Limbs of a chain are the leading one (0) and the other (1): right and left hand, kick foot and hi-hat foot of a
right-handed drummer; the mirror of a left-handed one.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import permutations
from typing import NamedTuple

from grooveforge.analysis.chains import BREACH, CROSSED_COST, MISSED, OTHER_FOOT_COST, OTHER_HAND_COST
from grooveforge.analysis.zones import ALTERNATED, ZONES
from grooveforge.core.kit import SURFACE_CODES, SURFACE_NAMES, SURFACES
from grooveforge.core.profile import Profile

KICK, PEDAL = SURFACE_CODES["kick"], SURFACE_CODES["pedal hi-hat"]
NOTHING = -1
KICK_ZONE, PEDAL_ZONE = 0, 1

LEADING, OTHER, BOTH = 1, 2, 3
"""Which limbs of a chain strike, as a mask."""

HAND_LETTERS = {LEADING: "R", OTHER: "L", BOTH: "B"}
"""What a sticking line calls them, on a right-handed kit."""


LEAST_MISSED = ("foot", "hi-hat", "bell", "ride", "china", "crash", "tom", "floor tom", "kick", "snare")
"""Families in the order in which their strokes are left out: cymbals that keep time go before the backbeat; where a
crash comes it takes the place of the hand's stroke (common practice)."""

RANK = {SURFACE_CODES[row.name]: LEAST_MISSED.index(row.family) for row in SURFACES}


class Option(NamedTuple):
    """One way to play an instant.

    Parameters
    ----------
    mask : which limbs strike. zones : of the leading and the other limb, -1 for none.
    strikes : the surface code that each limb strikes, -1 for none. cost : beside what the strokes themselves cost.
    alternates : whether a second stroke in a row of one limb costs. grabs : the zone that each limb damps, -1 none.
    dropped : surface codes that no limb plays.
    """

    mask: int
    zones: tuple[int, int]
    strikes: tuple[int, int]
    cost: int = 0
    alternates: bool = False
    grabs: tuple[int, int] = (NOTHING, NOTHING)
    dropped: tuple[int, ...] = ()

    @property
    def moves(self) -> tuple[tuple[int, int], tuple[int, int]]:
        """For each limb the zone that it strikes and the one that it damps, -1 for none."""
        return (self.zones[0], self.grabs[0]), (self.zones[1], self.grabs[1])


class HandStroke(NamedTuple):
    """A stroke that a hand plays: surface code, and whether it is damped."""

    code: int
    choke: bool = False

    @property
    def zone(self) -> int:
        return ZONES[SURFACE_NAMES[self.code]]

    @property
    def alternates(self) -> bool:
        return SURFACE_NAMES[self.code] in ALTERNATED


NO_OPTION = Option(0, (NOTHING, NOTHING), (NOTHING, NOTHING))


def hand_options(strokes: tuple[HandStroke, ...], profile: Profile, sticking: str = "") -> tuple[Option, ...]:
    """The ways that two hands can play the strokes of one instant.

    Of three and more strokes two are played, whichever, each other one for the cost of a breach. A damped cymbal is
    damped by either hand.

    Parameters
    ----------
    strokes : in the kit's order; a flam or drag is two on one surface.
    sticking : "R", "L" or "B" where it is written which hand plays; empty for any. Where no way is like that, all are
        given.
    """
    ways = [way for pair in _pairs(strokes) for way in _with_grabs(pair, _dropped(strokes, pair), profile)]
    unlike: dict[Option, None] = dict.fromkeys(ways)
    wanted = [way for way in unlike if HAND_LETTERS[way.mask] == sticking]
    return tuple(wanted or unlike)


def _pairs(strokes: tuple[HandStroke, ...]) -> Iterator[tuple[HandStroke | None, HandStroke | None]]:
    if len(strokes) == 1:
        yield strokes[0], None
        yield None, strokes[0]
        return
    yield from permutations(strokes, 2)


def _dropped(strokes: tuple[HandStroke, ...], pair: tuple[HandStroke | None, ...]) -> tuple[int, ...]:
    left = [stroke.code for stroke in strokes]
    for stroke in pair:
        if stroke is not None:
            left.remove(stroke.code)
    return tuple(left)


def _with_grabs(
    pair: tuple[HandStroke | None, HandStroke | None], dropped: tuple[int, ...], profile: Profile
) -> Iterator[Option]:
    """The options of one assignment: one, or one for each way to damp what is damped."""
    lead, other = pair
    cost = BREACH * len(dropped)
    if other is not None and not other.alternates and not profile.open_handed:
        cost += OTHER_HAND_COST
    if lead is not None and other is not None and lead.alternates == other.alternates and lead.zone < other.zone:
        cost += CROSSED_COST
    mask = (LEADING if lead is not None else 0) | (OTHER if other is not None else 0)
    struck = lead or other
    alternates = mask != BOTH and struck is not None and struck.alternates
    zones = tuple(NOTHING if stroke is None else stroke.zone for stroke in pair)
    codes = tuple(NOTHING if stroke is None else stroke.code for stroke in pair)
    damped = [stroke.zone for stroke in pair if stroke is not None and stroke.choke]
    # One damped cymbal is either hand's; of two each hand damps its own.
    both = (*damped, NOTHING, NOTHING)[:2]
    grabs = {both, both[::-1]} if len(damped) == 1 else {both}
    for grab in sorted(grabs, reverse=True):
        yield Option(mask, (zones[0], zones[1]), (codes[0], codes[1]), cost, alternates, (grab[0], grab[1]), dropped)


def foot_options(kicks: int, pedal: bool, profile: Profile) -> tuple[Option, ...]:
    """The ways that two feet can play the kicks of one instant and a movement of the hi-hat's pedal.

    Parameters
    ----------
    kicks : 0, 1, or 2 for a flam. pedal : whether the hi-hat's pedal is struck, or opened or closed.
    """
    lead = Option(LEADING, (KICK_ZONE, NOTHING), (KICK, NOTHING))
    other = Option(OTHER, (NOTHING, KICK_ZONE), (NOTHING, KICK), OTHER_FOOT_COST)
    both = Option(BOTH, (KICK_ZONE, KICK_ZONE), (KICK, KICK), OTHER_FOOT_COST)
    ways = {0: [NO_OPTION], 1: [lead, other], 2: [both]}[min(kicks, 2)]
    if not profile.double_pedal:
        short = Option(LEADING, lead.zones, lead.strikes, BREACH, dropped=(KICK,))
        ways = {0: [NO_OPTION], 1: [lead], 2: [short]}[min(kicks, 2)]
    if not pedal:
        return tuple(ways)
    missed = [way._replace(cost=way.cost + MISSED, dropped=(*way.dropped, PEDAL)) for way in ways]
    free = [
        way._replace(mask=way.mask | OTHER, zones=(way.zones[0], PEDAL_ZONE), strikes=(way.strikes[0], PEDAL))
        for way in ways
        if not way.mask & OTHER
    ]
    return (*free, *missed)
