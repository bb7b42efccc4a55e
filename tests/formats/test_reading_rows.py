"""What real files do and the reader takes: a test for every row, bytes in hexadecimal with what they say.

The file format is that of Standard MIDI Files 1.0 (MMA RP-001); what is done with what breaks it is a house rule.
What the standard allows has nothing said about it; what breaks it has a warning with track, tick and bar.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from grooveforge.errors import FormatError
from grooveforge.formats.drum_part import DrumPart
from grooveforge.formats.drums_groove import grooves_of, place_part
from grooveforge.formats.drums_read import read_drums
from grooveforge.formats.smf_read import read_smf
from grooveforge.formats.vary_midi import Variation, vary_part, write_back
from grooveforge.project.inspecting import midi_inspection
from tests.hexbytes import END, chunk, header, midi_of

KICK = """
    00    99 24 64  # kick on, velocity 100, at tick 0
    78    89 24 40  # off after a sixteenth
"""
KICK_SNARE = KICK + """
    82 68 99 26 50  # snare on, velocity 80, at tick 480
    78    89 26 40  # off
"""
BOTH = [(0, 36, 100, 120), (480, 38, 80, 120)]
Row = tuple[int, int, int, int]


def part_of(data: bytes, channel: int | None = None) -> DrumPart:
    return read_drums(read_smf(data), channel)


def rows(part: DrumPart) -> list[Row]:
    """(tick, note, velocity, duration)."""
    return list(zip(*(column.tolist() for column in (part.tick, part.note, part.velocity, part.duration))))


ROWS: dict[str, tuple[bytes, list[Row], tuple[str, ...]]] = {
    "format 0": (midi_of(KICK_SNARE + END, form=0), BOTH, ()),
    "format 1": (midi_of("00 FF 51 03 07 A1 20\n" + END, KICK_SNARE + END), BOTH, ()),
    "format 2: one track after the other, each on a bar line": (
        midi_of(KICK + END, KICK + END, form=2),
        [(0, 36, 100, 120), (1920, 36, 100, 120)],
        (),
    ),
    "running status over a meta event": (
        midi_of(
            """
            00    99 24 64  # kick on
            78    FF 01 01 61  # text "a"
            00    24 00  # running status: kick on with velocity 0, an off
            82 68 26 50  # snare on
            78    26 00  # off
            """
            + END
        ),
        BOTH,
        (),
    ),
    "offs as note-ons of velocity 0": (
        midi_of("00 99 24 64\n 78 99 24 00  # off\n 82 68 99 26 50\n 78 99 26 00  # off\n" + END),
        BOTH,
        (),
    ),
    "a missing note-off: until the next onset of the note, or a sixteenth": (
        midi_of("00 99 24 64  # kick, no off\n 3C 99 24 50  # kick 60 ticks later, no off\n" + END),
        [(0, 36, 100, 60), (60, 36, 80, 120)],
        ("track 1, tick 0, bar 1: a note without a note-off was ended (2 times)",),
    ),
    "a note of no length": (midi_of("00 99 24 64\n 00 89 24 40  # off at once\n" + END), [(0, 36, 100, 0)], ()),
    "on before off on one tick": (
        midi_of(
            """
            00 99 24 64  # on
            78 99 24 50  # on again, before
            00 89 24 40  # the off of the first on the same tick
            78 89 24 40  # the off of the second
            """
            + END
        ),
        [(0, 36, 100, 120), (120, 36, 80, 120)],
        (),
    ),
    "overlaps: first in, first out": (
        midi_of("00 99 24 64\n 0A 99 24 50\n 0A 89 24 40  # ends the first\n 0A 89 24 40  # ends the second\n" + END),
        [(0, 36, 100, 20), (10, 36, 80, 20)],
        (),
    ),
    "data bytes over 127": (
        midi_of("00 99 24 FF  # velocity 255\n 78 89 24 80  # off with velocity 128\n" + END),
        [(0, 36, 127, 120)],
        ("track 1, tick 0, bar 1: a data byte over 127 was read as 127 (2 times)",),
    ),
    "no end of track": (
        midi_of(KICK_SNARE),
        BOTH,
        ("track 1, tick 600, bar 1: the end of the track is not marked; it ends with its last event",),
    ),
    "an unknown chunk": (
        header(1, 1) + chunk("01 02 03", tag=b"XFIH") + chunk(KICK_SNARE + END),
        BOTH,
        ("chunks of an unknown kind were skipped: 1",),
    ),
    "a wrong number of tracks": (
        midi_of(KICK_SNARE + END, declared=7),
        BOTH,
        ("number of tracks: 7 in the header, 1 in the file",),
    ),
    "a key signature of 12 flats": (
        midi_of("00 FF 59 02 F4 00  # sf -12, major\n" + KICK_SNARE + END),
        BOTH,
        ("track 1, tick 0, bar 1: a malformed key signature was left out",),
    ),
    "a tempo of two bytes": (
        midi_of("00 FF 51 02 07 A1\n" + KICK_SNARE + END),
        BOTH,
        ("track 1, tick 0, bar 1: a malformed tempo was left out",),
    ),
    "a metre of nothing": (
        midi_of("00 FF 58 04 00 02 18 08  # 0/4\n" + KICK_SNARE + END),
        BOTH,
        ("track 1, tick 0, bar 1: a malformed metre was left out",),
    ),
    "the last track cut short": (
        header(1, 2) + chunk(KICK + END) + chunk("83 60 99 26 50\n 78 89 26 40\n 00 99 24", length=12 + 50),
        BOTH,
        ("track 2, tick 600, bar 1: the track breaks off; what was whole is kept",),
    ),
    "the metre changes inside a bar": (
        midi_of(KICK + "82 68 FF 58 04 03 02 18 08  # 3/4 at tick 480\n 00 99 26 50\n 78 89 26 40\n" + END),
        BOTH,
        ("tick 480, bar 1: the metre changes inside the bar; bars count by it from the next bar line",),
    ),
    "equal notes on one tick": (
        midi_of("00 99 24 32  # kick, velocity 50\n 00 99 24 64  # again, 100\n 78 89 24 40\n 00 89 24 40\n" + END),
        [(0, 36, 100, 120)],
        (),
    ),
    "several drum tracks": (midi_of(KICK + END, "83 60 99 26 50\n 78 89 26 40\n" + END), BOTH, ()),
    "notes that no kit names": (midi_of("00 99 7B 64  # note 123\n 78 89 7B 40\n" + END), [(0, 123, 100, 120)], ()),
    "drums on another channel, in a track named drums": (
        midi_of(
            "00 FF 03 03 4B 69 74  # name Kit\n 00 95 24 64\n 78 85 24 40\n" + END,
            "00 90 3C 64  # middle C\n 78 80 3C 40\n" + END,
        ),
        [(0, 36, 100, 120)],
        ("channel 10 has no notes: track 1 'Kit' on channel 6 was taken, since its name says drums",),
    ),
    "drums on another channel, told by their notes": (
        midi_of("00 90 24 64\n 78 80 24 40\n" + END, "00 91 3C 64\n 78 81 3C 40\n" + END),
        [(0, 36, 100, 120)],
        ("channel 10 has no notes: track 1 on channel 1 was taken, since its notes are drums'",),
    ),
}


@pytest.mark.parametrize("name", ROWS)
def test_a_row_that_is_accepted(name: str) -> None:
    """The strokes exactly, and the warning word for word, or none."""
    data, expected, warnings = ROWS[name]
    part = part_of(data)
    assert rows(part) == expected
    assert part.warnings == warnings


REFUSED: dict[str, tuple[bytes, str, str]] = {
    "SMPTE division": (
        midi_of(KICK + END, division=0xE728),  # E7: 25 frames a second; 28: 40 ticks a frame
        "the file counts time in SMPTE frames, so it has no beats",
        "export it with ticks per quarter note",
    ),
    "no MIDI file": (b"RIFF\x04\0\0\0WAVE", "a RIFF file without MIDI in it", "Standard MIDI File"),
    "an empty file": (b"", "this is no MIDI file", "Standard MIDI File"),
    "the header cut short": (header(1, 1)[:10], "the header of the MIDI file is cut short", "Standard MIDI File"),
    "a format that does not exist": (midi_of(END, form=3), "a format of MIDI file that does not exist", "0, 1 or 2"),
    "no ticks to a quarter": (midi_of(END, division=0), "the file has no ticks to a quarter", "1 to 32767"),
    "no drums anywhere": (
        midi_of("00 90 3C 64  # middle C\n 78 80 3C 40\n" + END),
        "channel 10 has no notes, and no track looks like drums",
        "--channel",
    ),
    "two tracks that may be the drums": (
        midi_of("00 90 24 64\n 78 80 24 40\n" + END, "00 91 26 64\n 78 81 26 40\n" + END),
        "channel 10 has no notes, and more than one track may be the drums",
        "--channel",
    ),
    "more bars than any song has": (
        # 1/32 bars of 60 ticks up to tick 0x0FFFFFFF
        midi_of("00 FF 58 04 01 05 18 08\n 00 99 24 64\n FF FF FF 7F 89 24 40\n" + END),
        "the file is more than 100000 bars long",
        "cut it where the music ends",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_row_that_is_refused(name: str) -> None:
    """An error of this package that says what is wrong and what is allowed or to be tried."""
    data, message, helps = REFUSED[name]
    with pytest.raises(FormatError) as caught:
        part_of(data)
    assert caught.value.faults[0].message == message
    assert helps in str(caught.value)


def test_a_channel_without_notes_is_refused_with_the_channels_that_have_some() -> None:
    with pytest.raises(FormatError, match=r"channel 3 has no notes\n  allowed: channel 10 \(track 1\)"):
        part_of(midi_of(KICK + END), channel=3)


def test_tempo_and_metre_in_any_track() -> None:
    """The bars follow them wherever they stand."""
    part = part_of(
        midi_of(
            KICK + END,
            """
            00    FF 51 03 09 27 C0  # 600,000 us a quarter: 100 a minute
            00    FF 58 04 03 02 18 08  # 3/4
            8B 20 FF 51 03 07 A1 20  # 120 at tick 1440
            """
            + END,
        )
    )
    assert [(bar.tick, str(bar.meter), bar.bpm) for bar in part.bars] == [(0, "3/4", 100.0)]
    assert part.tempos.tick.tolist() == [0, 1440]


def test_the_event_of_a_metre_inside_a_bar_stays_where_it_stood() -> None:
    """Bars count from the next bar line; written again it stands at its own tick."""
    file = read_smf(ROWS["the metre changes inside a bar"][0])
    part = read_drums(file)
    assert [(bar.start, str(bar.meter)) for bar in part.bars] == [(Fraction(0), "4/4")]
    assert read_smf(write_back(file, part)).meters == ((480, 3, 4),)


MARKER, CUE, TEXT = "00 FF 06 01 4D  # marker M\n", "00 FF 07 01 43  # cue C\n", "00 FF 01 01 54  # text T\n"


@pytest.mark.parametrize(
    ("events", "name"), [(TEXT + CUE + MARKER, "M"), (TEXT + CUE, "C"), (TEXT, "T"), ("", None)]
)
def test_markers_else_cues_else_texts(events: str, name: str | None) -> None:
    assert read_smf(midi_of(events + KICK + END)).markers == (((0, name),) if name else ())


@pytest.mark.parametrize(
    ("payload", "name"),
    [("C3 A9 74 C3 A9  # UTF-8", "été"), ("E9 74 E9  # no UTF-8: Latin-1", "été"), ("44 72 75 6D  # ASCII", "Drum")],
)
def test_names_in_utf_8_else_latin_1(payload: str, name: str) -> None:
    size = len(payload.partition("#")[0].split())
    assert read_smf(midi_of(f"00 FF 03 {size:02X} {payload}\n" + END)).tracks[0].name == name


def test_controllers_and_the_like_are_counted_and_kept_on_the_way_out() -> None:
    """Of the drums' channel in its tracks; those of other channels stay too, in their order."""
    head = """
        00 C9 08  # program change of the drums
        00 B9 07 64  # volume
        00 B9 0A 40  # pan
        00 A9 24 10  # aftertouch of the kick
        00 D9 20  # channel aftertouch
        00 E9 00 40  # pitch bend
        00 B0 07 64  # volume of channel 1
    """
    file = read_smf(midi_of(head + KICK + END))
    part = read_drums(file)
    assert part.controls == {
        "program change": 1, "controller": 2, "aftertouch": 1, "channel aftertouch": 1, "pitch bend": 1
    }  # fmt: skip
    again = read_smf(write_back(file, vary_part(part, Variation(feel="half"))))
    kept = again.tracks[0].events
    assert kept.status.tolist()[:7] == [0xC9, 0xB9, 0xB9, 0xA9, 0xD9, 0xE9, 0xB0]
    assert kept.data1.tolist()[:7] == [8, 7, 10, 0x24, 0x20, 0, 7]


