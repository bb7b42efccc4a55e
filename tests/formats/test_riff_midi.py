"""Riffs from MIDI files that mido wrote: which notes, how long, on which grid, with which residue.

File layout: SMF 1.0, MMA RP-001. What makes an attack, an accent or a low note is a house rule of feel.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence

import mido
import pytest

from grooveforge.errors import FormatError, MusicError
from grooveforge.formats.riff_midi import RiffFile, read_riff
from tests import make_riffs

DIVISION = 480
STEP = DIVISION // 4
BAR = 4 * DIVISION

Note = tuple[int, int, int, int]
"""tick, note, velocity, duration"""


def notes(places: Iterable[int], note: int = 40, velocity: int = 90, lasts: int = STEP // 2) -> list[Note]:
    """Notes at ticks."""
    return [(place, note, velocity, lasts) for place in places]


def steps(*places: int) -> list[int]:
    """Sixteenths as ticks."""
    return [place * STEP for place in places]


def track(
    listed: Sequence[Note],
    channel: int = 1,
    end: int | None = None,
    name: str = "",
    metas: Sequence[tuple[int, mido.MetaMessage]] = (),
) -> mido.MidiTrack:
    events: list[tuple[int, int, mido.Message | mido.MetaMessage]] = [(tick, 0, meta) for tick, meta in metas]
    if name:
        events.append((0, 0, mido.MetaMessage("track_name", name=name)))
    for tick, note, velocity, lasts in listed:
        events.append((tick, 2, mido.Message("note_on", channel=channel - 1, note=note, velocity=velocity)))
        events.append((tick + lasts, 1, mido.Message("note_off", channel=channel - 1, note=note)))
    made, now = mido.MidiTrack(), 0
    for tick, _, message in sorted(events, key=lambda event: event[:2]):
        made.append(message.copy(time=tick - now))
        now = tick
    made.append(mido.MetaMessage("end_of_track", time=max(0, (end or now) - now)))
    return made


def read(*tracks: mido.MidiTrack, grid: int | None = None) -> RiffFile:
    file = mido.MidiFile(type=0 if len(tracks) == 1 else 1, ticks_per_beat=DIVISION)
    file.tracks += tracks
    data = io.BytesIO()
    file.save(file=data)
    return read_riff(data.getvalue(), grid)


def meter(upper: int, lower: int, tick: int = 0) -> tuple[int, mido.MetaMessage]:
    return tick, mido.MetaMessage("time_signature", numerator=upper, denominator=lower)


def tempo(bpm: float, tick: int = 0) -> tuple[int, mido.MetaMessage]:
    return tick, mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm))


KELP = (0, 3, 6, 8, 10, 12, 13, 14)


class TestAttacks:
    @pytest.mark.parametrize("channel", [1, 4, 10, 16])
    def test_any_channel(self, channel: int) -> None:
        made = read(track(notes(steps(*KELP)), channel))
        assert made.riff.attacks == KELP
        assert (made.riff.length, made.riff.grid, made.bars) == (16, 16, 1)
        assert made.warnings == ()

    def test_a_chord_is_one_attack(self) -> None:
        chord = [(0, note, 90, STEP) for note in (40, 47, 52)]
        assert read(track([*chord, *notes(steps(8))], end=BAR), grid=16).riff.attacks == (0, 8)

    @pytest.mark.parametrize(("bpm", "attacks"), [(60, (0, 1)), (240, (0,))])
    def test_thirty_milliseconds_by_the_tempo_of_the_file(self, bpm: int, attacks: tuple[int, ...]) -> None:
        """At 480 ticks to a quarter 40 ticks are 83 ms at 60 a minute and 21 ms at 240; 48 steps hold both."""
        made = read(track(notes([0, 40]), end=BAR, metas=[tempo(bpm)]), grid=48)
        assert made.riff.attacks == attacks

    def test_a_tempo_change_inside_the_file_counts(self) -> None:
        """40 ticks apart before and after the tempo goes from 60 to 240: two attacks, then one."""
        made = read(track(notes([0, 40, 960, 1000]), end=BAR, metas=[tempo(60), tempo(240, 480)]), grid=48)
        assert made.riff.attacks == (0, 1, 24)

    def test_accents_by_velocity(self) -> None:
        listed = [(place * STEP, 40, 110 if place in (0, 6, 12) else 80, STEP // 2) for place in KELP]
        assert read(track(listed)).riff.accents == (0, 6, 12)

    def test_accents_by_length(self) -> None:
        listed = [(place * STEP, 40, 90, 2 * STEP if place in (0, 8) else STEP // 2) for place in KELP]
        assert read(track(listed)).riff.accents == (0, 8)

    def test_accents_by_number_of_notes(self) -> None:
        listed = [*notes(steps(*KELP)), *notes(steps(0, 12), note=47)]
        assert read(track(listed)).riff.accents == (0, 12)

    def test_low_register(self) -> None:
        listed = [*notes(steps(0, 2, 3, 8)), *notes(steps(4, 12), note=55)]
        riff = read(track(listed, end=BAR)).riff
        assert riff.attacks == (0, 2, 3, 4, 8, 12)
        assert riff.low == (0, 2, 3, 8)


class TestGrid:
    @pytest.mark.parametrize(
        ("ticks", "grid", "attacks"),
        [
            ([0, 480, 720, 960], 8, (0, 2, 3, 4)),
            ([0, 160, 320, 480], 12, (0, 1, 2, 3)),
            ([0, 120, 960], 16, (0, 1, 8)),
            ([0, 80, 160, 960], 24, (0, 1, 2, 12)),
            ([0, 60, 120, 960], 32, (0, 1, 2, 16)),
        ],
    )
    def test_the_coarsest_that_tells_the_attacks_apart(
        self, ticks: list[int], grid: int, attacks: tuple[int, ...]
    ) -> None:
        riff = read(track(notes(ticks), end=BAR)).riff
        assert (riff.grid, riff.attacks, riff.residue_ms) == (grid, attacks, 0.0)

    def test_straight_and_triplet_bars(self) -> None:
        """Sixteenths in one bar and triplets in the next need 48 steps to a whole note."""
        riff = read(track(notes([0, 120, BAR, BAR + 160]), end=2 * BAR)).riff
        assert (riff.grid, riff.length, riff.attacks) == (48, 96, (0, 3, 48, 52))

    def test_residue(self) -> None:
        """4 and 8 ticks late, one early by 6, one in time: 4.5 ticks on average, 500/480 ms each at 120."""
        riff = read(track(notes([4, 488, 954, 1440]), end=BAR)).riff
        assert riff.attacks == tuple(place * riff.grid // 4 for place in (0, 1, 2, 3))
        assert riff.residue_ms == pytest.approx(4.5 * 500 / 480, abs=0.001)

    def test_an_attack_just_before_the_end_is_the_next_turns_first(self) -> None:
        riff = read(track(notes([*steps(4, 8), BAR - 8]), end=BAR), grid=16).riff
        assert riff.attacks == (0, 4, 8)

    def test_a_grid_asked_for(self) -> None:
        riff = read(track(notes([0, 100, 960]), end=BAR), grid=8).riff
        assert (riff.grid, riff.attacks) == (8, (0, 4))
        assert riff.residue_ms == pytest.approx(100 / 3 * 500 / 480, abs=0.001)

    def test_a_grid_that_does_not_divide_the_bar(self) -> None:
        with pytest.raises(MusicError, match="does not divide a bar of 7/8"):
            read(track(notes([0]), end=1680, metas=[meter(7, 8)]), grid=12)


class TestLength:
    def test_whole_bars_by_the_end_of_the_file(self) -> None:
        assert read(track(notes([0]), end=4 * BAR)).bars == 4

    def test_a_file_that_ends_with_its_last_note_is_filled_up(self) -> None:
        made = read(track(notes(steps(0, 18))))
        assert (made.bars, made.riff.length, made.riff.grid) == (2, 16, 8)

    @pytest.mark.parametrize(("lasts", "bars"), [(3 * STEP, 1), (4 * STEP, 2)])
    def test_a_note_may_ring_an_eighth_over_the_bar_line(self, lasts: int, bars: int) -> None:
        """From the last sixteenth: one of three rings an eighth over it, one of four longer."""
        assert read(track([*notes([0]), *notes(steps(15), lasts=lasts)])).bars == bars

    def test_the_files_metre(self) -> None:
        made = read(track(notes(steps(0, 2, 19)), metas=[meter(5, 4)]))
        assert (made.riff.length, str(made.meter), made.bars) == (20, "5/4", 1)

    def test_metres_that_change(self) -> None:
        """A bar of 4/4 and one of 7/8: thirty sixteenths."""
        made = read(track(notes(steps(0, 16, 29)), metas=[meter(4, 4), meter(7, 8, BAR)]))
        assert (made.riff.length, made.riff.attacks, made.bars) == (30, (0, 16, 29), 2)

    def test_tempo_of_the_first_bar(self) -> None:
        assert read(track(notes([0]), metas=[tempo(138)])).bpm == 138


class TestWhichNotes:
    def test_the_track_with_most_notes_with_a_warning(self) -> None:
        made = read(
            track([], metas=[tempo(100)]),
            track(notes(steps(0, 4)), 1, name="Bass"),
            track(notes(steps(0, 1, 2)), 2, name="Guitar"),
        )
        assert made.riff.attacks == (0, 1, 2)
        (warning,) = made.warnings
        assert "track 3 'Guitar' (channel 2, 3 notes) was taken" in warning
        assert "track 2 'Bass' (channel 1, 2 notes)" in warning

    def test_drums_are_left_out_where_there_is_something_else(self) -> None:
        made = read(track(notes(steps(*range(16))), 10, name="Drums"), track(notes(steps(0, 6)), 3))
        assert made.riff.low == made.riff.attacks
        assert len(made.riff.attacks) == 2
        assert made.warnings == ()

    def test_channels_of_a_single_track(self) -> None:
        """A file of one track keeps its players apart by channel."""
        merged = mido.merge_tracks([track(notes(steps(0, 4, 8)), 1), track(notes(steps(1)), 2)])
        made = read(merged)
        assert [place * 16 // made.riff.grid for place in made.riff.attacks] == [0, 4, 8]
        assert "channel 1, 3 notes" in made.warnings[0]

    def test_strings_on_channels_of_their_own_are_one_guitar(self) -> None:
        """A converter gives each string a channel; beside another track they are one player."""
        guitar = mido.merge_tracks([track(notes(steps(0, 4)), 1), track(notes(steps(2), note=45), 2)])
        made = read(guitar, track(notes(steps(1)), 5))
        assert len(made.riff.attacks) == 3

    def test_a_file_without_notes(self) -> None:
        with pytest.raises(FormatError, match="no notes"):
            read(track([], end=BAR))


@pytest.mark.parametrize("riff", make_riffs.RIFFS, ids=lambda riff: str(riff.name))
def test_the_demo_songs_riffs(riff: make_riffs.Played) -> None:
    """The shipped files hold what their lines say."""
    data = (make_riffs.SONGS / riff.name).read_bytes()
    written = io.BytesIO()
    make_riffs.riff_file(riff).save(file=written)
    assert data == written.getvalue()
    made = read_riff(data).riff
    marks = {place: mark for place, mark in enumerate(riff.line) if mark != "-"}
    assert (made.length, made.grid, made.residue_ms) == (len(riff.line), 16, 0.0)
    assert made.attacks == tuple(marks)
    assert made.accents == tuple(place for place, mark in marks.items() if mark in "XH")
    assert made.low == tuple(place for place, mark in marks.items() if mark in "xX")
