"""How well one way of having a feel fits the strokes of a bar, and what rules it out whatever its score.

The score is F1 (the harmonic mean of precision and recall) of the snare against the backbeats. What rules a
feel out stands as a table of small questions; all are house rules.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from types import MappingProxyType

from grooveforge.core.feel_readings import MATCH, ON_EVERY_BEAT, Reading
from grooveforge.core.feel_table import BLAST, D_BEAT, DOUBLE
from grooveforge.core.meter import Meter

LEAST_F1 = 0.6
"""A best score below this is no feel: a fill, a stop."""

LEAST_KICKS: Mapping[tuple[str, str | None], float] = MappingProxyType(
    {
        (DOUBLE, None): 0.01,
        (BLAST, "alternating"): 0.35,
        (BLAST, "unison"): 0.35,
        (BLAST, "double-kick"): 0.35,
        (BLAST, "triplet"): 0.35,
        (BLAST, "one-hand-roll"): 0.6,
    }
)
"""Snare strokes this fast are a build or a roll unless so much of the kick that they alternate with is played;
four quarters of kick under a roll carry a build."""

LEAST_UNISON = 0.9
"""Kick and snare that are struck together alone are a figure in unison, and no feel but a blast in full."""

LEAST_BLAST = 0.75
"""Of the snare strokes of a bar with a blast, so many are the blast's."""

D_BEAT_MARKS = (5 / 16, 13 / 16)
"""The extra kicks that tell a d-beat from a plain two-beat (derived from the article "D-beat")."""


def matches(strokes: Sequence[float], places: Sequence[float], tolerance: float = MATCH) -> list[tuple[int, int]]:
    """Pairs (stroke, place) no further apart than half a sixteenth, each used once; both rising."""
    pairs = sorted(
        (abs(stroke - place), i, j)
        for j, place in enumerate(places)
        for i, stroke in _near(strokes, place, tolerance)
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


def _near(strokes: Sequence[float], place: float, tolerance: float) -> list[tuple[int, float]]:
    first = bisect_left(strokes, place - tolerance)
    near = []
    for index in range(first, len(strokes)):
        if strokes[index] > place + tolerance:
            break
        near.append((index, strokes[index]))
    return near


@dataclass(frozen=True)
class Fit:
    """The strokes of as many bars as a reading has, against the reading.

    Parameters
    ----------
    snares, kicks : whole notes from the first bar's line, rising.
    """

    meter: Meter
    reading: Reading
    snares: list[float]
    kicks: list[float]

    @cached_property
    def places(self) -> list[float]:
        """Where the reading has snare strokes."""
        return [float(place) for place in self.reading.struck]

    @cached_property
    def met(self) -> frozenset[int]:
        """Which of the places are struck."""
        return frozenset(place for _, place in matches(self.snares, self.places, self.reading.tolerance))

    @cached_property
    def f1(self) -> float:
        """Harmonic mean of precision and recall of the snare; 0 without strokes or places."""
        return 2 * len(self.met) / max(len(self.snares) + len(self.places), 1)

    @cached_property
    def skeleton(self) -> list[float]:
        """The reading's kicks."""
        return [float(place) for place in self.reading.cycle.kicks]

    @cached_property
    def kicks_met(self) -> int:
        """Kicks on the skeleton."""
        return len(matches(self.kicks, self.skeleton))

    @property
    def kick_share(self) -> float:
        """Share of the skeleton that is played."""
        return self.kicks_met / len(self.skeleton)

    @property
    def differing(self) -> int:
        """Kicks that are played or in the skeleton, and not both."""
        return len(self.kicks) + len(self.skeleton) - 2 * self.kicks_met

    @cached_property
    def full_beats(self) -> list[tuple[float, float]]:
        """The beats (from, to) in which every place is struck."""
        edges = [float(beat) for beat in self.meter.beats] + [float(self.meter.whole)]
        return [
            (low, high)
            for low, high in pairwise(edges)
            if all(index in self.met for index, place in enumerate(self.places) if low <= place < high)
        ]

    @property
    def is_feel(self) -> bool:
        """Whether the strokes may have this feel."""
        return self.f1 >= LEAST_F1 - 1e-9 and not any(ruled_out(self) for ruled_out in RULED_OUT)


def _figure_in_unison(fit: Fit) -> bool:
    """Kick and snare struck together, short of a whole blast."""
    if (fit.reading.feel, fit.reading.spelling) not in LEAST_KICKS or fit.f1 >= LEAST_UNISON or not fit.kicks:
        return False
    return len(matches(fit.kicks, fit.snares)) == len(fit.kicks)


def _no_two_beats_of_blast(fit: Fit) -> bool:
    """A blast lasts two beats in a row, and little else is on the snare."""
    if fit.reading.feel != BLAST:
        return False
    in_a_row = any(one[1] == two[0] for one, two in pairwise(fit.full_beats))
    enough = in_a_row or (len(fit.meter.beats) < 2 and bool(fit.full_beats))
    return not enough or len(fit.met) < LEAST_BLAST * len(fit.snares)


def _no_d_beat_kicks(fit: Fit) -> bool:
    """The kicks that make a d-beat of a two-beat are missing."""
    if fit.reading.feel != D_BEAT:
        return False
    marks = [mark for mark in D_BEAT_MARKS if mark < float(fit.meter.whole)]
    return len(matches(fit.kicks, marks)) < max(1, len(marks))


def _cycle_not_begun(fit: Fit) -> bool:
    """A hit of all in a bar of stops: the kick that would begin a cycle of bars is not there."""
    return fit.reading.cycle.bars > 1 and not fit.kicks_met and bool(fit.kicks)


def _too_few_kicks(fit: Fit) -> bool:
    """A build or a roll: the kick hardly plays where the snare is that fast."""
    least = LEAST_KICKS.get((fit.reading.feel, fit.reading.spelling))
    if least is None or (fit.reading.feel == DOUBLE and fit.f1 >= LEAST_UNISON):
        return False
    beats = fit.full_beats if fit.reading.feel == BLAST else [(0.0, float(fit.meter.whole))]
    due = [place for place in fit.skeleton if any(low <= place < high for low, high in beats)]
    return len(matches(fit.kicks, due)) < least * len(due)


def _no_kick_between(fit: Fit) -> bool:
    """Strokes on every beat alternate with the kick, or they are a figure of their own."""
    if fit.reading.variant != ON_EVERY_BEAT:
        return False
    return len(fit.kicks) - len(matches(fit.kicks, fit.places)) <= len(fit.kicks) / 2


RULED_OUT: tuple[Callable[[Fit], bool], ...] = (
    _figure_in_unison,
    _no_two_beats_of_blast,
    _no_d_beat_kicks,
    _cycle_not_begun,
    _too_few_kicks,
    _no_kick_between,
)
"""What rules a feel out."""
