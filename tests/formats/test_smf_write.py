"""The writer: one canonical form, heard alike by other readers; and files that came in, written again."""

from __future__ import annotations

import io
from typing import Any

import mido
import numpy as np
import pretty_midi
import pytest
import symusic
from hypothesis import given, settings
from hypothesis import strategies as st

from grooveforge.errors import FormatError, UsageError
from grooveforge.formats.smf import SmfFile
from grooveforge.formats.smf_events import (
    LARGEST_VLQ,
    ascii_text,
    encode_vlq,
    encode_vlqs,
    marker_event,
    meter_event,
    name_event,
    tempo_event,
    text_event,
)
from grooveforge.formats.smf_read import read_smf
from grooveforge.formats.smf_write import NotesOut, RawTrackOut, TrackOut, write_raw, write_smf

Row = tuple[int, int, int, int]


def out(rows: list[Row], channel: int = 9) -> NotesOut:
    """Notes from (tick, note, velocity, duration)."""
    tick, note, velocity, duration = np.array(rows, np.int64).reshape(-1, 4).T
    return NotesOut(tick, note, velocity, duration, channel)


def rows(file: SmfFile, track: int) -> list[Row]:
    n = file.tracks[track].notes
    return list(zip(n.tick.tolist(), n.note.tolist(), n.velocity.tolist(), n.duration.tolist(), strict=True))


def body(data: bytes) -> bytes:
    """The events of the first track."""
    return data[22:]


def test_one_track_byte_by_byte() -> None:
    """At one tick: meta, note-offs, note-ons, both by ascending note; then the end of track."""
    notes = out([(480, 42, 80, 10), (480, 36, 100, 10), (0, 42, 80, 480), (0, 36, 100, 480)])
    meta = [(480, marker_event("B")), (0, name_event("D")), (0, tempo_event(500_000))]
    data = write_smf(1, 480, [TrackOut(meta, notes, 1920)])
    assert data == bytes.fromhex(
        """
        4D 54 68 64  00 00 00 06  00 01  00 01  01 E0
        4D 54 72 6B  00 00 00 37
        00 FF 03 01 44
        00 FF 51 03 07 A1 20
        00 99 24 64
        00 99 2A 50
        83 60 FF 06 01 42
        00 89 24 40
        00 89 2A 40
        00 99 24 64
        00 99 2A 50
        0A 89 24 40
        00 89 2A 40
        8B 16 FF 2F 00
        """
    )


def test_a_note_of_length_0_ends_behind_its_own_beginning() -> None:
    """And an earlier note of the same pitch that ends there still ends before it."""
    notes = [(0, 36, 100, 10), (10, 36, 90, 0)]
    data = write_smf(0, 480, [TrackOut((), out(notes), 10)])
    assert body(data) == bytes.fromhex("00992464 0A892440 0099245A 00892440 00FF2F00")
    assert rows(read_smf(data), 0) == notes


def test_empty_track_and_late_events() -> None:
    """The end of track never stands before an event."""
    assert body(write_smf(1, 96, [TrackOut(end_tick=5)])) == bytes.fromhex("05 FF 2F 00")
    assert body(write_smf(1, 96, [TrackOut()])) == bytes.fromhex("00 FF 2F 00")
    assert read_smf(write_smf(1, 96, [TrackOut([(7, text_event("a"))])])).tracks[0].end_tick == 7
    assert read_smf(write_smf(1, 96, [TrackOut((), out([(3, 36, 1, 9)]))])).tracks[0].end_tick == 12


@given(st.lists(st.integers(0, LARGEST_VLQ), max_size=30))
def test_many_quantities_are_written_as_one_by_one(values: list[int]) -> None:
    """The array form is the plain form."""
    assert encode_vlqs(values) == b"".join(map(encode_vlq, values))


@pytest.mark.parametrize("value", [-1, LARGEST_VLQ + 1])
def test_quantities_that_do_not_fit_are_refused(value: int) -> None:
    """One at a time or many."""
    with pytest.raises(FormatError):
        encode_vlq(value)
    with pytest.raises(FormatError):
        encode_vlqs([0, value])


@st.composite
def songs(draw: st.DrawFn) -> list[Row]:
    """Notes of a few pitches that do not overlap themselves, in any order."""
    found: list[Row] = []
    for note in draw(st.sets(st.integers(0, 127), max_size=5)):
        tick = 0
        for gap, length, velocity in draw(
            st.lists(st.tuples(st.integers(0, 400), st.integers(1, 300), st.integers(1, 127)), max_size=12)
        ):
            found.append((tick + gap, note, velocity, length))
            tick += gap + length
    return draw(st.permutations(found))


