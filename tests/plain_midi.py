"""A second, tiny reader of Standard MIDI Files for tests: events with running status written out, nothing else.

It shares no code with the package's reader and knows no leniency but what the files of the corpora need.
Source: Standard MIDI Files 1.0 (MMA RP-001).
"""

from __future__ import annotations

Event = tuple[int, bytes]
"""Tick, and the event's bytes with its status byte; the length of a meta or system exclusive event left out."""

DRUMS = 9
"""Channel 10, counted from 0."""


def events_of(data: bytes) -> list[list[Event]]:
    """The events of every track."""
    assert data[:4] == b"MThd", data[:4]
    at, tracks = 8 + int.from_bytes(data[4:8], "big"), []
    while at + 8 <= len(data):
        end = at + 8 + int.from_bytes(data[at + 4 : at + 8], "big")
        if data[at : at + 4] == b"MTrk":
            tracks.append(_track(data[at + 8 : end]))
        at = end
    return tracks


def _track(body: bytes) -> list[Event]:
    events: list[Event] = []
    at = tick = status = 0
    while at < len(body):
        delta, at = _quantity(body, at)
        tick += delta
        if body[at] in (0xFF, 0xF0, 0xF7):
            head = 2 if body[at] == 0xFF else 1
            length, start = _quantity(body, at + head)
            events.append((tick, body[at : at + head] + body[start : start + length]))
            at = start + length
            if events[-1][1][:2] == b"\xff\x2f":
                break
            continue
        if body[at] > 127:
            status = body[at]
            at += 1
        size = 1 if status >> 4 in (0xC, 0xD) else 2
        events.append((tick, bytes((status,)) + body[at : at + size]))
        at += size
    return events


def _quantity(body: bytes, at: int) -> tuple[int, int]:
    value = 0
    while True:
        value = value * 128 + body[at] % 128
        at += 1
        if body[at - 1] < 128:
            return value, at


def onsets(events: list[Event], channel: int = DRUMS) -> list[tuple[int, int, int]]:
    """(tick, note, velocity) of the note-ons of a channel in the file's order."""
    return [(tick, data[1], data[2]) for tick, data in events if data[0] == 0x90 + channel and data[2]]


def possible(events: list[Event]) -> list[Event]:
    """The events without key signatures that cannot be, which the reader leaves out with a warning."""
    return [event for event in events if not _impossible_key(event[1])]


def all_but_notes(events: list[Event], channel: int = DRUMS) -> list[Event]:
    """The possible events that are no notes of a channel."""
    return [event for event in possible(events) if event[1][0] not in (0x90 + channel, 0x80 + channel)]


def _impossible_key(data: bytes) -> bool:
    """FF 59 02 sf mi: sf from 7 flats to 7 sharps, mi 0 or 1."""
    if data[:2] != b"\xff\x59":
        return False
    return len(data) != 4 or (data[2] + 128) % 256 - 128 not in range(-7, 8) or data[3] > 1
