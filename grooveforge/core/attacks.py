"""From a guitar's notes to attacks: what sounds as one stroke, what stands out, what is low.

House rules, but for the 30 ms: two onsets closer than about that are heard as one (I. J. Hirsh, "Auditory
perception of temporal order", 1959: order is told apart from about 20 ms on).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

TOGETHER_SECONDS = 0.030
"""Onsets up to this far behind an attack's first belong to it."""

CLEARLY_LOUDER = 10
"""MIDI velocities between an accent and the rest, at least."""

CLEARLY_LONGER = 1.5
"""How many times as long an accent lasts, at least."""

LOW_REACH = 4
"""Semitones above the lowest note that are still its register: a guitar's next string is five above."""


@dataclass(frozen=True, eq=False)
class Attacks:
    """The attacks of a riff, in order.

    Parameters
    ----------
    first : (n,) the row of the onset that begins each. velocity : (n,) its loudest note's.
    lasts : (n,) how long its longest note lasts, in whatever unit the notes came in. notes : (n,) how many.
    lowest : (n,) its lowest MIDI note.
    """

    first: Ints
    velocity: Ints
    lasts: Floats
    notes: Ints
    lowest: Ints

    def __len__(self) -> int:
        return int(self.first.size)


def together(seconds: Floats) -> Ints:
    """The rows at which attacks begin.

    Parameters
    ----------
    seconds : (n,) when the notes sound, never falling.
    """
    first: list[int] = []
    row = 0
    while row < seconds.size:
        first.append(row)
        # A nanosecond more, since times in seconds are sums of floats.
        row = int(np.searchsorted(seconds, seconds[row] + TOGETHER_SECONDS + 1e-9, side="right"))
    return np.array(first, np.int64)


def attacks_of(seconds: Floats, note: Ints, velocity: Ints, lasts: Floats) -> Attacks:
    """The attacks that notes make; all columns are of one length, in order of time."""
    first = together(seconds)
    if not first.size:
        empty = np.empty(0, np.int64)
        return Attacks(empty, empty, np.empty(0), empty, empty)
    return Attacks(
        first,
        np.maximum.reduceat(velocity, first),
        np.maximum.reduceat(lasts, first),
        np.diff(np.append(first, seconds.size)),
        np.minimum.reduceat(note, first),
    )


def accents(attacks: Attacks) -> Bools:
    """(n,) which attacks stand out: by velocity where that tells, else by number of notes, else by length.

    What tells is a clear step: ten velocities, a note more, half as long again. Nothing stands out of attacks
    that are all alike.
    """
    for values, least in (
        (attacks.velocity.astype(np.float64), float(CLEARLY_LOUDER)),
        (attacks.notes.astype(np.float64), 1.0),
        (np.log(np.maximum(attacks.lasts, 1e-9)), float(np.log(CLEARLY_LONGER))),
    ):
        told = _upper(values, least)
        if told.any():
            return told
    return np.zeros(len(attacks), bool)


def _upper(values: Floats, least: float) -> Bools:
    """The values nearer to the top than to the middle (to the bottom, where middle and top are one)."""
    if not values.size:
        return np.zeros(0, bool)
    top, slack = float(values.max()), 1e-9
    for floor in (float(np.median(values)), float(values.min())):
        if top - floor >= least - slack:
            return np.greater(values, (top + floor) / 2)
    return np.zeros(values.size, bool)


def low(attacks: Attacks) -> Bools:
    """(n,) which attacks lie in the riff's lowest register, as muted chugs do, by their lowest notes."""
    if not len(attacks):
        return np.zeros(0, bool)
    within = int(attacks.lowest.min()) + LOW_REACH
    return np.less_equal(attacks.lowest, within)
