"""Changes files, both ways: NAME.changes.toml beside a sheet, the bars that a drummer changed as text.

One table a bar: [bars.11] holds the bar's tab, the level of every stroke and how many ticks it stands off its
column. A flam has a list in place of a number, its grace strokes first. Without `levels` the marks say how loud
a stroke is; without `late` it stands on its column. Deleting a table frees the bar.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple, cast

from grooveforge.core.groove import Groove, Lane
from grooveforge.core.kit import GRACE_STROKES, Kind, sounding
from grooveforge.core.meter import Meter
from grooveforge.core.perform import DIVISION
from grooveforge.core.played_bar import ChangedBar, Changes, Grace, Place, PlayedBar
from grooveforge.core.song import MOST_SONG_BARS
from grooveforge.errors import FormatError, GrooveForgeError
from grooveforge.formats.fillfile import FOUR_FOUR
from grooveforge.formats.keys import CHANGED, read_keys
from grooveforge.formats.locate import read_whole
from grooveforge.formats.tab import Tab, read_tab
from grooveforge.formats.tab_groove import build_groove
from grooveforge.formats.tab_marks import Stroke
from grooveforge.formats.toml_text import FaultList, Table, blamed
from grooveforge.formats.toml_values import kind_of, shown

BARS = "bars"
LONGEST = 1 << 24
"""Characters of a changes file: ten thousand bars have a few million."""

Values = Mapping[str, tuple[int | tuple[int, ...], ...]]
"""A number for each stroke of a line, by the line's label; for a flam or drag a number for each of its strokes."""


class Cell(NamedTuple):
    """One stroke of a tab: its column, its line, what it strikes."""

    column: int
    label: str
    stroke: Stroke


def cells_of(tab: Tab) -> dict[str, list[Cell]]:
    """The strokes of a tab by the label of their line, in the order of columns, then of lines."""
    found: dict[str, list[Cell]] = {}
    for column, label, stroke in tab.strokes():
        found.setdefault(label, []).append(Cell(column, label, stroke))
    return {label: sorted(cells, key=lambda cell: cell.column) for label, cells in found.items()}


# -- reading --------------------------------------------------------------------------------------------


def read_changes(text: str) -> Changes:
    """The changed bars of a changes file, by bar number.

    Raises
    ------
    FormatError
        With every fault of the file, each with key path and line; a fault of TOML's syntax stands alone.
    """
    if len(text) > LONGEST:
        found = f"{len(text):,} characters"
        raise FormatError("this is too long for a changes file", found=found, allowed=f"{LONGEST:,}")
    return read_whole(text, _changes)


def _changes(table: Table, faults: FaultList) -> Changes:
    for key in table:
        if key != BARS:
            faults.add("a changes file has no such key", (key,), found=shown(key), hint="[bars.11]")
    changed: dict[int, ChangedBar] = {}
    rows = table.get(BARS, {})
    if not isinstance(rows, dict):
        faults.add(f"{kind_of(rows)} stands where tables are needed", (BARS,), found=shown(rows), hint="[bars.11]")
        rows = {}
    for key, row in rows.items():
        number = _number(key)
        if number is None or not isinstance(row, dict):
            message = "a changed bar is a table with the bar's number"
            faults.add(message, (BARS, key), found=shown(key), hint="[bars.11]")
            continue
        bar = _changed_bar(row, faults, (BARS, key))
        if bar is not None:
            changed[number] = bar
    return dict(sorted(changed.items()))


def _number(key: str) -> int | None:
    number = int(key) if key.isdecimal() and key.isascii() and len(key) < 6 else 0
    return number if str(number) == key and 1 <= number <= MOST_SONG_BARS else None


def _changed_bar(table: Table, faults: FaultList, path: tuple[str, str]) -> ChangedBar | None:
    before = len(faults)
    read = read_keys(table, CHANGED, faults, path)
    if "tab" not in table:
        faults.add("a changed bar needs a tab", path, hint="tab = '''")
    if len(faults) > before:
        return None
    with faults.at(*path):
        return ChangedBar(_played_bar(read), cast("Place | None", read.get("at")))
    return None


