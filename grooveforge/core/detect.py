"""Which feel a bar has: read from the strokes alone.

The rules are house rules built on the feel table: a bar's snare is compared with every feel's backbeats by
F1 (the harmonic mean of precision and recall), kicks on the skeleton break a tie.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from grooveforge.core import feel_table
from grooveforge.core.feel_table import BLAST, D_BEAT, DOUBLE, RUNG, FeelPattern
from grooveforge.core.groove import SNARE, Groove
from grooveforge.core.kit import BACKBEAT_SURFACES, BANDS, Kind
from grooveforge.core.meter import Meter
from grooveforge.errors import MusicError

MATCH = 1 / 32 + 1e-9
"""How far a stroke may stand from a backbeat and still be it: half a sixteenth, in whole notes."""

LEAST_F1 = 0.6
"""A best score below this is no feel: a fill, a stop."""

ROLL_STEP = 1 / 16 + 1e-9
ROLL_STROKES = 3
"""Three or more snare strokes a sixteenth or less apart with no kick between are a roll."""

LEAST_KICKS = {DOUBLE: 0.01, BLAST: 0.35}
"""Snare strokes this fast are a build or a roll unless so much of the kick that they alternate with is played."""

LEAST_UNISON = 0.9
"""Kick and snare that are struck together alone are a figure in unison, and no feel but a blast in full."""

GHOST_TOP = BANDS[0].high

D_BEAT_MARKS = (5 / 16, 13 / 16)
"""The extra kicks that tell a d-beat from a plain two-beat (derived from the article "D-beat")."""

Places = NDArray[np.float64]


@dataclass(frozen=True)
class BarFeel:
    """The feel of one bar; `feel` is None for a fill or a stop."""

    feel: str | None
    spelling: str | None = None


NO_FEEL = BarFeel(None)


def loud_strokes(groove: Groove) -> list[tuple[float, str, int]]:
    """Snare, side stick and hand clap above the ghost band: (whole notes from the start, surface, step), rising."""
    return sorted(
        (step / groove.grid, name, step) for name in BACKBEAT_SURFACES for step in _above_ghosts(groove, name)
    )


def candidates(groove: Groove, surfaces: Sequence[str] = BACKBEAT_SURFACES) -> list[tuple[float, str, int]]:
    """The strokes on some surfaces that may be backbeats: the loud ones that are no part of a roll."""
    kicks = groove.lane_on("kick").struck / groove.grid
    rolls = _rolls([stroke for stroke in loud_strokes(groove) if stroke[1] in surfaces], kicks)
    return [stroke for roll, strokes in rolls if not roll for stroke in _one_each(strokes)]


def _one_each(strokes: list[tuple[float, str, int]]) -> Iterator[tuple[float, str, int]]:
    """Strokes that cannot be two backbeats count once, by the first: a clap on the snare, an echo of it."""
    last = float("-inf")
    for stroke in strokes:
        if stroke[0] - last > MATCH:
            last = stroke[0]
            yield stroke


def _above_ghosts(groove: Groove, name: str) -> list[int]:
    lane = groove.lane_on(name)
    loud = (lane.velocity > GHOST_TOP) & (lane.kind != Kind.GHOST)
    return [int(step) for step in np.flatnonzero(loud)]


def _rolls(
    strokes: list[tuple[float, str, int]], kicks: Places
) -> Iterable[tuple[bool, list[tuple[float, str, int]]]]:
    """Cut strokes into runs a sixteenth or less apart; True for those that are rolls."""
    run: list[tuple[float, str, int]] = []
    for stroke in [*strokes, (float("inf"), "", -1)]:
        if run and stroke[0] - run[-1][0] > ROLL_STEP:
            between = int(np.searchsorted(kicks, run[-1][0] - 1e-9) - np.searchsorted(kicks, run[0][0] + 1e-9))
            yield len(run) >= ROLL_STROKES and between <= 0, run
            run = []
        run.append(stroke)


def matches(strokes: Sequence[float], places: Sequence[float]) -> list[tuple[int, int]]:
    """Pairs (stroke, place) no further apart than half a sixteenth, each used once; both rising."""
    pairs = sorted(
        (abs(stroke - place), i, j)
        for j, place in enumerate(places)
        for i, stroke in _near(strokes, place)
    )
    used_strokes: set[int] = set()
    used_places: set[int] = set()
    chosen = []
    for _, i, j in pairs:
        if i not in used_strokes and j not in used_places:
            used_strokes.add(i)
            used_places.add(j)
            chosen.append((i, j))
    return sorted(chosen)


def _near(strokes: Sequence[float], place: float) -> list[tuple[int, float]]:
    first = bisect_left(strokes, place - MATCH)
    near = []
    for index in range(first, len(strokes)):
        if strokes[index] > place + MATCH:
            break
        near.append((index, strokes[index]))
    return near


@lru_cache(maxsize=256)
def _feels_of(meter: Meter) -> tuple[tuple[str, str | None, FeelPattern], ...]:
    """Every feel and spelling that the metre knows, slow to fast."""
    found = []
    for feel in feel_table.FEELS:
        for spelling in feel_table.SPELLINGS.get(feel, (None,)):
            try:
                found.append((feel, spelling, feel_table.pattern(meter, feel, spelling)))
            except MusicError:
                continue  # a spelling that this metre does not know
    return tuple(found)


@dataclass(frozen=True)
class _Score:
    """How well a feel fits: F1 of its backbeats, share of its kicks met, kicks that differ from its own."""

    f1: float
    kicks: float
    differing: int
    feel: str
    spelling: str | None


class _Reader:
    """The strokes of a groove, cut into windows of bars and scored against the feels."""

    def __init__(self, groove: Groove, surfaces: tuple[str, ...] = BACKBEAT_SURFACES) -> None:
        self.meter, self.bars = groove.meter, groove.bars
        self.snares = np.array([place for place, _, _ in candidates(groove, surfaces)])
        self.kicks = groove.lane_on("kick").struck / groove.grid

    def window(self, places: Places, first: int, bars: int) -> list[float]:
        bar = float(self.meter.whole)
        # A stroke just before a bar line may be the downbeat's: the window is shifted by the tolerance.
        low, high = np.searchsorted(places, (first * bar - MATCH, (first + bars) * bar - MATCH))
        return [float(place) - first * bar for place in places[low:high]]

    def scores(self, bar: int) -> list[_Score]:
        """All feels of one bar with a score of at least the least."""
        best: dict[tuple[str, str | None], _Score] = {}
        for feel, spelling, cycle in _feels_of(self.meter):
            for phase in range(cycle.bars):
                first = bar - phase
                if first < 0 or first + cycle.bars > self.bars:
                    continue
                score = self._score(feel, spelling, cycle, first)
                held = best.get((feel, spelling))
                if score is not None and (held is None or (score.f1, score.kicks) > (held.f1, held.kicks)):
                    best[feel, spelling] = score
        return list(best.values())

    def _score(self, feel: str, spelling: str | None, cycle: FeelPattern, first: int) -> _Score | None:
        snares = self.window(self.snares, first, cycle.bars)
        places = [float(place) for place in cycle.backbeats]
        if not snares or not places:
            return None
        pairs = matches(snares, places)
        f1 = 2 * len(pairs) / (len(snares) + len(places))
        if f1 < LEAST_F1 - 1e-9:
            return None
        kicks = self.window(self.kicks, first, cycle.bars)
        if feel in LEAST_KICKS and f1 < LEAST_UNISON and kicks and len(matches(kicks, snares)) == len(kicks):
            return None
        skeleton = [float(place) for place in cycle.kicks]
        if feel == BLAST and not self._two_beats(places, {place for _, place in pairs}):
            return None
        if feel == D_BEAT:
            marks = [mark for mark in D_BEAT_MARKS if mark < float(self.meter.whole)]
            if len(matches(kicks, marks)) < max(1, len(marks)):
                return None
        met = len(matches(kicks, skeleton))
        if cycle.bars > 1 and not met and len(kicks):
            return None  # a hit of all in a bar of stops: the kick that would begin the cycle is not there
        sure = feel == DOUBLE and f1 >= LEAST_UNISON
        if not sure and met < LEAST_KICKS.get(feel, 0.0) * len(skeleton):
            return None
        return _Score(f1, met / len(skeleton), len(kicks) + len(skeleton) - 2 * met, feel, spelling)

    def _two_beats(self, places: list[float], met: set[int]) -> bool:
        """Whether two beats in a row have all the backbeats of a blast."""
        edges = [float(beat) for beat in self.meter.beats] + [float(self.meter.whole)]
        full = [
            all(index in met for index, place in enumerate(places) if low <= place < high)
            for low, high in pairwise(edges)
        ]
        return all(full) if len(full) < 2 else any(one and two for one, two in pairwise(full))


def _played_before(reader: _Reader, bar: int, feel: str | None) -> bool:
    """Whether a bar plays a feel until a fill begins behind one of its backbeats.

    The feel is the one of the bar before. All of its backbeats and no other snare stroke stand before the fill,
    which begins in the second half of the bar, or right behind a backbeat there.
    """
    for name, _, cycle in _feels_of(reader.meter):
        if name != feel or cycle.bars > 1:
            continue
        whole = float(reader.meter.whole)
        places = [float(place) for place in cycle.backbeats]
        snares, kicks = reader.window(reader.snares, bar, 1), reader.window(reader.kicks, bar, 1)
        for end in [place + MATCH for place in places if place >= whole / 2 - MATCH] + [whole / 2 - MATCH]:
            due, played = [p for p in places if p < end], [p for p in snares if p < end]
            if due and len(due) == len(played) == len(matches(played, due)):
                return bool(matches(kicks, [float(cycle.kicks[0])]))
    return False


def _higher(one: list[_Score], other: list[_Score]) -> list[_Score]:
    """Of two readings of a bar the one with the higher best score; a side stick may play on under a snare."""
    tops = [max((score.f1 for score in scores), default=0.0) for scores in (one, other)]
    return other if tops[1] > tops[0] else one


def _best(scores: list[_Score]) -> list[_Score]:
    """The scores that no rule inside the bar tells apart: best F1, then most kicks on the skeleton."""
    if not scores:
        return []
    top = max((score.f1, score.kicks) for score in scores)
    best = [score for score in scores if (score.f1, score.kicks) == top]
    if any(score.feel == D_BEAT for score in scores if score.f1 == top[0]):
        # A d-beat has double's backbeats; its extra kicks have been found, so it is one.
        beats = [score for score in scores if score.f1 == top[0] and score.feel == D_BEAT]
        if all(score.feel in (DOUBLE, D_BEAT) for score in best):
            best = beats
    return best


@lru_cache(maxsize=512)
def bar_feels(groove: Groove) -> tuple[BarFeel, ...]:
    """The feel of every bar of a groove, in order.

    Ties go to what the bar before, then the bar after has, then to the slower feel.
    """
    reader = _Reader(groove)
    on_snare = _Reader(groove, (SNARE,))
    open_choices = [_best(_higher(reader.scores(bar), on_snare.scores(bar))) for bar in range(groove.bars)]
    decided: list[BarFeel] = []
    for bar, choices in enumerate(open_choices):
        if not choices:
            heard = [held for held in decided if held.feel][-1:]
            if bar + 1 < groove.bars and (following := open_choices[bar + 1]):
                heard.append(BarFeel(following[0].feel, following[0].spelling))
            decided.append(next((held for held in heard if _played_before(reader, bar, held.feel)), NO_FEEL))
            continue
        before = decided[-1].feel if decided else None
        after = {score.feel for score in open_choices[bar + 1]} if bar + 1 < groove.bars else set()
        feels = {score.feel for score in choices}
        if len(feels) > 1:
            wish = [feel for feel in (before, *(after if len(after) == 1 else ())) if feel in feels]
            chosen = wish[0] if wish else min(feels, key=lambda feel: (RUNG[feel], feel))
            choices = [score for score in choices if score.feel == chosen]
        closest = min(choices, key=lambda score: score.differing)
        decided.append(BarFeel(closest.feel, closest.spelling))
    return tuple(decided)


def vote(feels: Iterable[BarFeel], counted: Iterable[bool]) -> BarFeel:
    """The feel of most of the bars that count; a tie goes to the slower one."""
    votes = Counter(feel for feel, counts in zip(feels, counted) if counts)
    if not votes:
        return NO_FEEL
    by_feel: Counter[str | None] = Counter()
    for bar, count in votes.items():
        by_feel[bar.feel] += count
    feel = max(by_feel, key=lambda name: (by_feel[name], -RUNG[name] if name else -99))
    return max((bar for bar in votes if bar.feel == feel), key=lambda bar: votes[bar])
