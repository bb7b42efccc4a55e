"""Reading TOML values: what kind one is in plain words, and a reader for each simple kind.

A reader takes a value and gives it back in our own type; what is wrong raises a FormatError whose path goes on
from the key (an item's number in a list, a key in a table).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction

from grooveforge.errors import FormatError, GrooveForgeError
from grooveforge.formats.toml_text import OddNumber, Path

Reader = Callable[[object], object]

MOST_ITEMS = 10_000
"""Items that a list may have."""


def kind_of(value: object) -> str:
    """What a TOML value is, in plain words."""
    if isinstance(value, bool):
        return "true or false"
    names: tuple[tuple[type | tuple[type, ...], str], ...] = (
        (str, "a text"),
        (int, "a whole number"),
        (Fraction, "a number"),
        (OddNumber, "no finite number"),
        (list, "a list"),
        (dict, "a table"),
    )
    return next((name for kind, name in names if isinstance(value, kind)), "a date or time")


def shown(value: object) -> str:
    """A value as an error shows it: short, and nothing for lists and tables."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int):
        return str(value) if abs(value) < 10**12 else "a very large number"
    if isinstance(value, Fraction):
        return f"{float(value):g}"
    if isinstance(value, OddNumber):
        return value.text[:40]
    if isinstance(value, str):
        return repr(value if len(value) <= 40 else value[:37] + "...")
    return ""


def wrong_kind(value: object, wanted: str, path: Path = ()) -> FormatError:
    return FormatError(f"{kind_of(value)} stands where {wanted} is needed", found=shown(value), path=path)


# -- simple values --------------------------------------------------------------------------------------


def text(value: object) -> str:
    if not isinstance(value, str):
        raise wrong_kind(value, "a text")
    if not value.strip():
        raise FormatError("the text is empty")
    return value


def free_text(value: object) -> str:
    if not isinstance(value, str):
        raise wrong_kind(value, "a text")
    return value


def truth(value: object) -> bool:
    if not isinstance(value, bool):
        raise wrong_kind(value, "true or false")
    return value


def whole(low: int, high: int | None = None) -> Callable[[object], int]:
    def read(value: object) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            raise wrong_kind(value, "a whole number")
        if value < low or (high is not None and value > high):
            allowed = f"{low} to {high:,}" if high is not None else f"{low} and up"
            raise FormatError("the number is out of range", found=shown(value), allowed=allowed)
        return value

    return read


def number(low: int, high: int, unit: str) -> Callable[[object], Fraction]:
    def read(value: object) -> Fraction:
        if isinstance(value, bool) or not isinstance(value, (int, Fraction)):
            raise wrong_kind(value, "a number")
        if not low <= value <= high:
            raise FormatError("the number is out of range", found=shown(value), allowed=f"{low} to {high} {unit}")
        return Fraction(value)

    return read


def choice(*names: str) -> Callable[[object], str]:
    def read(value: object) -> str:
        if free_text(value) not in names:
            raise FormatError("no such value", found=shown(value), allowed=", ".join(names))
        return str(value)

    return read


def either(*readers: tuple[type, Reader], wanted: str) -> Reader:
    """The reader that belongs to the value's type."""

    def read(value: object) -> object:
        for kind, reader in readers:
            if isinstance(value, kind) and not (isinstance(value, bool) and kind is int):
                return reader(value)
        raise wrong_kind(value, wanted)

    return read


def items(value: object, wanted: str) -> list[object]:
    """A list with at least one item."""
    if not isinstance(value, list):
        raise wrong_kind(value, wanted)
    if not value:
        raise FormatError("the list is empty")
    if len(value) > MOST_ITEMS:
        raise FormatError("the list is too long", found=f"{len(value)} items", allowed=f"at most {MOST_ITEMS:,}")
    return value


def each(values: Iterable[object], reader: Callable[[object], object]) -> tuple[object, ...]:
    """Every item read; a fault gets the item's number."""
    found = []
    for index, value in enumerate(values):
        try:
            found.append(reader(value))
        except GrooveForgeError as error:
            raise deeper(error, index) from error
    return tuple(found)


def deeper(error: GrooveForgeError, key: str | int) -> FormatError:
    """The same faults one step further down the key path."""
    return FormatError(
        type(fault)(fault.message, fault.file, fault.place, fault.found, fault.allowed, fault.hint, (key, *fault.path))
        for fault in error.faults
    )


def table(value: object, needed: dict[str, Reader]) -> dict[str, object]:
    """An inline table that has exactly the needed keys."""
    if not isinstance(value, dict):
        raise wrong_kind(value, "a table")
    keys = ", ".join(needed)
    stray = next((key for key in value if key not in needed), None)
    if stray is not None:
        raise FormatError("no such key here", found=shown(stray), allowed=keys, path=(stray,))
    missing = next((key for key in needed if key not in value), None)
    if missing is not None:
        raise FormatError(f"the table needs a key {missing}", allowed=keys)
    read = {}
    for key, reader in needed.items():
        try:
            read[key] = reader(value[key])
        except GrooveForgeError as error:
            raise deeper(error, key) from error
    return read
