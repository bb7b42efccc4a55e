"""Reading TOML with exact numbers, and collecting every fault of a file that parses."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from fractions import Fraction
from math import isfinite

from grooveforge.errors import Fault, FormatError, GrooveForgeError

Table = dict[str, object]
Path = tuple[str | int, ...]

_AT = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+", re.ASCII)
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")
_KEY_PART = r"""(?:[A-Za-z0-9_-]++|"(?:[^"\\\n]|\\.)*+"|'[^'\n]*+')[ \t]*+"""
_DEEP_KEY = re.compile(rf"(?:^|[\[{{,])[ \t]*+{_KEY_PART}(?:\.[ \t]*+{_KEY_PART}){{64}}", re.MULTILINE)
"""A key of more parts than any file has; the standard library takes the square of their number in time."""

_LONGEST_NUMBER = 60
_LARGEST_POWER = 30

SHOWN_FAULTS = 100
"""Faults listed of one text; a file of another kind could have one in every line."""

MOST_FAULTS = 1000
"""With so many faults the reading ends: a text is read no slower for being wrong everywhere."""


@dataclass(frozen=True)
class OddNumber:
    """A number that is none to reckon with: inf, nan, or one with an exponent out of all range."""

    text: str


def _exact(text: str) -> Fraction | OddNumber:
    """A TOML float exactly as it is written."""
    digits = text.replace("_", "")
    _, _, power = digits.lower().partition("e")
    tame = len(digits) <= _LONGEST_NUMBER and (not power or (len(power) < 5 and abs(int(power)) <= _LARGEST_POWER))
    return Fraction(digits) if tame and digits.lstrip("+-")[0].isdecimal() else OddNumber(text[:_LONGEST_NUMBER])


def load_toml(text: str) -> Table:
    """The table that a TOML text holds; floats become exact fractions.

    Raises
    ------
    FormatError
        On a fault of syntax, with line and column; it stands alone, as nothing behind it can be trusted.
    """
    if (deep := _DEEP_KEY.search(text)) is not None:
        line = text.count("\n", 0, deep.end()) + 1
        raise FormatError("a key has too many parts", place=f"line {line}", allowed="64")
    try:
        return tomllib.loads(text, parse_float=_exact)
    except tomllib.TOMLDecodeError as error:
        message = str(error)
        at = _AT.search(message)
        place = f"line {at[1]}, column {at[2]}" if at and at[1] else f"line {text.count(chr(10)) + 1}, the end"
        message = _AT.sub("", message)
        raise FormatError(f"this is no TOML: {message[:1].lower()}{message[1:]}", place=place) from None
    except RecursionError:
        raise FormatError("lists or tables stand too deep inside one another") from None
    except (ValueError, OverflowError):
        raise FormatError("a number has too many digits") from None


class FaultLimitError(Exception):
    """Ends the reading of a text that has so many faults that it is no text of its kind."""


class FaultList:
    """Every fault found so far, each once; with the thousandth the reading ends.

    The reader that makes the list lets `FaultLimitError` come up to itself.
    """

    def __init__(self) -> None:
        self._faults: dict[Fault, None] = {}

    def __bool__(self) -> bool:
        return bool(self._faults)

    def __len__(self) -> int:
        return len(self._faults)

    def __iter__(self) -> Iterator[Fault]:
        return iter(self._faults)

    def add(self, message: str, path: Path, *, found: str = "", allowed: str = "", hint: str = "") -> None:
        """One more fault, at a key path."""
        self._put(Fault(message, found=found, allowed=allowed, hint=hint, path=path))

    def placed(self, place: Callable[[Iterable[Fault]], list[Fault]]) -> list[Fault]:
        """The first hundred faults in the order of the text, and how many more there are.

        Parameters
        ----------
        place : gives the faults their places and their order.
        """
        placed = place(self)
        more = len(placed) - SHOWN_FAULTS
        if more <= 0:
            return placed
        count = f"{more:,}" if len(placed) < MOST_FAULTS else f"at least {more:,}"
        return [*placed[:SHOWN_FAULTS], Fault(f"and {count} more faults")]

    def _put(self, fault: Fault) -> None:
        self._faults[fault] = None
        if len(self._faults) >= MOST_FAULTS:
            raise FaultLimitError

    @contextmanager
    def at(self, *path: str | int, blame: str | None = None) -> Iterator[None]:
        """Collect what goes wrong inside as faults of a key path.

        A fault's own path is taken as going on from there; `blame` is the key for those that have none.
        """
        try:
            yield
        except GrooveForgeError as error:
            for fault in error.faults:
                rest = fault.path or (() if blame is None else (blame,))
                self._put(replace(fault, path=(*path, *rest)))


def blamed(error: GrooveForgeError, key: str) -> GrooveForgeError:
    """The error with a key path where a fault has none."""
    return type(error)(fault if fault.path else replace(fault, path=(key,)) for fault in error.faults)


def nearest(word: str, known: Iterable[str]) -> list[str]:
    """The known words, the most similar first."""
    from difflib import SequenceMatcher  # a key that is known needs none of it

    short = word[:80]
    likeness = {name: SequenceMatcher(None, short.lower(), name[:80].lower()).ratio() for name in known}
    return sorted(likeness, key=lambda name: -likeness[name])


# -- writing --------------------------------------------------------------------------------------------


def in_comment(text: str) -> str:
    """A text such as a file's name in a comment: one line, whatever it holds."""
    return "".join(letter if letter.isprintable() else "?" for letter in text)


def quoted(text: str) -> str:
    """A text as a TOML basic string; JSON's escapes are TOML's but for the delete character."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def key_text(key: str) -> str:
    """A key as TOML writes it: bare where it can be, else quoted."""
    return key if _BARE_KEY.fullmatch(key) else quoted(key)


def number_text(number: Fraction) -> str:
    """A number as TOML: whole where it is whole, else a decimal fraction.

    Raises
    ------
    FormatError
        When it has no finite decimal fraction.
    """
    if number.denominator == 1:
        return str(number.numerator)
    for places in range(1, _LONGEST_NUMBER):
        scaled = number * 10**places
        if scaled.denominator == 1:
            whole, rest = divmod(abs(scaled.numerator), 10**places)
            return f"{'-' if number < 0 else ''}{whole}.{rest:0{places}d}"
    raise FormatError("a number has no decimal fraction", found=str(number), hint="a ratio as a text")


def value_text(value: object) -> str:
    """A value as TOML: texts of several lines as literal strings, tables in one line.

    Raises
    ------
    FormatError
        When TOML has no such value, or a sheet no use for it.
    """
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        literal = "\n" in value and "'''" not in value and not _CONTROL.search(value) and not value.endswith("'")
        return f"'''\n{value}'''" if literal else quoted(value)
    if isinstance(value, (int, Fraction)):
        return number_text(Fraction(value))
    if isinstance(value, float) and isfinite(value):
        return number_text(Fraction(repr(value)))
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(map(value_text, value))}]"
    if isinstance(value, Mapping) and value:
        return f"{{ {', '.join(f'{key_text(key)} = {value_text(item)}' for key, item in value.items())} }}"
    if isinstance(value, Mapping):
        return "{}"
    raise FormatError("a sheet cannot hold such a value", found=type(value).__name__)
