"""The plain way into a command: its words read from the signature of its function, without typer.

typer takes longer to import than a song takes to render, and is needed only where there is something to say:
help, an option that is not known, a value that does not fit, a word too few or too many. So what is plain is
read here, and everything else goes to typer as it stands; the signatures are the one source of both.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import Enum
from inspect import Parameter, signature
from pathlib import Path
from types import SimpleNamespace
from typing import Any, get_args, get_origin, get_type_hints


class NotPlainError(Exception):
    """These words are for typer."""


@dataclass(frozen=True)
class _Said:
    """What a signature says of one parameter: an argument or an option, its names and limits."""

    option: bool
    names: tuple[str, ...] = ()
    limits: Mapping[str, Any] = field(default_factory=dict)


def _argument(**limits: Any) -> _Said:
    return _Said(False, (), limits)


def _option(*names: Any, **limits: Any) -> _Said:
    return _Said(True, names, limits)


RECORDER = SimpleNamespace(Argument=_argument, Option=_option)
"""Stands for the module typer in a signature, and keeps what it is called with.

A default in front of the names is only found in commands that use typer for themselves.
"""

KNOWN_LIMITS = frozenset(("help", "metavar", "min", "max", "show_default", "is_eager"))
"""What the signatures may say of a parameter for it to be read here; anything else is for typer."""


@dataclass(frozen=True)
class _Row:
    """One parameter of a command: its name, its type, and what was said of it."""

    name: str
    type: type
    said: _Said
    required: bool
    many: bool = False

    @property
    def names(self) -> tuple[str, ...]:
        return self.said.names or (f"--{self.name.replace('_', '-')}",)

    def value(self, word: str) -> Any:
        """A word as this parameter's type."""
        if self.type is int:
            return self._whole(word)
        if issubclass(self.type, Enum):
            found = [item for item in self.type if item.value == word]
            if not found:
                raise NotPlainError
            return found[0]
        return Path(word) if self.type is Path else word

    def _whole(self, word: str) -> int:
        if not (word.isascii() and word.isdecimal()):
            raise NotPlainError
        number = int(word)
        if not self.said.limits.get("min", number) <= number <= self.said.limits.get("max", number):
            raise NotPlainError
        return number


def _rows(function: Callable[..., None]) -> Iterator[_Row]:
    """The parameters of a command."""
    hints = get_type_hints(function, localns={"typer": RECORDER}, include_extras=True)
    for name, parameter in signature(function).parameters.items():
        kind, *rest = get_args(hints[name]) or (None,)
        if len(rest) != 1 or not isinstance(rest[0], _Said) or rest[0].limits.keys() - KNOWN_LIMITS:
            raise NotPlainError
        kinds = [item for item in get_args(kind) or (kind,) if item is not type(None)]
        many = len(kinds) == 1 and get_origin(kinds[0]) is list
        if many:
            kinds = list(get_args(kinds[0]))
        if len(kinds) != 1 or not isinstance(kinds[0], type) or not issubclass(kinds[0], (str, int, Path, Enum)):
            raise NotPlainError
        yield _Row(name, kinds[0], rest[0], parameter.default is Parameter.empty, many)


def plain_arguments(function: Callable[..., None], words: list[str]) -> dict[str, Any]:
    """What a command is called with.

    Raises
    ------
    NotPlainError
        When typer has to look at the words.
    """
    rows = list(_rows(function))
    by_name = {name: row for row in rows if row.said.option for name in row.names}
    arguments = [row for row in rows if not row.said.option]
    given: dict[str, Any] = {}
    left = iter(words)
    for word in left:
        if word == "-" or not word.startswith("-"):
            if not arguments:
                raise NotPlainError
            row = arguments.pop(0)
            given[row.name] = row.value(word)
            continue
        found = by_name.get(word)
        if found is None:
            raise NotPlainError
        if found.type is bool:
            given[found.name] = True
            continue
        value = next(left, None)
        if value is None or (value.startswith("-") and value != "-"):
            raise NotPlainError
        given[found.name] = [*given.get(found.name, ()), found.value(value)] if found.many else found.value(value)
    if any(row.required and row.name not in given for row in rows):
        raise NotPlainError
    return given
