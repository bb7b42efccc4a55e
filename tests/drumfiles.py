"""Small MIDI files for tests, written by mido (a writer that is not ours), and what another reader finds in them."""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping, Sequence

import mido

from grooveforge.formats.drum_part import DrumPart
from grooveforge.formats.drums_read import read_drums
from grooveforge.formats.smf_read import read_smf
from tests.read_back import in_ticks, opened, strokes

DIVISION = 480
SIXTEENTH = DIVISION // 4

Note = tuple[int, int, int, int]
"""tick, note, velocity, duration"""

LEVELS = {"x": 90, "X": 114, "g": 30, "n": 70}

KICK, SNARE, CLOSED, OPEN, PEDAL, RIDE, BELL, CRASH, CHINA = 36, 38, 42, 46, 44, 51, 53, 49, 52


def notes_of(lines: Mapping[int, str], step: int = SIXTEENTH, start: int = 0) -> list[Note]:
    """Notes from a line of marks for each note number; `step` ticks a mark."""
    found = []
    for note, line in lines.items():
        marks = line.replace(" ", "").replace("|", "")
        found += [
            (start + place * step, note, LEVELS[mark], step // 2) for place, mark in enumerate(marks) if mark in LEVELS
        ]
    return sorted(found)


def track(
    notes: Iterable[Note],
    channel: int = 10,
    name: str = "",
    end: int | None = None,
    extra: Sequence[tuple[int, mido.Message | mido.MetaMessage]] = (),
) -> mido.MidiTrack:
    """A track of notes and other messages at absolute ticks; it ends at `end` or with its last event."""
    events: list[tuple[int, int, mido.Message | mido.MetaMessage]] = [(tick, 0, message) for tick, message in extra]
    if name:
        events.append((0, -1, mido.MetaMessage("track_name", name=name)))
    for tick, note, velocity, duration in notes:
        place = {"channel": channel - 1, "note": note}
        events.append((tick, 2, mido.Message("note_on", velocity=velocity, **place)))
        events.append((tick + duration, 1, mido.Message("note_off", velocity=64, **place)))
    events.sort(key=lambda event: event[:2])
    made, now = mido.MidiTrack(), 0
    for tick, _, message in events:
        made.append(message.copy(time=tick - now))
        now = tick
    made.append(mido.MetaMessage("end_of_track", time=max(0, (now if end is None else end) - now)))
    return made


def meter(upper: int, lower: int) -> mido.MetaMessage:
    return mido.MetaMessage("time_signature", numerator=upper, denominator=lower)


def tempo(bpm: float) -> mido.MetaMessage:
    return mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm))


def midi(*tracks: mido.MidiTrack, division: int = DIVISION, form: int = 1) -> bytes:
    """The bytes of a file."""
    file = mido.MidiFile(type=form, ticks_per_beat=division)
    file.tracks.extend(tracks)
    buffer = io.BytesIO()
    file.save(file=buffer)
    return buffer.getvalue()


def bars_file(
    lines: Mapping[int, str],
    figures: tuple[int, int] = (4, 4),
    bpm: float = 120,
    step: int = SIXTEENTH,
    bars: int | None = None,
) -> bytes:
    """A file of one drum track from lines of marks."""
    length = int(DIVISION * 4 * figures[0] / figures[1])
    steps = max(len(line.replace(" ", "").replace("|", "")) for line in lines.values())
    end = length * (bars or -(-steps * step // length))
    return midi(track(notes_of(lines, step), end=end, extra=[(0, meter(*figures)), (0, tempo(bpm))]))


def part_of(data: bytes, channel: int | None = None) -> DrumPart:
    return read_drums(read_smf(data), channel)


def rows(part: DrumPart) -> list[Note]:
    """(tick, note, velocity, duration) of every stroke."""
    columns = (part.tick, part.note, part.velocity, part.duration)
    return list(zip(*(column.tolist() for column in columns), strict=True))


def heard(data: bytes, channel: int = 10) -> list[tuple[int, int, int]]:
    """(tick, note, velocity) of every note-on of a channel, as mido reads them."""
    return strokes(data, channel)


def all_but_drums(data: bytes, channel: int = 10) -> list[list[tuple[int, bytes]]]:
    """(tick, bytes) of all else in every track, as mido reads it."""
    return [
        [
            (tick, bytes(message.bytes()))
            for tick, message in in_ticks(one)
            if message.type not in ("note_on", "note_off") or message.channel != channel - 1
        ]
        for one in opened(data).tracks
    ]


def places(data: bytes, note: int, step: int = SIXTEENTH) -> list[float]:
    """Where a note sounds, in steps from the beginning, as mido reads it."""
    return [tick / step for tick, its, _ in heard(data) if its == note]
