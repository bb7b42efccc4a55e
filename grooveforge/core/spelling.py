"""How a rhythm is written down: note values, dots, rests and tuplets that fill a bar exactly.

A drum has no length, so a note lasts until the next stroke of its voice or the end of its beat, whichever comes
first, and ties are never needed. Rests are as few as stay readable. Each beat is spelt by itself: straight, or
as one tuplet, or its two halves one by one. That a beat is seen at once, beams show it, and syncopated values
reach at most three times the distance of their place from the beat are common practice of engraving.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby
from math import lcm

from grooveforge.core.meter import Meter

QUARTER, DOTTED_QUARTER = Fraction(1, 4), Fraction(3, 8)

SHORTEST = Fraction(1, 1024)
"""The shortest value that MusicXML 4.0 names."""

VALUES = tuple(
    sorted(
        ((value * (2 - Fraction(1, 2**dots)), value, dots) for power in range(-1, 11) for dots in (0, 1)
         for value in (Fraction(2) ** -power,)),
        reverse=True,
    )
)  # fmt: skip
"""(length, value without dots, dots), the longest first: plain and once dotted."""


@dataclass(frozen=True)
class Symbol:
    """A note or rest.

    Parameters
    ----------
    start, length : whole notes, as they sound; start counts from the bar line.
    value, dots : as written. note : False for a rest.
    tuplet : (so many, in the time of), or None. opens, closes : whether it is the first or last of its tuplet.
    bracket : whether the tuplet needs one, since no beam shows it.
    beams : one of "begin", "continue", "end", "forward hook", "backward hook" for each beam, the first outermost.
    whole_bar : a rest as long as the bar, whatever the metre.
    """

    start: Fraction
    length: Fraction
    value: Fraction
    dots: int = 0
    note: bool = True
    tuplet: tuple[int, int] | None = None
    opens: bool = False
    closes: bool = False
    bracket: bool = False
    beams: tuple[str, ...] = ()
    whole_bar: bool = False

    @property
    def flags(self) -> int:
        """How many flags or beams its value has."""
        return max(0, (1 / self.value).numerator.bit_length() - 3)


def spell(meter: Meter, onsets: Iterable[Fraction]) -> tuple[Symbol, ...]:
    """The symbols of one voice of a bar; they fill it from bar line to bar line.

    Parameters
    ----------
    onsets : whole notes from the bar line, each below the bar's length.
    """
    places = sorted(set(onsets))
    if not places:
        return (Symbol(Fraction(0), meter.whole, Fraction(1), note=False, whole_bar=True),)
    groups = []
    for start, length in beats_of(meter):
        inside = [place - start for place in places if start <= place < start + length]
        symbols = [replace(symbol, start=symbol.start + start) for symbol in _beat(length, inside)]
        groups.append(beamed(symbols, (start, length)))
    return tuple(_joined_rests(groups, meter))


def beats_of(meter: Meter) -> Iterator[tuple[Fraction, Fraction]]:
    """(start, length) of what is spelt and beamed together: beats of at most a quarter or a dotted quarter."""
    start = Fraction(0)
    for beat in meter.beat_lengths:
        left = beat
        while left:
            length = left if left in (QUARTER, DOTTED_QUARTER) else min(left, QUARTER)
            if left > QUARTER and _is_short_dotted(left):
                length = left
            yield start, length
            start += length
            left -= length


def _is_short_dotted(length: Fraction) -> bool:
    return length.numerator == 3 and length <= DOTTED_QUARTER


# -- one beat --------------------------------------------------------------------------------------------


def _beat(length: Fraction, onsets: Sequence[Fraction]) -> list[Symbol]:
    """The symbols of one beat, from 0."""
    if all(_straight(place) for place in onsets):
        return list(_filled(length, onsets))
    if length.numerator != 1:  # a dotted beat: each third by itself
        return _parts(length / length.numerator, length.numerator, onsets)
    count = lcm(*((place / length).denominator for place in onsets))
    middle = length / 2
    first, second = _split(onsets, middle)
    marked = not second or second[0] == 0
    if count % 2 == 0 and marked and (all(map(_straight, first)) or all(map(_straight, second))):
        return _parts(middle, 2, onsets)
    return _tuplet(length, count, onsets)


def _straight(place: Fraction) -> bool:
    """Whether halving alone reaches a place."""
    return place.denominator & (place.denominator - 1) == 0


def _split(onsets: Sequence[Fraction], middle: Fraction) -> tuple[list[Fraction], list[Fraction]]:
    return [place for place in onsets if place < middle], [place - middle for place in onsets if place >= middle]


def _parts(length: Fraction, count: int, onsets: Sequence[Fraction]) -> list[Symbol]:
    symbols = []
    for number in range(count):
        start = number * length
        inside = [place - start for place in onsets if start <= place < start + length]
        symbols += [replace(symbol, start=symbol.start + start) for symbol in _beat(length, inside)]
    return symbols


def _tuplet(length: Fraction, count: int, onsets: Sequence[Fraction]) -> list[Symbol]:
    """`count` equal notes in the time of the next smaller power of two."""
    normal = 1 << (count.bit_length() - 1)
    scale = Fraction(count, normal)  # written to sounding
    written = _filled(length * scale, [place * scale for place in onsets])
    symbols = [
        replace(symbol, start=symbol.start / scale, length=symbol.length / scale, tuplet=(count, normal))
        for symbol in written
    ]
    symbols[0] = replace(symbols[0], opens=True)
    symbols[-1] = replace(symbols[-1], closes=True)
    return symbols


def _filled(length: Fraction, onsets: Sequence[Fraction]) -> Iterator[Symbol]:
    """Notes and rests that fill a stretch from 0, in written lengths."""
    if not onsets or onsets[0]:
        yield from _rests(Fraction(0), onsets[0] if onsets else length)
    for place, after in zip(onsets, [*onsets[1:], length]):
        most = after - place
        if place:
            most = min(most, 3 * _alignment(place))
        long, value, dots = next(row for row in VALUES if row[0] <= most)
        yield Symbol(place, long, value, dots)
        yield from _rests(place + long, after)


def _alignment(place: Fraction) -> Fraction:
    """The longest plain value that a place is a multiple of."""
    return Fraction(place.numerator & -place.numerator, place.denominator)


def _rests(start: Fraction, end: Fraction) -> Iterator[Symbol]:
    """The fewest rests that each stand on a multiple of themselves; a whole dotted beat has a dotted one."""
    while start < end:
        left = end - start
        fitting = (row for row in VALUES if row[0] <= left)
        if not start and _is_short_dotted(left) and left == DOTTED_QUARTER:
            long, value, dots = next(fitting)
        else:
            long, value, dots = next(
                row for row in fitting if not row[2] and (not start or row[1] <= _alignment(start))
            )
        yield Symbol(start, long, value, dots, note=False)
        start += long


# -- beams and long rests --------------------------------------------------------------------------------


def beamed(symbols: Sequence[Symbol], beat: tuple[Fraction, Fraction]) -> list[Symbol]:
    """The symbols of one beat with their beams, and brackets for tuplets that no beam shows.

    Parameters
    ----------
    beat : its start and length in whole notes.
    """
    found = list(symbols)
    for short, run in groupby(range(len(found)), key=lambda index: found[index].flags > 0):
        indices = list(run)
        notes = [index for index in indices if found[index].note]
        if short and len(notes) > 1:
            for index, beams in zip(notes, _beams(found, notes, beat)):
                found[index] = replace(found[index], beams=beams)
    for index, symbol in enumerate(found):
        if symbol.opens:
            last = next(at for at in range(index, len(found)) if found[at].closes)
            ends = found[index].beams and found[last].beams
            inside = all(found[at].flags for at in range(index, last + 1))
            shown = ends and inside and _alone(found, index, last)
            found[index] = replace(symbol, bracket=not shown)
    return found


def _alone(symbols: Sequence[Symbol], first: int, last: int) -> bool:
    """Whether a tuplet's beam holds nothing else."""
    return symbols[first].beams[:1] == ("begin",) and symbols[last].beams[:1] == ("end",)


