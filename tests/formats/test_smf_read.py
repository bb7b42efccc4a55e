"""The tolerant reader: every form that is accepted, every refusal."""

from __future__ import annotations

import pytest

from grooveforge.errors import FormatError
from grooveforge.formats.smf import SmfFile
from grooveforge.formats.smf_read import read_smf
from tests.hexbytes import END, TEMPO_120, chunk, midi_of


def notes(file: SmfFile, track: int = 0) -> list[tuple[int, int, int, int]]:
    """(tick, note, velocity, duration) of a track."""
    n = file.tracks[track].notes
    return list(zip(n.tick.tolist(), n.note.tolist(), n.velocity.tolist(), n.duration.tolist(), strict=True))


def warned(file: SmfFile) -> list[tuple[int, int, str]]:
    return [(w.track, w.tick, w.message) for w in file.warnings]


# Two kicks a quarter apart, each a sixteenth long: body of a track without its end.
TWO_KICKS = "00 99 24 64  78 89 24 40  82 68 99 24 50  78 89 24 40"
KICKS = [(0, 36, 100, 120), (480, 36, 80, 120)]

ACCEPTED = {
    "plain": (TWO_KICKS + END, []),
    "running status": ("00 99 24 64  78 24 00  82 68 24 50  78 24 00" + END, []),
    "running status over a meta event": (
        "00 99 24 64  78 FF 01 01 61  00 24 00  82 68 24 50  78 24 00" + END,
        [],
    ),
    "running status over a system exclusive event": (
        "00 99 24 64  78 F0 02 7E F7  00 24 00  82 68 24 50  78 24 00" + END,
        [],
    ),
    "note-offs of velocity 0": ("00 99 24 64  78 99 24 00  82 68 99 24 50  78 99 24 00" + END, []),
    "delta times in a longer form than needed": (
        "80 80 80 00 99 24 64  80 78 89 24 40  82 68 99 24 50  78 89 24 40" + END,
        [],
    ),
    "missing note-offs": (
        "00 99 24 64  83 60 99 24 50  83 60 99 2A 00" + END,
        [(1, 0, "a note without a note-off was ended (2 times)")],
    ),
    "a note-off that ends nothing": ("00 89 24 40 " + TWO_KICKS + END, []),
    "data bytes over 127 in second place": (
        "00 99 24 64  78 89 24 C0  82 68 99 24 50  78 89 24 FF" + END,
        [(1, 120, "a data byte over 127 was read as 127 (2 times)")],
    ),
    "no end of track": (
        TWO_KICKS,
        [(1, 600, "the end of the track is not marked; it ends with its last event")],
    ),
    "bytes behind the end of track": (
        TWO_KICKS + END + "00 99 24 64",
        [(1, 600, "bytes behind the end of the track were skipped")],
    ),
    "a key signature with 15 sharps": (
        "00 FF 59 02 0F 00" + TWO_KICKS + END,
        [(1, 0, "a malformed key signature was left out")],
    ),
    "a tempo of two bytes": (
        TWO_KICKS + "00 FF 51 02 07 A1" + END,
        [(1, 600, "a malformed tempo was left out")],
    ),
    "a tempo of 0": ("00 FF 51 03 00 00 00" + TWO_KICKS + END, [(1, 0, "a malformed tempo was left out")]),
    "a metre of 0/4": (
        "00 FF 58 04 00 02 18 08" + TWO_KICKS + END,
        [(1, 0, "a malformed metre was left out")],
    ),
    "a metre over 2 to the 77th": (
        "00 FF 58 04 04 4D 18 08" + TWO_KICKS + END,
        [(1, 0, "a malformed metre was left out")],
    ),
    "a metre of two bytes": (
        "00 FF 58 02 04 02" + TWO_KICKS + END,
        [(1, 0, "a malformed metre was left out")],
    ),
    "a timing clock": (
        "00 F8" + TWO_KICKS + END,
        [(1, 0, "a system message that belongs in no file was left out")],
    ),
    "a song position": (
        "00 F2 01 02" + TWO_KICKS + END,
        [(1, 0, "a system message that belongs in no file was left out")],
    ),
    "a broken last event": (
        TWO_KICKS + "00 99 24",
        [(1, 600, "the track breaks off; what was whole is kept")],
    ),
    "a delta time of five bytes": (
        TWO_KICKS + "80 80 80 80 00 99 24 64" + END,
        [(1, 600, "a delta time or length of more than four bytes; what stood before it is kept")],
    ),
    "a meta event longer than the track": (
        TWO_KICKS + "00 FF 01 7F 61" + END,
        [(1, 600, "the track breaks off; what was whole is kept")],
    ),
}


