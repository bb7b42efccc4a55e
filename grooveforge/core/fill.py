"""Fills: what a figure is like, and figures made where the library has none.

House rules; that a fill's speed fits the part that it leads into: published lessons.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from itertools import accumulate, pairwise

from grooveforge.core.figures import Fill, FillStroke
from grooveforge.core.groove import KICK, OTHER, SNARE
from grooveforge.core.kit import ACCENT, NORMAL, Kind
from grooveforge.core.kit import surface as surface_row

LEAST_A_BEAT = 2
"""Strokes in every beat of a fill, at least (house rule)."""

STRAIGHT, TRIPLE = "straight", "triple"

FASTEST_SIXTEENTHS = 185
"""Quarter notes a minute up to which a plain run is in sixteenths; faster ones are in eighths."""

RUN_DRUMS = (("snare", "high tom", "low-mid tom", "floor tom"), ("snare",))
"""The drums of a plain run, by turns: down the kit, or on the snare."""


def lane_of(surface: str) -> str:
    """The lane of a groove that a stroke of a fill stands in."""
    return surface if surface in (KICK, SNARE) else OTHER


@lru_cache(maxsize=1024)
def played(fill: Fill, lanes: frozenset[str]) -> Fill:
    """The strokes of a fill that some lanes play; the fill itself where they play all of it."""
    strokes = tuple(stroke for stroke in fill.strokes if lane_of(stroke.surface) in lanes)
    return fill if len(strokes) == len(fill.strokes) else replace(fill, strokes=strokes)


def onsets(fill: Fill, beats: Sequence[Fraction]) -> list[int]:
    """How many instants of a fill have a stroke, beat by beat."""
    places = sorted({stroke.place for stroke in fill.strokes})
    edges = [bisect_left(places, edge) for edge in accumulate(beats, initial=Fraction(0))]
    return [late - early for early, late in pairwise(edges)]


def division_of(beats: Sequence[Fraction], places: Iterable[Fraction]) -> str | None:
    """How places divide simple beats: STRAIGHT, TRIPLE, or None where that says nothing (sixes too)."""
    parts: set[int] = set()
    edges = list(accumulate(beats, initial=Fraction(0)))
    for place in set(places):
        beat = bisect_right(edges, place) - 1
        if beats[beat].numerator == 1:
            parts.add(((place - edges[beat]) / beats[beat]).denominator)
    if 3 in parts:
        return None if 6 in parts else TRIPLE
    return STRAIGHT if parts - {1} else None


@dataclass(frozen=True)
class Facts:
    """What choosing needs to know of a fill.

    Parameters
    ----------
    surfaces : that it strikes. crashes : whether a crash is one. steady : whether no beat has too few strokes.
    division : as `division_of` gives it. size : instants, strokes, how loud, name; what fills are ordered by.
    """

    surfaces: frozenset[str]
    crashes: bool
    steady: bool
    division: str | None
    size: tuple[int, int, int, str]


@lru_cache(maxsize=1024)
def facts_of(fill: Fill) -> Facts:
    surfaces = frozenset(stroke.surface for stroke in fill.strokes)
    return Facts(
        surfaces,
        any(surface_row(name).family == "crash" for name in surfaces),
        is_steady(fill, fill.beats),
        division_of(fill.beats, places_of(fill)),
        (len(set(places_of(fill))), len(fill.strokes), sum(stroke.velocity for stroke in fill.strokes), fill.name),
    )


def places_of(fill: Fill) -> Iterator[Fraction]:
    return (stroke.place for stroke in fill.strokes)


def is_steady(fill: Fill, beats: Sequence[Fraction]) -> bool:
    """Whether every beat has its least number of strokes."""
    return all(count >= LEAST_A_BEAT for count in onsets(fill, beats))


def in_tempo(fill: Fill, bpm: Fraction) -> bool:
    """Whether a fill sits at a tempo."""
    return fill.tempo is None or fill.tempo[0] <= bpm <= fill.tempo[1]


# -- making ---------------------------------------------------------------------------------------------


def half_speed(fill: Fill) -> Fill:
    """A fill over twice the time; it sits at twice the tempo."""
    return replace(
        fill,
        beats=tuple(2 * beat for beat in fill.beats),
        strokes=tuple(replace(stroke, place=2 * stroke.place) for stroke in fill.strokes),
        tempo=fill.tempo and (2 * fill.tempo[0], 2 * fill.tempo[1]),
    )


def together(early: Fill, late: Fill) -> Fill:
    """Two fills one after the other."""
    later = tuple(replace(stroke, place=stroke.place + early.whole) for stroke in late.strokes)
    names = (*(early.joined or (early.name,)), *(late.joined or (late.name,)))
    return Fill(", ".join(names), early.beats + late.beats, early.strokes + later, joined=names)


def plain_runs(beats: tuple[Fraction, ...], bpm: Fraction) -> Iterator[Fill]:
    """Plain runs of even strokes, an accent on every beat."""
    slow = bpm <= FASTEST_SIXTEENTHS
    unit = min(Fraction(1, 16) if slow else Fraction(1, 8), min(beats) / LEAST_A_BEAT)
    starts = set(accumulate(beats[:-1], initial=Fraction(0)))
    count = int(sum(beats) / unit)
    for drums in RUN_DRUMS:
        strokes = tuple(
            FillStroke(
                number * unit,
                drums[number * len(drums) // count],
                ACCENT if number * unit in starts else NORMAL,
                Kind.ACCENT if number * unit in starts else Kind.PLAIN,
            )
            for number in range(count)
        )
        name = "a plain run on the snare" if len(drums) == 1 else "a plain run down the drums"
        yield Fill(name, beats, strokes)


