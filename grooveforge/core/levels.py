"""How loud each stroke of a section is, in MIDI velocities.

The groove's marks decide the band; where in its band a stroke stands follows from this table (bands: common
practice; the numbers inside them are house rules):

=======  ===========  ====================  ===============================  =================
band     from - to    kick, snare, others   timekeeper: strong, weak pulse   `levels = "flat"`
=======  ===========  ====================  ===============================  =================
accent   105 - 124    114 +- 5              117 +- 3, 111 +- 3               114
normal    85 - 104     94 +- 5              100 +- 3,  88 +- 3                94
tap       60 - 84      72 +- 5               75 +- 3,  69 +- 3                72
ghost     20 - 45      32 +- 5               35 +- 3,  29 +- 3                32
=======  ===========  ====================  ===============================  =================

- The pulse of the timekeeper is read in each bar: a hand that plays on beats and between them is strong on
  the beats; one that plays on beats alone is strong on the stronger beats (1 and 3 of 4/4, the groups of 5/4);
  one that plays between the beats alone is strong on the strongest of those places.
- In a run the leading hand or foot (right; left for a left-handed player) strikes 4 louder than the other: 2
  above and 2 below the stroke's middle, and both of a pair stray alike, by 2 less than else. A run is three or
  more strokes at one equal distance: kicks at an eighth or less, snare and toms together at less than an
  eighth, the timekeeper at a sixteenth or less. It starts with the leading side where it starts on an even
  multiple of its distance from the bar line, and alternates to its end.
- One step of `level` adds 6 to the middle, which stays inside the band; strokes that would stray over its
  edge are folded back. The peak of a song has an accent band of 105 - 127, so its middle is 116.
- Grace strokes stand in the ghost band.
- Of three neighbours of one surface no three are equal, nor are the first two or the last two of a section.
"""

from __future__ import annotations

from bisect import bisect
from collections.abc import Sequence
from itertools import accumulate
from random import Random
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.kit import BANDS, GHOST, band_of
from grooveforge.core.strokes import DRUM_HANDS, FOOT, LIMBS, Strokes

Ints = NDArray[np.int64]
Small = NDArray[np.int16]
Bytes = NDArray[np.uint8]
Truths = NDArray[np.bool_]

EDGES = {"ghost": (20, 45), "tap": (60, 84), "normal": (85, 104), "accent": (105, 124)}
"""Lowest and highest velocity of each band where levels are shaped."""

PEAK = 127
"""The loudest accent of the song's last peak."""

PULSE = {"normal": (100, 88)}
"""The timekeeper's strong and weak level; in the other bands `PULSE_WIDTH` to either side of the middle."""

PULSE_WIDTH = 3
SPREAD, HAND_SPREAD = 5, 3
LEAD = 2
STEP = 6


class Shaped(NamedTuple):
    """Velocities, and for each the neighbouring value (+1 or -1) that it may take as well."""

    velocity: Small
    toward: Small


def _table(values: dict[str, int]) -> Small:
    """A value for each velocity by its band, shape (128,)."""
    return np.array([0, *(values[band_of(velocity).name] for velocity in range(1, 128))], np.int16)


def _tables(top: int) -> dict[str, Small]:
    edges = EDGES | {"accent": (EDGES["accent"][0], top)}
    middle = {band.name: band.flat for band in BANDS}
    if top > EDGES["accent"][1]:
        middle["accent"] = sum(edges["accent"]) // 2
    pulse = {name: PULSE.get(name, (mid + PULSE_WIDTH, mid - PULSE_WIDTH)) for name, mid in middle.items()}
    return {
        "low": _table({name: low for name, (low, _) in edges.items()}),
        "high": _table({name: high for name, (_, high) in edges.items()}),
        "middle": _table(middle),
        "strong": _table({name: strong for name, (strong, _) in pulse.items()}),
        "weak": _table({name: weak for name, (_, weak) in pulse.items()}),
    }


_PLAIN, _PEAK = _tables(EDGES["accent"][1]), _tables(PEAK)

