"""The writer of Standard MIDI Files: one canonical form, whole arrays at a time.

At one tick: meta events (or events kept from a file that came in) in their given order, then note-offs, then
note-ons, both by ascending note; a note of length 0 ends right behind its own beginning. Note-offs are
status 0x80 with velocity 64, the value that the specification gives to keys without release sensing. No
running status; every delta time and length in its shortest form.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import accumulate

import numpy as np

from grooveforge.errors import FormatError, UsageError
from grooveforge.formats.smf import SIZE, ArrayValue, ByteArray, EventTable, IntArray, SmfFile, SmfTrack, no_ints
from grooveforge.formats.smf_events import (
    END_OF_TRACK,
    LARGEST_VLQ,
    encode_vlq,
    meta_event,
    put_vlqs,
    vlq_sizes,
)

OFF_VELOCITY = 64
MOST_TRACKS = 0xFFFF
_LAST_TICK = 1 << 52
_KEPT, _OFF, _ON, _LATE_OFF = range(4)
"""Order at one tick."""


@dataclass(frozen=True, eq=False)
class NotesOut(ArrayValue):
    """Notes to be written, in any order.

    Parameters
    ----------
    tick, note, velocity, duration : (n,) int64; 0 and up, 0 to 127, 1 to 127, 0 and up (ticks).
    channel : 0 to 15; 9 is the drums' (channel 10).
    """

    tick: IntArray = field(default_factory=no_ints)
    note: IntArray = field(default_factory=no_ints)
    velocity: IntArray = field(default_factory=no_ints)
    duration: IntArray = field(default_factory=no_ints)
    channel: int = 9

    def __post_init__(self) -> None:
        self._freeze(("tick", "note", "velocity", "duration"), np.int64)

    def __len__(self) -> int:
        return len(self.tick)


@dataclass(frozen=True)
class TrackOut:
    """A track made from nothing.

    Parameters
    ----------
    meta : (tick, whole event without delta time), such as from `tempo_event`, in any order of ticks.
    notes : the notes of one channel.
    end_tick : where the track ends; a later event moves it back.
    """

    meta: Sequence[tuple[int, bytes]] = ()
    notes: NotesOut = field(default_factory=NotesOut)
    end_tick: int = 0

    def __post_init__(self) -> None:
        object.__setattr__(self, "meta", tuple(self.meta))


@dataclass(frozen=True, eq=False)
class RawTrackOut(ArrayValue):
    """A track of a file that came in, to be written again.

    Parameters
    ----------
    keep : rows of the track's event table that stay, ascending; None for all.
    notes : new notes, in the ticks of the file.
    end_tick : None for where the track ended; a later event moves it back.
    """

    keep: IntArray | None = None
    notes: NotesOut = field(default_factory=NotesOut)
    end_tick: int | None = None

    def __post_init__(self) -> None:
        if self.keep is not None:
            self._freeze(("keep",), np.int64)


@dataclass(frozen=True)
class _Events:
    """Events of one track in order: ticks, and their bytes as pieces of a pool."""

    tick: IntArray
    start: IntArray
    size: IntArray
    pool: ByteArray


def write_smf(format: int, division: int, tracks: Sequence[TrackOut]) -> bytes:
    """A Standard MIDI File with `division` ticks a quarter (1 to 32767).

    Raises
    ------
    FormatError
        When a value fits no MIDI file; the place names track and tick.
    """
    chunks = []
    for number, track in enumerate(tracks, 1):
        meta = sorted(track.meta, key=lambda item: item[0])
        kept = _pieces([tick for tick, _ in meta], [data for _, data in meta])
        chunks.append(_chunk(kept, track.notes, track.end_tick, number))
    return _header(format, division, len(chunks)) + b"".join(chunks)


def write_raw(file: SmfFile, tracks: Sequence[RawTrackOut] | None = None) -> bytes:
    """The file again, track by track, with the kept events in their order and bytes and with new notes.

    Without `tracks` the whole file is written as it came. At one tick the kept events stand first.

    Raises
    ------
    FormatError
        When a value fits no MIDI file; the place names track and tick.
    """
    plans = [RawTrackOut()] * len(file.tracks) if tracks is None else tracks
    if len(plans) != len(file.tracks):
        raise UsageError(
            "a plan is needed for every track", found=str(len(plans)), allowed=str(len(file.tracks))
        )
    chunks = []
    for number, (track, plan) in enumerate(zip(file.tracks, plans, strict=True), 1):
        end = track.end_tick if plan.end_tick is None else plan.end_tick
        chunks.append(_chunk(_kept(track, plan.keep), plan.notes, end, number, track.start_tick))
    return _header(file.format, file.division, len(chunks)) + b"".join(chunks)


def _header(form: int, division: int, count: int) -> bytes:
    for name, value, least, limit in (
        ("format", form, 0, 2),
        ("number of ticks a quarter", division, 1, 0x7FFF),
        ("number of tracks", count, 0, MOST_TRACKS if form else 1),
    ):
        if not least <= value <= limit:
            raise FormatError(
                f"a {name} that no MIDI file can hold",
                place="header",
                found=str(value),
                allowed=f"{least} to {limit}",
            )
    return b"MThd" + b"".join(n.to_bytes(w, "big") for n, w in ((6, 4), (form, 2), (count, 2), (division, 2)))


def _pieces(ticks: Sequence[int], events: Sequence[bytes]) -> _Events:
    starts = list(accumulate(map(len, events), initial=0))[:-1]
    return _Events(
        np.array(ticks, np.int64),
        np.array(starts, np.int64),
        np.array([len(data) for data in events], np.int64),
        np.frombuffer(b"".join(events), np.uint8),
    )


def _kept(track: SmfTrack, keep: IntArray | None) -> _Events:
    """The kept events of a track; the pool is the table's columns side by side, then the long events."""
    table: EventTable = track.events
    pool = np.stack((table.status, table.data1, table.data2), axis=1).reshape(-1)
    start = 3 * np.arange(len(table))
    size = 1 + np.frombuffer(SIZE, np.uint8)[table.status].astype(np.int64)
    long_rows = np.array(list(table.payload), np.int64)
    kinds = zip(table.status[long_rows].tolist(), table.data1[long_rows].tolist(), strict=True)
    events = [
        meta_event(kind, data) if status == 0xFF else bytes((status,)) + encode_vlq(len(data)) + data
        for (status, kind), data in zip(kinds, table.payload.values(), strict=True)
    ]
    long = _pieces([0] * len(events), events)
    start[long_rows] = long.start + len(pool)
    size[long_rows] = long.size
    rows = np.arange(len(table)) if keep is None else keep
    return _Events(table.tick[rows], start[rows], size[rows], np.concatenate((pool, long.pool)))


