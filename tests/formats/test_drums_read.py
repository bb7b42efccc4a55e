"""The drums of a MIDI file: which notes they are, doubles, bars, tempi, and their view as grooves."""

from __future__ import annotations

from fractions import Fraction

import mido
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.core.kit import Kind
from grooveforge.errors import FormatError
from grooveforge.formats.drum_part import MOST_BARS, plain_bpm
from grooveforge.formats.drums_groove import groove_of_midi, grooves_of
from tests.drumfiles import (
    CLOSED,
    DIVISION,
    KICK,
    OPEN,
    SNARE,
    bars_file,
    meter,
    midi,
    notes_of,
    part_of,
    rows,
    tempo,
    track,
)

BAR = 4 * DIVISION
BEAT = notes_of({CLOSED: "x-x-x-x-x-x-x-x-", SNARE: "----X-------X---", KICK: "X-------X-------"})
BASS = [(tick, 28, 90, 100) for tick in range(0, BAR, 240)]


# -- which notes are the drums ---------------------------------------------------------------------------


def test_channel_10_is_the_drums() -> None:
    """General MIDI's drum channel, whatever else the file holds; other tracks are listed."""
    part = part_of(midi(track(BASS, 2, "bass"), track(BEAT, 10), track(BASS, 3)))
    assert (part.channel, part.tracks) == (10, (1,))
    assert rows(part) == BEAT
    assert [(row.number, row.name, row.notes, row.channels) for row in part.other_tracks] == [
        (1, "bass", 8, (2,)),
        (3, "", 8, (3,)),
    ]
    assert part.warnings == ()


def test_drum_tracks_are_merged() -> None:
    """One track a surface, as many programs write: strokes stand in order of time and remember their track."""
    kick, rest = [n for n in BEAT if n[1] == KICK], [n for n in BEAT if n[1] != KICK]
    part = part_of(midi(track(kick), track(BASS, 1), track(rest)))
    assert rows(part) == BEAT
    assert part.tracks == (0, 2)
    assert {(note, at) for note, at in zip(part.note.tolist(), part.track.tolist())} == {(36, 0), (38, 2), (42, 2)}


def test_a_track_that_mixes_channels() -> None:
    """Every format 0 file is one: the drums are its notes of channel 10."""
    mixed = mido.merge_tracks([track(BASS, 1), track(BEAT, 10)])
    part = part_of(midi(mixed, form=0))
    assert rows(part) == BEAT
    assert [(row.number, row.notes) for row in part.other_tracks] == [(1, 8)]


@pytest.mark.parametrize("name", ["Drums", "my drum kit", "KIT 2", "Percussion"])
def test_without_channel_10_the_track_named_drums(name: str) -> None:
    """A warning says which was taken and why."""
    part = part_of(midi(track(BASS, 2, "bass"), track(BEAT, 1, name)))
    assert (part.channel, part.tracks) == (1, (1,))
    assert part.warnings == (
        f"channel 10 has no notes: track 2 {name!r} on channel 1 was taken, since its name says drums",
    )


def test_without_a_name_the_track_of_drum_notes() -> None:
    """All its notes lie in 35 to 59."""
    part = part_of(midi(track(BASS, 2), track(BEAT, 1)))
    assert rows(part) == BEAT
    assert part.warnings[0].endswith("since its notes are drums'")


@pytest.mark.parametrize(
    "tracks",
    [
        [track(BEAT, 1, "drums"), track(BEAT, 2, "percussion")],
        [track(BEAT, 1), track(BEAT, 2)],
        [track(BASS, 1), track(BASS, 2)],
    ],
    ids=["two named", "two in range", "none"],
)
def test_when_it_cannot_be_told_the_error_names_the_option(tracks: list[mido.MidiTrack]) -> None:
    """More than one candidate, or none: nothing is guessed."""
    with pytest.raises(FormatError, match="--channel"):
        part_of(midi(*tracks))