@pytest.mark.parametrize("name", ACCEPTED)
def test_lenient_forms_give_the_same_two_kicks(name: str) -> None:
    """Each accepted form gives the notes exactly and at most one warning, with track and tick."""
    body, warnings = ACCEPTED[name]
    file = read_smf(midi_of(body))
    assert notes(file) == KICKS
    assert warned(file) == warnings


def test_a_first_data_byte_over_127_behind_a_status_byte_is_clamped() -> None:
    """Behind a status byte the data bytes are counted off, whatever they are (house rule)."""
    assert notes(read_smf(midi_of("00 99 A4 64  78 89 A4 40" + END))) == [(0, 127, 100, 120)]


def test_a_byte_that_is_no_status_byte_is_data_under_running_status() -> None:
    """F5 begins no event of any kind, so under running status it can only be a note (house rule)."""
    assert notes(read_smf(midi_of("00 99 24 64  78 F5 50  00 89 7F 40  00 24 40" + END))) == [
        (0, 36, 100, 120),
        (120, 127, 80, 0),
    ]


def test_under_running_status_a_channel_status_byte_begins_an_event() -> None:
    """Where an event may begin, a byte over 127 that can be a status byte is one."""
    file = read_smf(midi_of("00 99 24 64  78 89 24 40  00 C9 10  00 11" + END))
    assert file.tracks[0].events.status.tolist() == [0x99, 0x89, 0xC9, 0xC9]
    assert file.tracks[0].events.data1.tolist() == [0x24, 0x24, 0x10, 0x11]


@pytest.mark.parametrize("body", ["00 24 64" + END, "00 F4" + END], ids=["data byte", "undefined byte"])
def test_a_track_that_begins_with_no_event_is_empty_with_a_warning(body: str) -> None:
    """Nothing can be told from a data byte without a status byte before it."""
    file = read_smf(midi_of(body, TWO_KICKS + END))
    assert notes(file) == [] and notes(file, 1) == KICKS
    assert [warning.track for warning in file.warnings] == [1]


def test_every_event_stays_in_the_table() -> None:
    """All kinds of events, in order, with ticks, data bytes and the bytes of the long ones."""
    body = (
        "00 FF 03 02 68 69  0A B9 04 7F  00 A9 24 10  05 D9 20  00 E9 00 40  00 F0 03 01 02 F7  00 F7 01 F8"
    )
    events = read_smf(midi_of(body + END)).tracks[0].events
    assert events.tick.tolist() == [0, 10, 10, 15, 15, 15, 15]
    assert events.status.tolist() == [0xFF, 0xB9, 0xA9, 0xD9, 0xE9, 0xF0, 0xF7]
    assert events.data1.tolist() == [3, 4, 0x24, 0x20, 0, 0, 0]
    assert events.data2.tolist() == [0, 0x7F, 0x10, 0, 0x40, 0, 0]
    assert dict(events.payload) == {0: b"hi", 5: b"\x01\x02\xf7", 6: b"\xf8"}


def test_malformed_meta_events_are_left_out_of_the_table_and_keep_time() -> None:
    """What is left out leaves its delta time to the next event."""
    track = read_smf(midi_of("0A FF 51 01 00 0A 99 24 64 0A 89 24 40" + END)).tracks[0]
    assert track.events.tick.tolist() == [20, 30]


