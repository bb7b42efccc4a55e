"""From an arrangement to events: ticks, surfaces and velocities as numpy arrays, with tempo and metre maps.

Everything here runs over arrays; a song of thousands of strokes has a handful of spans.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import gcd, lcm
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from grooveforge.core import tempo
from grooveforge.core.arrange import Arrangement, Section
from grooveforge.core.groove import Groove, Lane
from grooveforge.core.kit import BANDS, GHOST, GRACE_STROKES, SURFACE_CODES, Kind, sounding
from grooveforge.core.meter import Meter
from grooveforge.errors import MusicError

DIVISION = 480
"""Ticks to a quarter note, where the music needs no more."""

LARGEST_DIVISION = 32_767
"""The largest division that a Standard MIDI File holds (SMF 1.0, 15 bits)."""

GRACE_SECONDS = 0.030
"""Distance of grace strokes: a flam's is 20-45 ms before the stroke (facts of hearing: C. Sapp, onset order)."""

Ints = NDArray[np.int64]
Bytes = NDArray[np.uint8]
Value = TypeVar("Value")

FLAT = np.zeros(128, np.uint8)
for _band in BANDS:
    FLAT[_band.low : _band.high + 1] = _band.flat
FLAT.flags.writeable = False


class Events(NamedTuple):
    """Columns of one length: tick, surface code, velocity, stroke kind, ticks off the grid place."""

    tick: Ints
    surface: Ints
    velocity: Bytes
    kind: Bytes
    offset: Ints

    @classmethod
    def joined(cls, pieces: Iterable[Events]) -> Events:
        """Pieces one after the other."""
        listed = list(pieces)
        if not listed:
            ints, small = np.zeros(0, np.int64), np.zeros(0, np.uint8)
            return cls(ints, ints.copy(), small, small.copy(), ints.copy())
        return cls(
            np.concatenate([piece.tick for piece in listed]),
            np.concatenate([piece.surface for piece in listed]),
            np.concatenate([piece.velocity for piece in listed]),
            np.concatenate([piece.kind for piece in listed]),
            np.concatenate([piece.offset for piece in listed]),
        )

    def rows(self, index: NDArray[np.int64] | NDArray[np.bool_]) -> Events:
        """The rows that an index or mask picks."""
        return Events(
            self.tick[index], self.surface[index], self.velocity[index], self.kind[index], self.offset[index]
        )


@dataclass(frozen=True, eq=False)
class Performance:
    """The events of a song.

    Parameters
    ----------
    division : ticks to a quarter note.
    events : read-only columns sorted by tick, then surface. `surface` holds `kit.SURFACE_CODES`, `kind` `Kind`
        codes, `offset` the ticks that an event stands off its grid place. Grace strokes of flams and drags are
        events of their own, of kind GHOST.
    tempos : (tick, quarter notes a minute); meters : (tick, metre); markers : (tick, section name).
    end : the tick of the bar line after the last bar.
    """

    division: int
    events: Events
    tempos: tuple[tuple[int, Fraction], ...]
    meters: tuple[tuple[int, Meter], ...]
    markers: tuple[tuple[int, str], ...]
    end: int

    def __len__(self) -> int:
        return int(self.events.tick.size)

    def between(self, start: int, end: int) -> Performance:
        """The events from tick `start` up to but without `end`, with `start` as tick 0.

        Tempo and metre that hold at `start` stand at tick 0. An event that belongs to the first bar but was
        pulled before it stands at tick 0; the grace strokes of one there are left out.
        """
        place = self.events.tick - self.events.offset
        inside = (place >= start) & (place < end)
        events = self.events.rows(inside)
        ticks = np.maximum(events.tick - start, 0)
        return Performance(
            self.division,
            _sorted(events._replace(tick=ticks, offset=ticks - (place[inside] - start))),
            _held(self.tempos, start, end),
            _held(self.meters, start, end),
            tuple((at - start, name) for at, name in self.markers if start <= at < end),
            end - start,
        )


def _held(changes: tuple[tuple[int, Value], ...], start: int, end: int) -> tuple[tuple[int, Value], ...]:
    """What holds at `start`, at tick 0, and the changes after it up to `end`."""
    before = [(0, value) for at, value in changes if at <= start][-1:]
    return (*before, *((at - start, value) for at, value in changes if start < at < end))


