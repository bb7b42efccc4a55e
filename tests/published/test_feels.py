"""Feels, d-beats, blasts and the timekeeping hand against what is published about them.

Steps count sixteenths of a 4/4 bar from 0: 0, 4, 8, 12 are the beats. The source of each row stands beside it;
"common practice" has none, "derived" follows from the sourced rows.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from grooveforge.core.arrange import arrival
from grooveforge.core.detect import BarFeel, bar_feels
from grooveforge.core.feel import FeelChange, set_feel
from grooveforge.core.feel_table import pattern
from grooveforge.core.groove import Groove
from grooveforge.core.meter import Meter, parse_meter
from grooveforge.core.recount import recount_groove
from grooveforge.core.roles import read_feel
from grooveforge.core.timekeeper import set_subdivision
from tests.bars import FOUR_FOUR, groove, line_of, places, sixteenths

HALF_TIME = 'encyclopaedia article "Half-time (music)"'
DRUMBEATS = 'S. Hanenberg, "Drumbeats", Open Music Theory'
D_BEAT = 'encyclopaedia article "D-beat", three tabs'
BLAST = 'encyclopaedia article "Blast beat", Characteristics: four tabs'
ROTHMAN = 'J. Rothman, "5/4 Rock", Modern Drummer, March 2018'
HATS = "x-x-x-x-x-x-x-x-"

FULL_TIME = groove("x-------x-------", "----x-------x---", HATS)


def _steps(line: str) -> list[int]:
    """The struck steps of a published tab line."""
    return [step for step, mark in enumerate(line) if mark != "-"]


# -- time feels --------------------------------------------------------------------------------------------

TIME_FEELS = [
    ("full", 1, [0, 8], [4, 12], f"{HALF_TIME}; {DRUMBEATS}"),
    ("half", 1, [0], [8], f"{HALF_TIME}: the backbeat moves to beat 3 of each bar"),
    ("quarter", 2, [0], [16], "derived: the same halving once more; common practice"),
    ("double", 1, [0, 4, 8, 12], [2, 6, 10, 14], f"{HALF_TIME}: the snare moves to the &s"),
]


@pytest.mark.parametrize(("feel", "bars", "kicks", "snares", "source"), TIME_FEELS)
def test_each_time_feel_has_its_kick_skeleton_and_backbeats(
    feel: str, bars: int, kicks: list[int], snares: list[int], source: str
) -> None:
    """Set on a full-time beat (or read from the table) a feel has the published strokes."""
    cycle = pattern(FOUR_FOUR, feel)
    assert cycle.bars == bars, source
    assert places(cycle.kicks) == kicks, source
    assert places(cycle.backbeats) == snares, source
    after = set_feel(FULL_TIME, FeelChange(feel))
    assert sixteenths(after, "kick") == kicks, source
    assert sixteenths(after, "snare") == snares, source


PER_BAR = [("quarter", Fraction(1, 2)), ("half", 1), ("full", 2), ("double", 4)]


@pytest.mark.parametrize(("feel", "count"), PER_BAR)
def test_backbeats_per_bar(feel: str, count: Fraction) -> None:
    """1/2, 1, 2 and 4 (encyclopaedia article "Half-time (music)"; quarter time derived)."""
    after = set_feel(FULL_TIME, FeelChange(feel))
    assert Fraction(len(sixteenths(after, "snare")), after.bars) == count


@pytest.mark.parametrize("feel", ["quarter", "half", "full", "double"])
def test_the_bar_never_changes_its_length(feel: str) -> None:
    """Tempo, bar length and chord pace are those of before (article "Half-time (music)": the metronome does not
    change); one bar of the groove is spread over two, none is stretched."""
    after = set_feel(FULL_TIME, FeelChange(feel))
    assert after.meter == FULL_TIME.meter
    assert after.whole == after.bars * FULL_TIME.whole


def test_half_time_spreads_one_bar_over_two() -> None:
    """Two bars of half time are one bar of full time stretched to twice its length (article "Half-time (music)")."""
    full, half = pattern(FOUR_FOUR, "full"), pattern(FOUR_FOUR, "half").over(2, FOUR_FOUR)
    assert half.kicks == tuple(2 * place for place in full.kicks)
    assert half.backbeats == tuple(2 * place for place in full.backbeats)


@pytest.mark.parametrize(
    ("feel", "beats"), [("quarter", 8), ("half", 4), ("full", 2), ("double", 1), ("blast", Fraction(1, 2))]
)
def test_one_formula_a_cycle_of_c_beats_has_its_backbeat_at_half_of_c(feel: str, beats: Fraction) -> None:
    """C = 8, 4, 2, 1 is quarter, half, full, double; C = 1/2 is the alternating blast (derived)."""
    cycle = pattern(FOUR_FOUR, feel).over(2, FOUR_FOUR)
    length = beats * Fraction(1, 4)
    turns = range(int(2 / length))
    assert list(cycle.kicks) == [turn * length for turn in turns]
    assert list(cycle.backbeats) == [turn * length + length / 2 for turn in turns]


def test_the_light_form_of_double_time_is_read_as_double_time() -> None:
    """Kick 0 8, snare 2 10: a variant, not the definition (one published lesson calls it the simplest form)."""
    light = groove("x-------x-------", "--x-------x-----", HATS)
    assert read_feel(light).feel == "double"
    assert sixteenths(light, "snare") != places(pattern(FOUR_FOUR, "double").backbeats)


@pytest.mark.parametrize(
    ("kick", "hand"),
    [("x-------x-------", 16 * "x"), (16 * "x", HATS), (16 * "x", 16 * "x"), ("x-x-x-x-x-x-x-x-", HATS)],
)
def test_more_cymbal_notes_or_kicks_alone_are_not_double_time(kick: str, hand: str) -> None:
    """The backbeat has to move (published lesson)."""
    assert read_feel(groove(kick, "----x-------x---", hand)).feel == "full"


def test_twice_and_half_the_backbeat_rate_differ_four_to_one() -> None:
    """Double time and half time of one groove differ in the snare count, 4 to 1 (common practice)."""
    fast, slow = (set_feel(FULL_TIME, FeelChange(feel, kick="keep")) for feel in ("double", "half"))
    assert (fast.kick, fast.hand) == (slow.kick, slow.hand)
    assert len(sixteenths(fast, "snare")) == 4 * len(sixteenths(slow, "snare"))


# -- d-beat ------------------------------------------------------------------------------------------------

D_BEATS = [  # encyclopaedia article "D-beat": hat or crash, snare, kick
    ("v1", "x-x-x-x-x-x-x-x-", "--o---o---o---o-", "o---oo--o---oo--"),
    ("v2", "x-x-x-x-x-x-x-x-", "--o---o---o---o-", "o----o--o--o-o--"),
    ("v3", "x--x-x--x--x-x--", "--o---o---o---o-", "o--o-o--o--o-o--"),
]


@pytest.mark.parametrize(("spelling", "hand", "snare", "kick"), D_BEATS)
def test_invariants_of_the_d_beat(spelling: str, hand: str, snare: str, kick: str) -> None:
    """Derived from the three tabs of the article "D-beat": the snare is double time's; kick and snare never
    coincide; kick on 0 and 8; extra kicks on 5 and 13."""
    del hand, snare, kick
    cycle = pattern(FOUR_FOUR, "d-beat", spelling)
    kicks, snares = places(cycle.kicks), places(cycle.backbeats)
    assert snares == [2, 6, 10, 14]
    assert not set(kicks) & set(snares)
    assert {0, 8, 5, 13} <= set(kicks)


def test_v1_at_twice_the_tempo_is_kick_on_1_3_and_the_and_of_3() -> None:
    """Written at twice the tempo v1 is kick on 1, 3, 3&; snare on 2 and 4 (derived from the article "D-beat")."""
    cycle = pattern(FOUR_FOUR, "d-beat", "v1")
    kicks, snares = (
        [1 + 8 * place for place in which if place < Fraction(1, 2)] for which in (cycle.kicks, cycle.backbeats)
    )
    assert kicks == [1, 3, Fraction(7, 2)]
    assert snares == [2, 4]


# -- two-beat and thrash beat ------------------------------------------------------------------------------


def test_a_two_beat_is_the_skeleton_of_double_time() -> None:
    """Hand and kick on the beat, snare between (published lessons, S. Lang; Drum! magazine)."""
    two_beat = groove("x---x---x---x---", "--x---x---x---x-", "x---x---x---x---")
    assert read_feel(two_beat).feel == "double"
    cycle = pattern(FOUR_FOUR, "double")
    assert sixteenths(two_beat, "kick") == places(cycle.kicks)
    assert sixteenths(two_beat, "snare") == places(cycle.backbeats)


def test_the_thrash_beat_as_taught_is_full_time() -> None:
    """Kick 0 2 8 10, snare 4 12, hand in eighths (published how-to)."""
    thrash = groove(line_of([0, 2, 8, 10]), line_of([4, 12]), HATS)
    reading = read_feel(thrash)
    assert (reading.feel, reading.own) == ("full", False)
    assert [step for _, step in reading.backbeats] == [4, 12]


# -- blast beats -------------------------------------------------------------------------------------------

BLASTS = [  # encyclopaedia article "Blast beat": cymbal, snare, kick
    ("unison", "x-x-x-x-x-x-x-x-", "o-o-o-o-o-o-o-o-", "o-o-o-o-o-o-o-o-"),
    ("alternating", "x-x-x-x-x-x-x-x-", "-o-o-o-o-o-o-o-o", "o-o-o-o-o-o-o-o-"),
    ("double-kick", "x-x-x-x-x-x-x-x-", "o-o-o-o-o-o-o-o-", "oooooooooooooooo"),
    ("one-hand-roll", "x-x-x-x-x-x-x-x-", "oooooooooooooooo", "o-o-o-o-o-o-o-o-"),
]


PUBLISHED = [*(("d-beat", *row) for row in D_BEATS), *(("blast", *row) for row in BLASTS)]


@pytest.mark.parametrize(("feel", "spelling", "hand", "snare", "kick"), PUBLISHED)
def test_each_spelling_is_the_published_tab(feel: str, spelling: str, hand: str, snare: str, kick: str) -> None:
    """Three tabs of the encyclopaedia article "D-beat" and four of "Blast beat" (Characteristics), set on a plain
    full-time beat."""
    after = set_feel(FULL_TIME, FeelChange(feel, spelling))
    assert sixteenths(after, "hand") == _steps(hand)
    assert sixteenths(after, "snare") == _steps(snare)
    assert sixteenths(after, "kick") == _steps(kick)


@pytest.mark.parametrize(("feel", "spelling", "hand", "snare", "kick"), PUBLISHED)
def test_each_published_tab_is_read_back(feel: str, spelling: str, hand: str, snare: str, kick: str) -> None:
    """The tabs of both articles are d-beats and blasts of just that spelling: the steps define it."""
    assert bar_feels(groove(kick, snare, hand)) == (BarFeel(feel, spelling),)


def test_the_triplet_blast_strikes_all_twelve_triplets_together() -> None:
    """Kick, snare and cymbal on all twelve eighth triplets of the bar (article "Blast beat")."""
    after = set_feel(FULL_TIME, FeelChange("blast", "triplet"))
    triplets = [Fraction(4 * index, 3) for index in range(12)]
    assert [sixteenths(after, name) for name in ("kick", "snare", "hand")] == [triplets] * 3
    assert bar_feels(after.mask(["kick", "snare"])) == (BarFeel("blast", "triplet"),)


def test_the_snare_led_alternating_blast_is_a_blast() -> None:
    """Snare and cymbal on even steps, kick on odd ones (article "Blast beat")."""
    assert read_feel(groove("-o-o-o-o-o-o-o-o", "o-o-o-o-o-o-o-o-", HATS)).feel == "blast"


# -- an equality of tempi ----------------------------------------------------------------------------------


def _milliseconds(of: Groove, bpm: int | Fraction) -> dict[str, list[Fraction]]:
    """When each lane strikes at a tempo in quarter notes a minute."""
    sixteenth = Fraction(60_000) / bpm / 4
    return {name: [step * sixteenth for step in sixteenths(of, name)] for name in ("kick", "snare", "hand")}


@pytest.mark.parametrize("bpm", [130, 132, 135, 140])
def test_a_breakdown_in_half_time_is_full_time_at_half_the_tempo(bpm: int) -> None:
    """130-140 written in half time is the same as 65-70 written in full time (published tempi, approximate): the
    same strokes in milliseconds."""
    half = set_feel(FULL_TIME, FeelChange("half", kick="figure")).repeat(2)
    full = set_feel(FULL_TIME, FeelChange("full", kick="figure"))
    half, full = replace(half, hand=None), replace(full, hand=None)  # the hand keeps its note values
    assert _milliseconds(half, bpm) == _milliseconds(full, Fraction(bpm, 2))


@pytest.mark.parametrize("bpm", [130, 132, 135, 140])
def test_a_breakdown_recounted_is_the_same_strokes_in_time(bpm: int) -> None:
    """A half-time breakdown at 130-140, recounted to 65-70, is full time and every stroke sounds when it did
    (published tempi, approximate; an equality check)."""
    breakdown = groove(line_of([0, 3, 6, 7, 10, 12]), line_of([8]), "x---x---x---x---").repeat(2)
    recounted = recount_groove(breakdown, Fraction(1, 2))
    assert (read_feel(breakdown).feel, read_feel(recounted).feel) == ("half", "full")
    assert recounted.bars == 1
    assert _milliseconds(breakdown, bpm) == _milliseconds(recounted, Fraction(bpm, 2))


# -- other metres ------------------------------------------------------------------------------------------

OTHER_METRES = [  # metre, backbeats counted in the lower figure from 1, source
    ("12/8", [4, 10], ROTHMAN),
    ("6/8", [4], "published lesson on 6/8 beats"),
    ("3/4", [3], DRUMBEATS),
    ("5/8", [4], "Modern Drummer, March 2014"),
    ("5/4", [2, 4], f"{ROTHMAN}: one of two usual places; no general standard"),
    ("7/8", [3], "published lesson; common practice: start of the second group of 2+2+3"),
]


@pytest.mark.parametrize(("text", "counts", "source"), OTHER_METRES)
def test_backbeats_of_other_metres(text: str, counts: list[int], source: str) -> None:
    """Full time has its backbeats where they are published."""
    meter = parse_meter(text)
    found = pattern(meter, "full").backbeats
    assert [1 + place * meter.lower for place in found] == counts, source


@pytest.mark.parametrize(("groups", "count"), [((2, 2, 3), 3), ((2, 3, 2), 3), ((3, 2, 2), 4)])
def test_seven_eight_has_its_backbeat_at_the_second_group(groups: tuple[int, ...], count: int) -> None:
    """Start of the second group of 2+2+3, 2+3+2, 3+2+2 (published lesson; common practice)."""
    assert [1 + place * 8 for place in pattern(Meter(7, 8, groups), "full").backbeats] == [count]


OWN = [  # metre, backbeats in quarters from 1 that a writer gives, source
    ("5/4", [Fraction(2), Fraction(9, 2)], "2 and the & of 4: J. Rothman, same article; A. Edgar, Modern Drummer"),
    ("7/8", [Fraction(2), Fraction(4)], "eighths 3 and 7, as 4/4 less its last eighth: published lesson"),
]


@pytest.mark.parametrize(("text", "counts", "source"), OWN)
def test_a_groove_s_own_backbeats_overrule_the_default(text: str, counts: list[Fraction], source: str) -> None:
    """Other published places are the writer's choice."""
    meter = parse_meter(text)
    backbeats = tuple((count - 1) / 4 for count in counts)
    plain = groove("x" + (meter.steps(16) - 1) * "-", meter=meter)
    after = set_feel(plain, FeelChange("full", backbeats=backbeats))
    assert [1 + step / 4 for step in sixteenths(after, "snare")] == counts, source