@given(songs(), st.integers(0, 15), st.sampled_from([0, 1]))
def test_what_is_written_is_read_and_mido_agrees(song: list[Row], channel: int, form: int) -> None:
    """Our reader gives the notes back; mido finds the same messages in the canonical order."""
    data = write_smf(form, 480, [TrackOut([(0, name_event("Drums"))], out(song, channel), 9000)])
    file = read_smf(data)
    assert file.warnings == ()
    assert sorted(rows(file, 0)) == sorted(song)
    assert set(file.tracks[0].notes.channel.tolist()) <= {channel}
    expected = [(tick + size, 0, note, 64) for tick, note, _, size in song]
    expected += [(tick, 1, note, velocity) for tick, note, velocity, _ in song]
    tick, found = 0, []
    for message in mido.MidiFile(file=io.BytesIO(data)).tracks[0]:
        tick += message.time
        if message.type in ("note_on", "note_off"):
            assert message.channel == channel
            found.append((tick, int(message.type == "note_on"), message.note, message.velocity))
    assert found == sorted(expected, key=lambda item: item[:3])
    assert tick == max([9000, *(end for end, *_ in expected)])


@given(songs(), st.randoms())
def test_the_order_of_the_notes_given_does_not_matter(song: list[Row], random: Any) -> None:
    """One canonical form: the same bytes."""
    shuffled = list(song)
    random.shuffle(shuffled)
    assert write_smf(1, 480, [TrackOut((), out(song))]) == write_smf(1, 480, [TrackOut((), out(shuffled))])


def test_second_readers_find_the_same_notes_and_conductor() -> None:
    """symusic and pretty_midi: notes, tempo, metre and length."""
    song = [(tick, note, 1 + tick % 127, 60) for tick in range(0, 3840, 120) for note in (36, 42)]
    conductor = [(0, tempo_event(400_000)), (0, meter_event(7, 8)), (1680, marker_event("Verse"))]
    data = write_smf(1, 480, [TrackOut(conductor, end_tick=3840), TrackOut((), out(song), 3840)])
    score: Any = symusic.Score.from_midi(data)
    theirs = [(n.time, n.pitch, n.velocity, n.duration) for track in score.tracks for n in track.notes]
    assert sorted(theirs) == sorted(song)
    assert [(m.time, m.text) for m in score.markers] == [(1680, "Verse")]
    midi = pretty_midi.PrettyMIDI(io.BytesIO(data))
    assert [(sign.numerator, sign.denominator) for sign in midi.time_signature_changes] == [(7, 8)]
    assert midi.get_tempo_changes()[1].tolist() == [150.0]
    assert sorted(n.pitch for part in midi.instruments for n in part.notes) == sorted(
        n for _, n, _, _ in song
    )
    assert all(part.is_drum for part in midi.instruments)


@pytest.mark.parametrize(
    ("row", "allowed"),
    [
        ((-1, 36, 100, 10), "0 to 4503599627370496"),
        ((5, 128, 100, 10), "0 to 127"),
        ((5, 36, 0, 10), "1 to 127"),
        ((5, 36, 128, 10), "1 to 127"),
        ((5, 36, 100, -1), "0 to 4503599627370496"),
        ((LARGEST_VLQ + 1, 36, 100, 1), "0 to 268435455"),
    ],
)
def test_notes_that_fit_no_file_are_refused_by_place(row: Row, allowed: str) -> None:
    """The error names track and tick, what was found and what is allowed."""
    with pytest.raises(FormatError) as caught:
        write_smf(1, 480, [TrackOut(), TrackOut((), out([row]))])
    fault = caught.value.faults[0]
    assert fault.place == f"track 2, tick {row[0]}"
    assert fault.allowed == allowed


def test_headers_that_fit_no_file_are_refused() -> None:
    """Format, division, tracks of format 0, channel, columns of unequal length."""
    for form, division, count in [(3, 480, 1), (1, 0, 1), (1, 0x8000, 1), (0, 480, 2)]:
        with pytest.raises(FormatError):
            write_smf(form, division, [TrackOut()] * count)
    with pytest.raises(FormatError):
        write_smf(1, 480, [TrackOut((), out([(0, 36, 100, 1)], channel=16))])
    with pytest.raises(UsageError):
        NotesOut(np.array([1]), np.array([], np.int64))
    with pytest.raises(TypeError):
        NotesOut(tick=np.array([0.5]))


@pytest.mark.parametrize(
    ("upper", "lower", "clocks"),
    [
        (4, 4, 24),
        (3, 4, 24),
        (2, 2, 48),
        (7, 8, 12),
        (3, 8, 12),
        (9, 8, 36),
        (12, 8, 36),
        (12, 16, 18),
        (6, 4, 24),
    ],
)
def test_clocks_of_the_metre_are_those_of_its_beat(upper: int, lower: int, clocks: int) -> None:
    """24 clocks a quarter; in compound time the beat is dotted (house rule)."""
    assert meter_event(upper, lower)[5] == clocks


@pytest.mark.parametrize(("upper", "lower"), [(0, 4), (4, 3), (65, 4), (4, 64)])
def test_metres_that_cannot_be_written_are_refused(upper: int, lower: int) -> None:
    """What the reader would leave out is never written."""
    with pytest.raises(FormatError):
        meter_event(upper, lower)


