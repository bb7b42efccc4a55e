"""The drum tab of a whole score: lines of a few bars, each with its count, under the names of the sections."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from math import lcm

import numpy as np

from grooveforge.core.groove import FINEST_GRID, KICK, SNARE, Groove, Lane
from grooveforge.core.kit import Kind
from grooveforge.core.meter import Meter
from grooveforge.core.score import Hit, Score, ScoreBar, limbs_at
from grooveforge.core.words import bars_from_to
from grooveforge.formats.notation import HANDS, place_of
from grooveforge.formats.tab import Row, tab_from
from grooveforge.formats.tab_marks import REST, STICKING_LINE, legend, order_of

WIDTH = 76
"""Columns of a line; a bar that is longer has a line to itself."""

COARSEST = 8
"""Columns to a whole note are at least eighths."""


def song_tab(score: Score, sticking: bool = False) -> str:
    """The tab as text, with a legend of its marks at the end."""
    blocks = []
    used: list[Row] = []
    for bars in score.sections:
        name = bars[0].section
        if name is not None:
            numbers = bars_from_to(bars[0].number, bars[-1].number)
            said = f" ({', '.join(bars[0].words)})" if bars[0].words else ""
            blocks.append(f"{name}, {numbers}{said}\n")
        for line in _lines(bars):
            rows = _rows(line, sticking)
            used += rows
            blocks.append(_printed(line, rows))
    return "\n".join([*blocks, "\n".join(_legend(used)) + "\n"])


def _lines(bars: Sequence[ScoreBar]) -> Iterator[list[ScoreBar]]:
    """As many bars to a line as fit, at most four."""
    line: list[ScoreBar] = []
    width = 0
    for bar in bars:
        columns = _steps(bar) + 1
        if line and (width + columns > WIDTH or len(line) == 4):
            yield line
            line, width = [], 0
        line.append(bar)
        width += columns
    if line:
        yield line


def grid_of(bar: ScoreBar) -> int:
    """Steps to a whole note that hold every stroke of a bar and the unit of its metre."""
    least = lcm(bar.meter.whole.denominator, *(hit.place.denominator for hit in bar.hits))
    counted = lcm(least, bar.meter.lower)
    grid = counted if counted <= FINEST_GRID else least
    while grid < COARSEST:
        grid *= 2
    return grid


def _steps(bar: ScoreBar) -> int:
    return bar.meter.steps(grid_of(bar))


def _rows(bars: Sequence[ScoreBar], sticking: bool) -> list[Row]:
    """The lines of the bars of one line, those that are silent in a bar filled with rests."""
    tabs = [_bar_cells(bar, sticking) for bar in bars]
    labels = sorted({key for tab in tabs for key in tab}, key=lambda key: (order_of(key[0]), key[1]))
    sizes = tuple(_steps(bar) for bar in bars)
    return [
        Row(label, "".join(tab.get((label, layer), REST * size) for tab, size in zip(tabs, sizes)), sizes)
        for label, layer in labels or [("BD", 0)]
    ]


def _bar_cells(bar: ScoreBar, sticking: bool) -> dict[tuple[str, int], str]:
    """(label, how-manieth line of it) -> columns of one bar."""
    steps = _steps(bar)
    cells: dict[tuple[str, int], str] = {}
    if bar.hits:
        for row in tab_from(_groove(bar), bar_lines=False).rows:
            layer = sum(label == row.label for label, _ in cells)
            cells[row.label, layer] = row.marks
    if sticking:
        hands: dict[int, list[Hit]] = {}
        for hit in bar.hits:
            if place_of(hit.surface).voice == HANDS:
                hands.setdefault(int(hit.place * grid_of(bar)), []).append(hit)
        letters = {step: limbs_at(hits) for step, hits in hands.items()}
        cells[STICKING_LINE, 0] = "".join(letters.get(step) or REST for step in range(steps))
    return cells


def _groove(bar: ScoreBar) -> Groove:
    """One bar as a groove of lanes."""
    grid = grid_of(bar)
    lanes: dict[str, list[tuple[int, int, Kind]]] = {}
    for hit in bar.hits:
        lanes.setdefault(hit.surface, []).append((int(hit.place * grid), hit.velocity, hit.kind))
    made = {name: _lane(strokes, bar.meter.steps(grid)) for name, strokes in lanes.items()}
    kick, snare = made.pop(KICK, None), made.pop(SNARE, None)
    return Groove(bar.meter, grid, 1, kick=kick, snare=snare, others=tuple(made.items()))


def _lane(strokes: Sequence[tuple[int, int, Kind]], steps: int) -> Lane:
    velocity, kind = np.zeros(steps, np.uint8), np.zeros(steps, np.uint8)
    for step, loud, how in strokes:
        velocity[step], kind[step] = loud, how
    return Lane(velocity, kind, np.zeros(steps))


def _printed(bars: Sequence[ScoreBar], rows: Sequence[Row]) -> str:
    """A line of bars with their numbers and counts; a bar wider than a line is cut at its beats."""
    width = max(len(row.label) for row in rows)
    if len(bars) == 1 and _steps(bars[0]) > WIDTH:
        return "\n".join(_pieces(bars[0], rows, width))
    numbers = "".join(f" {bar.number}".ljust(_steps(bar) + 1) for bar in bars)
    count = " ".join(count_line(bar.meter, grid_of(bar)) for bar in bars)
    lines = [f"{'':{width}} {numbers}".rstrip(), f"{'':{width}}  {count}".rstrip()]
    return "\n".join([*lines, *(row.printed(width) for row in rows)]) + "\n"


def _pieces(bar: ScoreBar, rows: Sequence[Row], width: int) -> Iterator[str]:
    count = count_line(bar.meter, grid_of(bar))
    edges = _cuts(bar)
    for low, high in pairwise(edges):
        number = f"{bar.number}" if low == 0 else f"({bar.number})"
        lines = [f"{'':{width}}  {number}", f"{'':{width}}  {count[low:high]}".rstrip()]
        cut = (Row(row.label, row.marks[low:high], (high - low,)) for row in rows)
        yield "\n".join([*lines, *(row.printed(width) for row in cut)]) + "\n"


def _cuts(bar: ScoreBar) -> list[int]:
    """Where a wide bar is cut: at beats, or after a full line where a beat is wider than that."""
    beats = [int(beat * grid_of(bar)) for beat in bar.meter.beats] + [_steps(bar)]
    edges = [0]
    while edges[-1] < beats[-1]:
        fitting = [beat for beat in beats if edges[-1] < beat <= edges[-1] + WIDTH]
        edges.append(max(fitting, default=edges[-1] + WIDTH))
    return edges


def count_line(meter: Meter, grid: int) -> str:
    """The count over a bar: numbers of the lower figure, + between quarters (encyclopaedia, "Drum tablature")."""
    steps = meter.steps(grid)
    line = [" "] * steps
    for step in range(steps):
        number, rest = divmod(Fraction(step, grid), meter.unit)
        if not rest:
            for at, figure in enumerate(str(int(number) + 1)):
                if step + at < steps:
                    line[step + at] = figure
        elif meter.lower <= 4 and rest == meter.unit / 2 and line[step] == " ":
            line[step] = "+"
    return "".join(line)


def _legend(rows: Sequence[Row]) -> list[str]:
    return legend((row.label, row.marks) for row in rows if row.label != STICKING_LINE)

