"""What is written, byte by byte: a test for every row of the one canonical form.

The file format is that of Standard MIDI Files 1.0 (MMA RP-001); what is chosen where it leaves a choice is a house
rule. Songs are rendered from sheets whose titles are invented.
"""

from __future__ import annotations

import io
from fractions import Fraction
from typing import Any

import mido
import pytest

from grooveforge.core.kit import Kind
from grooveforge.errors import GrooveForgeError, UsageError
from grooveforge.formats.drums_groove import grooves_of
from grooveforge.formats.drums_read import read_drums
from grooveforge.formats.midi import MidiOptions
from grooveforge.formats.smf_read import read_smf
from grooveforge.formats.vary_midi import Variation, vary_part, write_back
from grooveforge.project.rendering import Rendered, render
from grooveforge.project.sheets import Sheet, song_from
from tests.hexbytes import chunk, header, midi_of, spelt
from tests.plain_midi import Event, events_of, onsets

END = b"\xff\x2f"
BAR = 1920


def rendered(text: str, options: MidiOptions | None = None, sections: bool = False) -> Rendered:
    return render(Sheet("kiln.toml", text.encode(), song_from(text, "kiln.toml")), options, sections)


def sheet(lines: str = "HH x-x-x-x-x-x-x-x-\nSN ----O-------O---\nBD o-------o-------", part: str = "bars = 1",
          head: str = "tempo = 120", form: str = '["kiln"]', grid: str = "") -> str:  # fmt: skip
    return (
        f'title = "Kiln Song"\n{head}\nlevels = "flat"\nform = {form}\n[defaults]\narrival = false\ngroove = "own"\n'
        f"[grooves.own]\n{grid}\ntab = '''\n{lines}\n'''\n[parts.kiln]\n{part}\n"
    )


def song(text: str, options: MidiOptions | None = None) -> bytes:
    return rendered(text, options).files["kiln.mid"]


def head_of(data: bytes) -> list[Event]:
    return events_of(data)[0]


def test_a_song_of_one_bar_to_the_byte() -> None:
    """Format 1, 480 ticks, track 1 without notes, drums on channel 10, meta first, offs before ons, no more."""
    data = song(sheet("SN ----O---\nBD o-------", 'bars = 1\nmeter = "2/4"', grid='meter = "2/4"'))
    assert data == header(1, 2) + chunk(
        """
        00    FF 03 09 4B 69 6C 6E 20 53 6F 6E 67  # name Kiln Song
        00    FF 58 04 02 02 18 08  # 2/4
        00    FF 51 03 07 A1 20  # 500,000 us a quarter
        00    FF 01 09 74 65 6D 70 6F 20 31 32 30  # text tempo 120
        00    FF 06 04 6B 69 6C 6E  # marker kiln
        87 40 FF 2F 00  # end on the bar line, tick 960
        """
    ) + chunk(
        """
        00    FF 03 05 44 72 75 6D 73  # name Drums
        00    99 24 5E  # kick on channel 10, level 94
        78    89 24 40  # off after a sixteenth, 120 ticks
        82 68 99 26 72  # snare on beat 2, tick 480
        78    89 26 40  # off
        82 68 FF 2F 00  # end at tick 960
        """
    )


def test_the_same_sheet_gives_the_same_bytes() -> None:
    assert song(sheet()) == song(sheet())


def test_format_0_channel_1_and_a_track_a_surface() -> None:
    """The options change the layout and not one note."""
    plain, single = song(sheet()), song(sheet(), MidiOptions(format=0))
    split, first = song(sheet(), MidiOptions(split_surfaces=True)), song(sheet(), MidiOptions(channel=1))
    assert [data[8:12].hex(" ") for data in (plain, single, split, first)] == [
        "00 01 00 02", "00 00 00 01", "00 01 00 04", "00 01 00 02"
    ]  # fmt: skip
    strokes = sorted(onsets(events_of(plain)[1]))
    assert sorted(onsets(events_of(single)[0])) == strokes
    assert sorted(row for track in events_of(split) for row in onsets(track)) == strokes
    assert sorted(onsets(events_of(first)[1], channel=0)) == strokes
    names = [bytes(data[2:]).decode() for track in events_of(split)[1:] for _, data in track if data[:2] == b"\xff\x03"]
    assert sorted(names) == ["closed hi-hat", "kick", "snare"]


