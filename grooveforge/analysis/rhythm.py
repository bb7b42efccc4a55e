"""Measures of one rhythm or of two: published definitions over onsets in a cycle of equal steps.

An onset list holds steps 0 .. n - 1 of a cycle of n steps. Sources: R. Keith, "From Polychords to Polya", 1991,
in the count form of Gómez, Melvin, Rappaport, Toussaint, "Mathematical measures of syncopation", BRIDGES 2005
(also off-beatness and the weighted note-to-beat distance); G. Toussaint, "The Geometry of Musical Rhythm", 2013
(nPVI, pairwise distances); the same, "A comparison of rhythmic similarity measures", ISMIR 2004 (swap distance);
H. Longuet-Higgins and C. Lee, "The rhythmic interpretation of monophonic music", 1984.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import combinations, pairwise
from math import gcd, sqrt

import numpy as np

from grooveforge.core.groove import KICK, Groove
from grooveforge.core.kit import BANDS, SURFACE_CODES
from grooveforge.errors import MusicError

Onsets = tuple[int, ...]


def onsets_of(line: str) -> Onsets:
    """The onsets of a line of marks such as "x--x--x-": every mark but - and . is one."""
    return tuple(step for step, mark in enumerate(line) if mark not in "-.")


def checked(onsets: Iterable[int], steps: int) -> Onsets:
    """Onsets rising and each once.

    Raises
    ------
    MusicError
        When there is none, or one is outside the cycle.
    """
    found = tuple(sorted(set(onsets)))
    if not found:
        raise MusicError("a rhythm needs at least one onset")
    if found[0] < 0 or found[-1] >= steps:
        outside = found[0] if found[0] < 0 else found[-1]
        raise MusicError("an onset is outside its cycle", found=str(outside), allowed=f"0 to {steps - 1}")
    return found


def durations(onsets: Iterable[int], steps: int) -> tuple[int, ...]:
    """How long each onset lasts, until the next one round the cycle."""
    found = checked(onsets, steps)
    return tuple(late - early for early, late in pairwise((*found, found[0] + steps)))


# -- one rhythm ------------------------------------------------------------------------------------------


def keith(onsets: Iterable[int], steps: int) -> int:
    """Keith's syncopation, count form: onsets that are no multiple of their length rounded down to a power of two."""
    found = checked(onsets, steps)
    return sum(at % (1 << (long.bit_length() - 1)) != 0 for at, long in zip(found, durations(found, steps)))


def off_beatness(onsets: Iterable[int], steps: int) -> int:
    """Onsets on steps that no regular subdivision of the cycle starting at 0 can reach."""
    return sum(gcd(at, steps) == 1 for at in checked(onsets, steps))


def note_to_beat(onsets: Iterable[int], steps: int, beat: int) -> Fraction:
    """Weighted note-to-beat distance: the mean over the onsets of 0 on a beat, else 1/T, or 2/T where the onset
    lasts over the next beat but not to the one after; T is the distance to the nearest beat in beats.

    Parameters
    ----------
    beat : steps from beat to beat; it divides the cycle.
    """
    if steps % beat:
        raise MusicError("the beat does not divide the cycle", found=f"{beat} into {steps}")
    found = checked(onsets, steps)
    total = Fraction(0)
    for at, long in zip(found, durations(found, steps)):
        within = at % beat
        if not within:
            continue
        next_beat = at - within + beat
        over = next_beat < at + long < next_beat + beat
        total += (2 if over else 1) * Fraction(beat, min(within, beat - within))
    return total / len(found)


def npvi(onsets: Iterable[int], steps: int) -> float:
    """Normalised pairwise variability index of the durations, neighbours compared, not round the cycle: 0 to 200."""
    pairs = list(pairwise(durations(onsets, steps)))
    if not pairs:
        return 0.0
    return 100 / len(pairs) * sum(2 * abs(one - two) / (one + two) for one, two in pairs)