def test_equal_notes_on_one_tick_are_counted() -> None:
    """Hits count distinct (tick, note)."""
    told = midi_inspection(part_of(ROWS["equal notes on one tick"][0]))
    assert (told["hits"], told["duplicates"]) == (1, 1)


def test_notes_that_no_kit_names_are_named_by_number_and_counted() -> None:
    part = part_of(midi_of("00 99 7B 64  # note 123\n 78 89 7B 40\n" + KICK + END))
    assert midi_inspection(part)["unknown_notes"] == {"123": 1}
    assert "note 123" in {name for run in grooves_of(part) for name, _ in run.groove.voices}


def test_other_tracks_are_listed_and_copied_through() -> None:
    """A bass on channel 2 is no drums: its bytes are the same after a change of the drums."""
    bass = "00 FF 03 04 42 61 73 73  # name Bass\n 00 91 28 64\n 83 60 81 28 40\n" + END
    file = read_smf(midi_of(KICK_SNARE + END, bass))
    part = read_drums(file)
    assert midi_inspection(part)["other_tracks"] == [{"track": 2, "name": "Bass", "notes": 1, "channels": [2]}]
    assert write_back(file, vary_part(part, Variation(feel="half"))).endswith(chunk(bass))


def test_in_a_track_that_mixes_channels_only_the_drums_are_new() -> None:
    """A format 0 song: the bass line and the controller stay in order, the snare moves."""
    body = """
        00    99 24 64  # kick, channel 10
        00    91 28 64  # bass, channel 2
        78    89 24 40
        82 68 99 26 50  # snare at 480
        00    B1 07 50  # volume of the bass
        78    89 26 40
        84 58 81 28 40  # bass off at 1200
        00    99 24 64  # kick at 1200
        78    89 24 40
        00    99 26 50  # snare at 1320, beside every backbeat
        81 70 89 26 40
    """
    file = read_smf(midi_of(body + END, form=0))
    again = read_smf(write_back(file, vary_part(read_drums(file), Variation(timekeeper=None, feel="half"))))
    bass = [
        [(int(tick), int(status), int(one), int(two)) for tick, status, one, two in zip(*columns) if status & 15 == 1]
        for columns in ((f.tracks[0].events.tick, f.tracks[0].events.status, f.tracks[0].events.data1,
                         f.tracks[0].events.data2) for f in (file, again))
    ]  # fmt: skip
    assert bass[0] == bass[1] == [(0, 0x91, 0x28, 0x64), (480, 0xB1, 7, 0x50), (1200, 0x81, 0x28, 0x40)]
    assert again.format == 0 and len(again.tracks) == 1


