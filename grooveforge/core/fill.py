"""Which fill leads into the next part, and how it lies over the groove.

A fill is chosen by the beats that it lasts, the tempo that it is played at, the speed and division of the part
that it leads into, the step in level between the two parts, and chance; never the one played before it. What
the library does not hold is made: joined from shorter fills, at half speed, or a plain run. House rules; that
a fill's speed fits the next part and that it lands on the 1: published lessons.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from itertools import accumulate, pairwise

from grooveforge.core.figures import Fill, FillStroke
from grooveforge.core.groove import KICK, LANES, OTHER, SNARE
from grooveforge.core.hands import same_hand
from grooveforge.core.kit import ACCENT, NORMAL, Kind
from grooveforge.core.kit import surface as surface_row

LEAST_A_BEAT = 2
"""Strokes in every beat of a fill, at least (house rule)."""

STRAIGHT, TRIPLE = "straight", "triple"

BUSIER = 1.5
"""A fill has about this many times the strokes of the groove that it leads into."""

FASTEST_SIXTEENTHS = 185
"""Quarter notes a minute up to which a plain run is in sixteenths; faster ones are in eighths."""

RUN_DRUMS = (("snare", "high tom", "low-mid tom", "floor tom"), ("snare",))
"""The drums of a plain run, by turns: down the kit, or on the snare."""


@dataclass(frozen=True)
class Place:
    """Where a fill is needed.

    Parameters
    ----------
    beats : lengths of its beats in whole notes. bpm : quarter notes a minute where it stands.
    strokes : strokes a second of the part that it leads into. division : STRAIGHT or TRIPLE, that part's.
    step : in level, up to it. hands : surfaces of the timekeeping hand, which a fill leaves.
    lanes : those that it may play (not the kick when that follows a riff).
    """

    beats: tuple[Fraction, ...]
    bpm: Fraction
    strokes: float = 4.0
    division: str = STRAIGHT
    step: int = 0
    hands: tuple[str, ...] = ()
    lanes: frozenset[str] = frozenset(LANES)

    @property
    def whole(self) -> Fraction:
        return sum(self.beats, Fraction(0))

    @property
    def strokes_a_beat(self) -> float:
        """How many strokes a beat fit the part that the fill leads into."""
        seconds = float(self.whole * 240 / self.bpm) / len(self.beats)
        return BUSIER * self.strokes * seconds


@dataclass(frozen=True)
class Chosen:
    """A fill, and what a report says about it when the library does not hold it as it is."""

    fill: Fill
    note: str = ""


def lane_of(surface: str) -> str:
    """The lane of a groove that a stroke of a fill stands in."""
    return surface if surface in (KICK, SNARE) else OTHER


@lru_cache(maxsize=1024)
def played(fill: Fill, lanes: frozenset[str]) -> Fill:
    """The strokes of a fill that some lanes play."""
    if lanes == frozenset(LANES):
        return fill
    return replace(fill, strokes=tuple(stroke for stroke in fill.strokes if lane_of(stroke.surface) in lanes))


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
class _Facts:
    """What choosing needs to know of a fill."""

    surfaces: frozenset[str]
    crashes: bool
    steady: bool
    division: str | None
    size: tuple[int, int, int, str]


@lru_cache(maxsize=1024)
def _facts(fill: Fill) -> _Facts:
    surfaces = frozenset(stroke.surface for stroke in fill.strokes)
    return _Facts(
        surfaces,
        any(surface_row(name).family == "crash" for name in surfaces),
        _steady(fill, fill.beats),
        division_of(fill.beats, _places(fill)),
        (len(set(_places(fill))), len(fill.strokes), sum(stroke.velocity for stroke in fill.strokes), fill.name),
    )


def _places(fill: Fill) -> Iterator[Fraction]:
    return (stroke.place for stroke in fill.strokes)


def _steady(fill: Fill, beats: Sequence[Fraction]) -> bool:
    """Whether every beat has its least number of strokes."""
    return all(count >= LEAST_A_BEAT for count in onsets(fill, beats))


def in_tempo(fill: Fill, bpm: Fraction) -> bool:
    """Whether a fill sits at a tempo."""
    return fill.tempo is None or fill.tempo[0] <= bpm <= fill.tempo[1]


# -- choosing -------------------------------------------------------------------------------------------

NONE: frozenset[str] = frozenset()


def choose(pool: Sequence[Fill], place: Place, draw: float, before: frozenset[str] = NONE) -> Chosen | None:
    """The fill for a place, or None where the lanes that play cannot make one.

    Parameters
    ----------
    draw : chance, 0 to 1. before : the names of the fills played just before, which do not come again.
    """
    usable = _usable(pool, place)
    fitting = [fill for fill in usable if fill.beats == place.beats and in_tempo(fill, place.bpm)]
    own = [fill for fill in fitting if _facts(fill).division in (None, place.division)]
    for rows in (own, fitting):
        found = _picked(rows, place, draw, before)
        if found is not None:
            return Chosen(found)
    joined = _joined(usable, place, draw, before)
    if joined is not None:
        return Chosen(joined, f"it is joined from {joined.name}")
    slowed = [slow for fill in usable if 2 * fill.whole == place.whole and _fits(slow := half_speed(fill), place)]
    found = _picked(slowed, place, draw, before)
    if found is not None:
        return Chosen(found, f"{found.name} is played at half speed")
    run = next((fill for fill in _runs(place) if fill.name not in before and _steady(fill, place.beats)), None)
    return None if run is None else Chosen(run, f"it is {run.name}")


def _usable(pool: Iterable[Fill], place: Place) -> list[Fill]:
    """Fills as the lanes that play have them, without those that would strike a crash or the hand's surface."""
    found = []
    for fill in (played(whole_fill, place.lanes) for whole_fill in pool):
        facts = _facts(fill)
        stays = any(same_hand(name, hand) for name in facts.surfaces for hand in place.hands)
        if facts.steady and not facts.crashes and not stays:
            found.append(fill)
    return found


