"""How the commands speak: data on stdout, warnings on stderr, JSON as one object."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable


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
