"""Checks against the specification of Standard MIDI Files 1.0 (MMA RP-001, revised 1996)."""

from __future__ import annotations

import pytest

from grooveforge.formats.smf_events import (
    LARGEST_VLQ,
    encode_vlq,
    encode_vlqs,
    marker_event,
    meter_event,
    name_event,
    tempo_event,
    text_event,
)
from grooveforge.formats.smf_read import read_smf
from grooveforge.formats.smf_write import TrackOut, write_raw, write_smf

# SMF 1.0, "Variable-length quantities": the specification's own table.
VLQ_TABLE = {
    0x00000000: "00",
    0x00000040: "40",
    0x0000007F: "7F",
    0x00000080: "81 00",
    0x00002000: "C0 00",
    0x00003FFF: "FF 7F",
    0x00004000: "81 80 00",
    0x00100000: "C0 80 00",
    0x001FFFFF: "FF FF 7F",
    0x00200000: "81 80 80 00",
    0x08000000: "C0 80 80 00",
    0x0FFFFFFF: "FF FF FF 7F",
}

# SMF 1.0, "Program fragments and example MIDI files": three notes on three channels, 96 ticks a quarter.
FORMAT_0 = bytes.fromhex(
    """
    4D 54 68 64  00 00 00 06  00 00  00 01  00 60
    4D 54 72 6B  00 00 00 3B
    00 FF 58 04 04 02 18 08
    00 FF 51 03 07 A1 20
    00 C0 05
    00 C1 2E
    00 C2 46
    00 92 30 60
    00 3C 60
    60 91 43 40
    60 90 4C 20
    81 40 82 30 40
    00 3C 40
    00 81 43 40
    00 80 4C 40
    00 FF 2F 00
    """
)
FORMAT_1 = bytes.fromhex(
    """
    4D 54 68 64  00 00 00 06  00 01  00 04  00 60
    4D 54 72 6B  00 00 00 14
    00 FF 58 04 04 02 18 08
    00 FF 51 03 07 A1 20
    83 00 FF 2F 00
    4D 54 72 6B  00 00 00 10
    00 C0 05
    81 40 90 4C 20
    81 40 4C 00
    00 FF 2F 00
    4D 54 72 6B  00 00 00 0F
    00 C1 2E
    60 91 43 40
    82 20 43 00
    00 FF 2F 00
    4D 54 72 6B  00 00 00 15
    00 C2 46
    00 92 30 60
    00 3C 60
    83 00 30 00
    00 3C 00
    00 FF 2F 00
    """
)
# Tick, channel, note, velocity, duration: "an excerpt" of the same section.
EXCERPT = {
    (0, 2, 0x30, 96, 384),
    (0, 2, 0x3C, 96, 384),
    (96, 1, 0x43, 64, 288),
    (192, 0, 0x4C, 32, 192),
}


@pytest.mark.parametrize(("value", "text"), VLQ_TABLE.items())
def test_variable_length_quantities_are_those_of_the_table(value: int, text: str) -> None:
    """One at a time, as in the table of the specification."""
    assert encode_vlq(value) == bytes.fromhex(text)


def test_many_quantities_at_once_are_those_of_the_table() -> None:
    """The array form writes the same bytes as the table, one behind the other."""
    assert encode_vlqs(list(VLQ_TABLE)) == bytes.fromhex("".join(VLQ_TABLE.values()))
    assert max(VLQ_TABLE) == LARGEST_VLQ


@pytest.mark.parametrize(("value", "text"), VLQ_TABLE.items())
def test_quantities_of_the_table_are_read_as_delta_times(value: int, text: str) -> None:
    """A note-on behind each delta time of the table stands at that tick."""
    body = bytes.fromhex(text) + bytes.fromhex("90 24 40  00 80 24 40  00 FF 2F 00")
    file = read_smf(
        bytes.fromhex("4D546864 00000006 0000 0001 0060 4D54726B") + len(body).to_bytes(4, "big") + body
    )
    assert file.tracks[0].notes.tick.tolist() == [value]


@pytest.mark.parametrize(
    ("bpm", "text"),
    [
        (60, "0F4240"),
        (90, "0A2C2B"),
        (120, "07A120"),
        (140, "068A1B"),
        (174, "0542FC"),
        (180, "051615"),
        (200, "0493E0"),
    ],
)
def test_tempo_is_microseconds_a_quarter(bpm: int, text: str) -> None:
    """FF 51 03 tttttt, "in microseconds per MIDI quarter-note"."""
    microseconds = (2 * 60_000_000 + bpm) // (2 * bpm)
    assert tempo_event(microseconds) == bytes.fromhex("FF5103" + text)


@pytest.mark.parametrize(
    ("upper", "lower", "text"),
    [
        (4, 4, "04 02 18 08"),  # the worked example files
        (6, 8, "06 03 24 08"),  # the example beside "FF 58": a click every dotted quarter
    ],
)
def test_time_signature_bytes(upper: int, lower: int, text: str) -> None:
    """FF 58 04 nn dd cc bb."""
    assert meter_event(upper, lower) == bytes.fromhex("FF5804" + text)


def test_text_events_have_their_types() -> None:
    """FF 01 text, FF 03 sequence or track name, FF 06 marker, each with length and ASCII text."""
    assert text_event("a") == bytes.fromhex("FF 01 01 61")
    assert name_event("Drums") == bytes.fromhex("FF 03 05") + b"Drums"
    assert marker_event("First Verse") == bytes.fromhex("FF 06 0B") + b"First Verse"


@pytest.mark.parametrize("data", [FORMAT_0, FORMAT_1], ids=["format 0", "format 1"])
def test_worked_example_files_hold_the_excerpt(data: bytes) -> None:
    """Both example files say the same four notes at 120 quarters a minute in 4/4."""
    file = read_smf(data)
    notes = [track.notes for track in file.tracks]
    found = {
        row for n in notes for row in zip(n.tick, n.channel, n.note, n.velocity, n.duration, strict=True)
    }
    assert found == EXCERPT
    assert file.division == 96
    assert (file.tempos.tick.tolist(), file.tempos.microseconds.tolist()) == ([0], [500_000])
    assert file.meters == ((0, 4, 4),)
    assert {track.end_tick for track in file.tracks} == {384}
    assert file.warnings == ()


@pytest.mark.parametrize("data", [FORMAT_0, FORMAT_1], ids=["format 0", "format 1"])
def test_worked_example_files_come_back_with_running_status_expanded(data: bytes) -> None:
    """Written again, the files differ by the status bytes that running status had saved and no other."""
    again = write_raw(read_smf(data))
    saved = {0: 2, 1: 5}[data[9]]
    assert len(again) == len(data) + saved
    assert read_smf(again) == read_smf(data)


def test_the_tempo_track_of_the_example_is_written_to_the_byte() -> None:
    """The first track of the format 1 example, from our own metre and tempo events."""
    written = write_smf(1, 96, [TrackOut([(0, meter_event(4, 4)), (0, tempo_event(500_000))], end_tick=384)])
    assert written[14:] == FORMAT_1[14 : 14 + 8 + 20]
    assert written[:14] == FORMAT_1[:10] + bytes.fromhex("00 01") + FORMAT_1[12:14]