CHANCES = 256
"""Equally likely draws: a byte each."""


def _strays(spread: int) -> list[int]:
    """How far a stroke strays for each draw: near the middle more often, never over `spread`."""
    weights = [spread + 1 - abs(by) for by in range(-spread, spread + 1)]
    ends = list(accumulate(weights))
    return [bisect(ends, (draw + 0.5) * ends[-1] / CHANCES) - spread for draw in range(CHANCES)]


_STRAY = np.array([_strays(spread) for spread in range(SPREAD + 1)], np.int16)


class Touch(NamedTuple):
    """The random part of a section's levels: a draw for each limb and each 96th note, shape (LIMBS + 1, cells)."""

    draws: Bytes
    ticks: int

    @classmethod
    def drawn(cls, chance: Random, length: int, division: int) -> Touch:
        """The draws of a section of `length` ticks; a stroke's draw goes by its place, so that another stroke
        that comes, goes or moves leaves it as it is."""
        ticks = max(1, 4 * division // 96)
        shape = (LIMBS + 1, length // ticks + 1)
        return cls(np.frombuffer(chance.randbytes(shape[0] * shape[1]), np.uint8).reshape(shape), ticks)

    def at(self, limb: NDArray[np.int8], place: Ints) -> Bytes:
        """The draws of strokes at places of the section, as an array of its own."""
        found: Bytes = self.draws[limb, np.minimum(place // self.ticks, self.draws.shape[1] - 1)]
        return found


def shape(strokes: Strokes, division: int, level: Small, touch: Touch, peak: bool = False) -> Shaped:
    """The levels of a section's strokes.

    Parameters
    ----------
    level : what the section's `level` adds to each stroke, shape as the strokes. peak : whether it is the peak.
    """
    rows = _PEAK if peak else _PLAIN
    written = strokes.written
    low, high = rows["low"][written], rows["high"][written]
    centre = rows["middle"][written]
    spread = np.full(written.size, SPREAD, np.int16)
    hand = strokes.hand
    if hand.any():
        strong = strong_pulse(strokes.bar[hand], strokes.depth[hand])
        centre[hand] = np.where(strong, rows["strong"][written[hand]], rows["weak"][written[hand]])
        spread[hand] = HAND_SPREAD
    draws = touch.at(strokes.limb, strokes.place)
    side = _sides(strokes, division, draws)
    in_run = side != 0
    spread -= LEAD * in_run
    room = (spread + LEAD) * in_run
    centre = np.clip(centre + level, low + room, high - room)
    return _folded(centre, LEAD * side + _STRAY[spread, draws], low, high)


def grace_levels(place: Ints, level: Small, touch: Touch) -> Shaped:
    """The levels of grace strokes at these places: ghosts with draws of their own."""
    low, high = (np.full(place.size, edge, np.int16) for edge in EDGES["ghost"])
    draws = touch.at(np.full(place.size, LIMBS, np.int8), np.maximum(place, 0))
    return _folded(np.clip(GHOST + level, low, high), _STRAY[SPREAD, draws], low, high)


def _folded(centre: Small, stray: Small, low: Small, high: Small) -> Shaped:
    """Levels that stray from their centres, those over an edge of the band folded back into it."""
    loud = centre + stray
    loud = np.where(loud > high, 2 * high - loud, np.where(loud < low, 2 * low - loud, loud))
    up = (loud < centre) | ((loud == centre) & (centre < high))
    return Shaped(loud, np.where(up, np.int16(1), np.int16(-1)))


def strong_pulse(bar: Ints, depth: NDArray[np.int8]) -> Truths:
    """Which strokes of the timekeeper are strong; both columns by place."""
    starts = np.flatnonzero(np.diff(bar, prepend=-1))
    strongest = np.minimum.reduceat(depth, starts)
    weakest = np.maximum.reduceat(depth, starts)
    on_beats_alone = np.where((weakest == 0) & (strongest < 0), np.int8(-1), weakest)
    last_strong = np.where(strongest > 0, strongest, np.where(weakest > 0, np.int8(0), on_beats_alone))
    strong: Truths = depth <= np.repeat(last_strong, np.diff(starts, append=bar.size))
    return strong


def _sides(strokes: Strokes, division: int, draws: Bytes) -> Small:
    """+1 for the leading hand or foot in a run, -1 for the other, 0 outside; the draws of a pair become one."""
    limb, hand = strokes.limb, strokes.hand
    lanes = (
        ((limb == FOOT) & ~hand, division // 2),
        ((limb == DRUM_HANDS) & ~hand, (division - 1) // 2),
        (hand, division // 4),
    )
    side = np.zeros(limb.size, np.int16)
    for lane, longest in lanes:
        rows = np.flatnonzero(lane)
        if rows.size > 2:
            side[rows] = found = run_sides(strokes.place[rows], strokes.within[rows], longest)
            second = np.flatnonzero((found[1:] < 0) & (found[:-1] > 0)) + 1
            draws[rows[second]] = draws[rows[second - 1]]
    return side


def run_sides(place: Ints, within: Ints, longest: int) -> Small:
    """Which side plays the strokes of one lane: +1 leading, -1 other, 0 in no run.

    Parameters
    ----------
    place : rising ticks. within : the same from their bar lines. longest : the largest distance in a run.
    """
    gap = np.diff(place)
    equal = (gap[1:] == gap[:-1]) & (gap[1:] <= longest) & (gap[1:] > 0)
    linked = np.zeros(place.size + 1, bool)  # whether a stroke is linked to the one before it
    linked[1:-2] |= equal
    linked[2:-1] |= equal
    member = linked[:-1] | linked[1:]
    first = member & ~linked[:-1]
    index = np.arange(place.size)
    begun = np.maximum.accumulate(np.where(first, index, 0))
    odd = (within // np.maximum(np.append(gap, 1), 1)) % 2
    side: Small = np.where(member, 1 - 2 * ((index - begun + odd[begun]) % 2), 0).astype(np.int16)
    return side


def apart(surface: Ints, shaped: Shaped) -> Bytes:
    """The velocities with no three equal neighbours of a surface, and the first and last two unequal.

    Of equal neighbours every second one moves by 1, never the last; at the edges one more neighbour, the same,
    is thought before and after, so that no three can meet across two sections.

    Parameters
    ----------
    surface : by surface, and in the order of time within each. shaped : in the same order.
    """
    velocity = shaped.velocity
    size = velocity.size
    if size < 2:
        return velocity.astype(np.uint8)
    new_surface = np.diff(surface, prepend=-1) != 0
    starts = np.flatnonzero(new_surface | (np.diff(velocity, prepend=-1) != 0))
    count = np.diff(starts, append=size)
    opens = new_surface[starts]
    closes = np.append(new_surface, True)[starts + count]
    length = np.where(count > 1, count + opens + closes, 0)
    number = np.arange(size) - np.repeat(starts - opens, count)
    moved = (number % 2 == 1) & (number < np.repeat(length, count) - 1)
    found: Bytes = (velocity + shaped.toward * moved).astype(np.uint8)
    return found


def level_added(steps: tuple[int, int], tick: Ints, length: int) -> Small:
    """What a section's level adds at each tick: 6 a step, moving evenly from the first to the second."""
    start, end = steps
    if start == end:
        return np.full(tick.size, STEP * start, np.int16)
    part = np.clip(tick / length, 0.0, 1.0)
    return np.floor(STEP * (start + (end - start) * part) + 0.5).astype(np.int16)


def peak_of(tops: Sequence[int | None]) -> int | None:
    """Which section is the song's peak: the last of the highest level, if another one that plays is lower.

    Parameters
    ----------
    tops : the highest level of each section; None where it rests or its levels are flat.
    """
    playing = [top for top in tops if top is not None]
    if not playing or min(playing) == max(playing):
        return None
    return max(index for index, top in enumerate(tops) if top == max(playing))
