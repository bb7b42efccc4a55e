"""Changing keys of a song sheet's text: every other line stays as the writer left it, comments too.

New text is put in at the places that `toml_scan` finds: a key behind the last one of its table, a table behind
the last one of its kind. (A document model was tried and put aside: it writes a new key below the comment that
belongs to the next table.)
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from grooveforge.errors import UsageError
from grooveforge.formats.locate import path_text
from grooveforge.formats.toml_scan import DOTTED, HEADER, ITEM, PAIR, Spot, scan
from grooveforge.formats.toml_text import Path, key_text, load_toml, value_text


class _Delete:
    """The type of `DELETE`."""

    def __repr__(self) -> str:
        return "DELETE"


DELETE: Final = _Delete()
"""As a value: the key goes."""

Changes = dict[Path, object]
"""Plain values (or DELETE) by key path: ("parts", "verse", "bars"), ("form", 2, "feel"), ("form", 2)."""

TABLES_OF_TABLES = ("parts", "grooves")
"""A table set as a whole below these gets a header of its own; elsewhere it is written in one line."""


def set_keys(text: str, changes: Mapping[Path, object]) -> str:
    """A sheet's text with some keys set or deleted; tables that are missing are added.

    A form entry that is a part's bare name becomes an inline table when a key of it is set. A text with line
    breaks is written as a literal of several lines.

    Parameters
    ----------
    text : a sheet that parses. changes : values by key path; deleting what is not there changes nothing.

    Raises
    ------
    UsageError
        When a path leads through something that is no table.
    FormatError
        When the text is no TOML, or a value none that TOML can hold.
    """
    load_toml(text)
    for path, value in changes.items():
        text = _Editor(text).changed(path, value)
    load_toml(text)
    return text


class _Editor:
    """One change to one text."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.spots = scan(text).spots
        self.newline = "\r\n" if "\r\n" in text else "\n"

    def changed(self, path: Path, value: object) -> str:
        spot = self.spots.get(path)
        if value is DELETE:
            return self.text if spot is None else self.without(path, spot)
        if isinstance(value, Mapping) and _has_header(path, spot):
            text = self.text
            for key, item in value.items():
                text = _Editor(text).changed((*path, key), item)
            return text
        if spot is None:
            return self.added(path, value)
        if spot.kind in (HEADER, DOTTED):
            raise UsageError(f"{path_text(path)} is a table", hint="its keys one by one")
        return self.spliced(spot.value, spot.end, self.value(value))

    def value(self, value: object) -> str:
        return value_text(value).replace("\n", self.newline)

    def spliced(self, start: int, end: int, new: str) -> str:
        return self.text[:start] + new + self.text[end:]

    def line_start(self, offset: int) -> int:
        return self.text.rfind("\n", 0, offset) + 1

    def line_end(self, offset: int) -> int:
        """The offset behind the line break that ends the line, or the text's end."""
        found = self.text.find("\n", offset)
        return len(self.text) if found < 0 else found + 1

    def after_line(self, offset: int, lines: str) -> str:
        """The text with whole lines put in below the one that holds an offset."""
        at = self.line_end(offset)
        unended = self.text[:at] and not self.text[:at].endswith("\n")
        return self.spliced(at, at, (self.newline if unended else "") + lines)

    def pairs(self, start: int, end: int) -> list[Spot]:
        """Keys that stand on lines of their own between two offsets."""
        found = (spot for spot in self.spots.values() if spot.kind == PAIR and start <= spot.start < end)
        return sorted((spot for spot in found if not self.is_inline(spot.table)), key=lambda spot: spot.start)

    def is_inline(self, table: Path) -> bool:
        """Whether a table or list is written as a value."""
        spot = self.spots.get(table)
        return spot is not None and spot.kind in (PAIR, ITEM)

    def children(self, table: Path, kind: str = PAIR) -> list[Spot]:
        found = [spot for spot in self.spots.values() if spot.kind == kind and spot.table == table]
        return sorted(found, key=lambda spot: spot.start)

    # -- adding -----------------------------------------------------------------------------------------

    def added(self, path: Path, value: object) -> str:
        """The text with a key that is not there yet."""
        key = path[-1]
        parent = path[:-1]
        if isinstance(key, int):
            raise UsageError(f"the list {path_text(parent)} has no item {key + 1}")
        if not parent:
            return self.in_root(f"{key_text(key)} = {self.value(value)}{self.newline}")
        spot = self.spots.get(parent)
        if spot is None:
            return self.in_new_table(parent, key, value)
        if spot.kind == HEADER:
            return self.in_table(spot, f"{key_text(key)} = {self.value(value)}")
        if spot.kind == DOTTED:
            return self.dotted(spot, parent, key, value)
        return self.in_inline(parent, spot, key, value)

    def in_root(self, line: str) -> str:
        """A key of the song goes above the form, behind the keys that stand there."""
        form = self.spots.get(("form",))
        end = form.start if form is not None and form.kind == PAIR else self.first_header()
        above = self.pairs(0, min(end, self.first_header()))
        if above:
            return self.after_line(above[-1].end, line)
        at = self.line_start(form.start) if form is not None else 0
        return self.spliced(at, at, line)

    def headers(self) -> list[int]:
        return sorted({spot.start for spot in self.spots.values() if spot.kind == HEADER})

    def first_header(self) -> int:
        return next(iter(self.headers()), len(self.text))

    def body_end(self, header: Spot) -> int:
        """The end of the last key below a header, or of the header."""
        after = next((start for start in self.headers() if start > header.start), len(self.text))
        inside = self.pairs(header.start, after)
        return inside[-1].end if inside else header.end

    def in_table(self, header: Spot, line: str) -> str:
        end = self.body_end(header)
        start = self.line_start(max((spot.start for spot in self.pairs(header.start, end)), default=header.start))
        indent = self.text[start:][: len(self.text[start:]) - len(self.text[start:].lstrip(" \t"))]
        return self.after_line(end, f"{indent}{line}{self.newline}")

    def dotted(self, spot: Spot, parent: Path, key: str, value: object) -> str:
        """A table of dotted keys, as in verse.bars = 8, gets one more of them behind its last."""
        owned = [found for path, found in self.spots.items() if path[: len(parent)] == parent and found.kind == PAIR]
        last = max((found for found in owned if found.table == spot.table), key=lambda found: found.start)
        words = ".".join(key_text(str(word)) for word in (*parent[len(spot.table) :], key))
        if self.is_inline(spot.table):
            return self.spliced(last.end, last.end, f", {words} = {self.value(value)}")
        return self.after_line(last.end, f"{words} = {self.value(value)}{self.newline}")

    def in_inline(self, parent: Path, spot: Spot, key: str, value: object) -> str:
        written = self.text[spot.value : spot.end]
        pair = f"{key_text(key)} = {self.value(value)}"
        if written.startswith("{"):
            inside = self.children(parent)
            if inside:
                return self.spliced(inside[-1].end, inside[-1].end, f", {pair}")
            return self.spliced(spot.value, spot.end, f"{{ {pair} }}")
        if parent[0] == "form" and len(parent) == 2 and written[0] in "\"'":
            return self.spliced(spot.value, spot.end, f"{{ part = {written}, {pair} }}")
        raise UsageError(f"{path_text(parent)} is no table")

    def in_new_table(self, table: Path, key: str, value: object) -> str:
        """A key of a table that is not there: a header behind the last one of its kind, else at the end."""
        for size in range(len(table) - 1, 0, -1):
            above = self.spots.get(table[:size])
            if above is not None and above.kind != HEADER:
                return self.added(table, {key: value})  # its parent is a value or made by dotted keys
        if any(isinstance(word, int) for word in table):
            raise UsageError(f"{path_text(table)} is not there")
        family = [spot for path, spot in self.spots.items() if path[0] == table[0] and spot.kind == HEADER]
        header = ".".join(key_text(str(word)) for word in table)
        lines = f"[{header}]{self.newline}{key_text(key)} = {self.value(value)}{self.newline}"
        if family:
            return self.after_line(self.body_end(max(family, key=lambda spot: spot.start)), self.newline + lines)
        return self.after_line(len(self.text), (self.newline if self.text.strip() else "") + lines)

    # -- deleting ---------------------------------------------------------------------------------------

    def without(self, path: Path, spot: Spot) -> str:
        if spot.kind == HEADER:
            return self.without_table(path, spot)
        if spot.kind == DOTTED:
            raise UsageError(f"{path_text(path)} is a table of dotted keys", hint="its keys one by one")
        if spot.kind == ITEM or self.is_inline(spot.table):
            return self.without_item(spot, self.children(spot.table, spot.kind))
        return self.without_line(spot)

    def without_line(self, spot: Spot) -> str:
        """A key or item goes with its line; a comment behind it stays, on a line of its own."""
        start, end = self.line_start(spot.start), self.line_end(spot.end)
        _, sign, comment = self.text[spot.end : end].partition("#")
        return self.spliced(start, end, self.text[start : spot.start] + sign + comment if sign else "")

    def without_table(self, path: Path, spot: Spot) -> str:
        deeper = any(other[: len(path)] == path and found.start > spot.start and found.kind == HEADER
                     for other, found in self.spots.items())  # fmt: skip
        if deeper or any(isinstance(word, int) for word in path):
            raise UsageError(f"{path_text(path)} has tables of its own or is one of a list", hint="a text editor")
        end = self.line_end(self.body_end(spot))
        while self.text[end : self.line_end(end)] in ("\n", "\r\n"):
            end = self.line_end(end)
        return self.spliced(self.line_start(spot.start), end, "")

    def without_item(self, spot: Spot, siblings: list[Spot]) -> str:
        """An item of a list or a key of an inline table goes, with its comma."""
        at = siblings.index(spot)
        start, end = self.line_start(spot.start), self.line_end(spot.end)
        rest = self.text[spot.end : end].lstrip(" \t")
        alone = not self.text[start : spot.start].strip() and (rest[:1] in ("\n", "\r", "") or _only_comma(rest))
        if spot.kind == ITEM and alone:
            return self.without_line(spot)
        if at + 1 < len(siblings):
            return self.spliced(spot.start, siblings[at + 1].start, "")
        return self.spliced(siblings[at - 1].end if at else spot.start, spot.end, "")


def _only_comma(rest: str) -> bool:
    """Whether a comma and at most a comment end the line."""
    behind = rest[1:].strip()
    return rest[0] == "," and (not behind or behind.startswith("#"))


def _has_header(path: Path, spot: Spot | None) -> bool:
    """Whether a table at this path is written below a header and not in one line."""
    if spot is not None:
        return spot.kind in (HEADER, DOTTED)
    return path == ("defaults",) or (len(path) == 2 and path[0] in TABLES_OF_TABLES)
