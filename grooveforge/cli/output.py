"""How the commands speak: data on stdout, warnings on stderr, JSON as one object."""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Iterable
from types import TracebackType
from typing import Self


def say(text: str) -> None:
    """A line of data on stdout."""
    print(text)


def warn(messages: Iterable[object]) -> None:
    """Warnings on stderr, one a line."""
    for message in messages:
        print(f"warning: {message}", file=sys.stderr)


def say_json(value: dict[str, object]) -> None:
    """One JSON object on stdout."""
    print(json.dumps(value, ensure_ascii=False, indent=2))


def one_stream(out: object, *others: tuple[str, bool]) -> bool:
    """Whether `out` is "-", standard output; a UsageError when an option needs it as well, or needs a folder.

    Parameters
    ----------
    others : options with whether they are given.
    """
    from grooveforge.errors import UsageError
    from grooveforge.files import STANDARD_STREAM

    if str(out) != STANDARD_STREAM:
        return False
    for name, given in others:
        if given:
            raise UsageError(f"{name} cannot stand beside -o -", hint="a file or folder behind -o")
    return True


class Progress:
    """How far a long work is, on stderr, from a second on; where that is no terminal, its steps alone, a line each."""

    def __init__(self, what: str) -> None:
        self._step = ""
        self._what = what
        self._start = self._said = time.monotonic()
        self._shown = False

    def __enter__(self) -> Self:
        return self

    def __call__(self, share: float, step: str = "") -> None:
        """Say the share that is done, 0 to 1, and which step of the work it is."""
        now = time.monotonic()
        if step and step != self._step and now - self._start > 1 and not sys.stderr.isatty():
            print(f"{self._what} {share:4.0%}: {step}", file=sys.stderr, flush=True)
            self._step = step
        if now - self._start > 1 and now - self._said > 0.1 and sys.stderr.isatty():
            print(f"\r{self._what} {share:4.0%}", end="", file=sys.stderr, flush=True)
            self._said, self._shown = now, True

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, where: TracebackType | None
    ) -> None:
        if self._shown:
            print("\r" + " " * (len(self._what) + 6) + "\r", end="", file=sys.stderr, flush=True)
