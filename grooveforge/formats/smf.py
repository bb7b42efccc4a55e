"""What a Standard MIDI File holds, as frozen values over arrays.

The layer knows nothing about drums: notes, events, tempi, metres and texts. Ticks are absolute, counted
from the beginning of the file. Source of the layout: Standard MIDI Files 1.0 (MMA RP-001).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields
from types import MappingProxyType
from typing import Any, ClassVar

import numpy as np
import numpy.typing as npt

from grooveforge.core.rows import first_of_each
from grooveforge.errors import UsageError

IntArray = npt.NDArray[np.int64]
ByteArray = npt.NDArray[np.uint8]

SIZE = bytes((0, 2, 2, 2, 2, 1, 1, 2, 0)[max(0, (status >> 4) - 7)] for status in range(256))
"""Number of data bytes of a channel message by its status byte."""


def no_ints() -> IntArray:
    """An empty column."""
    return np.empty(0, np.int64)


def _frozen(values: npt.ArrayLike, dtype: type[Any]) -> npt.NDArray[Any]:
    """A read-only copy, so that the value cannot change behind its owner's back; never rounded."""
    given = np.asarray(values)
    array = given.astype(dtype, casting="same_kind" if given.size else "unsafe", copy=True).reshape(-1)
    array.flags.writeable = False
    return array


def _comparable(value: object) -> object:
    if isinstance(value, np.ndarray):
        return value.tobytes()
    if isinstance(value, Mapping):
        return tuple(sorted(value.items()))
    return value


class ArrayValue:
    """Equality and hash by content, for frozen dataclasses that hold arrays."""

    __dataclass_fields__: ClassVar[dict[str, Any]]

    def _content(self) -> tuple[object, ...]:
        return tuple(_comparable(getattr(self, item.name)) for item in fields(self))

    def __eq__(self, other: object) -> bool:
        if type(other) is not type(self):
            return NotImplemented
        return self._content() == other._content()

    def __hash__(self) -> int:
        return hash(self._content())

    def _freeze(self, names: Iterable[str], dtype: type[Any]) -> None:
        for name in names:
            object.__setattr__(self, name, _frozen(getattr(self, name), dtype))
        sizes = {name: len(getattr(self, name)) for name in names}
        if len(set(sizes.values())) > 1:
            raise UsageError("columns of unequal length", found=str(sizes))


@dataclass(frozen=True, eq=False)
class EventTable(ArrayValue):
    """Every event of a track in its order, but for the end of track (that is `SmfTrack.end_tick`).

    Parameters
    ----------
    tick : (n,) int64, never falling.
    status : (n,) uint8, 0x80 to 0xEF with the channel, 0xF0 and 0xF7 system exclusive, 0xFF meta.
    data1, data2 : (n,) uint8; `data1` of a meta event is its type; 0 where the event has no such byte.
    payload : row number -> the bytes after the length, for every row of status 0xF0, 0xF7 and 0xFF.
    """

    tick: IntArray
    status: ByteArray
    data1: ByteArray
    data2: ByteArray
    payload: Mapping[int, bytes] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._freeze(("tick",), np.int64)
        self._freeze(("status", "data1", "data2"), np.uint8)
        object.__setattr__(self, "payload", MappingProxyType(dict(self.payload)))

    def __len__(self) -> int:
        return len(self.tick)

    def metas(self) -> list[tuple[int, int, bytes]]:
        """The meta events as (tick, type, bytes), in their order."""
        rows = [row for row in self.payload if self.status[row] == 0xFF]
        ticks, kinds = self.tick[rows].tolist(), self.data1[rows].tolist()
        return [(tick, kind, self.payload[row]) for tick, kind, row in zip(ticks, kinds, rows, strict=True)]


@dataclass(frozen=True, eq=False)
class NoteTable(ArrayValue):
    """The notes of a track in the order of their note-ons.

    Parameters
    ----------
    tick, duration : (n,) int64 ticks; a duration may be 0.
    note, velocity, channel : (n,) int64; 0 to 127, 1 to 127, 0 to 15.
    on_event, off_event : (n,) int64 rows of the event table; `off_event` is -1 when there is no note-off.
    """

    tick: IntArray
    note: IntArray
    velocity: IntArray
    channel: IntArray
    duration: IntArray
    on_event: IntArray
    off_event: IntArray

    def __post_init__(self) -> None:
        self._freeze([item.name for item in fields(self)], np.int64)

    def __len__(self) -> int:
        return len(self.tick)


@dataclass(frozen=True, eq=False)
class TempoTable(ArrayValue):
    """Tempo events: (n,) ticks, never falling, and (n,) microseconds a quarter."""

    tick: IntArray = field(default_factory=no_ints)
    microseconds: IntArray = field(default_factory=no_ints)

    def __post_init__(self) -> None:
        self._freeze(("tick", "microseconds"), np.int64)

    def __len__(self) -> int:
        return len(self.tick)


@dataclass(frozen=True)
class SmfWarning:
    """What a reader had to bend: a sentence, the track (from 1; 0 is the whole file) and the first tick.

    One warning stands for all of its kind in a track.
    """

    message: str
    track: int = 0
    tick: int = 0

    def __str__(self) -> str:
        return f"track {self.track}, tick {self.tick}: {self.message}" if self.track else self.message


@dataclass(frozen=True)
class SmfTrack:
    """One track: its name, where it ends, its notes and every event.

    `start_tick` is 0 but in a file of format 2, whose tracks stand one after the other.
    """

    name: str
    end_tick: int
    notes: NoteTable
    events: EventTable
    start_tick: int = 0

    def rows_but_notes(self, channel: int) -> IntArray:
        """Rows of all events that are no note-on and no note-off of `channel` (0 to 15)."""
        kind, at = self.events.status >> 4, self.events.status & 15
        return np.flatnonzero(~(((kind == 8) | (kind == 9)) & (at == channel))).astype(np.int64)


@dataclass(frozen=True)
class SmfFile:
    """A whole file.

    Parameters
    ----------
    format : 0, 1 or 2.
    division : ticks a quarter, 1 to 32767.
    tracks, warnings : in the order of the file.
    tempos, meters, markers : gathered from all tracks, by tick; `meters` as (tick, upper, lower), `markers`
        as (tick, text) from the markers, else the cues, else the texts. All are empty where the file says
        nothing (which means 120 quarters a minute and 4/4).
    """

    format: int
    division: int
    tracks: tuple[SmfTrack, ...] = ()
    warnings: tuple[SmfWarning, ...] = ()
    tempos: TempoTable = field(default_factory=TempoTable)
    meters: tuple[tuple[int, int, int], ...] = ()
    markers: tuple[tuple[int, str], ...] = ()

    def metas(self, kind: int) -> list[tuple[int, bytes]]:
        """(tick, bytes) of all meta events of one type, from any track, by tick."""
        found = (meta for track in self.tracks for meta in track.events.metas())
        return sorted(((tick, data) for tick, what, data in found if what == kind), key=lambda item: item[0])


def louder_of_doubles(tick: IntArray, note: IntArray, velocity: IntArray) -> IntArray:
    """Rows by tick, then note; of several of one note on one tick the loudest, of equals the first."""
    return first_of_each((tick, note), (-velocity,))
