"""Drum tab, both ways: text to lines, lines to a groove, and back.

A tab is one line for each voice, one column for each step. `|` and spaces are free; lines that begin with `#`
and count lines (1 + 2 + ...) are comments. A label may stand twice as long as its lines never strike one
surface in the same column: that is how a crash and a china on one step are written.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator

from grooveforge.core.groove import Groove, Lane
from grooveforge.core.kit import SURFACE_CODES, Kind
from grooveforge.errors import Fault, FormatError
from grooveforge.formats.tab_marks import (
    FREE,
    HAND_LINE,
    HAND_MARKS,
    LINES,
    REST,
    STICKING_LINE,
    STICKING_MARKS,
    hand_mark_of,
    mark_of,
    marks_of,
    misses,
    order_of,
)
from grooveforge.formats.tab_rows import Row, Tab

MOST_FAULTS = 20
"""Faults listed of one tab; a text that is no tab at all would have one in every line."""

NO_TAB = 1000
"""Faults at which reading ends: a text with so many is no tab, and telling them all takes a while."""

_LINE = re.compile(r"\s*([A-Za-z][A-Za-z0-9]{0,11}|\d{1,6})[ \t]*(?=[ \t|])(.*)", re.DOTALL)
_COUNT = re.compile(r"[\s|]*1[\s|\d+&ea.]*")


def read_tab(text: str) -> Tab:
    """A tab from text.

    Raises
    ------
    FormatError
        With every fault: lines without a known label, wrong marks, lines of unequal length, two strokes of
        one surface in one column, no line at all. The place is the text's line and the column, from 1.
    """
    faults: list[Fault] = []
    rows: list[Row] = []
    for number, line in enumerate(text.split("\n"), 1):
        line = line.rstrip("\r")
        if not line.strip() or line.lstrip().startswith("#") or _COUNT.fullmatch(line):
            continue
        if len(faults) >= NO_TAB:
            raise FormatError([*faults[:MOST_FAULTS], Fault("and a thousand more faults; this seems to be no tab")])
        row = _read_row(line, number, faults)
        if row is not None:
            rows.append(row)
    if not rows and not faults:
        faults.append(Fault("a tab needs at least one line", hint="HH x-x-x-x-x-x-x-x-"))
    faults += _ragged(rows)
    if not faults:
        faults += _collisions(rows)
    if faults:
        left = len(faults) - MOST_FAULTS
        raise FormatError(faults[:MOST_FAULTS] + ([Fault(f"and {left} more faults")] if left > 0 else []))
    return Tab(tuple(rows))


def _read_row(line: str, number: int, faults: list[Fault]) -> Row | None:
    place = f"line {number}"
    found = _LINE.fullmatch(line)
    if found is None:
        hint = "HH x-x-x-x-, or # before a comment"
        faults.append(Fault("a line of tab is a label and its marks", place=place, found=_short(line), hint=hint))
        return None
    label, body = found.groups()
    known = STICKING_MARKS if label == STICKING_LINE else marks_of(label)
    if known is None:
        from difflib import get_close_matches  # a tab without faults needs none of it

        labels = [*LINES, HAND_LINE, STICKING_LINE]
        folded = {name.lower(): name for name in labels}
        near = [folded[name] for name in get_close_matches(label.lower(), folded, 1, 0.5)]
        allowed = ", ".join(labels) + ", a note number"
        faults.append(
            Fault("no line of tab has this label", "", place, repr(_short(label)), allowed, near[0] if near else "")
        )
        return None
    marks = "".join(character for character in body if character not in FREE)
    wrong: dict[str, list[int]] = {}
    for column, mark in enumerate(marks, 1):
        if mark != REST and mark not in known:
            wrong.setdefault(mark, []).append(column)
    for mark, columns in wrong.items():
        more = f" (and {len(columns) - 1} more)" if len(columns) > 1 else ""
        allowed = " ".join([*(known if isinstance(known, str) else [*known, REST])])
        at = f"{place}, column {columns[0]}{more}"
        faults.append(Fault(f"the line {label} has no such mark", place=at, found=repr(mark), allowed=allowed))
    if not marks:
        faults.append(Fault(f"the line {label} has no columns", place=place))
        return None
    return Row(label, marks, _bars(body), number)


def _bars(body: str) -> tuple[int, ...]:
    """Columns between the bar lines of a line; none where it has no bar line."""
    if "|" not in body:
        return ()
    sizes = [sum(character not in FREE for character in part) for part in body.split("|")]
    return tuple(size for size in sizes if size)


def _ragged(rows: list[Row]) -> list[Fault]:
    counts = Counter(len(row.marks) for row in rows)
    if len(counts) < 2:
        return []
    usual = counts.most_common(1)[0][0]
    model = next(row for row in rows if len(row.marks) == usual)
    return [
        Fault(
            f"the line {row.label} has {len(row.marks)} columns where the line {model.label} has {usual}",
            place=f"line {row.line}",
            hint=f"- for rests: every line has the same number of columns, {usual} here",
        )
        for row in rows
        if len(row.marks) != usual
    ]


def _collisions(rows: list[Row]) -> list[Fault]:
    """A label may come again, but not to strike the same surface in the same column."""
    taken: dict[tuple[str, int, str], int] = {}
    faults = []
    for row in rows:
        marks = marks_of(row.label) or {}
        cells = [(row.label, at, marks[m].surface if m in marks else "") for at, m in enumerate(row.marks) if m != REST]
        clash = next((cell for cell in cells if cell in taken), None)
        if clash is not None:
            faults.append(
                Fault(
                    f"the line {row.label} stands twice and has two strokes in one column",
                    place=f"line {row.line}, column {clash[1] + 1}",
                    found=f"the other one in line {taken[clash]}",
                )
            )
        taken.update(dict.fromkeys(cells, row.line))
    return faults


def _short(text: str) -> str:
    return text if len(text) <= 40 else text[:37] + "..."


def steps_text(marks: dict[int, str], steps: int) -> str:
    """A line's columns from marks by step: {0: "x", 2: "x"} over 4 steps is "x-x-"."""
    return "".join(marks.get(step, REST) for step in range(steps))