def _fits(fill: Fill, place: Place) -> bool:
    return in_tempo(fill, place.bpm) and _steady(fill, place.beats)


def _picked(rows: Sequence[Fill], place: Place, draw: float, before: frozenset[str]) -> Fill | None:
    """One of equally long fills: about as busy as fits, busier by the step in level, one way or the other by chance."""
    if not rows:
        return None
    ordered = sorted(rows, key=lambda fill: _facts(fill).size)
    last = len(ordered) - 1
    wanted = place.strokes_a_beat * len(place.beats)
    fitting = min(bisect_left([_facts(fill).size[0] for fill in ordered], wanted), last)
    stray = round((2 * draw - 1) * (1 + last / 3))
    at = min(max(fitting + stray, 0), last)
    at = min(max(at + place.step * (1 + last // 4), 0), last)
    order = sorted(range(last + 1), key=lambda index: (abs(index - at), index < at))
    return next((ordered[index] for index in order if not ordered[index].names & before), None)


# -- making ---------------------------------------------------------------------------------------------


def half_speed(fill: Fill) -> Fill:
    """A fill over twice the time; it sits at twice the tempo."""
    return replace(
        fill,
        beats=tuple(2 * beat for beat in fill.beats),
        strokes=tuple(replace(stroke, place=2 * stroke.place) for stroke in fill.strokes),
        tempo=fill.tempo and (2 * fill.tempo[0], 2 * fill.tempo[1]),
    )


def _joined(usable: Sequence[Fill], place: Place, draw: float, before: frozenset[str]) -> Fill | None:
    """Two or more shorter fills one after the other, the longest last."""
    for size in range(len(place.beats) - 1, 0, -1):
        rows = [fill for fill in usable if fill.beats == place.beats[-size:] and in_tempo(fill, place.bpm)]
        late = _picked(rows, replace(place, beats=place.beats[-size:]), draw, before)
        if late is None:
            continue
        head = replace(place, beats=place.beats[:-size], step=place.step - 1)
        rows = [fill for fill in usable if fill.beats == head.beats and in_tempo(fill, place.bpm)]
        taken = before | late.names
        early = _picked(rows, head, draw, taken) or _joined(usable, head, draw, taken)
        if early is not None:
            return together(early, late)
    return None


def together(early: Fill, late: Fill) -> Fill:
    """Two fills one after the other."""
    later = tuple(replace(stroke, place=stroke.place + early.whole) for stroke in late.strokes)
    names = (*(early.joined or (early.name,)), *(late.joined or (late.name,)))
    return Fill(", ".join(names), early.beats + late.beats, early.strokes + later, joined=names)


def _runs(place: Place) -> Iterator[Fill]:
    """Plain runs of even strokes, an accent on every beat."""
    slow = place.bpm <= FASTEST_SIXTEENTHS
    unit = min(Fraction(1, 16) if slow else Fraction(1, 8), min(place.beats) / LEAST_A_BEAT)
    starts = set(accumulate(place.beats[:-1], initial=Fraction(0)))
    count = int(place.whole / unit)
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
        yield played(Fill(name, place.beats, strokes), place.lanes)


