"""Stops: kick and crash together on the hits, silence between (common practice)."""

from __future__ import annotations

from dataclasses import replace

from grooveforge.core.figures import Stops
from grooveforge.core.groove import KICK, LANES, TIMEKEEPER, Groove, Lane, empty
from grooveforge.core.kit import ACCENT, Kind
from grooveforge.core.meter import Meter
from grooveforge.errors import MusicError

CRASH = "crash"


def stops_groove(
    meter: Meter, bars: int, stops: Stops, choke: bool = False, lanes: frozenset[str] = frozenset(LANES)
) -> Groove:
    """Bars of silence with kick and crash on every stop.

    Parameters
    ----------
    choke : whether the crash is damped. lanes : those that play; the crash is the timekeeping hand's.

    Raises
    ------
    MusicError
        When a stop stands behind the last bar, or needs a grid over 96 steps to a whole note.
    """
    end = bars * meter.whole
    late = next((place for place in stops.places if place >= end), None)
    if late is not None:
        number = int(late / meter.whole) + 1
        raise MusicError(f"a stop stands in bar {number} of a section of {bars}", allowed=f"bars 1 to {bars}")
    groove = empty(meter, bars=bars).fit_grid(stops.places)
    steps = [groove.step(place) for place in stops.places]
    kick = Lane.of(groove.steps, steps, ACCENT, Kind.ACCENT)
    crash = Lane.of(groove.steps, steps, ACCENT, Kind.CHOKE if choke else Kind.ACCENT)
    return replace(
        groove,
        kick=kick if KICK in lanes else None,
        others=((CRASH, crash),) if TIMEKEEPER in lanes else (),
    )


def struck_steps(groove: Groove) -> tuple[int, ...]:
    """Every step with a stroke, rising."""
    return tuple(sorted({step for _, lane in groove.voices for step in lane.struck.tolist()}))
