"""What `compare` found, as text: equal changes in a row of bars share a line."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from grooveforge.core.words import from_to


def comparison_text(facts: Mapping[str, Any]) -> str:
    """A comparison as `compare --json` gives it, in lines."""
    return "\n".join(_lines(facts)) + "\n"


def _lines(facts: Mapping[str, Any]) -> Iterator[str]:
    bars = facts["bars"]
    if not facts["distance"]:
        yield f"the same strokes on the same surfaces in {facts['compared_bars']} bars"
    else:
        lanes = ", ".join(f"{name} {value:.2f}" for name, value in facts["lanes"].items())
        yield f"distance {facts['distance']:.2f} (0 the same, 1 nothing shared): {lanes}"
        if facts["surface"]:
            yield f"the hand stands on another surface for {_percent(facts['surface'])} of the strokes that both have"
    if facts["levels"]:
        yield f"{_percent(facts['levels'])} of the strokes that both have are in another band of levels"
    if bars:
        yield ""
        yield from _table(bars)


def _percent(share: float) -> str:
    return "under 1 %" if share < 0.01 else f"{100 * share:.0f} %"


def _table(bars: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    rows = [("bars", "distance", "what changed")]
    runs: list[list[Mapping[str, Any]]] = []
    for bar in bars:
        if runs and runs[-1][-1]["bar"] + 1 == bar["bar"] and _same(runs[-1][-1], bar):
            runs[-1].append(bar)
        else:
            runs.append([bar])
    for run in runs:
        place = from_to(run[0]["bar"], run[-1]["bar"])
        rows.append((place, f"{run[0]['distance']:.2f}", str(run[0]["in_words"])))
    widths = [max(len(row[column]) for row in rows) for column in range(2)]
    for row in rows:
        yield f"{row[0]:<{widths[0]}}  {row[1]:<{widths[1]}}  {row[2]}"


def _same(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    return bool(one["distance"] == other["distance"] and one["in_words"] == other["in_words"])
