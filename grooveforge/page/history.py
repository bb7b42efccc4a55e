"""The page's own undo and redo: whole texts of the sheet, bounded in number and size."""

from __future__ import annotations

from collections import deque
from collections.abc import MutableSequence

MOST_STEPS = 1000
MOST_CHARACTERS = 8_000_000
"""House rule: a day's work on a sheet of usual length, and no more memory than a few songs."""


class History:
    """Texts behind and ahead of the one in force."""

    def __init__(self, most: int = MOST_STEPS, characters: int = MOST_CHARACTERS) -> None:
        self.most, self.characters = most, characters
        self.behind: deque[str] = deque()
        self.ahead: list[str] = []
        self.size = 0

    def edited(self, before: str) -> None:
        """An edit was made from `before`; what was undone can no longer be done again."""
        self.size -= sum(map(len, self.ahead))
        self.ahead.clear()
        self.behind.append(before)
        self.size += len(before)
        while len(self.behind) > self.most or (self.size > self.characters and len(self.behind) > 1):
            self.size -= len(self.behind.popleft())

    def undone(self, now: str) -> str | None:
        """The text before the last edit, or None; `now` can be done again."""
        return self._turned(self.behind, self.ahead, now)

    def redone(self, now: str) -> str | None:
        """The text that was last undone, or None."""
        return self._turned(self.ahead, self.behind, now)

    def _turned(self, taken: MutableSequence[str], left: MutableSequence[str], now: str) -> str | None:
        if not taken:
            return None
        other = taken.pop()
        left.append(now)
        self.size += len(now) - len(other)
        return other
