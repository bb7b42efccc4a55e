"""The events of one track of a Standard MIDI File: bytes in, `SmfTrack` and its warnings out."""

from __future__ import annotations

from array import array

import numpy as np

from grooveforge.formats.smf import SIZE, EventTable, SmfTrack, SmfWarning
from grooveforge.formats.smf_events import END_OF_TRACK, TRACK_NAME, decode_text, meta_fault
from grooveforge.formats.smf_pairing import pair_notes

WIRE_SIZE = {0xF1: 1, 0xF2: 2, 0xF3: 1, 0xF6: 0, 0xF8: 0, 0xFA: 0, 0xFB: 0, 0xFC: 0, 0xFE: 0}
"""System messages that belong on a wire and not in a file, with their number of data bytes."""

BREAKS_OFF = "the track breaks off; what was whole is kept"
CLAMPED = "a data byte over 127 was read as 127"


class _StopError(Exception):
    """Nothing can be read from here on; the text says why."""


def _vlq(data: bytes, at: int) -> tuple[int, int]:
    """The variable-length quantity at `at`, and where it ends."""
    value = 0
    for place in range(at, at + 4):
        byte = data[place]
        value = value << 7 | byte & 127
        if byte < 128:
            return value, place + 1
    raise _StopError("a delta time or length of more than four bytes; what stood before it is kept")


class TrackReader:
    """Reads one track chunk.

    Where a byte over 127 stands for an event's beginning it is a status byte. Behind a status byte the data
    bytes are counted off and those over 127 are clamped, since a file, unlike a wire, has a delta time
    before every status byte. Bytes that are no status byte anywhere (F4, F5, F9, FD) are clamped data
    bytes under running status. Running status outlasts meta and system exclusive events.
    """

    def __init__(self, data: bytes, end: int, number: int, start_tick: int) -> None:
        self.data, self.end, self.number, self.start_tick = data, end, number, start_tick
        self._seen = start_tick
        self.closed = False
        self._ticks, self._status, self._where = array("q"), bytearray(), array("q")
        self._payload: dict[int, bytes] = {}
        self._bent: dict[str, tuple[int, int]] = {}

    def read(self, position: int) -> int:
        """Read all events from `position`; returns where reading ended."""
        try:
            position = self._events(position)
        except IndexError:
            position = len(self.data)
            self._bend(BREAKS_OFF)
        except _StopError as stop:
            position = self.end
            self._bend(str(stop))
        else:
            if position > self.end:  # the last event reaches beyond the chunk
                del self._ticks[-1], self._status[-1], self._where[-1]
                self._bend(BREAKS_OFF)
            elif not self.closed:
                self._bend("the end of the track is not marked; it ends with its last event")
        return position

    def _events(self, position: int) -> int:
        """The tight loop: a tick, a status byte and the place of the data bytes for each event."""
        data, end, size = self.data, self.end, SIZE
        add_tick, add_status, add_where = self._ticks.append, self._status.append, self._where.append
        tick, status = self._seen, 0
        while position < end:
            delta = data[position]
            position += 1
            if delta > 127:
                byte = data[position]
                if byte < 128:
                    delta = (delta & 127) << 7 | byte
                    position += 1
                else:
                    delta, position = _vlq(data, position - 1)
            tick += delta
            byte = data[position]
            if byte > 127:
                if byte < 0xF0:
                    status = byte
                    position += 1
                elif not status or byte in WIRE_SIZE or byte in (0xF0, 0xF7, 0xFF):
                    position = self._special(byte, position + 1, tick)
                    if self.closed:
                        break
                    continue
            elif not status:
                raise _StopError("a data byte where an event must begin; what stood before it is kept")
            add_tick(tick)
            add_status(status)
            add_where(position)
            position += size[status]
        return position

    def _special(self, byte: int, position: int, tick: int) -> int:
        """A meta, system exclusive or stray system event; returns where the next event begins."""
        where = position
        if byte == 0xFF:
            position += 1
        elif byte in WIRE_SIZE:
            position += WIRE_SIZE[byte]
            if position > self.end:
                raise _StopError(BREAKS_OFF)
            self._bend("a system message that belongs in no file was left out", tick)
            return position
        elif byte not in (0xF0, 0xF7):
            raise _StopError("a byte that begins no event; what stood before it is kept")
        length, position = _vlq(self.data, position)
        if position + length > self.end:
            raise _StopError(BREAKS_OFF)
        self._seen = tick
        payload = self.data[position : position + length]
        if byte == 0xFF:
            kind = self.data[where]
            if kind == END_OF_TRACK:
                self.closed = True
                return position + length
            if fault := meta_fault(kind, payload):
                self._bend(f"a malformed {fault} was left out", tick)
                return position + length
        self._payload[len(self._ticks)] = payload
        self._ticks.append(tick)
        self._status.append(byte)
        self._where.append(where)
        return position + length

    def last_tick(self) -> int:
        """The tick of the end of the track, else of the last event that was read."""
        return max(self._seen, self._ticks[-1]) if self._ticks else self._seen

    def _bend(self, message: str, tick: int | None = None, times: int = 1) -> None:
        first, count = self._bent.get(message, (self.last_tick() if tick is None else tick, 0))
        self._bent[message] = (first, count + times)

    def _table(self) -> EventTable:
        """The events as a table, data bytes clamped."""
        status = np.array(self._status, np.uint8)
        where = np.array(self._where, np.int64)
        tick = np.array(self._ticks, np.int64)
        data = np.frombuffer(self.data, np.uint8)
        sizes = np.frombuffer(SIZE, np.uint8)[status]
        data1 = np.where((sizes > 0) | (status == 0xFF), data.take(where, mode="clip"), 0)
        data2 = np.where(sizes == 2, data.take(where + 1, mode="clip"), 0)
        for column in (data1, data2):
            over = np.flatnonzero((column > 127) & (status < 0xF0))
            if len(over):
                self._bend(CLAMPED, int(tick[over].min()), len(over))
                column[over] = 127
        return EventTable(tick, status, data1, data2, self._payload)

    def track(self, division: int) -> tuple[SmfTrack, list[SmfWarning]]:
        """What was read; call it once, after `read`."""
        events = self._table()
        notes = pair_notes(events, division)
        lost = np.flatnonzero(notes.off_event < 0)
        if len(lost):
            self._bend("a note without a note-off was ended", int(notes.tick[lost[0]]), len(lost))
        names = [decode_text(data) for _, kind, data in events.metas() if kind == TRACK_NAME]
        track = SmfTrack(names[0] if names else "", self.last_tick(), notes, events, self.start_tick)
        bent = sorted(self._bent.items(), key=lambda item: item[1][0])
        return track, [
            SmfWarning(text if count == 1 else f"{text} ({count} times)", self.number, tick)
            for text, (tick, count) in bent
        ]