def test_tempo_metre_and_markers_from_any_track() -> None:
    """Gathered by tick; in the order of the tracks within a tick."""
    file = read_smf(
        midi_of(
            "0A FF 51 03 06 1A 80  0A FF 06 01 42" + END,
            TEMPO_120 + "0A FF 58 04 07 03 0C 08  00 FF 06 01 41  0A FF 06 01 43" + END,
        )
    )
    assert file.tempos.tick.tolist() == [0, 10]
    assert file.tempos.microseconds.tolist() == [500_000, 400_000]
    assert file.meters == ((10, 7, 8),)
    assert file.markers == ((10, "A"), (20, "B"), (20, "C"))


def test_markers_else_cues_else_texts() -> None:
    """The best kind that the file has is taken alone."""
    text, cue, marker = "00 FF 01 01 74", "00 FF 07 01 63", "00 FF 06 01 6D"
    assert read_smf(midi_of(text + END)).markers == ((0, "t"),)
    assert read_smf(midi_of(text + cue + END)).markers == ((0, "c"),)
    assert read_smf(midi_of(text + cue + marker + END)).markers == ((0, "m"),)


@pytest.mark.parametrize(("payload", "name"), [("C3 A9", "é"), ("E9", "é"), ("44 00 00", "D"), ("", "")])
def test_names_are_utf_8_else_latin_1(payload: str, name: str) -> None:
    """The first name counts; NULs at its end are padding."""
    size = f"{len(bytes.fromhex(payload)):02X}"
    file = read_smf(midi_of(f"00 FF 03 {size} {payload} 00 FF 03 01 7A" + END))
    assert file.tracks[0].name == name


def test_metre_change_inside_a_bar_stays_where_it_stood() -> None:
    """Bars are no business of this layer."""
    body = "00 FF 58 04 04 02 18 08  81 70 FF 58 04 03 02 18 08"
    assert read_smf(midi_of(body + END)).meters == ((0, 4, 4), (240, 3, 4))


def test_format_2_lays_its_tracks_one_after_the_other_on_bar_lines() -> None:
    """A metre set inside a bar holds from the next bar line, and carries on into the next track."""
    file = read_smf(
        midi_of(
            TWO_KICKS + END,
            "00 FF 58 04 03 02 18 08  8B 21 FF 01 00" + END,
            "00 FF 58 04 04 02 18 08  0A FF 58 04 05 02 18 08" + END,
            "00 99 24 64 78 89 24 40" + END,
            form=2,
        )
    )
    assert file.format == 2
    # 4/4 of 1920; 3/4 of 1440, ending one tick into its second bar; one bar of 4/4; then 5/4
    assert [track.start_tick for track in file.tracks] == [0, 1920, 1920 + 2880, 1920 + 2880 + 1920]
    assert notes(file, 3) == [(6720, 36, 100, 120)]
    assert file.meters == ((1920, 3, 4), (4800, 4, 4), (4810, 5, 4))
    assert file.warnings == ()


def test_format_2_of_two_metres_in_one_bar_the_later_holds() -> None:
    """Both wait for the same bar line."""
    body = "0A FF 58 04 03 02 18 08  0A FF 58 04 05 02 18 08  8F 00 FF 01 00"
    file = read_smf(midi_of(body + END, END, form=2))
    assert file.tracks[0].end_tick == 1940
    assert file.tracks[1].start_tick == 1920 + 5 * 480


def test_format_2_bar_lines_between_two_ticks_move_to_the_next_tick() -> None:
    """A bar of 1/32 at one tick a quarter is an eighth of a tick long."""
    file = read_smf(midi_of("00 FF 58 04 01 05 03 08" + END, "01 FF 01 00" + END, END, form=2, division=1))
    assert [track.start_tick for track in file.tracks] == [0, 0, 1]