def division_for(sections: Iterable[Section]) -> int:
    """Ticks to a quarter that put every stroke on a whole tick: 480, or the least multiple that does.

    Raises
    ------
    MusicError
        When a MIDI file cannot hold it; the error names the section.
    """
    division = DIVISION
    for section in sections:
        for span in section.spans:
            grid = span.groove.grid
            if 4 * division % grid:
                grid = span.groove.coarsest.grid
            division = lcm(division, grid // gcd(grid, 4))
        if division > LARGEST_DIVISION:
            raise MusicError(
                f"the grids up to {section.name!r} (bar {section.bar}) need {division} ticks to a quarter note",
                allowed=f"at most {LARGEST_DIVISION}",
                hint="fewer different grids in one song",
            )
    return division


def perform(arrangement: Arrangement) -> Performance:
    """The events of an arrangement, at flat levels.

    Raises
    ------
    MusicError
        When the grids need more ticks than a MIDI file holds.
    """
    division = division_for(arrangement.sections)
    pieces: list[Events] = []
    tempos: list[tuple[int, Fraction]] = []
    meters: list[tuple[int, Meter]] = []
    markers: list[tuple[int, str]] = []
    tick = 0
    for section in arrangement.sections:
        markers.append((tick, section.name))
        if not meters or (meters[-1][1].upper, meters[-1][1].lower) != (section.meter.upper, section.meter.lower):
            meters.append((tick, section.meter))
        for start, bpm in section.tempo:
            if not tempos or tempos[-1][1] != bpm:
                tempos.append((tick + int(start * division), bpm))
        for span in section.spans:
            start_tick = tick + int((span.bar - section.bar) * section.meter.quarters * division)
            pieces += groove_events(span.groove, division, start_tick)
        tick += int(section.quarters * division)
    events = _sorted(_with_graces(Events.joined(pieces), tempos, division))
    return Performance(division, events, tuple(tempos), tuple(meters), tuple(markers), tick)


def groove_events(groove: Groove, division: int, start: int) -> Iterator[Events]:
    """The strokes of a groove whose first step stands at tick `start`, lane by lane, flat, without graces."""
    for name, lane in groove.voices:
        steps = lane.struck
        places = start + steps * (4 * division) // groove.grid
        ticks = np.maximum(places + np.rint(lane.offset[steps] * division).astype(np.int64), 0)
        codes, velocities = _sounding_codes(name, lane, steps)
        yield Events(ticks, codes, velocities, lane.kind[steps], ticks - places)


def _sounding_codes(name: str, lane: Lane, steps: Ints) -> tuple[Ints, Bytes]:
    """Surface codes and flat velocities of a lane's strokes, the colours of the hand resolved."""
    kinds = lane.kind[steps]
    velocities = FLAT[lane.velocity[steps]]
    codes = np.full(steps.size, SURFACE_CODES[name], np.int64)
    if kinds.size and int(kinds.max()) > Kind.DRAG:
        for kind in np.unique(kinds):
            chosen = kinds == kind
            target, least = sounding(name, Kind(int(kind)), 1)
            codes[chosen] = SURFACE_CODES[target]
            velocities[chosen] = np.maximum(velocities[chosen], least)
    return codes, velocities


def _with_graces(events: Events, tempos: list[tuple[int, Fraction]], division: int) -> Events:
    """The events with the grace strokes of flams and drags added, 30 ms apart; none before tick 0."""
    ornaments = [(np.flatnonzero(events.kind == kind), count) for kind, count in GRACE_STROKES.items()]
    if not any(rows.size for rows, _ in ornaments):
        return events
    at = np.array([start for start, _ in tempos])
    gaps = np.array([float(bpm) / 60 * division * GRACE_SECONDS for _, bpm in tempos])
    pieces = [events]
    for rows, count in ornaments:
        gap = gaps[np.searchsorted(at, events.tick[rows], side="right") - 1]
        for number in range(1, count + 1):
            back = np.maximum(np.rint(gap * number).astype(np.int64), number)
            kept = rows[events.tick[rows] >= back]
            graces = events.rows(kept)
            back = back[events.tick[rows] >= back]
            ghost = np.full(kept.size, Kind.GHOST, np.uint8)
            level = np.full(kept.size, GHOST, np.uint8)
            pieces.append(Events(graces.tick - back, graces.surface, level, ghost, graces.offset - back))
    return Events.joined(pieces)


def _sorted(events: Events) -> Events:
    """Rows by tick, then surface; of two strokes of one surface on one tick the louder stays, of equals the one
    nearest its place."""
    order = np.lexsort((np.abs(events.offset), -events.velocity.astype(np.int16), events.surface, events.tick))
    tick, surface = events.tick[order], events.surface[order]
    first = np.ones(order.size, bool)
    first[1:] = (np.diff(tick) != 0) | (np.diff(surface) != 0)
    rows = events.rows(order[first])
    for column in rows:
        column.flags.writeable = False
    return rows


def section_ticks(arrangement: Arrangement, division: int) -> list[tuple[int, int]]:
    """First tick and tick after the end of every section."""
    edges = [0]
    for section in arrangement.sections:
        edges.append(edges[-1] + int(section.quarters * division))
    return list(pairwise(edges))


def seconds_at(performance: Performance, ticks: Ints) -> NDArray[np.float64]:
    """When ticks sound, in seconds, with tempi as a MIDI file holds them; shape as `ticks`."""
    at = np.array([start for start, _ in performance.tempos], np.float64)
    rate = np.array([tempo.microseconds(bpm) for _, bpm in performance.tempos]) / 1e6 / performance.division
    begun = np.concatenate(([0.0], np.cumsum(np.diff(at) * rate[:-1])))
    row = np.searchsorted(at, ticks, side="right") - 1
    return begun[row] + (np.asarray(ticks) - at[row]) * rate[row]
