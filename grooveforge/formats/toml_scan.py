"""Where things stand in a TOML text: a small scanner that gives every key path its place.

The standard library reads TOML but keeps no places. This scanner runs only when an error must name a line or
when a sheet is written back; the text has then been read by the standard library, or is scanned up to its fault.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from grooveforge.formats.toml_text import Path

PAIR, ITEM, HEADER, DOTTED = "pair", "item", "header", "dotted"
"""What a path is in the text: key = value; an item of a list; a [table]; a table that dotted keys make."""

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^,\]}\n\r#]*")
_STRING = re.compile(
    r"'''.*?'''(?!')" r'|"""(?:\\.|[^\\])*?"""(?!")' r"|'[^'\n]*'" r'|"(?:\\.|[^"\\\n])*"', re.DOTALL
)
_PLAIN = re.compile(r"""(?:"[^"\\\n]*"(?!")|'[^'\n]*'(?!')|[A-Za-z0-9+.:-]+)""")
"""A value that is one word: most are, and this is the quick way over them."""

_NEXT = re.compile(r"[ \t\r\n]*+(?:,[ \t\r\n]*+)?+(?!#)")
"""What stands between two items of a list where no comment does."""

_ENDS = frozenset(("", ",", "]", "}", "\n"))
_SIMPLE_KEY = re.compile(r"([A-Za-z0-9_-]+)[ \t]*=[ \t]*")
_FIRST_LINE = re.compile(r"(?:'''|\"\"\")\r?\n")


class Spot(NamedTuple):
    """Where one key path stands, in offsets into the text.

    Parameters
    ----------
    kind : PAIR, ITEM, HEADER or DOTTED. start : of the key, item or header.
    value, end : of the value; of a header its end, twice. table : path of the table or list it is written in.
    """

    kind: str
    start: int
    value: int
    end: int
    table: Path


@dataclass(frozen=True)
class Scan:
    """A scanned text: every key path, and the ends of the lines."""

    text: str
    spots: Mapping[Path, Spot]
    line_ends: tuple[int, ...]

    def line(self, offset: int) -> int:
        """The line, from 1, of an offset."""
        return bisect_right(self.line_ends, offset - 1) + 1

    def nearest(self, path: Path) -> Spot | None:
        """The spot of a path, or of what is nearest above it."""
        sizes = range(len(path), 0, -1)
        return next((self.spots[path[:size]] for size in sizes if path[:size] in self.spots), None)

    def text_line(self, spot: Spot) -> int:
        """The line on which the text of a string begins: behind ''' it is the next one."""
        opening = _FIRST_LINE.match(self.text, spot.value)
        return self.line(opening.end() if opening else spot.value)


@lru_cache(maxsize=2)
def scan(text: str) -> Scan:
    """Every key path of a TOML text; of a text that is no TOML, those before the fault."""
    scanner = _Scanner(text)
    with suppress(ValueError, IndexError, RecursionError):
        scanner.document()
    return Scan(text, scanner.spots, tuple(match.start() for match in re.finditer("\n", text)))


def scan_for(text: str, paths: Iterable[Path]) -> Scan:
    """As `scan`, but no further than to the last of some paths: most faults stand near the beginning."""
    scanner = _Scanner(text, set(paths))
    with suppress(ValueError, IndexError, RecursionError, _AllFoundError):
        scanner.document()
    return Scan(text, scanner.spots, tuple(match.start() for match in re.finditer("\n", text)))


class _AllFoundError(Exception):
    """Every wanted path has its place."""


class _Scanner:
    def __init__(self, text: str, wanted: set[Path] | None = None) -> None:
        self.text = text
        self.wanted = wanted
        self.at = 0
        self.spots: dict[Path, Spot] = {}
        self.arrays: dict[Path, int] = {}

    def skip(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        if match is None:
            raise ValueError
        self.at = match.end()
        return match[0]

    def peek(self, word: str) -> bool:
        return self.text.startswith(word, self.at)

    def note(self, path: Path, spot: Spot) -> None:
        self.spots.setdefault(path, spot)
        if self.wanted is not None:
            self.wanted.discard(path)
            if not self.wanted:
                raise _AllFoundError

    def document(self) -> None:
        table: Path = ()
        self.skip(_BLANK)
        while self.at < len(self.text):
            if self.peek("["):
                table = self.header()
            else:
                self.pair(table)
            self.skip(_BLANK)

    def header(self) -> Path:
        start, size = self.at, 2 if self.peek("[[") else 1
        self.at += size
        *outer, last = self.key()
        self.at += size
        path = (*self.resolved(tuple(outer)), last)
        spot = Spot(HEADER, start, self.at, self.at, ())
        if size == 2:
            self.note(path, spot)
            self.arrays[path] = self.arrays.get(path, -1) + 1
        path = self.resolved((last,), path[:-1])
        self.note(path, spot)
        return path

    def resolved(self, keys: Path, path: Path = ()) -> Path:
        """A header's path with the number of the last table of each list of tables on the way."""
        for key in keys:
            path = (*path, key)
            if path in self.arrays:
                path = (*path, self.arrays[path])
        return path

    def key(self) -> list[str]:
        parts = []
        while True:
            self.skip(_SPACE)
            if self.text[self.at] in "\"'":
                parts.append(str(tomllib.loads(f"key = {self.skip(_STRING)}")["key"]))
            else:
                parts.append(self.skip(_BARE))
            self.skip(_SPACE)
            if not self.peek("."):
                return parts
            self.at += 1

    def pair(self, table: Path) -> None:
        start = self.at
        simple = _SIMPLE_KEY.match(self.text, start)
        if simple is not None:
            keys, self.at = [simple[1]], simple.end()
        else:
            keys = self.key()
            self.at += 1  # the sign =
            self.skip(_SPACE)
        value = self.at
        path = (*table, *keys)
        self.value(path)
        for count in range(1, len(keys)):
            self.note((*table, *keys[:count]), Spot(DOTTED, start, value, self.at, table))
        self.note(path, Spot(PAIR, start, value, self.at, table))

    def value(self, path: Path) -> None:
        plain = _PLAIN.match(self.text, self.at)
        if plain is not None and self.text[plain.end() : plain.end() + 1] in _ENDS:
            self.at = plain.end()
        elif self.peek("["):
            self.array(path)
        elif self.peek("{"):
            self.inline_table(path)
        elif self.text[self.at] in "\"'":
            self.skip(_STRING)
        else:
            scalar = self.skip(_SCALAR)
            if not scalar:
                raise ValueError  # no value where one must stand: the text has a fault here
            self.at -= len(scalar) - len(scalar.rstrip())

    def array(self, path: Path) -> None:
        self.at += 1
        index = 0
        self.skip(_BLANK)
        while not self.peek("]"):
            start = self.at
            self.value((*path, index))
            self.note((*path, index), Spot(ITEM, start, start, self.at, path))
            index += 1
            self.next_item()
        self.at += 1

    def inline_table(self, path: Path) -> None:
        self.at += 1
        self.skip(_BLANK)
        while not self.peek("}"):
            self.pair(path)
            self.next_item()
        self.at += 1

    def next_item(self) -> None:
        quick = _NEXT.match(self.text, self.at)
        if quick is not None:
            self.at = quick.end()
            return
        self.skip(_BLANK)
        if self.peek(","):
            self.at += 1
            self.skip(_BLANK)
