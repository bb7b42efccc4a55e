"""Metres: their classes, default groupings, beats and levels (house rules unless a source is named)."""

from __future__ import annotations

from fractions import Fraction

import pytest

from grooveforge.core.meter import EVEN, GROUPS, ODD, THREE, Meter, parse_meter
from grooveforge.errors import MusicError


def _eighths(*numbers: int) -> tuple[Fraction, ...]:
    return tuple(Fraction(number, 8) for number in numbers)


CLASSES = [
    ("2/4", EVEN), ("2/2", EVEN), ("4/4", EVEN), ("6/4", EVEN), ("6/8", EVEN), ("12/8", EVEN),
    ("3/4", THREE), ("9/8", THREE), ("3/2", THREE),
    ("5/4", ODD), ("7/4", ODD),
    ("5/8", GROUPS), ("7/8", GROUPS), ("11/8", GROUPS), ("13/8", GROUPS),
]  # fmt: skip


@pytest.mark.parametrize(("text", "kind"), CLASSES)
def test_each_metre_of_the_table_has_its_class(text: str, kind: str) -> None:
    """Equal beats by two, four, six; by three; five and seven quarters; unequal groups of eighths."""
    assert parse_meter(text).kind == kind


@pytest.mark.parametrize("text", ["6/8", "9/8", "12/8", "15/8", "3/8", "6/16", "9/16", "12/16"])
def test_a_multiple_of_three_over_8_or_16_is_compound(text: str) -> None:
    """Its beats are dotted notes of three parts."""
    meter = parse_meter(text)
    assert meter.compound
    assert set(meter.beat_lengths) == {3 * meter.unit}
    assert len(meter.beats) == meter.upper // 3


@pytest.mark.parametrize("text", ["2/4", "3/4", "6/4", "9/4", "2/2", "3/2", "4/8", "5/8", "7/8", "8/8"])
def test_other_metres_are_not_compound(text: str) -> None:
    """Quarters and halves are never dotted, other eighths go by groups."""
    assert not parse_meter(text).compound


GROUPINGS = [
    ("5/4", (3, 2)), ("7/4", (4, 3)), ("5/8", (3, 2)), ("7/8", (2, 2, 3)), ("11/8", (3, 3, 3, 2)),
    ("13/8", (3, 3, 3, 2, 2)),
]  # fmt: skip


@pytest.mark.parametrize(("text", "groups"), GROUPINGS)
def test_default_groupings_of_the_table(text: str, groups: tuple[int, ...]) -> None:
    """5/4 3+2, 7/4 4+3, 5/8 3+2, 7/8 2+2+3, 11/8 3+3+3+2, 13/8 3+3+3+2+2."""
    assert parse_meter(text).grouping == groups


OTHER_GROUPINGS = [
    ("8/8", (3, 3, 2)), ("10/8", (3, 3, 2, 2)), ("14/8", (3, 3, 3, 3, 2)), ("4/8", (2, 2)), ("2/8", (2,)),
    ("5/16", (3, 2)), ("7/16", (3, 2, 2)), ("13/16", (3, 3, 3, 2, 2)),
]  # fmt: skip


@pytest.mark.parametrize(("text", "groups"), OTHER_GROUPINGS)
def test_other_eighths_and_sixteenths_group_in_threes(text: str, groups: tuple[int, ...]) -> None:
    """A rest of two or two twos stands last."""
    assert parse_meter(text).grouping == groups


@pytest.mark.parametrize(("text", "groups"), [("9/4", (5, 4)), ("11/4", (6, 5)), ("8/4", (4, 4)), ("10/4", (5, 5))])
def test_other_quarters_go_as_five_or_seven(text: str, groups: tuple[int, ...]) -> None:
    """Two groups, the larger first."""
    meter = parse_meter(text)
    assert meter.kind == ODD
    assert meter.grouping == groups


def test_a_grouping_overrules_the_default() -> None:
    """7/8 in 3+2+2 has its groups there."""
    meter = Meter(7, 8, (3, 2, 2))
    assert meter.group_starts == _eighths(0, 3, 5)
    assert meter.beats == meter.group_starts


