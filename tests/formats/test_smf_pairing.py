"""Which note-off ends which note."""

from __future__ import annotations

import io
from collections import deque

import pretty_midi
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.formats.smf import SmfTrack
from grooveforge.formats.smf_read import read_smf
from tests.hexbytes import END, midi_of


def track(body: str, division: int = 480) -> SmfTrack:
    """The track of a file of one track, spelt out in hexadecimal without its end."""
    return read_smf(midi_of(body + END, division=division)).tracks[0]


def lengths(body: str, division: int = 480) -> list[tuple[int, int]]:
    """(tick, duration) of its notes."""
    notes = track(body, division).notes
    return list(zip(notes.tick.tolist(), notes.duration.tolist(), strict=True))


PAIRS = {
    "overlap, first in first out": ("00 99 24 64 0A 99 24 50 0A 89 24 40 0A 89 24 40", [(0, 20), (10, 20)]),
    "note-off behind the note-on of its tick": (
        "00 99 24 64 0A 99 24 50 00 89 24 40 0A 89 24 40",
        [(0, 10), (10, 10)],
    ),
    "the same without the last note-off": ("00 99 24 64 0A 99 24 50 00 89 24 40", [(0, 10), (10, 120)]),
    "length 0": ("00 99 24 64 00 89 24 40 0A 99 24 64 00 89 24 40", [(0, 0), (10, 0)]),
    "length 0 right behind a longer note": (
        "00 99 24 64 0A 89 24 40 00 99 24 50 00 89 24 40",
        [(0, 10), (10, 0)],
    ),
    "length 0 on the tick where a longer note ends late": (
        "00 99 24 64 0A 99 24 50 00 89 24 40 00 89 24 40",
        [(0, 10), (10, 0)],
    ),
    "one lost note-off shifts nothing": (
        "00 99 24 64 0A 99 24 64 05 89 24 40 0A 99 24 64 05 89 24 40",
        [(0, 10), (10, 5), (25, 5)],
    ),
    "lost, the next onset far away": ("00 99 24 64 87 40 99 24 64 05 89 24 40", [(0, 120), (960, 5)]),
    "two on one tick, one note-off": ("00 99 24 64 00 99 24 64 05 89 24 40", [(0, 120), (0, 5)]),
    "another channel does not end it": ("00 99 24 64 05 80 24 40 05 89 24 40", [(0, 10)]),
}


@pytest.mark.parametrize("name", PAIRS)
def test_note_lengths(name: str) -> None:
    """Ticks and lengths of notes whose note-offs are missing, crossed or misplaced."""
    body, expected = PAIRS[name]
    assert lengths(body) == expected


def test_a_lost_note_off_at_a_tiny_division_lasts_one_tick() -> None:
    """A sixteenth rounds down, but never to nothing."""
    assert lengths("00 99 24 64", division=2) == [(0, 1)]


def test_rows_of_the_events_behind_each_note() -> None:
    """`on_event` and `off_event` are rows of the event table, -1 where the note-off is missing."""
    one = track("00 FF 03 01 61 00 99 24 64 00 99 26 64 05 89 24 40")
    assert one.notes.on_event.tolist() == [1, 2]
    assert one.notes.off_event.tolist() == [3, -1]
    assert one.rows_but_notes(9).tolist() == [0]
    assert one.rows_but_notes(0).tolist() == [0, 1, 2, 3]


def first_in_first_out(stream: list[tuple[int, bool]]) -> list[tuple[int, int]]:
    """(tick, length) by a queue; every note-off finds a note."""
    queue: deque[int] = deque()
    found: dict[int, tuple[int, int]] = {}
    count = 0
    for tick, on in stream:
        if on:
            queue.append(count)
            found[count] = (tick, 0)
            count += 1
        else:
            note = queue.popleft()
            found[note] = (found[note][0], tick - found[note][0])
    return [found[number] for number in range(count)]


@given(st.lists(st.tuples(st.integers(1, 9), st.booleans()), max_size=60))
def test_overlapping_notes_are_paired_as_by_a_queue(steps: list[tuple[int, bool]]) -> None:
    """Where every note has its note-off, the first in is the first out, however they overlap."""
    stream: list[tuple[int, bool]] = []
    tick = sounding = 0
    for step, on in steps:
        tick += step
        on = on or not sounding
        sounding += 1 if on else -1
        stream.append((tick, on))
    for _ in range(sounding):
        tick += 1
        stream.append((tick, False))
    last = 0
    body = ""
    for tick, on in stream:
        body += f"{tick - last:02X} {'99' if on else '89'} 24 40 "
        last = tick
    assert lengths(body) == first_in_first_out(stream)


def test_pretty_midi_hears_the_same_notes() -> None:
    """A second reader, on notes of two channels and three pitches that do not overlap."""
    body = (
        "00 99 24 64 00 90 24 50 78 89 24 40 00 80 24 40 83 60 99 26 01 0A 99 26 00 00 99 2A 7F 05 89 2A 00"
    )
    ours = track(body).notes
    columns = (ours.tick, ours.note, ours.velocity, ours.tick + ours.duration)
    midi = pretty_midi.PrettyMIDI(io.BytesIO(midi_of(body + END)))
    theirs = [
        (midi.time_to_tick(note.start), note.pitch, note.velocity, midi.time_to_tick(note.end))
        for part in midi.instruments
        for note in part.notes
    ]
    assert sorted(zip(*(column.tolist() for column in columns), strict=True)) == sorted(theirs)
