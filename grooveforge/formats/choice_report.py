"""What `start`, `options` and `plan` found, as lines for the reader; made from the same values as their JSON."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from grooveforge.formats.riff_report import meets_words
from grooveforge.formats.toml_text import value_text

Facts = Mapping[str, Any]


USUAL_COUNT = 5
"""How many options are shown where no number is said."""


def start_text(facts: Facts, out: str) -> str:
    """The riff read back, the offers, and what to do next."""
    bars = facts["bars"]
    long = f"{bars:g} bar{'' if bars == 1 else 's'} of {facts['meter']}"
    lines = [
        f"riff: {long}, {facts['attacks']} attacks, {facts['accents']} accents: {facts['riff']}",
        meets_words([row["bar"] for row in facts["meets"]]),
        *(f"{_mark(row, facts)} {row['rank']}  {row['in_words']}" for row in facts["offers"]),
        f"wrote {out} with offer {facts['taken']} at {facts['tempo']:g}; next: grooveforge render {out}",
    ]
    return "\n".join(lines)


def _mark(row: Facts, facts: Facts) -> str:
    return "*" if row["rank"] == facts["taken"] else " "


def options_text(facts: Facts, song: str) -> str:
    """The options, and how one is taken."""
    section = facts["section"]
    lines = [f"{section}: {facts['considered']:,} candidates, {facts['amount']} changes from the statement before"]
    for row in facts["options"]:
        number = f"{row['distance']:.2f} away, {row['surprise']:.1f} bits a stroke"
        lines.append(f"  {row['rank']}  {row['in_words']}")
        lines.append(f"     {number}; {_changes(row['changes'])}")
    lines += facts["notes"]
    if facts.get("taken"):
        lines.append(f"{song}: option {facts['taken']} taken; grooveforge undo {song} takes it back")
    elif facts["options"]:
        asked = "" if facts["count"] == USUAL_COUNT else f" --count {facts['count']}"
        lines.append(f'take one: grooveforge options {song} "{section}" --amount {facts["amount"]}{asked} --take 1')
    return "\n".join(lines)


def plans_text(facts: Facts, song: str) -> str:
    """The plans with what they change, their energy, and how one is taken."""
    lines: list[str] = []
    for number, row in enumerate(facts["plans"], 1):
        lines.append(f"{number}  {row['in_words']}")
        lines += _sections(row["sections"])
        lines.append(f"   energy {energy_bar(row['energy'])}")
    lines += facts["notes"]
    if facts.get("taken"):
        lines.append(f"{song}: plan {facts['taken']} taken; grooveforge undo {song} takes it back")
    elif facts["plans"]:
        lines.append(f"take one: grooveforge plan {song} --take 1")
    return "\n".join(lines)


def _sections(rows: Sequence[Facts]) -> Iterator[str]:
    for row in rows:
        if row["changes"]:
            yield f"   {row['name']}: {_changes(row['changes'])}"


def _changes(changes: Facts) -> str:
    return ", ".join(f"{key} = {value_text(value)}" for key, value in changes.items())


BLOCKS = "▁▂▃▄▅▆▇█"
WIDEST = 72


def energy_bar(energy: Sequence[float]) -> str:
    """The energy line in one row of blocks, several bars to a block in a long song (the loudest of them)."""
    if not energy or max(energy) <= 0:
        return ""
    each = -(-len(energy) // WIDEST)
    loudest = [max(energy[start : start + each]) for start in range(0, len(energy), each)]
    top = max(loudest)
    return "".join(BLOCKS[min(int(value / top * len(BLOCKS)), len(BLOCKS) - 1)] for value in loudest)
