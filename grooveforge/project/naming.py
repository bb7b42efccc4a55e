"""Sections by the names that a user gives them: "chorus" is the last of several, "chorus 2" the second."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeVar

from grooveforge.core.arrange import statements
from grooveforge.errors import UsageError
from grooveforge.project.sheets import Sheet

T = TypeVar("T")


def named(listed: Mapping[str, Sequence[T]], name: str) -> T | None:
    """What a name means among sections that are listed by theirs, in order; None where there is no such section."""
    if name in listed:
        return listed[name][-1]
    bare, _, number = name.rpartition(" ")
    if bare in listed and number.isdecimal() and 1 <= int(number) <= len(listed[bare]):
        return listed[bare][int(number) - 1]
    return None


def entry_of(sheet: Sheet, name: str) -> int:
    """The form entry of a section.

    Raises
    ------
    UsageError
        When the song has no such section; the error lists them.
    """
    listed: dict[str, list[int]] = {}
    for index, entry, _ in statements(sheet.song):
        listed.setdefault(entry.name or entry.part, []).append(index)
    found = named(listed, name)
    if found is None:
        raise UsageError(f"the song has no section {name!r}", file=sheet.path, allowed=", ".join(listed))
    return found
