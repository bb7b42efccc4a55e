"""Songs whose sections end and begin: endings, stops, arrivals and fills as the rendered MIDI holds them (mido)."""

from __future__ import annotations

from collections import Counter
from itertools import combinations, pairwise

import pytest

from grooveforge.project.rendering import Rendered
from tests.main_job.test_songs import TICKS_A_BAR, read, rendered
from tests.read_back import of, spans, strokes
from tests.sheet_parts import PUSHED

KICK, SNARE, CRASH, SECOND_CRASH = 36, 38, 49, 57
HANDS = {42, 46, 51, 53}
"""Hi-hats, ride and its bell in General MIDI."""

TICKS_A_BEAT = 480

QUARRY_PSALM = """
title = "Quarry Psalm"
tempo = 150
seed = 12
form = ["chorus", "chorus", "chorus"]

[grooves.plain]
tab = '''
HH x-x-x-x-x-x-x-x-
SN ----O-------O---
BD o--o--o-o-o-----
'''

[parts.chorus]
groove = "plain"
bars = 8
arrival = false
ending = "2 beats"
"""


class TestQuarryPsalm:
    """One chorus of 8 bars three times, endings in the last two beats."""

    made = rendered(QUARRY_PSALM)
    edge = 30 * TICKS_A_BEAT

    def chorus(self, number: int, made: Rendered | None = None) -> list[tuple[int, int]]:
        low = number * 8 * TICKS_A_BAR
        found = strokes(read(made or self.made))
        return [(tick - low, note) for tick, note, _ in found if low <= tick < low + 8 * TICKS_A_BAR]

    def ending(self, number: int) -> list[tuple[int, int]]:
        return [row for row in self.chorus(number) if row[0] >= self.edge]

    def test_the_first_thirty_beats_are_the_same(self) -> None:
        """Beats 1-30 of the three choruses are identical."""
        first, second, third = ([row for row in self.chorus(number) if row[0] < self.edge] for number in range(3))
        assert first == second == third
        assert first

    def test_endings_differ(self) -> None:
        """The three endings are pairwise different, and the first is the groove's own."""
        for one, two in combinations(range(3), 2):
            assert self.ending(one) != self.ending(two)
        bar = [(tick % TICKS_A_BAR, note) for tick, note in self.chorus(0) if tick < TICKS_A_BAR]
        assert [(tick % TICKS_A_BAR, note) for tick, note in self.ending(0)] == [row for row in bar if row[0] >= 960]

    def test_counts_stay(self) -> None:
        """Every surface is struck as often in each ending."""
        first, second, third = (Counter(note for _, note in self.ending(number)) for number in range(3))
        assert first == second == third

    def test_the_same_seed_gives_the_same_bytes(self) -> None:
        """The same sheet is the same file."""
        assert rendered(QUARRY_PSALM).files == self.made.files

    @pytest.mark.parametrize("seed", range(13, 19))
    def test_another_seed_changes_the_endings_alone(self, seed: int) -> None:
        """With another seed ticks and notes differ only inside the endings."""
        other = rendered(QUARRY_PSALM.replace("seed = 12", f"seed = {seed}"))
        for number in range(3):
            before, after = self.chorus(number), self.chorus(number, other)
            assert [row for row in before if row[0] < self.edge] == [row for row in after if row[0] < self.edge]
        assert self.chorus(0, other) == self.chorus(0)

    def test_many_returns_are_all_unlike(self) -> None:
        """As long as the groove has moves no ending comes twice."""
        made = rendered(QUARRY_PSALM.replace('"chorus", "chorus", "chorus"', ", ".join(['"chorus"'] * 12)))
        endings = [tuple(row for row in self.chorus(number, made) if row[0] >= self.edge) for number in range(12)]
        assert len(set(endings)) == 12


THE_BELL_DIVER = """
title = "The Bell Diver"
tempo = 118
form = ["descent", "stabs", "descent"]

[grooves.plain]
tab = '''
Rd x-x-x-x-x-x-x-x-
SN ----O-------O---
BD o-------o-o-----
'''

[parts.descent]
groove = "plain"
bars = 4

[parts.stabs]
bars = 4
stops = "1.1 2.1 3.1 4.1 4.2& 4.3 4.4"
"""