def test_a_grouping_can_make_eighths_equal_beats() -> None:
    """6/8 in twos is three quarters, no compound time."""
    meter = Meter(6, 8, (2, 2, 2))
    assert meter.kind == THREE
    assert not meter.compound
    assert meter.beats == _eighths(0, 2, 4)


def test_a_grouping_can_make_a_compound_metre_unequal() -> None:
    """9/8 in 2+2+2+3 is a metre of unequal groups."""
    assert Meter(9, 8, (2, 2, 2, 3)).kind == GROUPS


def test_five_and_seven_quarters_keep_their_quarters_as_beats() -> None:
    """The groups of 5/4 hold beats; the beats are the five quarters."""
    meter = Meter(5, 4)
    assert meter.beats == tuple(Fraction(n, 4) for n in range(5))
    assert meter.group_starts == _eighths(0, 6)


@pytest.mark.parametrize("meter", [Meter(15, 8), Meter(10, 8, (2,) * 5), Meter(5, 4, (5,))])
def test_five_equal_beats_without_groups_of_their_own_group_three_and_two(meter: Meter) -> None:
    """Five dotted quarters, five twos of eighths or an undivided five go as 5/4 does: 3+2."""
    assert meter.kind == ODD
    assert meter.group_starts == (meter.beats[0], meter.beats[3])


LEVELS = [
    ("4/4", 4, [0, 2, 1, 2]),
    ("4/4", 8, [0, 3, 2, 3, 1, 3, 2, 3]),
    ("4/4", 16, [0, 4, 3, 4, 2, 4, 3, 4, 1, 4, 3, 4, 2, 4, 3, 4]),
    ("2/2", 8, [0, 3, 2, 3, 1, 3, 2, 3]),
    ("3/4", 8, [0, 2, 1, 2, 1, 2]),
    ("6/8", 8, [0, 2, 2, 1, 2, 2]),
    ("12/8", 8, [0, 3, 3, 2, 3, 3, 1, 3, 3, 2, 3, 3]),
    ("5/4", 4, [0, 2, 2, 1, 2]),
    ("7/8", 8, [0, 2, 1, 2, 1, 2, 2]),
    ("7/8", 16, [0, 3, 2, 3, 1, 3, 2, 3, 1, 3, 2, 3, 2, 3]),
]


@pytest.mark.parametrize(("text", "grid", "levels"), LEVELS)
def test_each_position_of_a_bar_has_its_level(text: str, grid: int, levels: list[int]) -> None:
    """0 is the bar line; every halving, group, beat and part of a beat is one level further down."""
    meter = parse_meter(text)
    assert [meter.level_of(Fraction(step, grid)) for step in range(meter.steps(grid))] == levels


def test_triplets_of_a_beat_are_one_level_below_it() -> None:
    """In 4/4 the thirds of a beat stand where its half stands."""
    meter = Meter(4, 4)
    assert [meter.level_of(Fraction(step, 12)) for step in range(6)] == [0, 3, 3, 2, 3, 3]


@pytest.mark.parametrize("text", ["0/4", "4/0", "4/3", "65/4", "4", "4/4/4", "-3/4", "four/4", "", "4/6", "4/64"])
def test_what_is_no_metre_is_an_error(text: str) -> None:
    """The lower figure is a power of two, the upper one 1 to 64."""
    with pytest.raises(MusicError):
        parse_meter(text)


@pytest.mark.parametrize("groups", [(3, 3), (3, 5), (7, 0), (4, 4, -1)])
def test_a_grouping_that_does_not_add_up_is_an_error(groups: tuple[int, ...]) -> None:
    """The groups of 7/8 have seven eighths, each group at least one."""
    with pytest.raises(MusicError):
        Meter(7, 8, groups)


def test_the_default_grouping_written_out_is_the_same_metre() -> None:
    """A metre is normalised at birth."""
    assert Meter(7, 8, (2, 2, 3)) == Meter(7, 8)
    assert hash(Meter(5, 4, (3, 2))) == hash(Meter(5, 4))


@pytest.mark.parametrize(("text", "quarters"), [("4/4", 4), ("7/8", Fraction(7, 2)), ("12/8", 6), ("2/2", 4)])
def test_a_bar_has_its_length_in_quarters(text: str, quarters: Fraction) -> None:
    """7/8 is three and a half quarters long."""
    assert parse_meter(text).quarters == quarters
