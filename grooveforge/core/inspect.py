"""What is in a groove, bar by bar: feel, backbeats, the timekeeping hand and its rate, the kicks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from grooveforge.core import detect, detect_hand
from grooveforge.core.bar_roles import BarRoles, bar_roles
from grooveforge.core.detect import BarFeel
from grooveforge.core.feel_fit import matches
from grooveforge.core.feel_readings import MATCH
from grooveforge.core.feel_table import QUARTER, FeelPattern
from grooveforge.core.groove import KICK, Groove
from grooveforge.core.hands import hand_of
from grooveforge.core.kit import HI_HATS
from grooveforge.core.meter import Meter
from grooveforge.core.roles import read_feel

DOUBLE_KICK = 1 / 16 + 1e-9
"""Two kicks this close, in whole notes, are double kick."""

Steps = NDArray[np.int64]


@dataclass(frozen=True)
class BarFacts:
    """One bar.

    Parameters
    ----------
    feel, spelling : None where there is none. heard : what the bar is a part of; a bar without a backbeat may be
        the beginning of a cycle of bars and has no feel of its own.
    backbeats : quarter notes counted from 1.0 at the bar line, where they stand.
    timekeeper, subdivision : surface and rate of the hand that keeps time; None where none does.
    kicks : strokes of the kick. double_kick : whether two of them are a sixteenth or less apart.
    roles : ghost strokes, a fill, an arrival.
    """

    feel: str | None
    spelling: str | None
    backbeats: tuple[float, ...]
    timekeeper: str | None
    subdivision: str | None
    kicks: int
    double_kick: bool
    heard: BarFeel
    roles: BarRoles


def bar_facts(groove: Groove) -> tuple[BarFacts, ...]:
    """The facts of every bar of a groove; what the groove says of itself (feel, hand) holds."""
    feels, backbeats = _feels_and_backbeats(groove)
    said = _says(groove)
    kicks = groove.lane_on(KICK).struck
    close = kicks[1:][np.diff(kicks) / groove.grid <= DOUBLE_KICK]
    lines = np.arange(groove.bars + 1) * groove.steps_per_bar
    counts = np.diff(np.searchsorted(kicks, lines)).tolist()
    doubled = np.diff(np.searchsorted(close, lines)).tolist()
    strokes = {name: (lane.struck, np.searchsorted(lane.struck, lines)) for name, lane in groove.voices}
    inside = [
        {
            name: struck[edges[bar] : edges[bar + 1]] - lines[bar]
            for name, (struck, edges) in strokes.items()
            if edges[bar] < edges[bar + 1]
        }
        for bar in range(groove.bars)
    ]
    hands = [_timekeeper(groove, each) for each in inside]
    roles = bar_roles(groove, inside, hands)
    facts = []
    for bar, feel in enumerate(feels):
        rate = None if (hand := hands[bar]) is None else _rate(inside[bar], hand, groove.meter, groove.grid)
        # Only quarter time is told of two bars; else a bar without a backbeat has no feel of its own.
        told = feel if backbeats[bar] or feel.feel == QUARTER or said else detect.NO_FEEL
        kick = counts[bar], bool(doubled[bar])
        facts.append(BarFacts(told.feel, told.spelling, backbeats[bar], hand, rate, *kick, feel, roles[bar]))
    return tuple(facts)


def _timekeeper(groove: Groove, inside: Mapping[str, Steps]) -> str | None:
    if groove.surface is not None:
        return groove.surface if groove.surface in inside else None
    return detect_hand.timekeeper_of(inside, groove.meter, groove.grid)


def _rate(inside: Mapping[str, Steps], timekeeper: str, meter: Meter, grid: int) -> str | None:
    # The pedal between strokes of the hand is a sound of the same hi-hat: together they are the rate.
    pedal = ("pedal hi-hat",) if timekeeper in HI_HATS else ()
    steps = [inside[name] for name in (*hand_of(timekeeper), *pedal) if name in inside]
    return detect_hand.subdivision_of(np.unique(np.concatenate(steps)), meter, grid)


# -- backbeats -------------------------------------------------------------------------------------------


def _says(groove: Groove) -> bool:
    """Whether a groove says its feel or backbeats itself."""
    return groove.feel is not None or groove.backbeats is not None


def _feels_and_backbeats(groove: Groove) -> tuple[tuple[BarFeel, ...], list[tuple[float, ...]]]:
    if _says(groove):
        reading = read_feel(groove)
        feels: tuple[BarFeel, ...] = (BarFeel(reading.feel, reading.spelling),) * groove.bars
        inside: list[list[float]] = [[] for _ in feels]
        for _, step in reading.backbeats:
            bar = step // groove.steps_per_bar
            inside[bar].append(_beat(step / groove.grid, bar, groove.meter))
        return feels, [tuple(sorted(set(beats))) for beats in inside]
    feels = detect.bar_feels(groove)
    reader = _Backbeats(groove)
    return feels, [reader.of(bar, feel) for bar, feel in enumerate(feels)]


def _beat(place: float, bar: int, meter: Meter) -> float:
    """A place in whole notes from the groove's start as a quarter note of its bar, from 1.0."""
    return round(1 + 4 * (place - bar * float(meter.whole)), 6)


class _Backbeats:
    """Finds which snare strokes of a bar are the backbeats of its feel."""

    def __init__(self, groove: Groove) -> None:
        self.meter, self.bars = groove.meter, groove.bars
        self.snares = np.array([place for place, _, _ in detect.loud_strokes(groove)])
        self.kicks = groove.lane_on(KICK).struck / groove.grid

    def of(self, bar: int, feel: BarFeel) -> tuple[float, ...]:
        """Quarter notes from 1.0 of one bar's backbeats, at the phase of the feel's cycle that fits best."""
        cycle = feel.cycle(self.meter)
        if cycle is None:
            return ()
        starts = [bar - phase for phase in range(cycle.bars) if 0 <= bar - phase <= self.bars - cycle.bars]
        met = max((self._met(cycle, first) for first in starts), key=lambda pair: pair[0], default=((0, 0), []))[1]
        bar_line, whole = bar * float(self.meter.whole), float(self.meter.whole)
        return tuple(sorted({_beat(p, bar, self.meter) for p in met if -MATCH <= p - bar_line < whole - MATCH}))

    def _met(self, cycle: FeelPattern, first: int) -> tuple[tuple[int, int], list[float]]:
        """How many backbeats and skeleton kicks a cycle begun at a bar meets, and the places of the former."""
        start = first * float(self.meter.whole)
        end = start + cycle.bars * float(self.meter.whole)
        snares, kicks = (
            places[slice(*np.searchsorted(places, (start - MATCH, end - MATCH)))].tolist()
            for places in (self.snares, self.kicks)
        )
        pairs = matches(snares, [start + float(place) for place in cycle.backbeats])
        under = matches(kicks, [start + float(place) for place in cycle.kicks])
        return (len(pairs), len(under)), [snares[index] for index, _ in pairs]
