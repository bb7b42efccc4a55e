"""Arrivals and the final hit: crash and kick together on a 1 (common practice), or softly an accent and the kick."""

from __future__ import annotations

from dataclasses import replace

from grooveforge.core.groove import KICK, LANES, TIMEKEEPER, Groove, Lane, empty
from grooveforge.core.kit import ACCENT, NORMAL, Kind
from grooveforge.core.kit import surface as surface_row
from grooveforge.core.meter import Meter
from grooveforge.core.song import Settings

SOFT = "soft"

CRASH = "crash"


def arrives(settings: Settings) -> bool:
    """Whether a section with these settings begins with an arrival."""
    plays = settings.groove is not None and not settings.tacet and settings.stops is None
    return plays and settings.arrival is not False


def arrival(groove: Groove, lanes: frozenset[str] = frozenset(LANES)) -> Groove:
    """The groove with a crash in place of the hand's first stroke and a kick on its 1.

    Which crash goes by the surface that the hand stands on (`kit.SURFACES`). A kick that is there stays as it
    is. Only the lanes named play: the crash is the timekeeping hand's.
    """
    arrived = groove
    if TIMEKEEPER in lanes:
        crash = surface_row(groove.surface).arrival if groove.surface is not None else CRASH
        if groove.hand is not None:
            arrived = replace(arrived, hand=groove.hand.put((0,), 0, Kind.PLAIN))
        arrived = arrived.with_lane(crash, arrived.lane_on(crash).put((0,), ACCENT, Kind.ACCENT))
    return _with_kick(arrived, lanes, ACCENT, Kind.ACCENT)


def soft_arrival(groove: Groove, lanes: frozenset[str] = frozenset(LANES)) -> Groove:
    """The groove with an accent of the hand on its own surface and a kick on its 1, no crash.

    A coloured stroke of the hand (open, bell) keeps its colour. Where there is no hand the kick has the accent.
    """
    arrived = groove
    hand = groove.hand if TIMEKEEPER in lanes else None
    if hand is not None:
        there = Kind(int(hand.kind[0]))
        kind = Kind.ACCENT if there in (Kind.PLAIN, Kind.GHOST) else there
        arrived = replace(arrived, hand=hand.put((0,), max(ACCENT, int(hand.velocity[0])), kind))
        return _with_kick(arrived, lanes, NORMAL, Kind.PLAIN)
    return _with_kick(arrived, lanes, ACCENT, Kind.ACCENT)


def _with_kick(groove: Groove, lanes: frozenset[str], velocity: int, kind: Kind) -> Groove:
    if KICK not in lanes or groove.lane_on(KICK).velocity[0]:
        return groove
    return groove.with_lane(KICK, groove.lane_on(KICK).put((0,), velocity, kind))


def final_hit(meter: Meter) -> Groove:
    """A bar of a metre with crash and kick on its 1 and nothing else."""
    groove = empty(meter)
    stroke = Lane.of(groove.steps, (0,), ACCENT, Kind.ACCENT)
    return replace(groove, kick=stroke, others=((CRASH, stroke),))