class TestTheBellDiver:
    """Stabs of a part of four bars."""

    instants = (0, 1920, 3840, 5760, 5760 + 720, 5760 + 960, 5760 + 1440)

    def stabs(self, text: str) -> list[tuple[int, int, int]]:
        low, high = 4 * TICKS_A_BAR, 8 * TICKS_A_BAR
        return [(tick - low, note, loud) for tick, note, loud in strokes(read(rendered(text))) if low <= tick < high]

    def test_kick_and_crash_and_nothing_else(self) -> None:
        """Seven instants with kick and crash; nothing else in the four bars."""
        wanted = sorted((tick, note) for tick in self.instants for note in (KICK, CRASH))
        assert [(tick, note) for tick, note, _ in self.stabs(THE_BELL_DIVER)] == wanted

    def test_stops_stand_exactly_however_loose_the_song_is(self) -> None:
        """Looseness leaves stops where they are."""
        loose = THE_BELL_DIVER.replace("tempo = 118", "tempo = 118\nlooseness = 9\nswing = '2:1'")
        swung = {tick if tick != 5760 + 720 else 5760 + 800 for tick in self.instants}
        assert {tick for tick, _, _ in self.stabs(loose)} == swung

    def test_chokes_end_after_an_eighth_or_at_the_next_stop(self) -> None:
        """Choked crashes last an eighth, all of these; a line of the report says what a General MIDI kit does."""
        choked = rendered(THE_BELL_DIVER + "choke = true\n")
        lasts = [last for tick, note, last in spans(read(choked)) if note == CRASH and 4 <= tick // TICKS_A_BAR < 8]
        assert lasts == [240] * 7
        assert len([note for note in choked.notes if "7 choked strokes" in note]) == 1
        assert not rendered(THE_BELL_DIVER).notes

    def test_a_choke_ends_at_the_next_stop(self) -> None:
        """Stops a sixteenth apart cut each other off."""
        near = THE_BELL_DIVER.replace("4.2& 4.3 4.4", "4.2& 4.2a 4.3") + "choke = true\n"
        notes = spans(read(rendered(near)))
        crashes = [last for tick, note, last in notes if note == CRASH and tick // TICKS_A_BAR == 7]
        assert crashes == [240, 120, 120, 240]


ANCHOR_DEBT = """
title = "Anchor Debt"
tempo = 142
seed = 5
form = [
  { part = "verse", name = "first verse", arrival = "soft" },
  "chorus",
  "verse",
  { part = "chorus", fill = false },
  { part = "verse", name = "quiet verse", arrival = "soft", level = "-1" },
  "chorus",
  { part = "chorus", name = "last chorus", level = "+1" },
]

[defaults]
bars = 8
groove = "plain"
fill = "1 bar"

""" + PUSHED + """
[parts.verse]

[parts.chorus]
timekeeper = "ride"
"""


class TestAnchorDebt:
    """Seven sections of eight bars, the first and the fifth softly begun, a fill before each loud arrival."""

    made = rendered(ANCHOR_DEBT)
    loud = (9, 17, 25, 41, 49)

    def at(self, bar: int) -> int:
        return (bar - 1) * TICKS_A_BAR

    def test_sections(self) -> None:
        """Sections begin at bars 1 9 17 25 33 41 49."""
        assert [tick // TICKS_A_BAR + 1 for tick, _ in of(read(self.made), "marker")] == [1, 9, 17, 25, 33, 41, 49]

    def test_crash_and_kick_at_the_loud_arrivals_alone(self) -> None:
        """A crash and a kick on one tick at the five loud arrivals, nowhere else; no timekeeper stroke there."""
        notes: dict[int, set[int]] = {}
        for tick, note, _ in strokes(read(self.made)):
            notes.setdefault(tick, set()).add(note)
        together = [tick for tick, struck in notes.items() if KICK in struck and struck & {CRASH, SECOND_CRASH}]
        assert together == [self.at(bar) for bar in self.loud]
        assert not any(notes[tick] & HANDS for tick in together)

    def test_soft_arrivals(self) -> None:
        """Bars 1 and 33 have the kick and an accented hand, no crash."""
        for bar in (1, 33):
            struck = {note: loud for tick, note, loud in strokes(read(self.made)) if tick == self.at(bar)}
            assert set(struck) == {KICK, 42}
            assert struck[42] >= 105  # the accent band: common practice

    def test_five_fills(self) -> None:
        """The hand leaves for a stretch of at most four beats before each loud arrival, five times; drums play on."""
        hands = [tick for tick, note, _ in strokes(read(self.made)) if note in HANDS]
        gaps = [(early, late) for early, late in pairwise(hands) if late - early > TICKS_A_BEAT]
        assert len(gaps) == 5
        drums = Counter(tick // TICKS_A_BAR for tick, note, _ in strokes(read(self.made)) if note not in HANDS)
        for (early, late), bar in zip(gaps, self.loud):
            assert self.at(bar) - 4 * TICKS_A_BEAT - 240 <= early < self.at(bar) < late
            assert drums[bar - 2] >= 8  # at least two strokes a beat

    def test_the_last_fill_is_left_out_and_the_report_says_so(self) -> None:
        """Nothing comes after the last section; a final hit takes its fill."""
        assert [note for note in self.made.notes if note.startswith("last chorus, bar 56")]
        hit = rendered(ANCHOR_DEBT.replace("tempo = 142", 'tempo = 142\nfinal = "hit"'))
        assert not hit.notes
        assert hit.arrangement.bars == 57
        last = [(tick, note) for tick, note, _ in strokes(read(hit)) if tick >= self.at(57)]
        assert last == [(self.at(57), KICK), (self.at(57), CRASH)]
        assert hit.performance.end == self.at(58)

    def test_no_fill_comes_twice_in_a_row(self) -> None:
        """Neighbouring fills differ, with any seed."""
        for seed in range(20):
            made = rendered(ANCHOR_DEBT.replace("seed = 5", f"seed = {seed}"))
            played = [(tick, note) for tick, note, _ in strokes(read(made))]
            fills = [
                tuple((tick - self.at(bar), note) for tick, note in played if self.at(bar - 1) <= tick < self.at(bar))
                for bar in self.loud
            ]
            assert all(one != two for one, two in pairwise(fills))
