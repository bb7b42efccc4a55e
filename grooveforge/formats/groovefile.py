"""Groove files and fill files: a tab and what the writer says about it, as TOML, both ways.

The tables [grooves.NAME] of a song sheet hold the same keys and are read by the same function.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from typing import TypeVar, cast

from grooveforge.core import feel_table
from grooveforge.core.groove import Groove
from grooveforge.core.meter import Meter
from grooveforge.errors import FormatError, GrooveForgeError
from grooveforge.formats.beats import beat_text, parse_beats
from grooveforge.formats.fillfile import FOUR_FOUR, FillFile, TabFile
from grooveforge.formats.keys import FILL, GROOVE, read_keys
from grooveforge.formats.locate import read_whole
from grooveforge.formats.tab import Tab, needs_hand_line, read_tab, tab_from
from grooveforge.formats.toml_text import (
    FaultList,
    Path,
    Table,
    blamed,
    number_text,
    quoted,
)


@dataclass(frozen=True, kw_only=True)
class GrooveFile(TabFile):
    """What a groove file says: a tab, and how the groove is read from it. The rest as in `TabFile`.

    Parameters
    ----------
    feel, spelling : None where they are read from the strokes.
    backbeats : own backbeats of each bar, whole notes from the bar line. timekeeper : None for the tab's.

    Raises
    ------
    GrooveForgeError
        When tab, metre and grid make no groove; the fault's path is the key.
    """

    feel: str | None = None
    spelling: str | None = None
    backbeats: tuple[Fraction, ...] | None = None
    timekeeper: str | None = None

    def __post_init__(self) -> None:
        _ = self.groove

    @property
    def kind(self) -> str:
        return GROOVE

    @property
    def middle_tempo(self) -> Fraction | None:
        """The middle of the tempi that it is played at, in quarter notes a minute; None where it says none."""
        return None if self.tempo is None else sum(self.tempo, Fraction(0)) / 2

    @cached_property
    def groove(self) -> Groove:
        """The groove that the file writes."""
        try:
            plain = self.tab.groove(self.meter, self.grid, self.timekeeper)
        except GrooveForgeError as error:
            raise blamed(error, "tab" if self.grid is None else "grid") from error
        if self.feel is not None:
            try:
                feel_table.check_spelling(self.feel, self.spelling)
            except GrooveForgeError as error:
                raise blamed(error, "spelling") from error
        bars = range(plain.bars)
        places = self.backbeats and tuple(bar * self.meter.whole + place for bar in bars for place in self.backbeats)
        return replace(plain, feel=self.feel, spelling=self.spelling, backbeats=places)

    @classmethod
    def of(cls, groove: Groove, name: str | None = None) -> GrooveFile:
        """A file that writes a groove: levels by their bands, no offsets; the hand on the line T where only
        that line has marks for its levels.

        Own backbeats that no beat numbers can name, or that differ from bar to bar, are left to the strokes.
        """
        tab = tab_from(groove, hand_line=needs_hand_line(groove))
        grid = None if _tells(tab, groove) else groove.grid
        own = _every_bar(groove)
        file = cls(tab, groove.meter, grid, name, feel=groove.feel, spelling=groove.spelling, backbeats=own)
        if file.groove.surface == groove.surface:
            return file
        return replace(file, timekeeper=groove.surface)


def _tells(tab: Tab, groove: Groove) -> bool:
    try:
        return tab.grid(groove.meter) == groove.grid
    except FormatError:
        return False


def _every_bar(groove: Groove) -> tuple[Fraction, ...] | None:
    """A groove's own backbeats as places of one bar, where they are the same in every bar."""
    if not groove.backbeats:
        return None
    bar = groove.meter.whole
    first = tuple(place for place in groove.backbeats if place < bar)
    again = tuple(number * bar + place for number in range(groove.bars) for place in first)
    try:
        beat_text(first, groove.meter)
    except GrooveForgeError:
        return None
    return first if again == groove.backbeats else None


# -- reading --------------------------------------------------------------------------------------------

PatternFile = GrooveFile | FillFile
_Pattern = TypeVar("_Pattern", GrooveFile, FillFile)


def read_pattern_file(text: str) -> PatternFile:
    """A groove or fill from the text of its file.

    Raises
    ------
    FormatError
        With every fault of the file, each with key path and line.
    """

    def pattern(table: Table, faults: FaultList) -> PatternFile | None:
        return pattern_from_table(table, faults, (), FOUR_FOUR)

    return cast(PatternFile, read_whole(text, pattern))


def read_groove_file(text: str) -> GrooveFile:
    """A groove from the text of its file; a fill is an error. See `read_pattern_file`."""
    return _of_kind(read_pattern_file(text), GrooveFile, "a fill stands where a groove is needed")


