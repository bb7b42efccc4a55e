"""The feel table, row by row: where kick and snare stand for each feel in each class of metre.

Counted in quarters, eighths or sixteenths of the cycle, from 0. Rows without a source beside them are house
rules.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from grooveforge.core.feel_table import default_spelling, pattern, step_feel
from grooveforge.core.meter import Meter, parse_meter
from grooveforge.errors import MusicError

F = Fraction
Row = tuple[str, str, int, int, list[float], list[float]]

ROWS: list[Row] = [
    # metre, feel, note counted in, bars of the cycle, kick skeleton, backbeats
    # encyclopaedia article "Half-time (music)"; S. Hanenberg, "Drumbeats", Open Music Theory
    ("4/4", "quarter", 16, 2, [0], [16]),
    ("4/4", "half", 16, 1, [0], [8]),
    ("4/4", "full", 16, 1, [0, 8], [4, 12]),
    ("4/4", "double", 16, 1, [0, 4, 8, 12], [2, 6, 10, 14]),
    ("4/4", "blast", 16, 1, list(range(0, 16, 2)), list(range(1, 16, 2))),
    # two and six equal beats: every second beat; half-way through a cycle of 4 and 8 beats; the & of each beat
    ("2/4", "quarter", 4, 4, [0], [4]),
    ("2/4", "half", 4, 2, [0], [2]),
    ("2/4", "full", 4, 1, [0], [1]),
    ("2/4", "double", 8, 1, [0, 2], [1, 3]),
    ("2/4", "blast", 16, 1, [0, 2, 4, 6], [1, 3, 5, 7]),
    ("2/2", "quarter", 2, 4, [0], [4]),
    ("2/2", "half", 2, 2, [0], [2]),
    ("2/2", "full", 2, 1, [0], [1]),
    ("2/2", "double", 4, 1, [0, 2], [1, 3]),
    ("2/2", "blast", 8, 1, [0, 2, 4, 6], [1, 3, 5, 7]),
    ("6/4", "quarter", 4, 4, [0, 8, 16], [4, 12, 20]),
    ("6/4", "half", 4, 2, [0, 4, 8], [2, 6, 10]),
    ("6/4", "full", 4, 1, [0, 2, 4], [1, 3, 5]),
    ("6/4", "double", 8, 1, [0, 2, 4, 6, 8, 10], [1, 3, 5, 7, 9, 11]),
    ("6/4", "blast", 16, 1, list(range(0, 24, 2)), list(range(1, 24, 2))),
    # compound: a beat is a dotted quarter; double has the last third of each beat, blast is the triplet one.
    # 6/8 full: published lesson on 6/8 beats; 12/8 full: J. Rothman, "5/4 Rock", Modern Drummer, March 2018
    ("6/8", "quarter", 8, 4, [0], [12]),
    ("6/8", "half", 8, 2, [0], [6]),
    ("6/8", "full", 8, 1, [0], [3]),
    ("6/8", "double", 8, 1, [0, 3], [2, 5]),
    ("6/8", "blast", 8, 1, list(range(6)), list(range(6))),
    ("12/8", "quarter", 8, 2, [0], [12]),
    ("12/8", "half", 8, 1, [0], [6]),
    ("12/8", "full", 8, 1, [0, 6], [3, 9]),
    ("12/8", "double", 8, 1, [0, 3, 6, 9], [2, 5, 8, 11]),
    ("12/8", "blast", 8, 1, list(range(12)), list(range(12))),
    # three equal beats. 3/4 full: S. Hanenberg, "Drumbeats", Open Music Theory
    ("3/4", "quarter", 4, 4, [0], [6]),
    ("3/4", "half", 4, 2, [0], [3]),
    ("3/4", "full", 4, 1, [0], [2]),
    ("3/4", "double", 16, 1, [0, 6], [4, 10]),
    ("3/4", "blast", 16, 1, [0, 2, 4, 6, 8, 10], [1, 3, 5, 7, 9, 11]),
    ("9/8", "quarter", 8, 4, [0], [18]),
    ("9/8", "half", 8, 2, [0], [9]),
    ("9/8", "full", 8, 1, [0], [6]),
    ("9/8", "double", 16, 1, [0, 9], [6, 15]),
    ("9/8", "blast", 8, 1, list(range(9)), list(range(9))),
    # five or seven quarters; 5/4 full: J. Rothman, "5/4 Rock", Modern Drummer, March 2018
    ("5/4", "quarter", 4, 2, [0], [5]),
    ("5/4", "half", 4, 1, [0], [3]),
    ("5/4", "full", 4, 1, [0, 2, 4], [1, 3]),
    ("5/4", "double", 8, 1, [0, 2, 4, 6, 8], [1, 3, 5, 7, 9]),
    ("5/4", "blast", 16, 1, list(range(0, 20, 2)), list(range(1, 20, 2))),
    ("7/4", "quarter", 4, 2, [0], [7]),
    ("7/4", "half", 4, 1, [0], [4]),
    ("7/4", "full", 4, 1, [0, 2, 4, 6], [1, 3, 5]),
    ("7/4", "double", 8, 1, [0, 2, 4, 6, 8, 10, 12], [1, 3, 5, 7, 9, 11, 13]),
    ("7/4", "blast", 16, 1, list(range(0, 28, 2)), list(range(1, 28, 2))),
    # unequal groups of eighths; 5/8 full: Modern Drummer, March 2014
    ("5/8", "quarter", 8, 4, [0], [10]),
    ("5/8", "half", 8, 2, [0], [5]),
    ("5/8", "full", 8, 1, [0], [3]),
    ("5/8", "double", 8, 1, [0, 3], [1, 4]),
    ("5/8", "blast", 16, 1, [0, 2, 4, 6, 8], [1, 3, 5, 7, 9]),
    ("7/8", "quarter", 8, 4, [0], [14]),
    ("7/8", "half", 8, 2, [0], [7]),
    ("7/8", "full", 8, 1, [0, 4], [2]),
    ("7/8", "double", 8, 1, [0, 2, 4], [1, 3, 5]),
    ("7/8", "blast", 16, 1, list(range(0, 14, 2)), list(range(1, 14, 2))),
    ("11/8", "quarter", 8, 4, [0], [22]),
    ("11/8", "half", 8, 2, [0], [11]),
    ("11/8", "full", 8, 1, [0, 6], [3, 9]),
    ("11/8", "double", 8, 1, [0, 3, 6, 9], [1, 4, 7, 10]),
    ("11/8", "blast", 16, 1, list(range(0, 22, 2)), list(range(1, 22, 2))),
    ("13/8", "quarter", 8, 4, [0], [26]),
    ("13/8", "half", 8, 2, [0], [13]),
    ("13/8", "full", 8, 1, [0, 6, 11], [3, 9]),
    ("13/8", "double", 8, 1, [0, 3, 6, 9, 11], [1, 4, 7, 10, 12]),
    ("13/8", "blast", 16, 1, list(range(0, 26, 2)), list(range(1, 26, 2))),
    # "Any other metre": other quarters as five or seven, other sixteenths in unequal groups
    ("9/4", "full", 4, 1, [0, 2, 4, 6, 8], [1, 3, 5, 7]),
    ("9/4", "half", 4, 1, [0], [5]),
    ("8/8", "full", 8, 1, [0, 6], [3]),
    ("7/16", "full", 16, 1, [0, 5], [3]),
    ("15/8", "full", 8, 1, [0, 6, 12], [3, 9]),
    ("15/8", "half", 8, 1, [0], [9]),
]


@pytest.mark.parametrize(("text", "feel", "note", "bars", "kicks", "backbeats"), ROWS)
def test_each_row_of_the_table(
    text: str, feel: str, note: int, bars: int, kicks: list[float], backbeats: list[float]
) -> None:
    """Every feel of every metre named in the table has its cycle, kick skeleton and backbeats."""
    cycle = pattern(parse_meter(text), feel)
    assert cycle.bars == bars
    assert [place * note for place in cycle.kicks] == kicks
    assert [place * note for place in cycle.backbeats] == backbeats


GROUPED: list[tuple[Meter, str, list[int], list[int]]] = [
    # published lesson and common practice: the start of the second group of 2+2+3, 2+3+2, 3+2+2
    (Meter(7, 8, (2, 2, 3)), "full", [0, 4], [2]),
    (Meter(7, 8, (2, 3, 2)), "full", [0, 5], [2]),
    (Meter(7, 8, (3, 2, 2)), "full", [0, 5], [3]),
    (Meter(5, 8, (2, 3)), "full", [0], [2]),
    (Meter(5, 4, (2, 3)), "half", [0], [4]),
    (Meter(7, 4, (3, 4)), "half", [0], [6]),
    (Meter(5, 4, (2, 3)), "full", [0, 4, 8], [2, 6]),
]


@pytest.mark.parametrize(("meter", "feel", "kicks", "backbeats"), GROUPED)
def test_a_grouping_moves_the_backbeats(meter: Meter, feel: str, kicks: list[int], backbeats: list[int]) -> None:
    """Counted in eighths: the groups that the user writes decide."""
    cycle = pattern(meter, feel)
    assert [place * 8 for place in cycle.kicks] == kicks
    assert [place * 8 for place in cycle.backbeats] == backbeats


@pytest.mark.parametrize("text", ["4/4", "2/4", "6/4", "6/8", "12/8"])
@pytest.mark.parametrize(("feel", "beats"), [("quarter", 8), ("half", 4), ("full", 2)])
def test_a_cycle_of_equal_beats_has_its_backbeat_half_way(text: str, feel: str, beats: int) -> None:
    """Kick at 0, backbeat at C/2 of a cycle of C beats (one formula for the feels)."""
    meter = parse_meter(text)
    cycle, beat = pattern(meter, feel), meter.beat_lengths[0]
    length = cycle.bars * meter.whole
    assert list(cycle.kicks) == [beat * beats * turn for turn in range(int(length / beat / beats))]
    assert [place - beat * beats / 2 for place in cycle.backbeats] == list(cycle.kicks)


SPELLED = [
    ("alternating", list(range(0, 16, 2)), list(range(1, 16, 2)), list(range(0, 16, 2))),
    ("unison", list(range(0, 16, 2)), list(range(0, 16, 2)), list(range(0, 16, 2))),
    ("double-kick", list(range(16)), list(range(0, 16, 2)), list(range(0, 16, 2))),
    ("one-hand-roll", list(range(0, 16, 2)), list(range(16)), list(range(0, 16, 2))),
    ("triplet", [F(4 * n, 3) for n in range(12)], [F(4 * n, 3) for n in range(12)], [F(4 * n, 3) for n in range(12)]),
]


@pytest.mark.parametrize(("spelling", "kicks", "snares", "hand"), SPELLED)
def test_each_blast_has_its_steps(
    spelling: str, kicks: list[Fraction], snares: list[Fraction], hand: list[Fraction]
) -> None:
    """Kick, snare and hand in sixteenths of a 4/4 bar (encyclopaedia article "Blast beat", Characteristics)."""
    cycle = pattern(Meter(4, 4), "blast", spelling)
    assert [place * 16 for place in cycle.kicks] == kicks
    assert [place * 16 for place in cycle.backbeats] == snares
    assert cycle.hand is not None
    assert [place * 16 for place in cycle.hand] == hand


D_BEATS = [
    ("v1", [0, 4, 5, 8, 12, 13], list(range(0, 16, 2))),
    ("v2", [0, 5, 8, 11, 13], list(range(0, 16, 2))),
    ("v3", [0, 3, 5, 8, 11, 13], [0, 3, 5, 8, 11, 13]),
]


@pytest.mark.parametrize(("spelling", "kicks", "hand"), D_BEATS)
def test_each_d_beat_has_its_steps(spelling: str, kicks: list[int], hand: list[int]) -> None:
    """Double's snare over the published kicks and hand (encyclopaedia article "D-beat", three tabs)."""
    cycle = pattern(Meter(4, 4), "d-beat", spelling)
    assert [place * 16 for place in cycle.kicks] == kicks
    assert [place * 16 for place in cycle.backbeats] == [2, 6, 10, 14]
    assert [place * 16 for place in cycle.hand or ()] == hand


