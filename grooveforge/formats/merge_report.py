"""What `merge` did, as text."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from typing import Any

from grooveforge.core.words import from_to

Row = Mapping[str, Any]


def merge_text(facts: Mapping[str, Any], song: str, edited: str) -> str:
    """A merge as `merge --json` gives it, in lines; `song` and `edited` as the user named them."""
    return "\n".join(_lines(facts, song, edited)) + "\n"


def _lines(facts: Mapping[str, Any], song: str, edited: str) -> Iterator[str]:
    bars, conflicts, fixed = facts["bars"], facts["conflicts"], facts["fixed"]
    if not (bars or conflicts or fixed):
        yield f"{edited} has nothing else than {facts['base']}; nothing was changed"
        return
    if bars:
        yield f"{_count(len(bars))} of {edited} changed since {facts['base']}:"
        yield from _table(bars)
    if fixed:
        yield "left as the sheet has them, since it says fixed:"
        yield from _table(fixed)
    for row in conflicts:
        yield f"conflict in bar {row['bar']} ({row['section']}), {row['lane']}; left as the sheet has it"
        yield f"  the sheet: {row['sheet']}"
        yield f"  the file:  {row['file']}"
    if conflicts:
        yield "to decide, run it again with --conflicts file or --conflicts sheet, or change the sheet"
    if facts["written"]:
        yield f"saved in {facts['saved']}; next: grooveforge render {song}, or grooveforge undo {song} to take it back"
    elif bars:
        yield f"{facts['saved'] or 'the song'} has them already; nothing was written"


def _count(bars: int) -> str:
    return "one bar" if bars == 1 else f"{bars} bars"


def _table(rows: Sequence[Row]) -> Iterator[str]:
    """Rows of bar, section and words; neighbours that are alike share one."""
    lines = []
    for _, group in groupby(enumerate(rows), key=lambda pair: (pair[1]["bar"] - pair[0], *_said(pair[1]))):
        same = [row for _, row in group]
        lines.append((from_to(same[0]["bar"], same[-1]["bar"]), *_said(same[0])))
    widths = [max(len(line[column]) for line in lines) for column in range(2)]
    for bar, section, words in lines:
        yield f"  {bar:>{widths[0]}}  {section:<{widths[1]}}  {words}"


def _said(row: Row) -> tuple[str, str]:
    return str(row["section"]), str(row["in_words"])
