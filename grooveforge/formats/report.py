"""What `inspect` found, as text: equal bars in a row share a line."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from typing import Any

from grooveforge.core.words import from_to, many

COLUMNS = ("bars", "metre", "tempo", "feel", "backbeats", "hand", "rate", "kicks", "also")

UNSEEN = ("bar", "grid")
"""What two bars of one line may differ in: the number, and what the table does not show."""


def inspection_text(facts: Mapping[str, Any]) -> str:
    """The bars of an inspection as a table, and under it the counts of the whole."""
    rows = [COLUMNS, *_rows(facts["bars"])]
    widths = [max(len(row[column]) for row in rows) for column in range(len(COLUMNS))]
    lines = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths)).rstrip() for row in rows]
    lines += ["", *_counts(facts)]
    return "\n".join(lines) + "\n"


def _rows(bars: Sequence[Mapping[str, Any]]) -> Iterator[tuple[str, ...]]:
    for _, group in groupby(bars, key=lambda bar: {key: value for key, value in bar.items() if key not in UNSEEN}):
        same = list(group)
        bar = same[0]
        yield (
            from_to(same[0]["bar"], same[-1]["bar"]),
            str(bar["meter"]),
            f"{bar['tempo']:g}",
            bar["feel"] or "-",
            " ".join(f"{beat:g}" for beat in bar["backbeats"]) or "-",
            bar["timekeeper"] or "-",
            bar["subdivision"] or "-",
            f"{bar['kicks']}" + (" (double)" if bar["double_kick"] else ""),
            ", ".join(_also(bar)),
        )


def _also(bar: Mapping[str, Any]) -> Iterator[str]:
    if bar["arrival"]:
        yield "arrival"
    if bar["ghosts"]:
        yield many(bar["ghosts"], "ghost")
    if bar["fill"] is not None:
        yield f"fill from {bar['fill']:g}"


def _counts(facts: Mapping[str, Any]) -> Iterator[str]:
    hits = f"{many(facts['hits'], 'stroke')} in {many(len(facts['bars']), 'bar')}"
    yield hits + (f", {facts['duplicates']} doubles left out" if facts["duplicates"] else "")
    if facts["grid_residue_ms"]:
        yield f"strokes stand {facts['grid_residue_ms']:g} ms off the grid on average"
    if facts["unknown_notes"]:
        listed = ", ".join(f"note {note} ({count})" for note, count in facts["unknown_notes"].items())
        yield f"notes that the key map does not know: {listed}"