def test_bar_1_begins_at_tick_0_in_4_4_where_nothing_is_said() -> None:
    part = part_of(midi_of("8F 00 99 24 64  # kick at tick 1920\n 78 89 24 40\n" + END))
    assert [(bar.tick, str(bar.meter)) for bar in part.bars] == [(0, "4/4"), (1920, "4/4")]
    assert part.bar_at(1920) == 2


def test_the_length_is_the_later_of_end_and_last_note_up_to_the_bar_line() -> None:
    """An end of track behind the bar line asks for a bar of its own; so does a note there."""
    rest = "8F 01 FF 2F 00  # end of track at tick 2041\n"
    assert part_of(midi_of(KICK + rest)).end == 3840
    assert part_of(midi_of("8F 00 99 24 64  # kick at tick 1920\n 78 89 24 40\n" + END)).end == 3840
    assert part_of(midi_of(KICK + "8D 08 FF 2F 00  # end of track at tick 1920\n")).end == 1920


GRIDS = {
    "1/8": (8, [0, 240, 480, 720, 960, 1200, 1440, 1680]),
    "1/16": (16, [0, 120, 480, 600, 960, 1440, 1800]),
    "1/32": (32, [0, 60, 480, 540, 960, 1020, 1440, 1860]),
    "eighth triplets": (12, [0, 160, 320, 480, 640, 800, 960, 1120, 1280, 1440]),
    "sixteenth triplets": (24, [0, 80, 160, 240, 320, 400, 480, 960, 1440]),
}


