"""A record of what was rendered, both ways: every stroke with its place, its note and its level as they went out.

`merge` compares a drummer's file with it. It is made and read by this package alone, and one that cannot be read
is as good as none. Inside the compressed bytes stands a line of JSON, then the columns of the strokes one behind
the other as whole numbers of 8 bytes, low byte first: as text they would take longer than the song takes to make.
"""

from __future__ import annotations

import json
import zlib
from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from math import lcm
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.arrange import Arrangement
from grooveforge.core.kit import BANDS, SURFACE_NAMES, Kind
from grooveforge.core.meter import Meter
from grooveforge.core.perform import Performance
from grooveforge.core.played import places_of
from grooveforge.core.played_bar import Place
from grooveforge.errors import FormatError, GrooveForgeError
from grooveforge.formats.keymap import KeyMap
from grooveforge.formats.smf import louder_of_doubles

if TYPE_CHECKING:
    from grooveforge.formats.drum_part import DrumPart

Ints = NDArray[np.int64]

VERSION = 2
COLUMNS = ("tick", "place", "surface", "velocity", "kind", "note", "written")
NUMBER = np.dtype("<i8")
EFFORT = 3
"""Of zlib: more saves little and takes longer than all the rest."""


@dataclass(frozen=True)
class BarRecord:
    """A bar: its first tick, metre, place in the form, tempo at its start, the hand's surface, whether a drummer's
    strokes stand in it."""

    tick: int
    meter: Meter
    place: Place
    bpm: float
    hand: str | None = None
    played: bool = False


@dataclass(frozen=True, eq=False)
class Record:
    """What was rendered.

    Parameters
    ----------
    division : ticks to a quarter note. bars : in order. end : the bar line after the last one.
    columns : (n,) arrays by name, rows by tick: tick, place on the grid (of a grace stroke its stroke's), surface
        code, velocity, kind, and the note and velocity that were written. No note stands twice on one tick.
    """

    title: str
    division: int
    key_map: KeyMap
    bars: tuple[BarRecord, ...]
    end: int
    columns: Mapping[str, Ints] = field(default_factory=dict)

    def __len__(self) -> int:
        return int(self.columns["tick"].size)

    @property
    def bar_of_row(self) -> Ints:
        """(n,) the bar, from 0, that each stroke belongs to."""
        starts = np.array([bar.tick for bar in self.bars], np.int64)
        found: Ints = np.clip(np.searchsorted(starts, self.columns["place"], side="right") - 1, 0, len(starts) - 1)
        return found


def record_of(arrangement: Arrangement, performance: Performance, key_map: KeyMap) -> Record:
    """The record of a song that was rendered with a key map."""
    events = performance.events
    notes, written, _ = key_map.apply(events.surface, events.velocity)
    rows = louder_of_doubles(events.tick, notes, written.astype(np.int64))
    every = (events.tick, events.tick - events.offset, events.surface, events.velocity, events.kind, notes, written)
    columns = {name: np.asarray(column, np.int64)[rows] for name, column in zip(COLUMNS, every)}
    places = iter(places_of(arrangement.sections))
    tempo_starts = [start for start, _ in performance.tempos]
    bars: list[BarRecord] = []
    tick = 0
    for section in arrangement.sections:
        changed = dict(section.played)
        for begin, span in section.placed_spans:
            length = int(span.groove.meter.quarters * performance.division)
            for bar in range(span.groove.bars):
                at = tick + int(4 * begin * performance.division) + bar * length
                played = span.bar + bar in changed
                bpm = float(performance.tempos[bisect_right(tempo_starts, at) - 1][1])
                bars.append(BarRecord(at, span.groove.meter, next(places), bpm, span.groove.surface, played))
        tick += int(section.quarters * performance.division)
    return Record(arrangement.title, performance.division, key_map, tuple(bars), performance.end, columns)


def record_of_part(part: DrumPart, now: Record) -> Record:
    """The record of a file that went out; its bars, which were checked, are those of the song now."""
    from grooveforge.formats.drums_groove import place_part  # a render writes records and reads no MIDI

    placed = place_part(part)
    division = lcm(part.division, now.division)
    scale = division // part.division
    bars = tuple(replace(bar, tick=bar.tick * division // now.division) for bar in now.bars)
    starts = np.array([bar.tick for bar in bars], np.int64)
    place = starts[np.minimum(placed.bar, len(bars) - 1)] + placed.step * 4 * division // placed.grid[placed.bar]
    kind = np.where(placed.is_grace | (part.velocity <= BANDS[0].high), int(Kind.GHOST), int(Kind.PLAIN))
    every = (part.tick * scale, place, part.surfaces, part.velocity, kind, part.note, part.velocity)
    columns = {name: np.asarray(column, np.int64) for name, column in zip(COLUMNS, every)}
    return Record(now.title, division, part.key_map, bars, now.end * division // now.division, columns)


def record_bytes(record: Record) -> bytes:
    """A record as bytes; equal records give equal bytes."""
    table = {
        "version": VERSION,
        "title": record.title,
        "division": record.division,
        "end": record.end,
        "key_map": [record.key_map.name, {name: list(rows) for name, rows in record.key_map.notes.items()},
                    dict(record.key_map.fallbacks)],
        "bars": [[bar.tick, str(bar.meter), list(bar.meter.grouping), bar.place.section, bar.place.statement,
                  bar.place.bar, bar.bpm, bar.hand, bar.played] for bar in record.bars],
    }  # fmt: skip
    head = json.dumps(table, ensure_ascii=False, separators=(",", ":")).encode()
    tick, place, *others = (record.columns[name] for name in COLUMNS)
    steps = (np.diff(tick, prepend=0), tick - place, *others)  # small numbers, alike from bar to bar
    return zlib.compress(b"\n".join((head, b"".join(column.astype(NUMBER).tobytes() for column in steps))), EFFORT)


def read_record(data: bytes) -> Record:
    """The record that bytes hold.

    Raises
    ------
    FormatError
        When they hold none.
    """
    try:
        head, _, strokes = zlib.decompress(data).partition(b"\n")
        return _record(json.loads(head), np.frombuffer(strokes, NUMBER).reshape(len(COLUMNS), -1))
    except (zlib.error, ValueError, TypeError, KeyError, IndexError, GrooveForgeError, RecursionError) as error:
        raise FormatError("this is no record of what was rendered") from error


def _record(table: Any, steps: Ints) -> Record:
    if table["version"] != VERSION:
        raise FormatError("a record of another version")
    name, notes, fallbacks = table["key_map"]
    bars = []
    for tick, meter, grouping, section, statement, bar, bpm, hand, played in table["bars"]:
        upper, lower = (int(figure) for figure in meter.split("/"))
        place = Place(str(section), int(statement), int(bar))
        bars.append(BarRecord(int(tick), Meter(upper, lower, tuple(grouping)), place, float(bpm), hand, bool(played)))
    tick = np.cumsum(steps[0])
    columns = dict(zip(COLUMNS, (tick, tick - steps[1], *steps[2:].astype(np.int64))))
    if not bars:
        raise FormatError("a record without bars")
    if not set(columns["surface"].tolist()) <= set(SURFACE_NAMES):
        raise FormatError("a record with surfaces that no kit has")
    key_map = KeyMap(str(name), {key: tuple(rows) for key, rows in notes.items()}, fallbacks)
    return Record(str(table["title"]), int(table["division"]), key_map, tuple(bars), int(table["end"]), columns)
