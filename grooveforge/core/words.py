"""Counts, lists and runs of numbers as English writes them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence


def many(count: int, what: str) -> str:
    """A number of things: "1 bar", "2 bars"."""
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def listed(words: Sequence[str]) -> str:
    """Words in a row: "a", "a and b", "a, b and c"."""
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)


def from_to(first: int, last: int) -> str:
    """From one number to another: "3-5", or "3" where they are the same."""
    return f"{first}-{last}" if last > first else f"{first}"


def bars_from_to(first: int, last: int) -> str:
    """Bars by their numbers: "bars 3-5", or "bar 3" where they are the same."""
    return f"bar{'s' if last > first else ''} {from_to(first, last)}"


def runs(numbers: Iterable[int]) -> list[str]:
    """Rising numbers, runs drawn together: ["1", "3-5"]."""
    found: list[tuple[int, int]] = []
    for number in numbers:
        if found and number in (found[-1][1], found[-1][1] + 1):
            found[-1] = found[-1][0], number
        else:
            found.append((number, number))
    return [from_to(*run) for run in found]