def _beams(
    symbols: Sequence[Symbol], notes: Sequence[int], beat: tuple[Fraction, Fraction]
) -> Iterator[tuple[str, ...]]:
    for position, index in enumerate(notes):
        beams = []
        for level in range(1, symbols[index].flags + 1):
            left = position > 0 and _linked(symbols, (notes[position - 1], index), level, beat)
            right = position + 1 < len(notes) and _linked(symbols, (index, notes[position + 1]), level, beat)
            if left and right:
                beams.append("continue")
            elif left or right:
                beams.append("end" if left else "begin")
            else:
                beams.append(_hook(symbols, notes, position))
        yield tuple(beams)


def _linked(symbols: Sequence[Symbol], pair: tuple[int, int], level: int, beat: tuple[Fraction, Fraction]) -> bool:
    """Whether a beam of this level joins two neighbouring notes."""
    low, high = pair
    if level == 1:
        return True
    if any(symbols[index].flags < level for index in range(low, high + 1)):
        return False
    if symbols[low].tuplet != symbols[high].tuplet:
        return False
    # Thirty-seconds and shorter show the middle of the beat, so that eight of them can be read.
    middle = beat[0] + beat[1] / 2
    crosses = symbols[low].start < middle <= symbols[high].start
    return not (crosses and symbols[low].tuplet is None and max(symbols[low].flags, symbols[high].flags) > 2)


def _hook(symbols: Sequence[Symbol], notes: Sequence[int], position: int) -> str:
    """The side that a lone beam points to: into the beam; inside it towards the longer place's end."""
    if position == 0:
        return "forward hook"
    if position == len(notes) - 1:
        return "backward hook"
    before = symbols[notes[position - 1]]
    return "backward hook" if before.dots else "forward hook"


def _joined_rests(groups: Sequence[Sequence[Symbol]], meter: Meter) -> Iterator[Symbol]:
    """All symbols, the rests of two whole neighbouring beats made one where the two make half a bar or a beat."""
    pairs = len(groups) % 4 == 0 or len(groups) == 2 * len(meter.beat_lengths)
    index = 0
    while index < len(groups):
        here = groups[index]
        after = groups[index + 1] if index + 1 < len(groups) else ()
        if pairs and index % 2 == 0 and _silent(here) and _silent(after) and here[0].length == after[0].length:
            rest = here[0]
            yield replace(rest, length=2 * rest.length, value=2 * rest.value)
            index += 2
        else:
            yield from here
            index += 1


def _silent(group: Sequence[Symbol]) -> bool:
    return len(group) == 1 and not group[0].note