D_BEATS_ELSEWHERE = [
    ("3/4", [0, 4, 5, 8], [2, 6, 10]),
    ("7/8", [0, 4, 5, 8, 12, 13], [2, 6, 10]),
    ("5/4", [0, 4, 5, 8, 12, 13, 16], [2, 6, 10, 14, 18]),
    ("7/4", [0, 4, 5, 8, 12, 13, 16, 20, 21, 24], [2, 6, 10, 14, 18, 22, 26]),
    ("2/4", [0, 4, 5], [2, 6]),
]


@pytest.mark.parametrize(("text", "kicks", "backbeats"), D_BEATS_ELSEWHERE)
def test_a_d_beat_elsewhere_is_its_bar_begun_anew(text: str, kicks: list[int], backbeats: list[int]) -> None:
    """Outside 4/4 the 4/4 bar begins anew in each bar, repeated or cut at the bar line."""
    cycle = pattern(parse_meter(text), "d-beat")
    assert cycle.bars == 1
    assert [place * 16 for place in cycle.kicks] == kicks
    assert [place * 16 for place in cycle.backbeats] == backbeats


@pytest.mark.parametrize("text", ["6/8", "9/8", "12/8", "15/8", "6/16"])
def test_a_d_beat_in_compound_time_is_an_error(text: str) -> None:
    """It is a figure of simple time, and the error says so."""
    with pytest.raises(MusicError, match="d-beat"):
        pattern(parse_meter(text), "d-beat")


