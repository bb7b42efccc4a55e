"""From the columns of a drum tab to a groove: which grid they are, which hand keeps time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

import numpy as np

from grooveforge.core.groove import COARSEST_GRID, FINEST_GRID, KICK, SNARE, Groove, Lane
from grooveforge.core.kit import timekeeping_surface
from grooveforge.core.meter import Meter
from grooveforge.errors import FormatError, MusicError
from grooveforge.formats.tab_marks import COLOUR_KINDS, HAND_LINE, HAND_LINES, LINES, ONE_HAND, Stroke

Strokes = list[tuple[int, str, Stroke]]
"""Strokes of a tab as (column, label, what is struck)."""

SIXTEENTHS, EIGHTH_TRIPLETS = 16, 12
NO_HAND = "none"
"""As a timekeeper: no hand keeps time, every stroke is a lane of its surface."""

DEFAULT_HAND = "closed hi-hat"
"""What the line T strikes where nothing says."""


def bar_grid(columns: int, bars: Iterable[tuple[int, ...]], meter: Meter, whole: Fraction | None = None) -> int:
    """Steps to a whole note of a tab that does not say; the rule of `Tab.grid`.

    Parameters
    ----------
    columns : of the whole tab. bars : columns between bar lines, of each line that has them.
    whole : length in whole notes that the tab must have; None for whole bars.
    """
    if whole is not None:
        return _exact(columns, whole, f"{columns} columns do not fill {4 * whole} quarters evenly")
    sizes = sorted({size for line in bars for size in line})
    if len(sizes) > 1:
        raise FormatError(
            "the bars between the bar lines are of different length",
            found=f"{' and '.join(map(str, sizes))} columns",
            hint="a grid, with which bar lines mean nothing, or bars of one length",
        )
    if sizes:
        message = f"{sizes[0]} columns between bar lines do not fill a bar of {meter} evenly"
        return _exact(sizes[0], meter.whole, message)
    for grid in (SIXTEENTHS, EIGHTH_TRIPLETS):
        steps = grid * meter.whole
        if steps.denominator == 1 and columns % int(steps) == 0:
            return grid
    return _exact(columns, meter.whole, f"{columns} columns make no bars of {meter}")


def _exact(columns: int, whole: Fraction, message: str) -> int:
    """The grid on which so many columns are that long."""
    grid = columns / whole
    if grid.denominator != 1 or not COARSEST_GRID <= grid <= FINEST_GRID:
        sixteenths = SIXTEENTHS * whole
        hint = f"{sixteenths} columns of sixteenths" if sixteenths.denominator == 1 else "another number of columns"
        allowed = f"a grid of {COARSEST_GRID} to {FINEST_GRID} steps to a whole note"
        raise FormatError(message, allowed=allowed, hint=hint)
    return int(grid)


def build_groove(shell: Groove, strokes: Strokes, timekeeper: str | None) -> Groove:
    """The empty groove `shell` with the strokes of a tab in its lanes.

    On the timekeeping hand's line a colour (open, bell) is a kind of stroke; everywhere else it is a lane of
    its own surface. Where one line's surfaces meet in one column the first line is the hand's.
    """
    surface = _hand_surface(strokes, timekeeper)
    written = any(label == HAND_LINE for _, label, _ in strokes)
    group = () if written or surface is None else ONE_HAND.get(surface, (surface,))
    hand: dict[int, Stroke] = {}
    lanes: dict[str, dict[int, Stroke]] = {}
    for column, label, stroke in strokes:
        if label == HAND_LINE:
            hand[column] = stroke
        elif stroke.surface in group and column not in hand:
            hand[column] = stroke if stroke.surface == surface else _coloured(stroke)
        else:
            lanes.setdefault(stroke.surface, {})[column] = stroke
    built = {name: _lane(cells, shell.steps) for name, cells in lanes.items()}
    return replace(
        shell,
        kick=built.pop(KICK, None),
        snare=built.pop(SNARE, None),
        hand=_lane(hand, shell.steps) if hand else None,
        surface=surface,
        others=tuple(built.items()),
    )


@lru_cache(maxsize=64)
def _coloured(stroke: Stroke) -> Stroke:
    """A stroke on another surface of the hand's instrument; a tab has as many as there are marks."""
    return replace(stroke, kind=COLOUR_KINDS[stroke.surface])


def _lane(cells: Mapping[int, Stroke], steps: int) -> Lane:
    velocity, kind = np.zeros(steps, np.uint8), np.zeros(steps, np.uint8)
    for column, stroke in cells.items():
        velocity[column], kind[column] = stroke.velocity, stroke.kind
    return Lane(velocity, kind, np.zeros(steps))


def _hand_surface(strokes: Strokes, timekeeper: str | None) -> str | None:
    struck = {stroke.surface for _, _, stroke in strokes}
    written = "" in struck
    if timekeeper == NO_HAND and not written:
        return None
    if timekeeper is not None:
        try:
            name = timekeeping_surface(timekeeper)
        except MusicError as error:
            raise MusicError(replace(fault, path=("timekeeper",)) for fault in error.faults) from error
        if not written and struck.isdisjoint(ONE_HAND.get(name, (name,))):
            raise FormatError(
                f"the timekeeper is {name!r}, and the tab has no stroke on it",
                hint="a line T, or the surface of a line that is there",
                path=("timekeeper",),
            )
        return name
    return DEFAULT_HAND if written else _busiest(strokes)


def _busiest(strokes: Strokes) -> str | None:
    """The surface of the busiest line that may keep time; of two on one line the more frequent."""
    columns: dict[str, set[int]] = {}
    for column, label, _ in strokes:
        if label in HAND_LINES:
            columns.setdefault(label, set()).add(column)
    if not columns:
        return None
    busiest = max((label for label in HAND_LINES if label in columns), key=lambda label: len(columns[label]))
    counts = Counter(stroke.surface for _, label, stroke in strokes if label == busiest)
    surfaces = dict.fromkeys(stroke.surface for stroke in LINES[busiest].values())
    if busiest == "Rd":
        return "ride" if counts["ride"] else "ride bell"
    order = ("closed hi-hat", "half-open hi-hat", "open hi-hat") if busiest == "HH" else tuple(surfaces)
    return max(order, key=lambda name: counts[name])