def tab_of(groove: Groove, legend: bool = False, bar_lines: bool | None = None) -> str:
    """A groove as drum tab.

    Levels print as the mark of their band, offsets not at all. Two surfaces of one line on one step print on
    two lines of that label.

    Parameters
    ----------
    legend : whether comment lines explain the marks.
    bar_lines : whether `|` stands between bars; None where the grid could not be told without.
    """
    return tab_from(groove, bar_lines).printed(legend)


def tab_from(groove: Groove, bar_lines: bool | None = None, hand_line: bool = False) -> Tab:
    """A groove as the lines of a tab; see `tab_of`.

    Parameters
    ----------
    hand_line : whether the hand is written on the line T, which does not tell its surface.
    """
    cells: dict[str, dict[int, dict[str, str]]] = {}
    for surface, lane in groove.voices:
        for step, kind, velocity in _strokes(lane):
            label, mark = mark_of(surface, kind, velocity)
            if hand_line and lane is groove.hand:
                label, mark = HAND_LINE, hand_mark_of(kind, velocity) or mark
            struck = (marks_of(label) or {})[mark].surface
            cells.setdefault(label, {}).setdefault(step, {}).setdefault(struck, mark)
    rows = []
    for label in sorted(cells or {"BD": {}}, key=order_of):
        stacks = {step: [marks[name] for name in sorted(marks, key=lambda name: SURFACE_CODES.get(name, 0))]
                  for step, marks in cells.get(label, {}).items()}  # fmt: skip
        for layer in range(max(map(len, stacks.values()), default=1)):
            marks = {step: stack[layer] for step, stack in stacks.items() if layer < len(stack)}
            rows.append(Row(label, steps_text(marks, groove.steps)))
    plain = Tab(tuple(rows))
    if bar_lines is None:
        bar_lines = not _tells_grid(plain, groove)
    if not bar_lines:
        return plain
    bars = (groove.steps_per_bar,) * groove.bars
    return Tab(tuple(Row(row.label, row.marks, bars) for row in rows))


def needs_hand_line(groove: Groove) -> bool:
    """Whether the line T keeps levels of the hand that its surface's marks have not: a tap on a china."""
    if groove.hand is None or groove.surface is None:
        return False
    lost = lost_on_line = 0
    for _, kind, velocity in _strokes(groove.hand):
        on_line = hand_mark_of(kind, velocity)
        if on_line is None:
            return False
        label, mark = mark_of(groove.surface, kind, velocity)
        lost += misses((marks_of(label) or {})[mark], kind, velocity)
        lost_on_line += misses(HAND_MARKS[on_line], kind, velocity)
    return lost_on_line < lost


def _strokes(lane: Lane) -> Iterator[tuple[int, Kind, int]]:
    """Step, kind and velocity of every stroke of a lane."""
    for step in lane.struck.tolist():
        yield step, Kind(int(lane.kind[step])), int(lane.velocity[step])


def _tells_grid(tab: Tab, groove: Groove) -> bool:
    try:
        return tab.grid(groove.meter) == groove.grid
    except FormatError:
        return False


__all__ = ["Row", "Tab", "needs_hand_line", "read_tab", "steps_text", "tab_from", "tab_of"]
