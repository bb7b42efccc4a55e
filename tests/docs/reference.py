"""Every command and every key, from the one source of each: the signatures, and the table of keys."""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from typing import Any

import typer

from grooveforge.cli.app import app
from grooveforge.cli.table import COMMANDS
from grooveforge.formats.keys import KEYS, PLACES, Key

HEAD = """# Commands and keys

This page is made from the commands' signatures and the table of keys (`python -m tests.docs`); a test compares them.
"""


def reference() -> str:
    """The page as Markdown."""
    return "\n".join([HEAD, "## Commands", *commands(), "## Keys of sheets, grooves, fills and kits", *keys()])


def commands() -> Iterator[str]:
    group: Any = typer.main.get_command(app)
    for name, (_, line) in COMMANDS.items():
        command = group.get_command(None, name)
        inner = getattr(command, "commands", None)
        yield f"\n### `{name}`" + (f"\n\n{line}" if inner else "")
        for title, one in inner.items() if inner else [("", command)]:
            yield from _command(f"{name} {title}".strip(), one)


def _command(name: str, command: Any) -> Iterator[str]:
    arguments = [row for row in command.params if row.param_type_name == "argument"]
    options = [row for row in command.params if row.param_type_name == "option" and row.name != "help"]
    shown = [str(row.metavar or row.human_readable_name).strip("[]") for row in arguments]
    words = " ".join(word if row.required else f"[{word}]" for row, word in zip(arguments, shown))
    yield f"\n`grooveforge {name}{' ' + words if words else ''}{' [options]' if options else ''}`\n"
    text = inspect.cleandoc(command.help or "")
    prose, _, example = text.partition("\b")
    yield prose.strip()
    if arguments or options:
        yield "\n| word | what it is |\n|---|---|"
    for row, word in zip(arguments, shown):
        yield f"| {word} | {_cell(row.help)} |"
    for row in options:
        yield f"| {', '.join(f'`{said}`' for said in row.opts)}{_values(row)} | {_cell(row.help)}{_default(row)} |"
    lines = [line.strip() for line in example.splitlines() if line.strip().startswith("grooveforge")]
    if lines:
        yield "\n```text\n" + "\n".join(lines) + "\n```"


def _cell(text: str | None) -> str:
    return (text or "").replace("|", "\\|")


def _values(row: Any) -> str:
    if row.is_flag:
        return ""
    choices = getattr(row.type, "choices", None)
    if choices:
        return " " + ", ".join(str(getattr(item, "value", item)) for item in choices)
    low, high = getattr(row.type, "min", None), getattr(row.type, "max", None)
    return f" {low} to {high}" if low is not None and high is not None else ""


def _default(row: Any) -> str:
    value = row.default
    if row.is_flag or value in (None, "", (), []) or callable(value):
        return ""
    return f" Without it: {getattr(value, 'value', value)}."


def keys() -> Iterator[str]:
    yield "\n| key | where | values | without it | meaning |\n|---|---|---|---|---|"
    for key in KEYS:
        yield _key(key)


def _key(key: Key) -> str:
    places = ", ".join(PLACES[place].removeprefix("the ").removeprefix("a ") for place in key.places)
    cells = (f"`{key.name}`", places, _cell(key.values), _cell(key.default), _cell(key.meaning))
    return f"| {' | '.join(cells)} |"
