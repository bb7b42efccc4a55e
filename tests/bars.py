"""Hand-written bars for tests: a line of marks for each lane, and positions read back in sixteenths.

Marks: `-` a rest, `x` a stroke, `X` an accent, `g` a ghost, `f` a flam, `d` a drag.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Any

import numpy as np

from grooveforge.core.groove import Groove, Lane
from grooveforge.core.kit import ACCENT, GHOST, NORMAL, Kind
from grooveforge.core.meter import Meter

FOUR_FOUR = Meter(4, 4)

MARKS = {
    "x": (NORMAL, Kind.PLAIN),
    "o": (NORMAL, Kind.PLAIN),
    "X": (ACCENT, Kind.ACCENT),
    "g": (GHOST, Kind.GHOST),
    "f": (NORMAL, Kind.FLAM),
    "d": (NORMAL, Kind.DRAG),
}


def lane(line: str) -> Lane:
    """A lane from a line of marks, one mark a step; spaces and bar lines are free."""
    marks = line.replace(" ", "").replace("|", "")
    strokes = [MARKS.get(mark, (0, Kind.PLAIN)) for mark in marks]
    return Lane(
        np.array([velocity for velocity, _ in strokes], np.uint8),
        np.array([kind for _, kind in strokes], np.uint8),
        np.zeros(len(marks)),
    )


def line_of(steps: Iterable[int], length: int = 16) -> str:
    """A line of `length` marks with strokes on the given steps."""
    struck = set(steps)
    return "".join("x" if step in struck else "-" for step in range(length))


def groove(
    kick: str | None = None,
    snare: str | None = None,
    hand: str | None = None,
    meter: Meter = FOUR_FOUR,
    grid: int = 16,
    **fields: Any,
) -> Groove:
    """A groove from lines of marks, closed hi-hat unless `surface` is given; its bars follow from the lines."""
    lines = {"kick": kick, "snare": snare, "hand": hand}
    lanes = {name: lane(line) for name, line in lines.items() if line is not None}
    length = max(len(each) for each in lanes.values())
    values: dict[str, Any] = {"bars": length // meter.steps(grid), **lanes, **fields}
    if "hand" in lanes:
        values.setdefault("surface", "closed hi-hat")
    return Groove(meter, grid, **values)


def sixteenths(of: Groove, name: str) -> list[Fraction]:
    """Where kick, snare, hand or a further surface strikes, in sixteenths from the groove's start."""
    if name == "hand":
        struck = [] if of.hand is None else of.hand.struck.tolist()
    else:
        struck = of.lane_on(name).struck.tolist()
    return [Fraction(16 * step, of.grid) for step in struck]


def places(positions: Iterable[Fraction], unit: int = 16) -> list[Fraction]:
    """Positions in whole notes counted in notes of 1/unit."""
    return [position * unit for position in positions]
