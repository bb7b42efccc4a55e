"""A performance as two limbs of a kind meet it: instants at which hands, or feet, have something to do.

Strokes of one place on the grid are one instant, whatever a loose hand does to them, and so are strokes closer than
10 ms. The grace strokes of a flam or drag belong to its stroke, which takes both limbs.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from grooveforge.analysis.bars import bar_lines
from grooveforge.analysis.chains import SECOND
from grooveforge.analysis.options import KICK, PEDAL, HandStroke
from grooveforge.analysis.zones import NO_ZONE, ZONE_OF_CODE
from grooveforge.core.kit import GRACE_STROKES, HI_HATS, SURFACE_CODES, Kind
from grooveforge.core.perform import Performance, seconds_at
from grooveforge.core.strokes import Events

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Truths = NDArray[np.bool_]

CLOSE_SECONDS = 0.010
"""Strokes closer than this are one instant: the order of two hits is just heard at 22 ms (C. Sapp, onset order)."""

_ROUNDING = 0.5371
"""Added before whole microseconds are cut off; at no fraction that ticks and tempi make does noise decide."""

LETTERS = ("", "R", "L", "B")
"""Written hands by their codes: none, leading, other, both."""

_FLAM, _CHOKE = 2, 1
_CHANGE = max(SURFACE_CODES.values()) + 1
"""The code of a hi-hat opened or closed by the foot, beside those of surfaces."""


@dataclass(frozen=True, eq=False)
class Work:
    """What one pair of limbs has to do.

    Parameters
    ----------
    group : (m,) instants of the passage at which it has something to do. gap : (m,) microseconds since the one before.
    first : (m + 1,) first row of each instant. code : rows; surface codes, times 4, with marks of flam and choke.
    written : (m,) codes of the hands that are written, all 0 where none is.
    """

    group: Ints
    gap: Ints
    first: Ints
    code: Ints
    written: Ints

    def __len__(self) -> int:
        return int(self.group.size)

    def rows(self, instant: int) -> list[int]:
        found: list[int] = self.code[self.first[instant] : self.first[instant + 1]].tolist()
        return found

    def hand_strokes(self, instant: int) -> tuple[HandStroke, ...]:
        """The strokes of an instant of the hands, a flam twice."""
        strokes = []
        for row in self.rows(instant):
            stroke = HandStroke(row >> 2, bool(row & _CHOKE))
            strokes += [stroke, HandStroke(stroke.code)] if row & _FLAM else [stroke]
        return tuple(strokes)

    def foot_work(self, instant: int) -> tuple[int, bool]:
        """Kicks of an instant of the feet, and whether the hi-hat's pedal moves."""
        kicks = [1 + bool(row & _FLAM) for row in self.rows(instant) if row >> 2 == KICK]
        return sum(kicks), any(row >> 2 != KICK for row in self.rows(instant))

    def key(self, low: int, high: int) -> bytes:
        """What equal stretches of instants have in common."""
        first = self.first[low : high + 1]
        columns = (self.gap[low:high], first - first[0], self.code[first[0] : first[-1]], self.written[low:high])
        return b"".join(column.tobytes() + b"|" for column in columns)


@dataclass(frozen=True, eq=False)
class Passage:
    """A performance in bars and instants.

    Parameters
    ----------
    lines : (bars + 1,) ticks of the bar lines. place : (n,) tick of each instant on the grid.
    seconds : (n,) when it sounds. bar : (n,) from 0. hands, feet : what the limbs have to do.
    """

    lines: Ints
    line_seconds: Floats
    place: Ints
    seconds: Floats
    bar: Ints
    hands: Work
    feet: Work
    division: int

    @property
    def bars(self) -> int:
        return int(self.lines.size) - 1

    def beat(self, instant: int) -> float:
        """Quarter notes from the bar line, from 1.0."""
        return round(1 + float(self.place[instant] - self.lines[self.bar[instant]]) / self.division, 4)

    def edges(self, work: Work) -> list[int]:
        """The first instant of each bar in the work of one pair of limbs, and one past the last."""
        edges: list[int] = np.searchsorted(self.bar[work.group], np.arange(self.bars + 1)).tolist()
        return edges

    @cached_property
    def bar_seconds(self) -> Floats:
        """(bars,) how long each bar lasts."""
        lengths: Floats = np.diff(self.line_seconds)
        return lengths