def test_the_default_spellings() -> None:
    """v1 and alternating; in compound time the triplet blast; other feels have none."""
    assert default_spelling("d-beat", Meter(4, 4)) == "v1"
    assert default_spelling("blast", Meter(4, 4)) == "alternating"
    assert default_spelling("blast", Meter(12, 8)) == "triplet"
    assert default_spelling("full", Meter(4, 4)) is None


@pytest.mark.parametrize(
    ("feel", "spelling"), [("blast", "v1"), ("d-beat", "unison"), ("full", "v1"), ("bouncy", None), ("/2", None)]
)
def test_unknown_feels_and_spellings_are_errors(feel: str, spelling: str | None) -> None:
    """A spelling belongs to its feel, and a relative feel is no feel."""
    with pytest.raises(MusicError):
        pattern(Meter(4, 4), feel, spelling)


LADDER = [
    ("full", "/2", "half"), ("half", "/2", "quarter"), ("full", "/4", "quarter"), ("double", "/2", "full"),
    ("double", "/4", "half"), ("blast", "/2", "double"), ("blast", "/4", "full"), ("d-beat", "/2", "full"),
    ("d-beat", "/4", "half"), ("quarter", "x2", "half"), ("quarter", "x4", "full"), ("half", "x2", "full"),
    ("half", "x4", "double"), ("full", "x2", "double"), ("full", "x4", "blast"), ("double", "x2", "blast"),
    ("d-beat", "x2", "blast"),
]  # fmt: skip


@pytest.mark.parametrize(("feel", "relative", "target"), LADDER)
def test_a_relative_feel_moves_along_the_ladder(feel: str, relative: str, target: str) -> None:
    """/2 and x2 move one rung, /4 and x4 two; a d-beat stands on double's rung."""
    assert step_feel(feel, relative) == target


ENDS = [
    ("quarter", "/2"), ("quarter", "/4"), ("half", "/4"), ("blast", "x2"), ("blast", "x4"), ("double", "x4"),
    ("d-beat", "x4"),
]  # fmt: skip


@pytest.mark.parametrize(("feel", "relative"), ENDS)
def test_off_the_ends_of_the_ladder_is_an_error(feel: str, relative: str) -> None:
    """There is no feel below quarter or above blast."""
    with pytest.raises(MusicError, match="ladder"):
        step_feel(feel, relative)


def test_a_pattern_runs_on_over_bars_and_is_cut_at_the_end() -> None:
    """Quarter time over three bars of 4/4: kicks in bars 1 and 3, one backbeat in bar 2."""
    run = pattern(Meter(4, 4), "quarter").over(3, Meter(4, 4))
    assert [place * 4 for place in run.kicks] == [0, 8]
    assert [place * 4 for place in run.backbeats] == [4]