def _check(notes: NotesOut, end_tick: int, number: int) -> None:
    if end_tick > _LAST_TICK:
        raise FormatError(
            "an end of track that no MIDI file can hold", place=f"track {number}", found=str(end_tick)
        )
    for name, values, least, most in (
        ("tick", notes.tick, 0, _LAST_TICK),
        ("note", notes.note, 0, 127),
        ("velocity", notes.velocity, 1, 127),
        ("duration", notes.duration, 0, _LAST_TICK),
        ("channel", np.array([notes.channel] if len(notes) else [], np.int64), 0, 15),
    ):
        wrong = np.flatnonzero((values < least) | (values > most))
        if len(wrong):
            raise FormatError(
                f"a {name} that no MIDI file can hold",
                place=f"track {number}, tick {notes.tick[wrong[0]]}",
                found=str(values[wrong[0]]),
                allowed=f"{least} to {most}",
            )


def _chunk(kept: _Events, notes: NotesOut, end_tick: int, number: int, start_tick: int = 0) -> bytes:
    """A whole track chunk; ticks are counted from `start_tick`."""
    _check(notes, end_tick, number)
    count = len(notes)
    late = np.where(notes.duration > 0, _OFF, _LATE_OFF)
    ticks = np.concatenate((kept.tick, notes.tick + notes.duration, notes.tick))
    rank = np.concatenate((np.full(len(kept.tick), _KEPT), late, np.full(count, _ON)))
    pitch = np.concatenate((np.zeros(len(kept.tick), np.int64), notes.note, notes.note))
    order = np.argsort((ticks * 4 + rank) * 128 + pitch, kind="stable")

    short = np.empty((2 * count, 3), np.uint8)
    short[:count, 0], short[count:, 0] = 0x80 | notes.channel, 0x90 | notes.channel
    short[:count, 1] = short[count:, 1] = notes.note
    short[:count, 2], short[count:, 2] = OFF_VELOCITY, notes.velocity
    last = _pieces([0], [meta_event(END_OF_TRACK, b"")])
    pool = np.concatenate((kept.pool, short.reshape(-1), last.pool))
    start = np.concatenate((kept.start, len(kept.pool) + 3 * np.arange(2 * count)))[order]
    size = np.concatenate((kept.size, np.full(2 * count, 3)))[order]

    ticks = ticks[order]
    end = max(end_tick, int(ticks[-1]) if len(ticks) else 0, start_tick)
    body = _encode(
        _Events(
            np.append(ticks, end) - start_tick,
            np.append(start, len(pool) - len(last.pool)),
            np.append(size, len(last.pool)),
            pool,
        ),
        number,
    )
    return b"MTrk" + len(body).to_bytes(4, "big") + body


def _encode(events: _Events, number: int) -> bytes:
    """Delta times and events, one behind the other."""
    delta = np.diff(events.tick, prepend=0)
    wrong = np.flatnonzero((delta < 0) | (delta > LARGEST_VLQ))
    if len(wrong):
        raise FormatError(
            "two events stand too far apart, or before the beginning of the track",
            place=f"track {number}, tick {events.tick[wrong[0]]}",
            found=f"{delta[wrong[0]]} ticks",
            allowed=f"0 to {LARGEST_VLQ}",
        )
    widths = vlq_sizes(delta)
    stops = np.cumsum(widths + events.size)
    heads = stops - events.size
    out = np.empty(int(stops[-1]), np.uint8)
    put_vlqs(out, heads - 1, widths, delta)
    for place in range(3):
        there = slice(None) if events.size.min() > place else np.flatnonzero(events.size > place)
        out[heads[there] + place] = events.pool[events.start[there] + place]
    for row in np.flatnonzero(events.size > 3).tolist():
        head, start, size = int(heads[row]), int(events.start[row]), int(events.size[row])
        out[head : head + size] = events.pool[start : start + size]
    return out.tobytes()
