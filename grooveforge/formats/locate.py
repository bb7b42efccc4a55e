"""Naming the place of a fault in a TOML text: key path and line.

The scanner is imported where a place is looked for: a file without faults needs none.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, TypeVar

from grooveforge.errors import Fault, FormatError
from grooveforge.formats.toml_text import FaultLimitError, FaultList, Path, Table, key_text, load_toml

if TYPE_CHECKING:
    from grooveforge.formats.toml_scan import Scan, Spot

Value = TypeVar("Value")

_INSIDE = re.compile(r"line (\d+)(.*)", re.DOTALL)
_LONGEST_KEY = 40


def path_text(path: Path) -> str:
    """A key path as a reader writes it: parts.chorus.feel, form.3.feel (list items counted from 1)."""
    return ".".join(str(key + 1) if isinstance(key, int) else key_text(key[:_LONGEST_KEY]) for key in path)


def line_of(text: str, path: Path) -> int | None:
    """The line, from 1, on which a key path or what is nearest above it stands; None where nothing of it does."""
    from grooveforge.formats.toml_scan import scan

    scanned = scan(text)
    spot = scanned.nearest(path)
    return None if spot is None else scanned.line(spot.start)


def place_faults(text: str, faults: Iterable[Fault]) -> list[Fault]:
    """Faults with their key path turned into a place, in the order of the text.

    A fault of another file keeps its place; one that counts lines inside a text of the sheet (a tab) gets
    the line of the file.
    """
    from grooveforge.formats.toml_scan import scan_for

    faults = list(faults)
    scanned = scan_for(text, {fault.path for fault in faults if fault.path})
    spots = [scanned.nearest(fault.path) for fault in faults]
    lines = [0 if spot is None else scanned.line(spot.start) for spot in spots]
    order = sorted(range(len(faults)), key=lambda row: lines[row])
    return [_placed(scanned, faults[row], spots[row]) for row in order]


def _placed(scanned: Scan, fault: Fault, spot: Spot | None) -> Fault:
    if fault.file or not fault.path:
        return fault
    place = path_text(fault.path)
    if spot is not None:
        inside = _INSIDE.fullmatch(fault.place)
        line, rest = scanned.line(spot.start), ""
        if inside is not None:
            line, rest = scanned.text_line(spot) + int(inside[1]) - 1, inside[2]
        place = f"{place}, line {line}{rest}"
    return replace(fault, place=place)


def read_whole(text: str, read: Callable[[Table, FaultList], Value | None]) -> Value:
    """What a TOML text says as a whole.

    Parameters
    ----------
    read : from the text's table to the value, adding what is wrong with it to the list; None when it is of no use.

    Raises
    ------
    FormatError
        With every fault of the text, each with key path and line; a fault of TOML's syntax stands alone.
    """
    table = load_toml(text)
    faults = FaultList()
    found = None
    with suppress(FaultLimitError):
        found = read(table, faults)
    if found is None or faults:
        raise FormatError(faults.placed(partial(place_faults, text)))
    return found