def distance_counts(onsets: Iterable[int], steps: int) -> tuple[int, ...]:
    """How many pairs of onsets stand 1, 2 ... steps // 2 apart, the short way round."""
    counts = [0] * (steps // 2)
    for one, two in combinations(checked(onsets, steps), 2):
        counts[min(two - one, steps - two + one) - 1] += 1
    return tuple(counts)


def distinct_distances(onsets: Iterable[int], steps: int) -> int:
    """How many different distances there are between two onsets, the short way round."""
    return sum(count > 0 for count in distance_counts(onsets, steps))


def longuet_higgins_lee(onsets: Iterable[int], levels: Sequence[int] = (2, 2, 2, 2)) -> int:
    """Syncopation by Longuet-Higgins and Lee of one bar alone: rests (or ties) stronger than the note before them.

    Parameters
    ----------
    levels : into how many parts the bar, each part, and so on, is cut: (2, 2, 2, 2) are sixteenths of 4/4.
    """
    found = set(checked(onsets, int(np.prod(levels))))
    score, last = 0, None
    for at, weight in _leaves(found, 0, tuple(levels), 0):
        if at in found:
            last = weight
        elif last is not None:
            score += max(0, weight - last)
    return score


def _leaves(onsets: set[int], start: int, levels: tuple[int, ...], weight: int) -> list[tuple[int, int]]:
    """(step, weight) of the largest notes and rests that a stretch of the bar can be written in."""
    size = int(np.prod(levels))
    if not levels or not any(start < at < start + size for at in onsets):
        return [(start, weight)]
    part = size // levels[0]
    below = weight - 1
    leaves: list[tuple[int, int]] = []
    for index in range(levels[0]):
        own = _leaves(onsets, start + index * part, levels[1:], below)
        leaves += own if index else [(start, weight), *own[1:]]
    return leaves


# -- two rhythms -----------------------------------------------------------------------------------------


def swap_distance(one: Iterable[int], other: Iterable[int]) -> int:
    """How many swaps of neighbouring steps turn one rhythm into another with as many onsets, not round the cycle.

    Raises
    ------
    MusicError
        When the counts differ.
    """
    a, b = sorted(set(one)), sorted(set(other))
    if len(a) != len(b):
        raise MusicError("the swap distance needs as many onsets on both sides", found=f"{len(a)} and {len(b)}")
    return sum(abs(early - late) for early, late in zip(a, b))


def interval_vector_distance(one: Iterable[int], other: Iterable[int], steps: int) -> float:
    """Euclidean distance of the interval vectors (durations in order) of two rhythms of one cycle.

    Raises
    ------
    MusicError
        When the counts of onsets differ.
    """
    a, b = durations(one, steps), durations(other, steps)
    if len(a) != len(b):
        raise MusicError("interval vectors need as many onsets on both sides", found=f"{len(a)} and {len(b)}")
    return sqrt(sum((early - late) ** 2 for early, late in zip(a, b)))


LOST = Fraction(1, 4)
"""What a stroke without a partner costs, as a way in whole notes: a quarter (house rule)."""


def ending_cost(one: Groove, other: Groove) -> float:
    """How much two endings differ, for ranking: the way that strokes move, in sixteenths, plus steps of level.

    On each surface the strokes are paired in order, as cheaply as may be; with equal counts the way is the swap
    distance. A stroke left over costs a quarter's way. Symmetric, and 0 only for the same strokes at the same
    bands of level; no more is claimed.
    """
    names = dict.fromkeys(name for groove in (one, other) for name, _ in _struck(groove))
    left, right = dict(_struck(one)), dict(_struck(other))
    return float(sum(_cheapest(left.get(name, []), right.get(name, [])) for name in names))


def _struck(groove: Groove) -> list[tuple[str, list[tuple[Fraction, int]]]]:
    """(place in whole notes, band of level) of the strokes of each surface, in the kit's order."""
    rows = []
    for name, lane in sorted(groove.voices, key=lambda pair: SURFACE_CODES.get(pair[0], SURFACE_CODES[KICK])):
        bands = np.searchsorted([band.high for band in BANDS], lane.velocity[lane.struck]).tolist()
        rows.append((name, [(groove.position(step), band) for step, band in zip(lane.struck.tolist(), bands)]))
    return rows


def _cheapest(a: Sequence[tuple[Fraction, int]], b: Sequence[tuple[Fraction, int]]) -> Fraction:
    """The least cost of pairing two rows in order; each unpaired stroke costs `LOST`."""
    row = [16 * LOST * number for number in range(len(b) + 1)]
    for place, band in a:
        new = [row[0] + 16 * LOST]
        for number, (other, its) in enumerate(b):
            paired = row[number] + 16 * abs(place - other) + abs(band - its)
            new.append(min(paired, row[number + 1] + 16 * LOST, new[-1] + 16 * LOST))
        row = new
    return row[-1]
