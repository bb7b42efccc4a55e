"""Which fill leads into the next part.

A fill is chosen by the beats that it lasts, the tempo that it is played at, the speed and division of the part
that it leads into, the step in level between the two parts, and chance; never the one played before it. What
the library does not hold is made: joined from shorter fills, at half speed, or a plain run. House rules; that
a fill's speed fits the next part and that it lands on the 1: published lessons.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from grooveforge.core.figures import Fill
from grooveforge.core.fill import (
    STRAIGHT,
    division_of,
    facts_of,
    half_speed,
    in_tempo,
    is_steady,
    places_of,
    plain_runs,
    played,
    together,
)
from grooveforge.core.groove import LANES
from grooveforge.core.hands import same_hand

BUSIER = 1.5
"""A fill has about this many times the strokes of the groove that it leads into."""

NO_NAMES: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Place:
    """Where a fill is needed.

    Parameters
    ----------
    beats : lengths of its beats in whole notes. bpm : quarter notes a minute where it stands.
    strokes : strokes a second of the part that it leads into. division : STRAIGHT or TRIPLE, that part's.
    step : in level, up to it. hands : surfaces of the timekeeping hand, which a fill leaves.
    lanes : those that it may play (not the kick when that follows a riff).
    last_bar : how many of the beats stand in the last bar; 0 when all do.
    """

    beats: tuple[Fraction, ...]
    bpm: Fraction
    strokes: float = 4.0
    division: str = STRAIGHT
    step: int = 0
    hands: tuple[str, ...] = ()
    lanes: frozenset[str] = frozenset(LANES)
    last_bar: int = 0

    @property
    def whole(self) -> Fraction:
        return sum(self.beats, Fraction(0))

    @property
    def strokes_a_beat(self) -> float:
        """How many strokes a beat fit the part that the fill leads into."""
        seconds = float(self.whole * 240 / self.bpm) / len(self.beats)
        return BUSIER * self.strokes * seconds


@dataclass(frozen=True)
class Chosen:
    """A fill, and what a report says about it when the library does not hold it as it is."""

    fill: Fill
    note: str = ""


@dataclass(frozen=True)
class _Rows:
    """Fills of one length in order of size, and their instants."""

    fills: tuple[Fill, ...]
    instants: tuple[int, ...]

    @classmethod
    def of(cls, fills: Sequence[Fill]) -> _Rows:
        ordered = sorted(fills, key=lambda fill: facts_of(fill).size)
        return cls(tuple(ordered), tuple(facts_of(fill).size[0] for fill in ordered))

    def picked(self, place: Place, draw: float, before: frozenset[str]) -> Fill | None:
        """About as busy as fits, busier by the step in level, one way or the other by chance."""
        last = len(self.fills) - 1
        if last < 0:
            return None
        wanted = place.strokes_a_beat * len(place.beats)
        at = min(bisect_left(self.instants, wanted), last) + round((2 * draw - 1) * (1 + last / 3))
        at = min(max(min(max(at, 0), last) + place.step * (1 + last // 4), 0), last)
        order = sorted(range(last + 1), key=lambda index: (abs(index - at), index < at))
        return next((self.fills[index] for index in order if not self.fills[index].names & before), None)


class Chooser:
    """Chooses among a pool of fills; what it found out about the pool is kept, up to a point."""

    MOST_ROWS = 4096

    def __init__(self, pool: Sequence[Fill]) -> None:
        self.pool = tuple(pool)
        self._pool = frozenset(pool)
        self._usable: dict[tuple[object, ...], list[Fill]] = {}
        self._rows: dict[tuple[object, ...], _Rows] = {}

    def choose(self, place: Place, draw: float, before: frozenset[str] = NO_NAMES) -> Chosen | None:
        """The fill for a place, or None where the lanes that play cannot make one.

        Parameters
        ----------
        draw : chance, 0 to 1. before : the names of the fills played just before, which do not come again.
        """
        if len(self._rows) > self.MOST_ROWS:
            self._rows.clear()
        found = self._fitting(place, place.division).picked(place, draw, before)
        if found is not None:
            return Chosen(found)
        joined = self._joined(place, draw, before)
        if joined is not None:
            return Chosen(joined, f"it is joined from {joined.name}")
        slowed = self._slowed(place).picked(place, draw, before)
        if slowed is not None:
            return Chosen(slowed, f"{slowed.name} is played at half speed")
        found = self._fitting(place, None).picked(place, draw, before)
        if found is not None:
            return Chosen(found)
        runs = (played(fill, place.lanes) for fill in plain_runs(place.beats, place.bpm))
        run = next((fill for fill in runs if fill.name not in before and is_steady(fill, place.beats)), None)
        return None if run is None else Chosen(run, f"it is {run.name}")

    def usable(self, place: Place) -> list[Fill]:
        """Fills as the lanes that play have them, without those that would strike a crash or the hand's surface."""
        key = (place.lanes, place.hands)
        if key not in self._usable:
            fills = [played(fill, place.lanes) for fill in self.pool]
            self._usable[key] = [
                fill
                for fill, facts in zip(fills, map(facts_of, fills))
                if facts.steady
                and not facts.crashes
                and not any(same_hand(name, hand) for name in facts.surfaces for hand in place.hands)
            ]
        return self._usable[key]

    def _fitting(self, place: Place, division: str | None) -> _Rows:
        """Those of the place's length and tempo; of a division, or of any for None."""
        key = (place.beats, place.bpm, place.lanes, place.hands, division)
        if key not in self._rows:
            found = [
                fill
                for fill in self.usable(place)
                if fill.beats == place.beats
                and in_tempo(fill, place.bpm)
                and (division is None or facts_of(fill).division in (None, division))
            ]
            # A fill that loses nothing by the lanes that play is better than one with holes where the feet were.
            whole = [fill for fill in found if fill in self._pool]
            self._rows[key] = _Rows.of(whole if len(whole) > 1 else found)
        return self._rows[key]

    def _slowed(self, place: Place) -> _Rows:
        """Those that have the place's length and tempo at half speed."""
        key = (place.beats, place.bpm, place.lanes, place.hands, place.division, "half speed")
        if key not in self._rows:
            halves = [half_speed(fill) for fill in self.usable(place) if 2 * fill.whole == place.whole]
            self._rows[key] = _Rows.of(
                [
                    fill
                    for fill in halves
                    if in_tempo(fill, place.bpm)
                    and is_steady(fill, place.beats)
                    and division_of(place.beats, places_of(fill)) in (None, place.division)
                ]
            )
        return self._rows[key]

    def _joined(self, place: Place, draw: float, before: frozenset[str]) -> Fill | None:
        """Two or more shorter fills one after the other, the longest last; none reaches over a bar line."""
        for size in range(min(len(place.beats) - 1, place.last_bar or len(place.beats)), 0, -1):
            tail = replace(place, beats=place.beats[-size:])
            late = self._fitting(tail, place.division).picked(tail, draw, before)
            if late is None:
                continue
            left = place.last_bar - size if place.last_bar else 0
            head = replace(place, beats=place.beats[:-size], step=place.step - 1, last_bar=max(left, 0))
            taken = before | late.names
            early = self._fitting(head, place.division).picked(head, draw, taken) or self._joined(head, draw, taken)
            if early is not None:
                return together(early, late)
        return None


@lru_cache(maxsize=4)
def chooser(pool: tuple[Fill, ...]) -> Chooser:
    """The chooser of a pool."""
    return Chooser(pool)