def test_unknown_chunks_long_headers_and_junk_are_passed_over() -> None:
    """Chunks by their length; bytes that are no chunk up to the next track."""
    plain = midi_of(TWO_KICKS + END)
    track = plain[14:]
    alien = b"XFIH\0\0\0\x03abc"
    assert read_smf(plain[:14] + alien + track + alien).tracks == read_smf(plain).tracks
    assert warned(read_smf(plain[:14] + alien + track + alien)) == [
        (0, 0, "chunks of an unknown kind were skipped: 2")
    ]
    longer = b"MThd\0\0\0\x08" + plain[8:14] + b"\x12\x34" + track
    assert read_smf(longer) == read_smf(plain)
    for junk in (b"\0" * 20, b"\x1a", b"junk at the end", b"MTrk"):
        file = read_smf(plain + junk)
        assert file.tracks == read_smf(plain).tracks
        assert warned(file) == [(0, 0, f"bytes that belong to no chunk were skipped: {len(junk)}")]
    assert read_smf(plain[:14] + b"\0\0\0" + track).tracks == read_smf(plain).tracks


def test_wrong_number_of_tracks() -> None:
    """The tracks that are there are read; format 0 with several is format 1."""
    for declared in (0, 1, 5):
        file = read_smf(midi_of(TWO_KICKS + END, END, declared=declared))
        assert len(file.tracks) == 2
        assert warned(file) == [(0, 0, f"number of tracks: {declared} in the header, 2 in the file")]
    for declared in (1, 2):
        file = read_smf(midi_of(TWO_KICKS + END, END, form=0, declared=declared))
        assert (file.format, len(file.tracks), len(file.warnings)) == (1, 2, 1)


def test_a_track_length_beyond_the_file_loses_no_later_track() -> None:
    """The marked end of track counts more than the length in the chunk."""
    data = midi_of(declared=2) + chunk(TWO_KICKS + END, 0xFFFFFFFF) + chunk(TWO_KICKS + END)
    file = read_smf(data)
    assert notes(file, 0) == notes(file, 1) == KICKS
    assert warned(file) == [(1, 600, "the track is shorter than its header says")]


def test_empty_tracks_and_no_tracks() -> None:
    """Nothing is wrong with nothing."""
    assert read_smf(midi_of()).tracks == ()
    file = read_smf(midi_of(END, "", END))
    assert [track.end_tick for track in file.tracks] == [0, 0, 0]
    assert [warning.track for warning in file.warnings] == [2]


def test_a_midi_file_wrapped_in_riff_is_unwrapped() -> None:
    """RMID: RIFF, size, RMID, then the chunk "data", lengths little-endian and padded to even."""
    plain = midi_of(TWO_KICKS + END)
    pieces = b"RMIDINFO\x03\0\0\0abc\0data" + len(plain).to_bytes(4, "little") + plain
    assert read_smf(b"RIFF" + len(pieces).to_bytes(4, "little") + pieces) == read_smf(plain)


@pytest.mark.parametrize(
    ("data", "found"),
    [
        (b"", "an empty file"),
        (b"PK\x03\x04 and more", "'PK\\x03\\x04'"),
        (midi_of(END)[:13], "13 bytes"),
        (b"MThd\0\0\0\x05" + midi_of(END)[8:], "a header of 5 bytes"),
        (midi_of(END, form=3), "3"),
        (midi_of(END, division=0), "0"),
        (midi_of(END, division=0xE728), "25 frames a second, 40 ticks a frame"),
        (b"RIFF\x10\0\0\0WAVEfmt \0\0\0\0", "'RIFF\\x10\\x00\\x00\\x00WAVE'"),
    ],
)
def test_refusals_say_what_was_found_and_allowed(data: bytes, found: str) -> None:
    """What is no MIDI file, or has no beats, is refused."""
    with pytest.raises(FormatError) as caught:
        read_smf(data)
    fault = caught.value.faults[0]
    assert fault.found == found
    assert fault.allowed


def test_values_are_read_only_and_equal_by_content() -> None:
    """Two readings are equal and hash alike; a different velocity is a different file."""
    one, two = read_smf(midi_of(TWO_KICKS + END)), read_smf(midi_of(TWO_KICKS + END))
    assert one == two and hash(one) == hash(two)
    assert one != read_smf(midi_of(TWO_KICKS.replace("64", "63") + END))
    with pytest.raises(ValueError, match="read-only"):
        one.tracks[0].notes.tick[0] = 7
