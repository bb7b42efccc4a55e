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