@pytest.mark.parametrize("name", GRIDS)
@pytest.mark.parametrize("push", [0, 3])
def test_hits_are_put_on_the_best_grid_and_keep_their_offsets(name: str, push: int) -> None:
    """Exact strokes and strokes a few ticks late stand on the same steps; step and offset give the tick back."""
    grid, ticks = GRIDS[name]
    body, now = "", 0
    for number, tick in enumerate(ticks):
        at = tick + (push if number % 2 else 0)
        delta = at - now
        body += f"{delta >> 7 | 128:02X} {delta & 127:02X} 99 2A 64  # hi-hat at {at}\n 00 89 2A 40\n"
        now = at
    part = part_of(midi_of(body + END))
    run = grooves_of(part)[0]
    steps = run.groove.lane_on("closed hi-hat").struck
    assert [Fraction(int(step), run.groove.grid) for step in steps] == [Fraction(tick, 1920) for tick in ticks]
    assert run.groove.grid % grid == 0
    placed = place_part(part)
    late = push * (len(ticks) // 2) / len(ticks)  # on average, in ticks
    assert midi_inspection(part)["grid_residue_ms"] == pytest.approx(late * 500 / 480, abs=0.001)
    assert len(placed.main) == len(ticks)
    assert part.tick.tolist() == [tick + (push if number % 2 else 0) for number, tick in enumerate(ticks)]


EVERYTHING = midi_of(
    """
    00    FF 58 04 04 02 18 08  # 4/4
    00    FF 51 03 07 A1 20  # 120 a minute
    00    FF 06 01 41  # marker A
    8F 00 FF 58 04 07 03 18 08  # 7/8 at tick 1920
    00    FF 51 03 09 27 C0  # 100 a minute
    00    FF 06 01 42  # marker B
    """
    + END,
    "03 99 24 64  # kick at 3, off the grid\n 50 89 24 40\n 60 99 7B 11  # unknown, soft\n 10 89 7B 40\n" + END,
)


def test_written_again_it_has_its_onsets_levels_tempi_metres_and_markers() -> None:
    """To the tick, notes off the grid and notes without a name too."""
    file = read_smf(EVERYTHING)
    again = read_smf(write_back(file, read_drums(file)))
    assert rows(read_drums(again)) == rows(read_drums(file)) == [(3, 36, 100, 80), (179, 123, 17, 16)]
    assert (again.tempos, again.meters, again.markers) == (file.tempos, file.meters, file.markers)
    assert again.markers == ((0, "A"), (1920, "B"))


WHOLE = ROWS["running status over a meta event"][0]


PATTERNS = ROWS["format 2: one track after the other, each on a bar line"][0]


@pytest.mark.parametrize("data", [WHOLE, EVERYTHING, PATTERNS], ids=["running status", "all kinds", "format 2"])
def test_cut_at_any_byte_it_is_read_as_drums_or_refused(data: bytes) -> None:
    """In the header it is refused; behind it every stroke is one of the whole file's, and a warning is given."""
    whole = {row[:3] for row in rows(part_of(data))}
    for cut in range(len(data)):
        if cut < 14:
            with pytest.raises(FormatError):
                part_of(data[:cut])
            continue
        part = part_of(data[:cut])
        assert {row[:3] for row in rows(part)} <= whole
        assert part.warnings, cut
