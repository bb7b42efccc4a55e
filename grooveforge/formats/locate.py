"""Naming the place of a fault in a TOML text: key path and line."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace

from grooveforge.errors import Fault
from grooveforge.formats.toml_scan import scan
from grooveforge.formats.toml_text import Path, key_text

_INSIDE = re.compile(r"line (\d+)(.*)", re.DOTALL)
_LONGEST_KEY = 40


def line_of(text: str, path: Path) -> int | None:
    """The line, from 1, on which a key path stands, or what is nearest above it; None where nothing is.

    Parameters
    ----------
    path : keys, and numbers (from 0) inside lists: ("form", 2, "feel").
    """
    scanned = scan(text)
    spot = scanned.nearest(path)
    return None if spot is None else scanned.line(spot.start)


def path_text(path: Path) -> str:
    """A key path as a reader writes it: parts.chorus.feel, form.3.feel (list items counted from 1)."""
    return ".".join(str(key + 1) if isinstance(key, int) else key_text(key[:_LONGEST_KEY]) for key in path)


def place_text(text: str, path: Path) -> str:
    """Where a key path stands: "parts.chorus.feel, line 14"; without a line where nothing of it is there."""
    line = line_of(text, path)
    return path_text(path) if line is None else f"{path_text(path)}, line {line}"


def place_faults(text: str, faults: Iterable[Fault]) -> list[Fault]:
    """Faults with their key path turned into a place, in the order of the text.

    A fault of another file keeps its place; one that counts lines inside a text of the sheet (a tab) gets
    the line of the file.
    """
    faults = list(faults)
    faults.sort(key=lambda fault: line_of(text, fault.path) or 0 if fault.path else 0)
    return [_placed(text, fault) for fault in faults]


def _placed(text: str, fault: Fault) -> Fault:
    if fault.file or not fault.path:
        return fault
    scanned = scan(text)
    spot = scanned.nearest(fault.path)
    inside = _INSIDE.fullmatch(fault.place)
    place = place_text(text, fault.path)
    if spot is not None and inside is not None:
        place = f"{path_text(fault.path)}, line {scanned.text_line(spot) + int(inside[1]) - 1}{inside[2]}"
    return replace(fault, place=place)