def test_the_channel_may_be_told() -> None:
    """Counted from 1; a channel without notes is an error that lists those that have some."""
    data = midi(track(BASS, 2, "bass"), track(BEAT, 10))
    assert rows(part_of(data, 2)) == sorted(BASS)
    with pytest.raises(FormatError, match=r"channel 3 has no notes\n.*channel 2 \(track 1: bass\), channel 10"):
        part_of(data, 3)


def test_a_file_without_notes_has_bars_all_the_same() -> None:
    """A warning, no error: there is nothing to guess."""
    part = part_of(midi(track([], end=2 * BAR, extra=[(0, meter(3, 4))])))
    assert len(part) == 0
    assert part.warnings == ("the file has no notes",)
    assert len(part.bars) == 3
    assert [run.groove.bars for run in grooves_of(part)] == [3]


# -- doubles and unknown notes ---------------------------------------------------------------------------


def test_two_equal_notes_on_one_tick_are_one_stroke() -> None:
    """The louder stays, the other is counted; over tracks too."""
    part = part_of(midi(track([(0, KICK, 70, 10), (0, KICK, 100, 20)]), track([(0, KICK, 80, 30), (0, SNARE, 1, 9)])))
    assert [(tick, note, velocity) for tick, note, velocity, _ in rows(part)] == [(0, KICK, 100), (0, SNARE, 1)]
    assert part.duplicates == 2


def test_unknown_notes_are_kept_and_counted() -> None:
    """They have a lane of their own, named by number."""
    part = part_of(bars_file({61: "x---x---", KICK: "x-------", 22: "--x-----"}))
    assert part.unknown_notes == {22: 1, 61: 2}
    assert {name for run in grooves_of(part) for name, _ in run.groove.voices} == {"kick", "note 22", "note 61"}


# -- bars and tempi --------------------------------------------------------------------------------------


def bar_table(part_data: bytes) -> list[tuple[int, str, float]]:
    return [(bar.tick, str(bar.meter), bar.bpm) for bar in part_of(part_data).bars]


def test_no_metre_event_means_4_4_at_120() -> None:
    """SMF 1.0: 4/4 and 120 are assumed; the length goes up to the next bar line."""
    assert bar_table(midi(track(BEAT, end=BAR + 1))) == [(0, "4/4", 120.0), (BAR, "4/4", 120.0)]
    assert bar_table(midi(track(BEAT, end=BAR))) == [(0, "4/4", 120.0)]


def test_metre_and_tempo_changes_on_bar_lines() -> None:
    """In any track; a bar's tempo is the one that holds at its bar line."""
    head = track([], extra=[(0, meter(7, 8)), (0, tempo(132)), (1680 + 100, tempo(90)), (1680, meter(4, 4))])
    assert bar_table(midi(head, track(BEAT, end=1680 + 2 * BAR))) == [
        (0, "7/8", 132.0),
        (1680, "4/4", 132.0),
        (1680 + BAR, "4/4", 90.0),
    ]


def test_a_metre_change_inside_a_bar_waits_for_the_bar_line() -> None:
    """The bar goes on in its own metre; the event itself is not moved."""
    data = midi(track(BEAT, end=2 * BAR, extra=[(500, meter(3, 4))]))
    assert bar_table(data)[:2] == [(0, "4/4", 120.0), (BAR, "3/4", 120.0)]


def test_of_two_metres_before_a_bar_line_the_later_holds() -> None:
    """One bar has one metre."""
    data = midi(track(BEAT, end=BAR + 10, extra=[(500, meter(3, 4)), (600, meter(5, 8))]))
    assert [name for _, name, _ in bar_table(data)] == ["4/4", "5/8"]


def test_a_stroke_on_the_last_bar_line_has_a_bar() -> None:
    """The last note counts as well as the end of track."""
    assert len(bar_table(midi(track([(0, KICK, 90, 10), (BAR, KICK, 90, 0)], end=BAR)))) == 2