@pytest.mark.parametrize("microseconds", [0, 0x1000000])
def test_tempi_that_do_not_fit_are_refused(microseconds: int) -> None:
    """Three bytes, and never 0."""
    with pytest.raises(FormatError):
        tempo_event(microseconds)


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("Überstraße", "Uberstrasse"),
        ("Ærø – Łódź", "AEro - Lodz"),
        ("“Café”…\n2×", '"Cafe"... 2x'),
        ("鼓 1", "? 1"),
        ("bell\x07", "bell?"),
    ],
)
def test_text_is_brought_to_printable_ascii(text: str, plain: str) -> None:
    """Accents go, a table of letters, else a question mark."""
    assert ascii_text(text) == plain


def test_text_is_cut_to_its_limit() -> None:
    """At most so many characters, no blank at the end."""
    assert ascii_text("Verse  two", 7) == "Verse"
    assert marker_event("a" * 200, 30) == b"\xff\x06\x1e" + b"a" * 30
    assert text_event("a" * 200)[:4] == b"\xff\x01\x81\x48"


CAME_IN = bytes.fromhex(
    """
    4D 54 68 64  00 00 00 06  00 01  00 02  00 60
    4D 54 72 6B  00 00 00 1E
    00 FF 03 01 41  00 FF 59 02 01 00  00 C0 05  00 90 3C 40  60 80 3C 20  00 B0 07 64  00 FF 2F 00
    4D 54 72 6B  00 00 00 28
    00 C9 00  00 99 24 64  00 B9 04 20  18 99 24 00  18 F0 03 01 02 F7  00 89 24 00  30 99 26 50
    18 D9 10  18 89 26 40  00 FF 2F 00
    """
)


def test_a_file_that_came_in_is_written_again_to_the_byte() -> None:
    """Nothing changed, no running status in it: the same bytes."""
    assert write_raw(read_smf(CAME_IN)) == CAME_IN


def test_new_notes_take_the_place_of_the_old_and_all_else_stays() -> None:
    """The other track is equal to the byte; kept events first, then note-offs, then note-ons."""
    file = read_smf(CAME_IN)
    drums = file.tracks[1]
    notes = out([(0, 38, 1, 48), (48, 38, 2, 5)])
    data = write_raw(file, [RawTrackOut(), RawTrackOut(drums.rows_but_notes(9), notes)])
    assert data[: 14 + 8 + 0x1E] == CAME_IN[: 14 + 8 + 0x1E]
    assert data[14 + 8 + 0x1E + 8 :] == bytes.fromhex(
        """
        00 C9 00  00 B9 04 20  00 99 26 01
        30 F0 03 01 02 F7  00 89 26 40  00 99 26 02  05 89 26 40
        43 D9 10  18 FF 2F 00
        """
    )


def test_a_plan_for_every_track_is_needed() -> None:
    """A missing plan is never a lost track."""
    with pytest.raises(UsageError):
        write_raw(read_smf(CAME_IN), [RawTrackOut()])


def test_only_the_drums_of_a_mixed_track_are_new() -> None:
    """Format 0: the notes of other channels stay where they stood."""
    mixed = [TrackOut([(0, tempo_event(500_000))], out([(0, 60, 64, 50), (50, 62, 64, 50)], 0), 100)]
    file = read_smf(write_smf(0, 96, mixed))
    drummed = read_smf(write_raw(file, [RawTrackOut(None, out([(50, 36, 100, 10)]))]))
    assert rows(drummed, 0) == [(0, 60, 64, 50), (50, 62, 64, 50), (50, 36, 100, 10)]
    back = write_raw(drummed, [RawTrackOut(drummed.tracks[0].rows_but_notes(9))])
    assert read_smf(back) == file


def test_format_2_is_written_back_track_by_track() -> None:
    """The ticks of the laid-out tracks are taken apart again."""
    data = bytearray(CAME_IN)
    data[9] = 2
    file = read_smf(bytes(data))
    assert file.tracks[1].start_tick == 4 * 96
    assert write_raw(file) == bytes(data)
    empty = write_raw(file, [RawTrackOut(), RawTrackOut(np.array([], np.int64), end_tick=0)])
    assert empty[-12:] == bytes.fromhex("4D 54 72 6B  00 00 00 04  00 FF 2F 00")
    early = RawTrackOut(None, out([(0, 36, 100, 1)]))
    with pytest.raises(FormatError, match="before the beginning"):
        write_raw(file, [RawTrackOut(), early])


@settings(max_examples=300)
@given(
    st.lists(st.tuples(st.integers(0, len(CAME_IN) - 1), st.integers(0, 255)), max_size=6),
    st.integers(14, len(CAME_IN)),
)
def test_whatever_could_be_read_is_written_so_that_it_reads_the_same(
    changes: list[tuple[int, int]], size: int
) -> None:
    """Spoilt and cut files: written again they hold the same events, notes, tempi, metres and markers."""
    data = bytearray(CAME_IN)
    for place, value in changes:
        data[place] = value
    try:
        file = read_smf(bytes(data[:size]))
    except FormatError:
        return
    again = read_smf(write_raw(file))
    assert again.tracks == file.tracks
    assert (again.format, again.division) == (file.format, file.division)
    assert (again.tempos, again.meters, again.markers) == (file.tempos, file.meters, file.markers)
    assert {warning.message.split(" (")[0] for warning in again.warnings} <= {
        "a note without a note-off was ended"
    }
