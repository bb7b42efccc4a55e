"""From an arrangement to events: ticks, surfaces and velocities as numpy arrays, with tempo and metre maps.

Everything here runs over arrays; a song of thousands of strokes has a handful of spans.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import gcd, lcm
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from grooveforge.core import tempo
from grooveforge.core.breathing import Chance, peak_section, section_events
from grooveforge.core.meter import Meter
from grooveforge.core.played import with_played
from grooveforge.core.rows import first_of_each
from grooveforge.core.section import Arrangement, Section
from grooveforge.core.strokes import Events
from grooveforge.errors import MusicError

DIVISION = 480
"""Ticks to a quarter note, where the music needs no more."""

LARGEST_DIVISION = 32_767
"""The largest division that a Standard MIDI File holds (SMF 1.0, 15 bits)."""

Ints = NDArray[np.int64]
Value = TypeVar("Value")


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
        for span in (*section.spans, *section.arranged):
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


def perform(arrangement: Arrangement, plain: bool = False) -> Performance:
    """The events of an arrangement.

    Parameters
    ----------
    plain : leave out swing, looseness and shaped levels, whatever the sections say.

    Raises
    ------
    MusicError
        When the grids need more ticks than a MIDI file holds.
    """
    division = division_for(arrangement.sections)
    peak = peak_section(arrangement.sections)
    pieces: list[Events] = []
    tempos: list[tuple[int, Fraction]] = []
    meters: list[tuple[int, Meter]] = []
    markers: list[tuple[int, str]] = []
    tick = 0
    for section in arrangement.sections:
        markers.append((tick, section.name))
        for begin, span in section.placed_spans:
            meter = span.groove.meter
            if not meters or (meters[-1][1].upper, meters[-1][1].lower) != (meter.upper, meter.lower):
                meters.append((tick + int(4 * begin * division), meter))
        for start, bpm in section.tempo:
            if not tempos or tempos[-1][1] != bpm:
                tempos.append((tick + int(start * division), bpm))
        chance = None if plain else Chance(arrangement.seed, section is peak)
        events = section_events(section.as_arranged, division, tick, chance)
        pieces.append(with_played(section, events, division, tick) if section.played else events)
        tick += int(section.quarters * division)
    events = _sorted(Events.joined(pieces))
    return Performance(division, events, tuple(tempos), tuple(meters), tuple(markers), tick)


def _sorted(events: Events) -> Events:
    """Rows by tick, then surface; of two strokes of one surface on one tick the louder stays, of equals the one
    nearest its place."""
    best = -events.velocity.astype(np.int16), np.abs(events.offset)
    rows = events.rows(first_of_each((events.tick, events.surface), best))
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
