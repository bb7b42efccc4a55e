"""Writing a changed bar as the table of a changes file, and putting it into the file's text."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import groupby

from grooveforge.core.groove import COARSEST_GRID, FINEST_GRID, Groove, Lane
from grooveforge.core.hands import hand_of
from grooveforge.core.kit import BANDS, GRACE_STROKES, UNKNOWN_PREFIX, Kind
from grooveforge.core.kit import surface as surface_row
from grooveforge.core.meter import Meter
from grooveforge.core.played_bar import ChangedBar, Place, Sounded
from grooveforge.errors import FormatError
from grooveforge.formats.changes_file import cells_of, read_changes
from grooveforge.formats.tab import tab_from
from grooveforge.formats.tab_groove import NO_HAND
from grooveforge.formats.tab_marks import ONE_HAND, mark_of, marks_of
from grooveforge.formats.toml_scan import HEADER, scan
from grooveforge.formats.toml_text import key_text, quoted

READABLE = (16, 12, 24, 32, 48, 96)
"""Grids that are tried first, in this order; then all others, coarse to fine."""

_FLAMS = {count: kind for kind, count in GRACE_STROKES.items()}

HEAD = """\
# Bars as the drummer played them. They stand in the song in place of what the sheet gives.
# Delete a table and its bar is the sheet's again; grooveforge undo takes back the last merge.
"""


class Placed:
    """A stroke with its grace strokes on a step of a bar."""

    def __init__(self, strokes: list[Sounded]) -> None:
        *self.graces, self.main = sorted(strokes)
        self.step = 0

    def kind(self) -> Kind:
        if self.graces:
            return _FLAMS[len(self.graces)]
        velocity = self.main.velocity
        if self.main.kind == Kind.CHOKE and _has(self.main.surface, Kind.CHOKE):
            return Kind.CHOKE
        return Kind.ACCENT if velocity >= BANDS[-1].low else Kind.GHOST if velocity <= BANDS[0].high else Kind.PLAIN


def _has(surface: str, kind: Kind) -> bool:
    """Whether a surface's line has a mark of its own for a kind."""
    label, mark = mark_of(surface, kind, 100)
    return (marks_of(label) or {})[mark].kind == kind


def changed_bar_text(
    number: int, place: Place | None, meter: Meter, strokes: Iterable[Sounded], at: tuple[int, str | None]
) -> str:
    """The table of one changed bar.

    Parameters
    ----------
    strokes : ticks from the bar line. at : ticks to a quarter note, and what the timekeeping hand stands on.

    Raises
    ------
    FormatError
        When a bar has more strokes of one surface than columns.
    """
    division, said = at
    grid, placed = _on_grid(_with_graces(strokes), meter, division)
    tab = tab_from(_groove(placed, meter, grid), bar_lines=True)
    by_cell = {(stroke.step, stroke.main.surface): stroke for stroke in placed}
    levels: dict[str, list[object]] = {}
    late: dict[str, list[object]] = {}
    for label, cells in cells_of(tab).items():
        for cell in cells:
            stroke = by_cell[cell.column, cell.stroke.surface]
            line = stroke.step * 4 * division // grid
            every = [*stroke.graces, stroke.main]
            levels.setdefault(label, []).append(_one([each.velocity for each in every]))
            late.setdefault(label, []).append(_one([each.tick - line for each in every]))
    hand = _struck_hand(said, [stroke.main.surface for stroke in placed])
    lines = [f"[bars.{number}]"]
    lines += [f"at = {quoted(str(place))}"] if place is not None else []
    lines += [f"meter = {quoted(str(meter))}", f"grid = {grid}"]
    lines += [f"timekeeper = {quoted(hand)}"] if placed else []
    lines += [f"tab = '''\n{tab}'''"]
    lines += [f"levels = {_table(levels)}"] if levels else []
    off = {label: row for label, row in late.items() if any(value != 0 for value in row)}
    lines += [f"late = {_table(off)}", f"ticks = {division}"] if off else []
    return "\n".join(lines) + "\n"


def _struck_hand(hand: str | None, struck: list[str]) -> str:
    """The hand as the table says it: a surface that its own strokes tell, or none."""
    if hand is None or not surface_row(hand).keeps_time or hand.startswith(UNKNOWN_PREFIX):
        return NO_HAND
    if not set(ONE_HAND.get(hand, (hand,))).isdisjoint(struck):
        return hand
    mine = [surface for surface in struck if surface in hand_of(hand)]
    return max(mine, key=mine.count, default=NO_HAND)


def _one(values: list[int]) -> object:
    return values[0] if len(values) == 1 else values


def _table(rows: Mapping[str, list[object]]) -> str:
    return f"{{ {', '.join(f'{key_text(label)} = {row}' for label, row in rows.items())} }}"


