"""Changes in words."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType

import numpy as np

from grooveforge.analysis.changes import Change, Stroke
from grooveforge.analysis.instants import Ints
from grooveforge.core.kit import SURFACE_NAMES
from grooveforge.core.words import bars_from_to

NOTES: Mapping[Fraction, str] = MappingProxyType(
    {
        Fraction(4): "whole notes",
        Fraction(2): "half notes",
        Fraction(1): "quarters",
        Fraction(1, 2): "eighths",
        Fraction(1, 4): "sixteenths",
        Fraction(1, 8): "thirty-seconds",
        Fraction(3, 2): "dotted quarters",
        Fraction(3, 4): "dotted eighths",
        Fraction(2, 3): "quarter triplets",
        Fraction(1, 3): "eighth triplets",
        Fraction(1, 6): "sixteenth triplets",
    }
)
"""What strokes so many quarter notes apart are called."""


def change_words(change: Change, lines: Ints, division: int) -> str:
    """A change as a report says it.

    Parameters
    ----------
    lines : ticks of the bar lines. division : ticks to a quarter note.
    """
    if change.thinned is not None:
        ticks = [tick for tick, _ in change.removed]
        first, last = (int(np.searchsorted(lines, tick, side="right")) for tick in (min(ticks), max(ticks)))
        notes = NOTES.get(Fraction(change.spacing, division), "fewer strokes")
        return f"thin the {SURFACE_NAMES[change.thinned]} to {notes} in {bars_from_to(first, last)}"
    parts = [f"leave out the {_named(stroke, lines, division)}" for stroke in change.removed]
    parts += [f"{SURFACE_NAMES[to]} in place of the {_named(stroke, lines, division)}" for stroke, to in change.moved]
    parts += [f"no grace strokes on the {_named(stroke, lines, division)}" for stroke in change.plain]
    parts += [f"let the {_named(stroke, lines, division)} ring" for stroke in change.ringing]
    return ", and ".join(parts)


def _named(stroke: Stroke, lines: Ints, division: int) -> str:
    bar = int(np.searchsorted(lines, stroke[0], side="right"))
    beat = round(1 + (stroke[0] - int(lines[bar - 1])) / division, 3)
    return f"{SURFACE_NAMES[stroke[1]]} of bar {bar}, beat {beat:g}"