def test_bar_lines_between_ticks_are_exact() -> None:
    """At 5 ticks a quarter a bar of 3/8 is 7.5 ticks; lines do not drift."""
    part = part_of(midi(track([(30, KICK, 90, 1)], end=31, extra=[(0, meter(3, 8))]), division=5))
    assert [bar.start for bar in part.bars] == [Fraction(15 * number, 2) for number in range(5)]
    assert [bar.tick for bar in part.bars] == [0, 8, 15, 23, 30]


def test_too_many_bars_are_refused() -> None:
    """A slip in a delta time must not fill the memory."""
    with pytest.raises(FormatError, match=f"more than {MOST_BARS} bars"):
        part_of(midi(track(BEAT, end=2**27, extra=[(0, meter(1, 32))]), division=24))


@given(st.integers(20, 400), st.sampled_from([0, 0.5, 0.25, 1 / 3]))
def test_tempi_come_back_plain(whole: int, part: float) -> None:
    """132 is 454,545 microseconds and reads as 132, not 132.0001: the shortest tempo that writes the same."""
    wanted = round(whole + part, 4)
    microseconds = int(60_000_000 / Fraction(str(wanted)) + Fraction(1, 2))
    found = plain_bpm(microseconds)
    assert int(60_000_000 / Fraction(str(found)) + Fraction(1, 2)) == microseconds
    assert len(str(found)) <= len(str(float(wanted)))


def test_bent_places_are_named_with_track_tick_and_bar() -> None:
    """A reader's warning says where in the music it is."""
    broken = midi(track(BEAT, end=3 * BAR)).replace(bytes.fromhex("FF2F00"), b"")
    data = broken[:18] + (len(broken) - 22).to_bytes(4, "big") + broken[22:]
    assert part_of(data).warnings[0].startswith("track 1, tick ")
    assert ", bar 1: " in part_of(data).warnings[0]


# -- as grooves ------------------------------------------------------------------------------------------