@pytest.mark.parametrize(
    ("options", "words"),
    [({"format": 2}, "no such format"), ({"channel": 17}, "no such MIDI channel"),
     ({"format": 0, "split_surfaces": True}, "a format 0 file has one track")],
)  # fmt: skip
def test_layouts_that_cannot_be_are_refused(options: dict[str, Any], words: str) -> None:
    with pytest.raises(UsageError, match=words):
        MidiOptions(**options)


def test_sevens_have_the_least_multiple_of_480() -> None:
    """Fourteen strokes in a bar of 4/4: 3360 ticks a quarter."""
    data = song(sheet("BD oooooooooooooo", grid="grid = 14"))
    assert data[12:14] == spelt("0D 20")  # 3360
    assert [tick for tick, _, _ in onsets(events_of(data)[1])] == [step * 4 * 3360 // 14 for step in range(14)]


def test_a_division_that_no_file_holds_names_the_place() -> None:
    """Sevens and elevens in one song ask for 480 * 7 * 11 = 36,960 ticks; the field holds 32,767."""
    text = sheet("BD ooooooo", grid="grid = 7", form='["kiln", "oven"]')
    text += "[parts.oven]\nbars = 1\ngroove = 'eleven'\n[grooves.eleven]\ngrid = 11\ntab = 'BD ooooooooooo'\n"
    with pytest.raises(GrooveForgeError, match=r"'oven' \(bar 2\) need 36960 ticks .*\n  allowed: at most 32767"):
        song(text)


INCOMING = midi_of(
    "00 FF 58 04 04 02 18 08\n 00 FF 51 03 07 A1 20\n 00 FF 2F 00",
    """
    00    C9 08  # program change
    00    B9 07 64  # volume
    00    99 24 64  # kick
    30    89 24 40
    30    99 26 64  # snare at 96
    30    89 26 40
    81 10 FF 2F 00
    """,
    "00 90 3C 64\n 83 00 3C 00  # off under running status\n 00 FF 2F 00",
    division=96,
)


def test_a_file_that_came_in_keeps_its_division_tracks_and_events() -> None:
    """Only drum notes are written anew; running status of another track is written out and no event moves."""
    file = read_smf(INCOMING)
    out = write_back(file, vary_part(read_drums(file), Variation(feel="half")))
    assert out[:14] == INCOMING[:14]
    before, after = events_of(INCOMING), events_of(out)
    assert after[0] == before[0] and after[2] == before[2]
    assert after[1][:2] == before[1][:2] == [(0, b"\xc9\x08"), (0, b"\xb9\x07\x64")]
    assert onsets(after[1]) == [(0, 36, 100), (192, 38, 100)]


def test_malformed_events_are_left_out_of_what_is_written_with_the_warning() -> None:
    data = midi_of("00 FF 59 02 0F 00  # 15 sharps\n 00 99 24 64\n 78 89 24 40\n 00 FF 2F 00")
    part = read_drums(read_smf(data))
    assert part.warnings == ("track 1, tick 0, bar 1: a malformed key signature was left out",)
    assert write_back(read_smf(data), part) == midi_of("00 99 24 64\n 78 89 24 40\n 00 FF 2F 00")


def test_a_tempo_and_a_metre_stand_at_tick_0_and_changes_on_bar_lines() -> None:
    text = sheet(form='["kiln", { part = "kiln", tempo = 90, meter = "3/4", groove = "waltz" }]')
    text += "[grooves.waltz]\nmeter = '3/4'\ntab = 'BD o-----------'\n"
    events = head_of(song(text))
    assert [(tick, data[2:].hex(" ")) for tick, data in events if data[:2] == b"\xff\x51"] == [
        (0, "07 a1 20"), (BAR, "0a 2c 2b")  # 120; 90: 666,666.67, half up
    ]  # fmt: skip
    assert [(tick, data[2:4].hex(" ")) for tick, data in events if data[:2] == b"\xff\x58"] == [
        (0, "04 02"), (BAR, "03 02")
    ]  # fmt: skip


def test_a_ramp_is_one_event_a_beat() -> None:
    """120 to 140 over a bar of four beats: a tempo on each, the exact tempo beside it as text."""
    events = head_of(song(sheet(part="bars = 1\ntempo = { to = 140, over = 4 }")))
    assert [tick for tick, data in events if data[:2] == b"\xff\x51"] == [0, 480, 960, 1440]
    assert [data[2:] for _, data in events if data[:2] == b"\xff\x51"] == [
        (60_000_000 // bpm + (60_000_000 % bpm * 2 >= bpm)).to_bytes(3, "big") for bpm in (120, 125, 130, 135)
    ]
    assert [tick for tick, data in events if data[:7] == b"\xff\x01tempo"] == [0, 480, 960, 1440]


@pytest.mark.parametrize(("bpm", "text"), [("174", "05 42 fc"), ("98.5", "09 4b 71"), ("140", "06 8a 1b")])
def test_tempo_rounds_half_up_and_the_exact_one_is_a_text(bpm: str, text: str) -> None:
    """60,000,000 / 174 = 344,827.59; / 98.5 = 609,137.06; / 140 = 428,571.43."""
    events = head_of(song(sheet(head=f"tempo = {bpm}")))
    assert (0, b"\xff\x51" + spelt(text)) in events
    assert (0, b"\xff\x01tempo " + bpm.encode()) in events


def test_markers_are_ascii_of_at_most_30_characters_and_names_are_ascii() -> None:
    """The full name stays in the report."""
    name = "Über die Brücke und zurück an den Fluss"
    text = sheet(form=f'[{{ part = "kiln", name = "{name}" }}]').replace("Kiln Song", "Öfen")
    made = rendered(text)
    events = head_of(made.files["kiln.mid"])
    markers = [data[2:] for _, data in events if data[:2] == b"\xff\x06"]
    assert markers == [b"Uber die Brucke und zuruck an "[:30].rstrip()]
    assert (0, b"\xff\x03Ofen") in events
    assert made.arrangement.sections[0].name == name


def test_one_marker_a_section_at_its_first_tick() -> None:
    events = head_of(song(sheet(form='["kiln", "kiln"]')))
    assert [tick for tick, data in events if data[:2] == b"\xff\x06"] == [0, BAR]


def test_at_one_tick_meta_then_offs_then_ons_by_note() -> None:
    """Kick sixteenths under a hand: each tick ends the last notes before it begins the next."""
    data = song(sheet("HH xxxxxxxxxxxxxxxx\nSN ----O-------O---\nBD oooooooooooooooo"))
    ranks = [
        (tick, {0xFF: 0, 0x89: 1, 0x99: 2}[event[0]], event[1] if event[0] != 0xFF else 0)
        for tick, event in events_of(data)[1]
        if event[:2] != END
    ]
    assert ranks == sorted(ranks)
    assert sum(rank == 1 for _, rank, _ in ranks) == sum(rank == 2 for _, rank, _ in ranks) == 34


def test_no_running_status_no_program_change_no_controllers() -> None:
    """Every event has its own status byte: the file is as long as its events written out."""
    data = song(sheet())
    assert {event[0] for track in events_of(data) for _, event in track} == {0xFF, 0x89, 0x99}
    drums = data[data.rindex(b"MTrk") + 8 :]
    assert drums.count(b"\x99") == len(onsets(events_of(data)[1])) == 12


def durations(data: bytes) -> list[tuple[int, int, int]]:
    notes = read_smf(data).tracks[1].notes
    return sorted(zip(notes.tick.tolist(), notes.note.tolist(), notes.duration.tolist()))


def test_a_note_lasts_a_sixteenth_or_to_the_next_of_its_note() -> None:
    """Kicks a 32nd apart are 60 ticks long, the last of them a sixteenth."""
    assert durations(song(sheet("BD ooo-----------------------------", grid="grid = 32"))) == [
        (0, 36, 60), (60, 36, 60), (120, 36, 120)
    ]  # fmt: skip


def test_strokes_closer_than_20_ms_have_a_warning() -> None:
    """64ths at 300 a minute: 12.5 ms."""
    made = rendered(sheet("BD oo" + 62 * "-", grid="grid = 64", head="tempo = 300"))
    assert durations(made.files["kiln.mid"])[0] == (0, 36, 30)
    assert made.warnings == (
        "1 notes are shorter than 20 ms, since their next stroke is so close; the first is note 36 at tick 0",
    )


def test_no_note_overlaps_and_none_stands_twice() -> None:
    """Open and half-open hi-hat are one note in General MIDI; no note begins before it has ended."""
    data = song(sheet("HH xxxxxxxxxxxxxxxx\nBD oooooooooooooooo"))
    sounding: set[int] = set()
    for _, event in events_of(data)[1]:
        if event[0] == 0x99:
            assert event[1] not in sounding
            sounding.add(event[1])
        elif event[0] == 0x89:
            sounding.remove(event[1])
    assert not sounding


def test_the_end_of_every_track_is_on_the_bar_line_also_when_the_last_bar_rests() -> None:
    data = song(sheet(form='["kiln", { part = "kiln", bars = 2, tacet = true }]'))
    assert [track[-1] for track in events_of(data)] == [(3 * BAR, END), (3 * BAR, END)]


def test_a_flam_is_two_notes_and_a_drag_three_30_ms_apart_read_back_as_one_stroke() -> None:
    """At 120 a minute 30 ms are 28.8 ticks of 480 to a quarter."""
    data = song(sheet("SN ----f-------d---\nBD o-------o-------"))
    snares = [(tick, velocity) for tick, note, velocity in onsets(events_of(data)[1]) if note == 38]
    assert [tick for tick, _ in snares] == [451, 480, 1382, 1411, 1440]
    ghosts = [velocity for tick, velocity in snares if tick % 480]
    assert max(ghosts) <= 47 < min(velocity for tick, velocity in snares if not tick % 480)
    groove = grooves_of(read_drums(read_smf(data)))[0].groove
    lane = groove.lane_on("snare")
    assert [Fraction(int(step), groove.grid) for step in lane.struck] == [Fraction(1, 4), Fraction(3, 4)]
    assert lane.kind[lane.struck].tolist() == [Kind.FLAM, Kind.DRAG]


def test_a_grace_stroke_before_tick_0_is_left_out() -> None:
    assert [tick for tick, _, _ in onsets(events_of(song(sheet("SN f---------------")))[1])] == [0]


def test_beside_the_song_stand_tempo_map_table_and_click() -> None:
    """No note in the one, as many clicks as beats in the other, 1 louder; a table of bars and tempi."""
    made = rendered(sheet(part="bars = 2"))
    assert sorted(made.files) == ["kiln-click.mid", "kiln-tempo.mid", "kiln-tempo.txt", "kiln.mid"]
    tempo, click = events_of(made.files["kiln-tempo.mid"]), events_of(made.files["kiln-click.mid"])
    assert tempo == [head_of(made.files["kiln.mid"])]
    clicks = [row for track in click for channel in range(16) for row in onsets(track, channel)]
    assert [tick for tick, _, _ in clicks] == [480 * beat for beat in range(8)]
    assert {tick % BAR == 0 for tick, _, velocity in clicks if velocity == max(row[2] for row in clicks)} == {True}
    table = made.files["kiln-tempo.txt"].decode().splitlines()
    assert table[1].split() == ["1", "1", "4/4", "120"]


def test_section_files_start_on_their_downbeat() -> None:
    """A flam's grace stroke, pulled before the section, is left out of its file or stands at tick 0."""
    made = rendered(sheet("SN f---------------\nBD o-------o-------", form='["kiln", "kiln"]'), sections=True)
    names = sorted(name for name in made.files if name.startswith("kiln-sections/"))
    assert names == ["kiln-sections/01-kiln.mid", "kiln-sections/02-kiln.mid"]
    for name in names:
        strokes = onsets(events_of(made.files[name])[1])
        assert min(tick for tick, _, _ in strokes) == 0
        assert [tick for tick, note, _ in strokes if note == 36] == [0, 960]
        assert events_of(made.files[name])[0][-1] == (BAR, END)


def test_other_readers_read_what_is_written() -> None:
    """mido refuses bytes over 127, running over the end and unknown lengths; it reads the song without a word."""
    file = mido.MidiFile(file=io.BytesIO(song(sheet())))
    assert (file.type, file.ticks_per_beat, len(file.tracks)) == (1, 480, 2)
    assert sum(message.type == "note_on" for message in file.tracks[1]) == 12
