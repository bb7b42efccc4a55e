"""Which line of a TOML text a key stands on: a small scanner, run only when there is an error to place."""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import lru_cache

from grooveforge.errors import Fault
from grooveforge.formats.toml_text import Path

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^,\]}\n#]*")
_STRING = re.compile(
    r"'''.*?'''(?!')" r'|"""(?:\\.|[^\\])*?"""(?!")' r"|'[^'\n]*'" r'|"(?:\\.|[^"\\\n])*"', re.DOTALL
)
_RELATIVE = re.compile(r"line (\d+)(.*)", re.DOTALL)


@dataclass(frozen=True)
class Spot:
    """Where a value stands: the line of its key, and the line on which its text begins, from 1."""

    line: int
    text_line: int


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.found: dict[Path, Spot] = {}
        self.arrays: dict[Path, int] = {}
        self.ends = [match.start() for match in re.finditer("\n", text)]

    def line(self, at: int | None = None) -> int:
        return bisect_right(self.ends, (self.at if at is None else at) - 1) + 1

    def skip(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        if match is None:
            raise ValueError
        self.at = match.end()
        return match[0]

    def peek(self, word: str) -> bool:
        return self.text.startswith(word, self.at)

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
        start, is_array = self.at, self.peek("[[")
        self.at += 2 if is_array else 1
        *outer, last = self.key()
        self.at += 2 if is_array else 1
        path = (*self.resolved(tuple(outer)), last)
        if is_array:
            self.note(path, start)
            self.arrays[path] = self.arrays.get(path, -1) + 1
        path = self.resolved((last,), path[:-1])
        self.note(path, start)
        return path

    def resolved(self, keys: Path, path: Path = ()) -> Path:
        """A header's path with the number of the last table of each list of tables on the way."""
        for key in keys:
            path = (*path, key)
            if path in self.arrays:
                path = (*path, self.arrays[path])
        return path

    def note(self, path: Path, at: int, text_at: int | None = None) -> None:
        self.found.setdefault(path, Spot(self.line(at), self.line(at if text_at is None else text_at)))

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
        keys = self.key()
        self.at += 1  # the sign =
        self.skip(_SPACE)
        for count in range(1, len(keys)):
            self.note((*table, *keys[:count]), start)
        path = (*table, *keys)
        first_line = re.compile(r"(?:'''|\"\"\")\r?\n").match(self.text, self.at)
        self.note(path, start, first_line.end() if first_line else self.at)
        self.value(path)

    def value(self, path: Path) -> None:
        if self.peek("["):
            self.array(path)
        elif self.peek("{"):
            self.inline_table(path)
        elif self.text[self.at] in "\"'":
            self.skip(_STRING)
        else:
            self.skip(_SCALAR)

    def array(self, path: Path) -> None:
        self.at += 1
        index = 0
        self.skip(_BLANK)
        while not self.peek("]"):
            self.note((*path, index), self.at)
            self.value((*path, index))
            index += 1
            self.skip(_BLANK)
            if self.peek(","):
                self.at += 1
                self.skip(_BLANK)
        self.at += 1

    def inline_table(self, path: Path) -> None:
        self.at += 1
        self.skip(_BLANK)
        while not self.peek("}"):
            self.pair(path)
            self.skip(_BLANK)
            if self.peek(","):
                self.at += 1
                self.skip(_BLANK)
        self.at += 1


@lru_cache(maxsize=2)
def find_lines(text: str) -> Mapping[Path, Spot]:
    """Every key path of a TOML text and where it stands; of a text that is no TOML, those before the fault."""
    scanner = _Scanner(text)
    with suppress(ValueError, IndexError, RecursionError):
        scanner.document()
    return scanner.found


def line_of(text: str, path: Path) -> int | None:
    """The line, from 1, on which a key path stands, or what is nearest above it; None where nothing is.

    Parameters
    ----------
    path : keys, and numbers (from 0) inside lists: ("form", 2, "feel").
    """
    spot = _spot(text, path)
    return None if spot is None else spot.line


def _spot(text: str, path: Path) -> Spot | None:
    spots = find_lines(text)
    return next((spots[path[:size]] for size in range(len(path), 0, -1) if path[:size] in spots), None)


def path_text(path: Path) -> str:
    """A key path as a reader writes it: parts.chorus.feel, form.3.feel (list items counted from 1)."""
    words = [str(key + 1) if isinstance(key, int) else key for key in path]
    return ".".join(word if _BARE.fullmatch(word) else f'"{word[:40]}"' for word in words)


def place_text(text: str, path: Path) -> str:
    """Where a key path stands: "parts.chorus.feel, line 14"; without a line where nothing of it is there."""
    line = line_of(text, path)
    return path_text(path) if line is None else f"{path_text(path)}, line {line}"


def place_faults(text: str, faults: Iterable[Fault]) -> list[Fault]:
    """Faults with their key path turned into a place such as "parts.chorus.feel, line 14".

    A fault of another file keeps its place; one that counts lines inside a text of the sheet (a tab) gets
    the line of the file.
    """
    return [_placed(text, fault) for fault in faults]


def _placed(text: str, fault: Fault) -> Fault:
    if fault.file or not fault.path:
        return fault
    spot = _spot(text, fault.path)
    inside = _RELATIVE.fullmatch(fault.place)
    place = place_text(text, fault.path)
    if spot is not None and inside is not None:
        place = f"{path_text(fault.path)}, line {spot.text_line + int(inside[1]) - 1}{inside[2]}"
    return replace(fault, place=place)