def test_a_run_for_each_stretch_of_one_metre() -> None:
    """Kick, snare and every other surface are lanes; no hand is named."""
    data = midi(track(BEAT + notes_of({KICK: "x--x--x-"}, start=BAR), end=BAR + 1200, extra=[(BAR, meter(5, 8))]))
    first, second = grooves_of(part_of(data))
    assert (str(first.groove.meter), first.first_bar, first.groove.bars) == ("4/4", 0, 1)
    assert (str(second.groove.meter), second.first_bar, second.groove.bars) == ("5/8", 1, 1)
    assert [name for name, _ in first.groove.voices] == ["kick", "snare", "closed hi-hat"]
    assert first.groove.hand is None
    assert (second.groove.lane_on("kick").struck * 16 // second.groove.grid).tolist() == [0, 3, 6]


def test_levels_become_kinds_and_stay_levels() -> None:
    """Accents and ghosts by band; a soft cymbal is no ghost."""
    groove = grooves_of(part_of(bars_file({SNARE: "g---X---n---x---", CLOSED: "g-x-"})))[0].groove
    assert groove.lane_on("snare").velocity[groove.lane_on("snare").struck].tolist() == [30, 114, 70, 90]
    kinds = groove.lane_on("snare").kind[groove.lane_on("snare").struck].tolist()
    assert kinds == [Kind.GHOST, Kind.ACCENT, Kind.PLAIN, Kind.PLAIN]
    assert groove.lane_on("closed hi-hat").kind[0] == Kind.PLAIN


@pytest.mark.parametrize(("graces", "kind"), [(1, Kind.FLAM), (2, Kind.DRAG)])
def test_grace_strokes_are_read_back_as_one_stroke(graces: int, kind: Kind) -> None:
    """30 ms apart at ghost level before a stroke: a flam is two notes, a drag three (common practice)."""
    gap = round(0.030 * 2 * DIVISION)
    struck = [(DIVISION - number * gap, SNARE, 32, 20) for number in range(graces, 0, -1)]
    part = part_of(midi(track([*struck, (DIVISION, SNARE, 114, 120), (0, KICK, 100, 50)], end=BAR)))
    run = grooves_of(part)[0]
    lane = run.groove.lane_on("snare")
    assert (lane.struck * 4 // run.groove.grid).tolist() == [1]
    assert lane.kind[lane.struck].tolist() == [kind]
    assert len(run.rows_at("snare", lane.struck)) == graces + 1


def test_a_roll_of_ghosts_is_no_ornament() -> None:
    """Three and more grace strokes are strokes of their own."""
    gap = round(0.030 * 2 * DIVISION)
    struck = [(DIVISION - number * gap, SNARE, 32, 20) for number in (3, 2, 1)]
    run = grooves_of(part_of(midi(track([*struck, (DIVISION, SNARE, 114, 120)], end=BAR))))[0]
    assert Kind.FLAM not in run.groove.lane_on("snare").kind
    assert Kind.DRAG not in run.groove.lane_on("snare").kind


def test_every_stroke_has_its_way_back() -> None:
    """The runs' strokes are the part's rows, each once, whatever shares a step."""
    notes = [(tick, note, 60 + tick % 50, 5) for tick in range(0, 2 * BAR, 31) for note in (KICK, SNARE, CLOSED, OPEN)]
    part = part_of(midi(track(notes, extra=[(BAR, meter(3, 4))])))
    found = np.concatenate([run_rows for run in grooves_of(part) for _, run_rows in run.strokes.values()])
    assert sorted(found.tolist()) == list(range(len(part)))


ANYWHERE = st.tuples(st.integers(0, 2 * BAR - 1), st.sampled_from([KICK, SNARE, CLOSED]))


@given(st.lists(ANYWHERE, min_size=1, max_size=30))
def test_steps_and_offsets_give_the_ticks_back(strokes: list[tuple[int, int]]) -> None:
    """Any ticks at all: step plus offset is the tick, to the tick (unless two strokes share a step)."""
    notes = [(tick, note, 90, 1) for tick, note in sorted(set(strokes))]
    part = part_of(midi(track(notes, end=2 * BAR)))
    run = grooves_of(part)[0]
    for name, (steps, struck) in run.strokes.items():
        lane = run.groove.lane_on(name)
        ticks = np.rint((lane.struck * 4 / run.groove.grid + lane.offset[lane.struck]) * DIVISION)
        assert set(ticks.astype(int).tolist()) <= set(part.tick[struck].tolist())
        alone = [int(s) for s, count in zip(*np.unique(steps, return_counts=True)) if count == 1]
        exact = np.rint((np.array(alone) * 4 / run.groove.grid + lane.offset[alone]) * DIVISION).astype(int)
        assert exact.tolist() == [int(part.tick[row]) for step in alone for row in run.rows_at(name, np.array([step]))]


# -- a file as a groove ----------------------------------------------------------------------------------


def test_a_drum_file_is_a_groove_with_its_hand() -> None:
    """Open strokes among closed ones are colours of the one hand."""
    lines = {CLOSED: "x-x-x-x-x-x-x---", OPEN: "--------------x-", SNARE: "----X-------X---", KICK: "X-------X-------"}
    groove = groove_of_midi(bars_file(lines))
    assert groove.surface == "closed hi-hat"
    assert groove.hand is not None
    assert len(groove.hand.struck) == 8
    assert groove.hand.kind[groove.hand.struck[-1]] == Kind.OPEN
    assert groove.others == ()


def test_a_groove_has_one_metre_and_strokes() -> None:
    """Else the error says where the metre changes."""
    with pytest.raises(FormatError, match=r"bar 2.*3/4 after 4/4"):
        groove_of_midi(midi(track(BEAT, end=BAR + 100, extra=[(BAR, meter(3, 4))])))
    with pytest.raises(FormatError, match="no drums"):
        groove_of_midi(midi(track([], end=BAR)))
