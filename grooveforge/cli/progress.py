"""How far a long command is, on stderr: a line that is rewritten on a terminal, a line a step elsewhere."""

from __future__ import annotations

import sys
from time import monotonic
from types import TracebackType

PATIENCE = 1.0
"""Seconds for which nothing is shown."""

WIDTH = 24


class Progress:
    """Called with the share that is done, 0 to 1, and what is being made; use it as a context."""

    def __init__(self) -> None:
        self.begun = monotonic()
        self.shown = ""
        self.terminal = sys.stderr.isatty()

    def __enter__(self) -> Progress:
        return self

    def __call__(self, share: float, what: str) -> None:
        if monotonic() - self.begun < PATIENCE:
            return
        if self.terminal:
            done = round(WIDTH * share)
            self._write(f"\r[{'=' * done}{' ' * (WIDTH - done)}] {100 * share:3.0f} % {what}", "\x1b[K")
        elif what != self.shown:
            self._write(f"{100 * share:3.0f} % {what}", "\n")
        self.shown = what

    def _write(self, line: str, end: str) -> None:
        sys.stderr.write(line + end)
        sys.stderr.flush()

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        if self.terminal and self.shown:
            self._write("\r", "\x1b[K")
