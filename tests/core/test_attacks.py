"""Notes to attacks, and which attacks a riff's modes choose. The rules are house rules of feel.

The 30 ms within which notes are one attack are the design's; all expected values are counted by hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np
import pytest

from grooveforge.core import attacks as heard
from grooveforge.core.riff import (
    ACCENTS,
    ALL,
    LOW,
    at_grid,
    chosen,
    is_riff_file,
    listed_riff,
    meeting_bars,
    turn_bars,
    typed_riff,
)
from grooveforge.core.song import Riff
from grooveforge.errors import MusicError


def found(
    seconds: Sequence[float],
    note: Sequence[int] | int = 40,
    velocity: Sequence[int] | int = 90,
    lasts: Sequence[float] | float = 0.25,
) -> heard.Attacks:
    """Attacks of notes; one number stands for all of them."""
    size = len(seconds)
    return heard.attacks_of(
        np.array(seconds, np.float64),
        np.broadcast_to(np.array(note, np.int64), size),
        np.broadcast_to(np.array(velocity, np.int64), size),
        np.broadcast_to(np.array(lasts, np.float64), size),
    )


def rows(mask: heard.Bools) -> list[int]:
    return list(np.flatnonzero(mask))


class TestTogether:
    """Onsets within 30 ms of an attack's first are one attack."""

    @pytest.mark.parametrize(
        ("seconds", "first"),
        [
            ([], []),
            ([0.0], [0]),
            ([0.0, 0.030], [0]),
            ([0.0, 0.031], [0, 1]),
            ([0.0, 0.010, 0.020, 0.5], [0, 3]),
            # Counted from the attack's first note: a run of close notes is not swallowed whole.
            ([0.0, 0.020, 0.040, 0.060], [0, 2]),
            ([1.0, 1.0, 1.0], [0]),
        ],
    )
    def test_which_notes_begin_attacks(self, seconds: list[float], first: list[int]) -> None:
        assert heard.together(np.array(seconds, np.float64)).tolist() == first

    def test_an_attack_has_the_loudest_the_longest_and_the_lowest_of_its_notes(self) -> None:
        attacks = found([0.0, 0.01, 0.5], note=[47, 40, 52], velocity=[80, 100, 90], lasts=[0.5, 0.25, 1.0])
        assert attacks.velocity.tolist() == [100, 90]
        assert attacks.lasts.tolist() == [0.5, 1.0]
        assert attacks.notes.tolist() == [2, 1]
        assert attacks.lowest.tolist() == [40, 52]


class TestAccents:
    TIMES = (0.0, 0.25, 0.5, 0.75, 1.0, 1.25)

    def test_by_velocity(self) -> None:
        assert rows(heard.accents(found(self.TIMES, velocity=[110, 80, 84, 112, 82, 78]))) == [0, 3]

    def test_one_very_soft_note_does_not_make_all_others_accents(self) -> None:
        assert rows(heard.accents(found(self.TIMES, velocity=[112, 90, 20, 110, 90, 90]))) == [0, 3]

    def test_more_accents_than_plain_strokes(self) -> None:
        assert rows(heard.accents(found(self.TIMES, velocity=[110, 108, 80, 112, 109, 111]))) == [0, 1, 3, 4, 5]

    def test_by_number_of_notes(self) -> None:
        """Chords among single notes of one velocity and length."""
        chords = found([0.0, 0.0, 0.0, 0.25, 0.5, 0.75, 0.75, 0.75, 1.0])
        assert rows(heard.accents(chords)) == [0, 3]

    def test_by_length(self) -> None:
        """Notes that ring among muted ones."""
        assert rows(heard.accents(found(self.TIMES, lasts=[1.0, 0.1, 0.1, 0.9, 0.12, 0.1]))) == [0, 3]

    def test_velocity_comes_before_number_and_length(self) -> None:
        """A legato riff: each note lasts up to the next, which says nothing beside the velocities."""
        lasts = [0.75, 0.75, 0.5, 0.5, 0.25, 0.5]
        assert rows(heard.accents(found(self.TIMES, velocity=[100, 80, 100, 80, 80, 80], lasts=lasts))) == [0, 2]

    def test_nothing_stands_out_of_equal_attacks(self) -> None:
        assert not heard.accents(found(self.TIMES, velocity=[90, 92, 88, 91, 90, 89])).any()
        assert not heard.accents(found([])).any()


class TestLow:
    def test_the_lowest_string_is_the_low_register(self) -> None:
        """Four semitones above the lowest note still are, five are a guitar's next string."""
        assert rows(heard.low(found((0.0, 0.25, 0.5, 0.75), note=[40, 44, 45, 52]))) == [0, 1]

    def test_a_chord_goes_by_its_lowest_note(self) -> None:
        assert rows(heard.low(found((0.0, 0.0, 0.5, 0.5), note=[40, 52, 52, 59]))) == [0]

    def test_no_attacks(self) -> None:
        assert not heard.low(found([])).any()