def read_fill_file(text: str) -> FillFile:
    """A fill from the text of its file; a groove is an error. See `read_pattern_file`."""
    return _of_kind(read_pattern_file(text), FillFile, "a groove stands where a fill is needed")


def _of_kind(read: PatternFile, kind: type[_Pattern], message: str) -> _Pattern:
    if not isinstance(read, kind):
        raise FormatError(message, place="kind", found=read.kind)
    return read


def groove_from_table(table: Table, faults: FaultList, path: Path, meter: Meter) -> GrooveFile | None:
    """The groove of a sheet's table [grooves.NAME]; faults are collected, None when there are any.

    Parameters
    ----------
    path : of the table. meter : the song's, with its grouping, for a groove that says none.
    """
    read = pattern_from_table(table, faults, path, meter)
    if isinstance(read, FillFile):
        faults.add("a fill stands where a groove is needed", (*path, "kind"), found=FILL)
        return None
    return read


def pattern_from_table(table: Table, faults: FaultList, path: Path, meter: Meter) -> PatternFile | None:
    """As `groove_from_table`, for grooves and fills."""
    before = len(list(faults))
    place = FILL if table.get("kind") == FILL else GROOVE
    read = read_keys(table, place, faults, path)
    if place == FILL and "length" not in table:
        faults.add('a fill needs a key length, such as "2 beats"', path)
    if "tab" not in table:
        faults.add(f"a {place} needs a key tab", path, hint="tab = '''HH x-x-x-x-x-x-x-x-'''")
    values: Table = {name: read[name] for name in read if name not in ("kind", "grouping")}
    with faults.at(*path, "tab"):
        if "tab" in read:
            values["tab"] = read_tab(cast(str, read["tab"]))
    values["meter"] = meter_of(read, meter, faults, path)
    if "backbeats" in read:
        with faults.at(*path, "backbeats"):
            values["backbeats"] = parse_beats(cast(str, read["backbeats"]), cast(Meter, values["meter"]))
    if len(list(faults)) > before:
        return None
    build = cast("Callable[..., PatternFile]", FillFile if place == FILL else GrooveFile)
    with faults.at(*path):
        return build(**values)
    return None


def meter_of(read: Mapping[str, object], meter: Meter, faults: FaultList, path: Path) -> Meter:
    """The metre of a table that may say `meter`, `grouping`, both or neither; `meter` holds where it says none."""
    said = cast(Meter, read.get("meter", meter))
    grouping = cast("tuple[int, ...] | None", read.get("grouping"))
    if grouping is not None:
        with faults.at(*path, "grouping"):
            return Meter(said.upper, said.lower, grouping)
    return said


# -- printing -------------------------------------------------------------------------------------------


def print_groove_file(file: PatternFile) -> str:
    """The text of a groove or fill file, keys in the order of the format; reading it gives the same value."""
    tab = file.tab.printed(with_legend=True)
    values: dict[str, str | int | None] = {"name": _quoted(file.name)}
    if isinstance(file, FillFile):
        values |= {"kind": _quoted(FILL), "length": _quoted(file.length)}
    values["meter"] = _quoted(str(file.meter))
    if file.meter != Meter(file.meter.upper, file.meter.lower):
        values["grouping"] = _list(map(str, file.meter.grouping))
    values["grid"] = file.grid
    if isinstance(file, GrooveFile):
        values |= {
            "feel": _quoted(file.feel),
            "spelling": _quoted(file.spelling),
            "backbeats": _quoted(beat_text(file.backbeats, file.meter)) if file.backbeats else None,
            "timekeeper": _quoted(file.timekeeper),
        }
    values |= {
        "tempo": _list(map(number_text, file.tempo)) if file.tempo else None,
        "profile": _quoted(file.profile),
        "sticking": _quoted(file.sticking),
        "about": _quoted(file.about),
        "tags": _list(map(quoted, file.tags)) if file.tags else None,
    }
    lines = [f"{key} = {value}\n" for key, value in values.items() if value is not None]
    return "".join([f"tab = '''\n{tab}'''\n", *lines])


def groove_table(file: GrooveFile) -> dict[str, object]:
    """The keys of a groove as a table of a song sheet holds them, plain values by key."""
    table: dict[str, object] = {"tab": file.tab.printed(with_legend=False)}
    if file.meter != FOUR_FOUR:
        table |= {"meter": str(file.meter), "grouping": list(file.meter.grouping)}
    said = {
        "grid": file.grid,
        "feel": file.feel,
        "spelling": file.spelling,
        "backbeats": beat_text(file.backbeats, file.meter) if file.backbeats else None,
        "timekeeper": file.timekeeper,
    }
    return table | {key: value for key, value in said.items() if value is not None}


def _list(words: Iterable[str]) -> str:
    return f"[{', '.join(words)}]"


def _quoted(text: str | None) -> str | None:
    return None if text is None else quoted(text)