def _with_graces(strokes: Iterable[Sounded]) -> list[Placed]:
    """The strokes of a bar, each with its grace strokes where its line has a mark for flam or drag."""
    found = []
    key = _surface_and_place
    for _, group in groupby(sorted(strokes, key=key), key=key):
        row = sorted(group)
        main = row[-1]
        graced = _FLAMS.get(len(row) - 1)
        soft = all(each.velocity <= BANDS[0].high and each.kind == Kind.GHOST for each in row[:-1])
        if graced is not None and soft and main.velocity > BANDS[0].high and _has(main.surface, graced):
            found.append(Placed(row))
        else:
            found += [Placed([each]) for each in row]
    return found


def _surface_and_place(stroke: Sounded) -> tuple[str, int]:
    return stroke.surface, stroke.place


def _on_grid(strokes: list[Placed], meter: Meter, division: int) -> tuple[int, list[Placed]]:
    """The most readable grid that has a step for every stroke, no two of a surface on one; else the finest, with
    strokes on the nearest step that is free."""
    fitting = [grid for grid in _grids(meter) if 4 * division % grid == 0]
    for grid in fitting:
        for stroke in strokes:
            stroke.step, rest = divmod(stroke.main.place * grid, 4 * division)
            if rest or not 0 <= stroke.step < meter.steps(grid):
                break
        else:
            if len({(stroke.main.surface, stroke.step) for stroke in strokes}) == len(strokes):
                return grid, strokes
    grid = max(fitting, default=_grids(meter)[0])
    taken: set[tuple[str, int]] = set()
    for stroke in sorted(strokes, key=lambda stroke: stroke.main):
        near = stroke.main.tick * grid / (4 * division)
        steps = (step for step in range(meter.steps(grid)) if (stroke.main.surface, step) not in taken)
        found = min(steps, key=lambda step: (abs(step - near), step), default=None)
        if found is None:
            raise FormatError(f"a bar has more strokes of {stroke.main.surface} than can be written", allowed=f"{grid}")
        stroke.step = found
        taken.add((stroke.main.surface, found))
    return grid, strokes


def _grids(meter: Meter) -> list[int]:
    every = [*READABLE, *range(COARSEST_GRID, FINEST_GRID + 1)]
    return [grid for grid in dict.fromkeys(every) if (grid * meter.whole).denominator == 1]


def _groove(strokes: list[Placed], meter: Meter, grid: int) -> Groove:
    steps = meter.steps(grid)
    lanes: dict[str, Lane] = {}
    for stroke in strokes:
        lane = lanes.get(stroke.main.surface, Lane.rests(steps))
        lanes[stroke.main.surface] = lane.put([stroke.step], stroke.main.velocity, stroke.kind())
    groove = Groove(meter, grid, kick=lanes.pop("kick", None), snare=lanes.pop("snare", None))
    for surface, lane in lanes.items():
        groove = groove.with_lane(surface, lane)
    return groove


# -- the file's text ------------------------------------------------------------------------------------


def with_tables(text: str, tables: Mapping[int, str]) -> str:
    """A changes file's text with some bars' tables put in or replaced, in order; all else stays as it is.

    Parameters
    ----------
    text : empty for a file that is not there. tables : texts of `changed_bar_text` by bar number.

    Raises
    ------
    FormatError
        When the text has faults, or holds a bar in another way than below a header [bars.11].
    """
    head, *parts = _parts(text or HEAD)
    held = {number for number, _, _ in parts}
    for number in tables.keys() & read_changes(text).keys() - held:
        place = f"bars.{number}"
        raise FormatError("the table of a bar needs a header of its own", place=place, hint=f"[{place}]")
    kept = [(number, above, tables.get(number, body)) for number, above, body in parts]
    for number in sorted(tables.keys() - held):
        at = next((index for index, part in enumerate(kept) if part[0] > number), len(kept))
        kept.insert(at, (number, "", tables[number]))
    changed = tables.keys()
    pieces = [head[2].rstrip() + "\n\n" if head[2].strip() else ""]
    for number, above, body in kept:
        pieces.append(above + (body.rstrip() + "\n\n" if number in changed else body))
    made = "".join(pieces).rstrip() + "\n" if tables else text
    read_changes(made)
    return made


def _parts(text: str) -> list[tuple[int, str, str]]:
    """A text in pieces: what stands above all tables (number 0), then each bar's comments above its header, and
    the table with all that stands below it up to the next."""
    spots = scan(text).spots.items()
    starts = [(spot.start, int(str(path[1]))) for path, spot in spots if len(path) == 2 and spot.kind == HEADER]
    cuts = [(0, 0, 0)]
    for start, number in sorted(starts):
        line = text.rfind("\n", 0, start) + 1
        above = line
        while above and text[text.rfind("\n", 0, above - 1) + 1 : above].lstrip().startswith("#"):
            above = text.rfind("\n", 0, above - 1) + 1
        if len(cuts) == 1 and not text[:above].strip():
            above = line  # the comments at the very top are the file's
        cuts.append((number, above, line))
    ends = [above for _, above, _ in cuts[1:]] + [len(text)]
    return [(number, text[above:line], text[line:end]) for (number, above, line), end in zip(cuts, ends)]


def normalised(number: int, table: str) -> ChangedBar:
    """What the text of a table is read as."""
    return read_changes(table)[number]