def passage_of(performance: Performance, written: Mapping[int, str] | None = None, slower: float = 1.0) -> Passage:
    """A performance as a passage to be played.

    Parameters
    ----------
    written : hands by tick where a sticking is written: "R", "L", "B". slower : how many times as long it lasts.
    """
    events = without_graces(performance.events)
    places = np.maximum(events.tick - events.offset, 0)
    order = np.lexsort((events.surface, places))
    events, places = events.rows(order), places[order]
    group, place, seconds = _groups(performance, events, places)
    seconds = seconds * slower
    lines = bar_lines(performance)
    bar = np.clip(np.searchsorted(lines, place, side="right") - 1, 0, max(lines.size - 2, 0))
    flams = np.isin(events.kind, list(GRACE_STROKES))
    codes = events.surface * 4 + _FLAM * flams + _CHOKE * (events.kind == Kind.CHOKE)
    hand = ZONE_OF_CODE[events.surface] != NO_ZONE
    letters = _letters(place, written)
    hands = _work(group[hand], codes[hand], seconds, letters)
    feet = _work(*_feet(events, group, codes), seconds, np.zeros_like(letters))
    line_seconds = seconds_at(performance, lines) * slower
    return Passage(lines, line_seconds, place, seconds, bar, hands, feet, performance.division)


def without_graces(events: Events) -> Events:
    """The events without the grace strokes of flams and drags."""
    ornate = np.isin(events.kind, list(GRACE_STROKES))
    if not ornate.any():
        return events
    key = (events.tick - events.offset) * (_CHANGE + 1) + events.surface
    grace = np.isin(key, key[ornate]) & ~ornate & (events.kind == Kind.GHOST) & (events.offset < 0)
    return events.rows(~grace)


def _groups(performance: Performance, events: Events, places: Ints) -> tuple[Ints, Ints, Floats]:
    """For each event its instant, and for each instant its place and when it sounds."""
    if not places.size:
        return places, places, np.zeros(0)
    new = np.ones(places.size, bool)
    new[1:] = np.diff(places) != 0
    firsts = np.flatnonzero(new)
    seconds = np.maximum.accumulate(seconds_at(performance, events.tick[firsts]))
    apart = np.ones(firsts.size, bool)
    apart[1:] = np.diff(seconds) >= CLOSE_SECONDS
    group = np.cumsum(apart)[np.cumsum(new) - 1] - 1
    return group, places[firsts[apart]], seconds[apart]


def _letters(place: Ints, written: Mapping[int, str] | None) -> Ints:
    if not written:
        return np.zeros(place.size, np.int64)
    return np.array([LETTERS.index(written.get(tick, "")) for tick in place.tolist()], np.int64)


def _work(group: Ints, codes: Ints, seconds: Floats, letters: Ints) -> Work:
    """Rows of one pair of limbs, by instant; a stroke that stands there twice is one."""
    span = 4 * (_CHANGE + 1)
    rows: Ints = np.unique(group * span + codes)
    group, codes = rows // span, rows % span
    instants, first = np.unique(group, return_index=True)
    # Before the first instant everything rests.
    at = np.concatenate(([-1e3], seconds[instants]))
    gap = np.floor(np.diff(at) * SECOND + _ROUNDING).astype(np.int64)
    if gap.size:
        gap[0] = 1000 * SECOND
    return Work(instants, gap, np.append(first, group.size).astype(np.int64), codes, letters[instants])


def _feet(events: Events, group: Ints, codes: Ints) -> tuple[Ints, Ints]:
    """Instants and codes of what the feet do: kicks, the hi-hat's pedal, and changes of how open the hi-hat is.

    The pedal closes the hi-hat; the first stroke finds it as it wants it.
    """
    opening = np.full(_CHANGE + 1, -1, np.int64)
    for openness, name in enumerate(HI_HATS):
        opening[SURFACE_CODES[name]] = openness
    opening[PEDAL] = 0
    hats = np.flatnonzero(opening[events.surface] >= 0)
    changed = hats[1:][np.diff(opening[events.surface[hats]]) != 0]
    changed = changed[events.surface[changed] != PEDAL]
    struck = np.flatnonzero((events.surface == KICK) | (events.surface == PEDAL))
    groups = np.concatenate((group[struck], group[changed]))
    rows = np.concatenate((codes[struck], np.full(changed.size, _CHANGE * 4, np.int64)))
    order = np.lexsort((rows, groups))
    return groups[order], rows[order]