# -- the timekeeping hand ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "surface", ["half-open hi-hat", "ride", "ride bell", "open hi-hat", "crash", "china", "floor tom"]
)
def test_moving_the_hand_leaves_kick_and_snare_untouched(surface: str) -> None:
    """From contained to open, and the floor tom (common practice)."""
    moved = FULL_TIME.move_hand(surface)
    assert (moved.kick, moved.snare, moved.hand) == (FULL_TIME.kick, FULL_TIME.snare, FULL_TIME.hand)
    assert moved.surface == surface


@pytest.mark.parametrize(("subdivision", "strokes"), [("1/4", 4), ("1/8", 8), ("1/16", 16)])
def test_quarters_are_wide_eighths_neutral_sixteenths_busy(subdivision: str, strokes: int) -> None:
    """4, 8 and 16 strokes a bar (published lesson)."""
    assert len(sixteenths(set_subdivision(FULL_TIME, subdivision), "hand")) == strokes


def test_two_handed_sixteenths_are_14_hats_and_2_snares() -> None:
    """The hand that plays the backbeat leaves the hi-hat (published lessons)."""
    after = set_subdivision(FULL_TIME, "1/16 two hands")
    assert len(sixteenths(after, "hand")) == 14
    assert sixteenths(after, "snare") == [4, 12]
    assert not set(sixteenths(after, "hand")) & {4, 12}


def test_a_crash_replaces_the_hand_s_stroke_and_the_hand_returns() -> None:
    """On its tick the crash stands in place of the hand's stroke; after it the hand is on its surface again
    (common practice)."""
    two_bars = FULL_TIME.repeat(2)
    after = arrival(two_bars)
    assert sixteenths(after, "crash") == [0]
    assert sixteenths(after, "hand") == sixteenths(two_bars, "hand")[1:]
    assert after.surface == "closed hi-hat"
    assert (after.kick, after.snare) == (two_bars.kick, two_bars.snare)
