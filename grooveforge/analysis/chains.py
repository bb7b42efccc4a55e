"""What a stroke costs the limb that plays it: the state of a limb, and a step from one stroke to the next.

A chain is a pair of limbs that share strokes: two hands, or two feet. Times are whole microseconds and costs whole
numbers, so that equal passages have equal costs to the last digit.

A run of a limb begins with a stroke at which it has caught up with its limit, and goes on while the mean rate from
there is over the limit. Up to `burst` strokes of a run may be `burst_factor` times as fast as the limit; the next one
is too many. From a stroke that is too many, or too soon even for a burst, the run counts anew.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import IntFlag
from functools import lru_cache
from typing import NamedTuple

from grooveforge.analysis.zones import MOVE_SECONDS, PEDAL_SECONDS
from grooveforge.core.profile import Profile

SECOND = 1_000_000
"""Microseconds."""

TOLERANCE = 50
"""Microseconds that a stroke may come early; MIDI ticks and tempi are rounded."""

ONE_INSTANT = 30_000
"""Microseconds within which one limb cannot strike two surfaces: a flam is 20 to 45 ms (C. Sapp, onset order)."""

GRAB = 120_000
"""Microseconds that a hand needs to damp a cymbal: the time of a move over three zones (house rule)."""

RATE_COST = 1000
"""For a rate at twice the comfortable one; in proportion below and above (house rule, as the costs below)."""
ZONE_COST = 300
"""For each zone that a limb moves."""
DOUBLED_COST = 1000
"""For a second stroke in a row by one hand where strokes alternate: as much as three zones, so that a hand comes over
from its cymbal for a fill."""
OTHER_HAND_COST = 250
"""For a cymbal or hi-hat struck by the hand that does not lead."""
OTHER_FOOT_COST = 200
"""For a kick by the foot of the hi-hat."""
CROSSED_COST = 100
"""For two drums, or two cymbals, struck together by crossed hands."""

BREACH = 10**11
"""For a stroke that cannot be played; more than all of the above over a song of the greatest length."""
MISSED = BREACH * 9 // 10
"""For the hi-hat's pedal left alone where both feet are on the kicks; it gives way before a kick does."""

MOST_STEPS = 1 << 15
"""Steps that a chain remembers: in a part that is played by hand no two gaps are alike."""

WORST_RATIO = 3
"""How many times over its limit a rate is counted at most, so that costs stay numbers."""


class Breach(IntFlag):
    """Why a stroke cannot be played."""

    NONE = 0
    SURFACES = 1
    RATE = 2
    TRAVEL = 4
    CHOKE = 8


class Limb(NamedTuple):
    """What a limb brings to its next stroke.

    Parameters
    ----------
    zone : where it is; -1 anywhere. age : microseconds since its last stroke, at most the chain's memory.
    debt : how far its run is ahead of the limit, in microseconds; 0 where it has caught up. strokes : of its run.
    hold : microseconds for which it still damps a cymbal.
    """

    zone: int
    age: int
    debt: int
    strokes: int
    hold: int


class Step(NamedTuple):
    """The limb after a stroke, what the stroke costs, and what is wrong with it."""

    limb: Limb
    cost: int
    breach: Breach


@dataclass(frozen=True)
class Chain:
    """The limits of a pair of limbs, in microseconds.

    Parameters
    ----------
    unit : between strokes at the limit. comfort : between strokes that cost nothing. least : inside a burst.
    burst : strokes of a burst. debt : the most that a whole burst is ahead. moves : time over so many zones.
    doubled : cost of a second stroke in a row where strokes alternate. worst : more than whatever comes can cost from
        one state than from another: after one stroke of a limb and one run the two are alike.
    step : a limb's stroke in a zone, so many microseconds after the instant of its state; remembered.
    """

    unit: int
    comfort: int
    least: int
    burst: int
    debt: int
    moves: tuple[int, ...]
    doubled: int = 0
    worst: int = 0
    step: Callable[[Limb, int, int], Step] = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "step", lru_cache(maxsize=MOST_STEPS)(self._step))

    @classmethod
    def of(cls, rate: float, profile: Profile, moves: tuple[float, ...]) -> Chain:
        """A chain whose limbs hold `rate` strokes a second each; `moves` are seconds."""
        unit = SECOND / rate
        least = unit / profile.burst_factor
        debt = profile.burst * unit - (profile.burst - 1) * least
        comfort = unit / profile.comfort
        # The first stroke of each limb, and one that ends a run too long that another state was not in.
        worst = 2 * BREACH * (WORST_RATIO**2 + 2)
        times = tuple(round(seconds * SECOND) for seconds in moves)
        return cls(int(unit), int(comfort), int(least), profile.burst, int(debt), times, DOUBLED_COST, worst)

    @property
    def memory(self) -> int:
        """Microseconds after which a stroke is forgotten: nothing depends on how long ago it was."""
        return max(self.debt, self.comfort, self.moves[-1])

    def rested(self, zone: int) -> Limb:
        return Limb(zone, self.memory, 0, 0, 0)

    def waited(self, limb: Limb, gap: int) -> Limb:
        """A limb that does nothing for `gap` microseconds."""
        age = min(limb.age + gap, self.memory)
        debt = max(limb.debt - gap, 0)
        return Limb(limb.zone, age, debt, limb.strokes if debt else 0, max(limb.hold - gap, 0))

    def grabbing(self, limb: Limb, zone: int) -> Limb:
        """The limb while it damps something in a zone."""
        return limb._replace(zone=zone, hold=GRAB)

    def reach(self, limb: Limb, zone: int) -> int:
        """What it costs to get there."""
        return ZONE_COST * abs(zone - limb.zone) if limb.zone >= 0 else 0

    def _step(self, limb: Limb, gap: int, zone: int) -> Step:
        since = limb.age + gap
        distance = abs(zone - limb.zone) if limb.zone >= 0 else 0
        cost = ZONE_COST * distance
        if since < self.comfort:
            cost += min(RATE_COST * (self.comfort - since) // max(since, 1), RATE_COST * WORST_RATIO)
        run = limb.debt - gap > TOLERANCE
        strokes = limb.strokes + 1 if run else 1
        short, long = since < self.least - TOLERANCE, strokes > self.burst
        if short or long:  # the run counts anew, so that one stroke that is too fast is paid for once
            run, strokes = False, 1
        debt = min((limb.debt - gap if run else 0) + self.unit, self.debt)
        breach = Breach.NONE
        if short or long:
            breach |= Breach.RATE
        if distance and since < ONE_INSTANT:
            breach |= Breach.SURFACES
        if since < self.moves[min(distance, len(self.moves) - 1)] - TOLERANCE:
            breach |= Breach.TRAVEL
        if limb.hold > gap + TOLERANCE:
            breach |= Breach.CHOKE
        if breach:
            ratio = min(self.unit / max(since, 1), WORST_RATIO) if short else 1.0
            cost += int(BREACH * ratio * ratio)
        return Step(Limb(zone, 0, debt, strokes, 0), cost, breach)


def hand_chain(profile: Profile) -> Chain:
    """The chain of a drummer's hands."""
    return Chain.of(profile.hand, profile, MOVE_SECONDS)


def foot_chain(profile: Profile) -> Chain:
    """The chain of a drummer's feet; each foot holds half of what both do."""
    return Chain.of(profile.foot, profile, PEDAL_SECONDS)