class TestChosen:
    RIFF = listed_riff([8, 0, 3], 12, accents=[0], low=[3, 0])

    def test_modes(self) -> None:
        assert chosen(self.RIFF, ALL) is self.RIFF
        assert chosen(self.RIFF, ACCENTS).attacks == (0,)
        assert chosen(self.RIFF, LOW) == Riff(12, 16, (0, 3), (0,), (0, 3))

    @pytest.mark.parametrize(
        ("riff", "mode", "message"),
        [
            (typed_riff("x-x-"), ACCENTS, "its line has no X"),
            (typed_riff("X-x-"), LOW, "does not say which attacks are low"),
            (listed_riff([0, 2], 4, low=[0, 2]), ACCENTS, "all its attacks are alike"),
            (typed_riff("x-x-"), "loud", "no such riff mode"),
        ],
    )
    def test_a_mode_that_chooses_nothing_is_an_error(self, riff: Riff, mode: str, message: str) -> None:
        with pytest.raises(MusicError, match=message):
            chosen(riff, mode)


class TestLists:
    def test_order_and_doubles_do_not_matter(self) -> None:
        assert listed_riff([6, 0, 6], 8, accents=[6], grid=8) == Riff(8, 8, (0, 6), (6,))

    @pytest.mark.parametrize(
        ("attacks", "accents", "low", "message"),
        [
            ([], [], None, "at least one attack"),
            ([0, 8], [], None, "outside its riff.*8"),
            ([-1, 2], [], None, "outside its riff.*-1"),
            ([0, 2], [3], None, "an accent of a riff is no attack"),
            ([0, 2], [], [1], "a low step of a riff is no attack"),
        ],
    )
    def test_faults(self, attacks: list[int], accents: list[int], low: list[int] | None, message: str) -> None:
        with pytest.raises(MusicError, match=message):
            listed_riff(attacks, 8, accents, low)


class TestGridOfAPlayedRiff:
    """Its sixteenths are read as steps of the grid asked for, as a typed line's marks are."""

    PLAYED = listed_riff([0, 3, 4], 8, accents=[0], low=[0, 4], grid=8)

    def test_sixteenths_are_as_it_was_played(self) -> None:
        assert at_grid(self.PLAYED, 16) == self.PLAYED

    @pytest.mark.parametrize("grid", [4, 6, 7, 8, 12, 20, 24, 32, 96])
    def test_every_place_is_stretched_alike(self, grid: int) -> None:
        moved = at_grid(self.PLAYED, grid)
        factor = Fraction(16, grid)
        assert moved.whole == self.PLAYED.whole * factor
        for before, after in (
            (self.PLAYED.attacks, moved.attacks),
            (self.PLAYED.accents, moved.accents),
            (self.PLAYED.low or (), moved.low or ()),
        ):
            assert [Fraction(step, moved.grid) for step in after] == [Fraction(step, 8) * factor for step in before]

    def test_as_a_typed_line(self) -> None:
        line = "X--x-xx-"
        assert at_grid(typed_riff(line, 16), 12) == typed_riff(line, 12)


class TestMeetings:
    """Lengths in whole notes; bars are counted from 0."""

    BAR = Fraction(1)

    @pytest.mark.parametrize(("steps", "bars"), [(16, 1), (8, 1), (32, 2), (14, 7), (20, 5), (11, 11), (24, 3)])
    def test_after_how_many_bars(self, steps: int, bars: int) -> None:
        """The least common multiple of cycle and bar, in bars."""
        assert turn_bars(Fraction(steps, 16), self.BAR) == bars
        assert (bars * 16) % steps == 0
        assert all((fewer * 16) % steps for fewer in range(1, bars))

    def test_fourteen_sixteenths_meet_at_the_eighth_bar(self) -> None:
        assert meeting_bars(Fraction(14, 16), self.BAR, 16) == (7, 14)

    def test_the_bar_line_behind_the_last_bar_counts(self) -> None:
        assert meeting_bars(Fraction(1), self.BAR, 2) == (1, 2)

    def test_a_running_riff_may_meet_on_the_first_bar_line(self) -> None:
        """Where it began it has not met the bar line again; where it comes back to one it has."""
        assert meeting_bars(Fraction(14, 16), self.BAR, 4, start=Fraction(7)) == (0,)
        assert meeting_bars(Fraction(14, 16), self.BAR, 4, start=Fraction(5)) == (2,)


@pytest.mark.parametrize(
    ("said", "is_file"),
    [
        ("riff.mid", True),
        ("riffs/one", True),
        ("./x-x", True),
        ("x--X-", False),
        ("x-x-|X---", False),
        ("drone", False),
    ],
)
def test_files_and_lines_are_told_apart(said: str, is_file: bool) -> None:
    """A file's name has a dot or a slash; a line has only its marks."""
    assert is_riff_file(said) is is_file
