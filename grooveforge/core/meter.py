"""Metres: their beats, groups and levels, exact in fractions of a whole note.

A beat is what a listener counts: a quarter in 4/4, a dotted quarter in 6/8, a group of eighths in 7/8.
Which class of metre goes by which row of the feel table is decided here and nowhere else.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache
from itertools import accumulate

from grooveforge.errors import MusicError

MOST_BEATS = 64
"""The largest upper figure accepted; larger bars are a slip of the pen."""

LOWER_FIGURES = (1, 2, 4, 8, 16, 32)

EVEN, THREE, ODD, GROUPS = "equal beats", "three equal beats", "groups of beats", "unequal groups"
"""The four classes of metre that the feel table knows."""

_NAMED_GROUPS = {(7, 8): (2, 2, 3)}
"""Default groupings that the general rule of `_groups_of_units` does not give (house rule)."""


def _groups_of_units(count: int) -> tuple[int, ...]:
    """Threes, a rest of two or two twos last (house rule): 5 = 3+2, 13 = 3+3+3+2+2, 7 = 3+2+2."""
    if count < 3:
        return (count,)
    twos = {0: 0, 1: 2, 2: 1}[count % 3]
    return (3,) * ((count - 2 * twos) // 3) + (2,) * twos


def _groups_of_beats(count: int) -> tuple[int, ...]:
    """Two groups, the larger first: 5 = 3+2, 7 = 4+3 (house rule)."""
    return (count,) if count < 5 else (count - count // 2, count // 2)


@dataclass(frozen=True)
class Meter:
    """A metre such as 4/4 or 7/8 with its grouping.

    Parameters
    ----------
    upper, lower : the two figures; `lower` is 1, 2, 4, 8, 16 or 32.
    grouping : lengths of the groups in units of the lower figure, adding up to `upper`; empty for the
        default of the metre (5/4 is 3+2, 7/8 is 2+2+3).

    Raises
    ------
    MusicError
        When the figures or the grouping make no metre.
    """

    upper: int
    lower: int
    grouping: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if self.lower not in LOWER_FIGURES:
            raise MusicError(
                "the lower figure of a metre is a power of two",
                found=f"{self.upper}/{self.lower}",
                allowed=", ".join(map(str, LOWER_FIGURES)),
                hint="7/8 or 4/4",
            )
        if not 1 <= self.upper <= MOST_BEATS:
            raise MusicError(
                "the upper figure of a metre is out of range",
                found=f"{self.upper}/{self.lower}",
                allowed=f"1 to {MOST_BEATS}",
            )
        groups = tuple(self.grouping)
        if groups and (sum(groups) != self.upper or min(groups) < 1):
            raise MusicError(
                f"the grouping of {self.upper}/{self.lower} does not add up to {self.upper}",
                found=f"{list(groups)}",
                hint=f"{list(self._default_grouping())}",
            )
        object.__setattr__(self, "grouping", groups or self._default_grouping())

    def _default_grouping(self) -> tuple[int, ...]:
        if self.lower <= 4:
            odd = self.upper >= 5 and self.upper != 6
            return _groups_of_beats(self.upper) if odd else (1,) * self.upper
        if self.upper % 3 == 0 and self.lower in (8, 16):
            return (3,) * (self.upper // 3)
        return _NAMED_GROUPS.get((self.upper, self.lower)) or _groups_of_units(self.upper)

    def __str__(self) -> str:
        return f"{self.upper}/{self.lower}"

    @cached_property
    def whole(self) -> Fraction:
        """Length of a bar in whole notes."""
        return Fraction(self.upper, self.lower)

    @cached_property
    def quarters(self) -> Fraction:
        """Length of a bar in quarter notes."""
        return 4 * self.whole

    @property
    def unit(self) -> Fraction:
        """The note of the lower figure, in whole notes."""
        return Fraction(1, self.lower)

    @cached_property
    def _equal_groups(self) -> bool:
        return len(set(self.grouping)) == 1

    @cached_property
    def compound(self) -> bool:
        """Whether a beat has three parts: groups of three eighths or sixteenths, all alike."""
        return self.lower > 4 and self._equal_groups and self.grouping[0] == 3

    @cached_property
    def beat_lengths(self) -> tuple[Fraction, ...]:
        """The beats of a bar in whole notes: lower figures, dotted ones in compound time, else groups."""
        if self.lower <= 4:
            return (self.unit,) * self.upper
        return tuple(self.unit * size for size in self.grouping)

    @cached_property
    def beats(self) -> tuple[Fraction, ...]:
        """Where the beats of a bar begin, in whole notes from the bar line."""
        return tuple(accumulate(self.beat_lengths[:-1], initial=Fraction(0)))

    @cached_property
    def group_starts(self) -> tuple[Fraction, ...]:
        """Where the groups of a bar begin, in whole notes: groups of beats in 5/4, of eighths in 7/8."""
        sizes = self.grouping
        if self.kind == ODD and (self.lower > 4 or len(sizes) == 1):  # nothing groups the beats themselves
            beat = self.beat_lengths[0]
            by_beats = _groups_of_beats(len(self.beats))
            return tuple(accumulate((beat * size for size in by_beats[:-1]), initial=Fraction(0)))
        return tuple(accumulate((self.unit * size for size in sizes[:-1]), initial=Fraction(0)))

    @cached_property
    def kind(self) -> str:
        """The class of metre: EVEN, THREE, ODD or GROUPS."""
        if self.lower > 4 and not self._equal_groups:
            return GROUPS
        count = len(self.beats)
        if self.lower <= 4 and not self._equal_groups:
            return ODD
        if count in (1, 2, 4, 6):
            return EVEN
        return THREE if count == 3 else ODD

    @cached_property
    def levels(self) -> tuple[frozenset[Fraction], ...]:
        """The metrical levels inside a bar, from the bar itself down to the beat.

        Each level is a set of positions in whole notes and holds all of the level above.
        """
        count = len(self.beats)
        found = [frozenset({Fraction(0)})]
        if self.kind == ODD:
            found.append(frozenset(self.group_starts))
        elif self.kind in (EVEN, THREE):
            step = count
            while step % 2 == 0:
                step //= 2
                found.append(frozenset(self.beats[::step]))
        found.append(frozenset(self.beats))
        return tuple(dict.fromkeys(found))

    def level_of(self, position: Fraction) -> int:
        """How weak a position of the bar is: 0 for the bar line, more for each level further down.

        Below the beat each halving (or the split in three, first in compound time) is one level more.

        Parameters
        ----------
        position : whole notes from the bar line, 0 <= position < bar.
        """
        return _level_of(self, position)

    def steps(self, grid: int) -> int:
        """Steps of one bar on a grid of `grid` steps to a whole note.

        Raises
        ------
        MusicError
            When the grid does not divide the bar evenly.
        """
        count = grid * self.whole
        if count.denominator != 1:
            raise MusicError(
                f"a grid of {grid} steps to a whole note does not divide a bar of {self} evenly",
                hint=f"a multiple of {self.whole.denominator}",
            )
        return int(count)


def _depth_below(parts: int, compound: bool) -> int:
    """Levels under a beat (or unit) cut into `parts`: a half or a third is one level, each halving one more."""
    thirds = parts % 3 == 0
    halvings = (parts // 3 if thirds else parts).bit_length() - 1
    return halvings + (1 if thirds or compound else 0)


@lru_cache(maxsize=4096)
def _level_of(meter: Meter, position: Fraction) -> int:
    for depth, places in enumerate(meter.levels):
        if position in places:
            return depth
    beat = max(index for index, start in enumerate(meter.beats) if start <= position)
    within = position - meter.beats[beat]
    last = len(meter.levels) - 1
    if meter.kind == GROUPS:
        return last + 1 + _depth_below((within / meter.unit).denominator, compound=False)
    return last + _depth_below((within / meter.beat_lengths[beat]).denominator, meter.compound)


def parse_meter(text: str, grouping: Sequence[int] = ()) -> Meter:
    """A metre from text such as "7/8".

    Raises
    ------
    MusicError
        When it is not two whole numbers with a stroke between them, or makes no metre.
    """
    upper, _, lower = text.partition("/")
    if not (upper.strip().isdecimal() and lower.strip().isdecimal() and len(text) < 12):
        raise MusicError("a metre is written like 4/4", found=repr(text), hint="4/4, 7/8 or 12/8")
    return Meter(int(upper), int(lower), tuple(grouping))