def _played_bar(read: Table) -> PlayedBar:
    try:
        tab = read_tab(str(read["tab"]))
        meter = cast(Meter, read.get("meter", FOUR_FOUR))
        grid = cast("int | None", read.get("grid")) or tab.grid(meter, meter.whole)
        if meter.steps(grid) != tab.columns:
            raise FormatError(
                f"the tab is one bar of {meter}, {meter.steps(grid)} columns on a grid of {grid}",
                found=f"{tab.columns} columns",
            )
    except GrooveForgeError as error:
        raise blamed(error, "tab") from error
    cells = cells_of(tab)
    levels = _for_cells(cast(Values, read.get("levels", {})), cells, "levels")
    late = _for_cells(cast(Values, read.get("late", {})), cells, "late")
    for cell in levels.keys() | late.keys():
        sizes = {len(levels.get(cell, (0,))), len(late.get(cell, (0,)))}
        if len(sizes) > 1:
            raise FormatError(
                f"the grace strokes in column {cell.column + 1} of {cell.label} need both, levels and late",
                path=("late" if len(late.get(cell, ())) < 2 else "levels",),
            )
    strokes = []
    for row in cells.values():
        for cell in row:
            level = levels.get(cell)
            velocity = cell.stroke.velocity if level is None else level[-1]
            strokes.append((cell.column, cell.label, replace(cell.stroke, velocity=velocity)))
    # Of two surfaces of one line in one column the first line of the tab is the hand's.
    order = [row.label for row in tab.rows]
    strokes.sort(key=lambda stroke: order.index(stroke[1]))
    try:
        groove = build_groove(Groove(meter, grid), strokes, cast("str | None", read.get("timekeeper")))
    except GrooveForgeError as error:
        raise blamed(error, "tab") from error
    ticks = cast(int, read.get("ticks", DIVISION))
    return _timed(groove, {cell: tuple(Fraction(by, ticks) for by in row) for cell, row in late.items()}, levels)


def _for_cells(values: Values, cells: Mapping[str, list[Cell]], key: str) -> dict[Cell, tuple[int, ...]]:
    """The numbers of each stroke, grace strokes first."""
    found: dict[Cell, tuple[int, ...]] = {}
    for label, row in values.items():
        mine = cells.get(label, [])
        if len(mine) != len(row):
            strokes = f"{len(mine)} strokes" if label in cells else "no strokes"
            raise FormatError(
                f"the tab's line {label} has {strokes}",
                path=(key, label),
                found=f"{len(row)} numbers",
                hint=f"a number for each stroke, or no {key} of that line",
            )
        for index, (cell, value) in enumerate(zip(mine, row)):
            numbers = value if isinstance(value, tuple) else (value,)
            graces = GRACE_STROKES.get(cell.stroke.kind, 0)
            if len(numbers) not in (1, 1 + graces):
                raise FormatError(
                    f"a list is for a {'flam' if graces < 2 else 'drag'}: its grace strokes, then the stroke",
                    path=(key, label, index),
                    found=f"{len(numbers)} numbers",
                    allowed=f"{1 + graces} numbers" if graces else "one number",
                )
            found[cell] = numbers
    return found


def _timed(
    groove: Groove, late: Mapping[Cell, tuple[Fraction, ...]], levels: Mapping[Cell, tuple[int, ...]]
) -> PlayedBar:
    """The bar with its strokes moved off their columns, and its grace strokes."""
    hand = str(groove.surface)
    cells = {(cell.column, sounding(cell.stroke.surface or hand, cell.stroke.kind, 1)[0]): cell for cell in late}
    lanes: list[Lane] = []
    graces: list[Grace] = []
    for name, lane in groove.voices:
        offset = lane.offset.copy()
        for step in lane.struck.tolist():
            surface = sounding(name, Kind(int(lane.kind[step])), 1)[0]
            cell = cells.get((step, surface))
            if cell is None:
                continue
            row = late[cell]
            offset[step] = float(row[-1])
            graces += [Grace(surface, step, by, level) for by, level in zip(row[:-1], levels.get(cell, ()))]
        lanes.append(Lane(lane.velocity, lane.kind, offset))
    moved = iter(lanes)
    return PlayedBar(
        replace(
            groove,
            kick=groove.kick and next(moved),
            snare=groove.snare and next(moved),
            hand=groove.hand and next(moved),
            others=tuple((name, next(moved)) for name, _ in groove.others),
        ),
        tuple(graces),
    )
