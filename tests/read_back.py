"""What mido, a reader that is not ours, finds in a MIDI file: messages at their ticks or seconds, strokes, spans."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TypeAlias

import mido

Message: TypeAlias = mido.Message | mido.MetaMessage
Source: TypeAlias = bytes | Path | mido.MidiFile

Stroke = tuple[int, int, int]
"""tick, note, velocity"""


def opened(source: Source) -> mido.MidiFile:
    if isinstance(source, bytes):
        return mido.MidiFile(file=io.BytesIO(source))
    return mido.MidiFile(source) if isinstance(source, Path) else source


def in_ticks(track: Iterable[Message]) -> Iterator[tuple[int, Message]]:
    """The messages of a track, each with its tick from the beginning."""
    tick = 0
    for message in track:
        tick += message.time
        yield tick, message


def at_ticks(source: Source) -> Iterator[tuple[int, Message]]:
    """The messages of every track, track by track."""
    for track in opened(source).tracks:
        yield from in_ticks(track)


def of(source: Source, kind: str) -> list[tuple[int, Message]]:
    """(tick, message) of one kind of message, in the order of the file."""
    return [(tick, message) for tick, message in at_ticks(source) if message.type == kind]


def begins(message: Message, channel: int | None = None) -> bool:
    """Whether a message begins a note, on one channel (from 1) or any."""
    return bool(
        message.type == "note_on" and message.velocity and (channel is None or message.channel == channel - 1)
    )


def strokes(source: Source, channel: int | None = None) -> list[Stroke]:
    """(tick, note, velocity) of every note, sorted; of one channel (from 1) where it is named."""
    return sorted(
        (tick, message.note, message.velocity) for tick, message in at_ticks(source) if begins(message, channel)
    )


def struck_seconds(source: Source) -> list[tuple[float, int, int]]:
    """(seconds, note, velocity) of every note as mido plays the file."""
    now, found = 0.0, []
    for message in opened(source):
        now += message.time
        if begins(message):
            found.append((now, message.note, message.velocity))
    return found


def spans(source: Source) -> list[tuple[int, int, int]]:
    """(tick, note, ticks that it lasts) of every note; fails where one overlaps another of its pitch or never ends."""
    found, sounding = [], {}
    for tick, message in at_ticks(source):
        if begins(message):
            assert message.note not in sounding, "notes never overlap"
            sounding[message.note] = tick
        elif message.type in ("note_on", "note_off"):
            start = sounding.pop(message.note)
            found.append((start, message.note, tick - start))
    assert not sounding, "every note ends"
    return sorted(found)
