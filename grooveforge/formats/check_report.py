"""What `check` found, as text: findings that come again share a line."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from grooveforge.core.words import from_to, many, runs

_PLACE = re.compile(r" (?:of|in) bars? \d+(?:-\d+)?(?=[,]|$| )")


def check_text(facts: Mapping[str, Any], name: str) -> str:
    """A check as lines.

    Parameters
    ----------
    facts : as `check --json` gives them. name : of what was checked.
    """
    lines = [_head(facts, name), *finding_lines(facts["findings"])]
    if not facts["findings"]:
        lines.append("nothing here is beyond this drummer")
    if facts["hardest_bar"] is not None:
        lines.append(f"hardest bar: {facts['hardest_bar']}{_hands(facts)}")
        lines += [_held(limbs, facts["endurance"][limbs]) for limbs in ("hands", "feet")]
    return "\n".join(lines)


def _head(facts: Mapping[str, Any], name: str) -> str:
    who = facts["profile"]
    tempo = f" at {facts['bpm']:g} bpm" if facts.get("bpm") else ""
    with_them = f", {facts['bars_with_findings']} with findings" if facts["findings"] else ""
    limits = f"hand {who['hand']:g}/s, feet {who['feet']:g}/s"
    return f"{name}{tempo}, {who['name']} ({limits}): {many(facts['bars'], 'bar')}{with_them}"


def finding_lines(rows: Sequence[Mapping[str, Any]]) -> Iterator[str]:
    """Two lines a finding: where, who and why; what would help."""
    alike: dict[tuple[object, ...], list[Mapping[str, Any]]] = {}
    for row in rows:
        shape = _PLACE.sub("", row["change"] or "")
        length = row["last_bar"] - row["bar"]
        alike.setdefault((row["beat"], tuple(row["limbs"]), row["reason"], shape, length), []).append(row)
    for same in alike.values():
        first = same[0]
        yield f"{_where(first)}{_again(same[1:])}: {' and '.join(first['limbs'])}: {first['reason']}"
        yield f"  try: {first['change']}" if first["change"] else "  no change of a stroke or two helps"


def _where(row: Mapping[str, Any]) -> str:
    if row["last_bar"] > row["bar"]:
        return f"bars {from_to(row['bar'], row['last_bar'])} from beat {row['beat']:g}"
    return f"bar {row['bar']}, beat {row['beat']:g}"


def _again(rows: Sequence[Mapping[str, Any]]) -> str:
    if not rows:
        return ""
    return f" (again in bar{'s' if len(rows) > 1 else ''} {', '.join(runs(row['bar'] for row in rows))})"


def _hands(facts: Mapping[str, Any]) -> str:
    """The sticking of the hardest bar."""
    patterns = facts["sticking"]["patterns"]
    hands = next((row["hands"] for row in patterns if facts["hardest_bar"] in row["bars"]), "")
    return f" (hands {hands})" if hands else ""


def _held(limbs: str, held: Mapping[str, Any]) -> str:
    if not held["fastest"]:
        return f"{limbs}: nothing to do"
    fastest = f"{limbs}: at most {held['fastest']:.1f} strokes in a second"
    if held["lasts_seconds"] is None:
        return f"{fastest}, as long as you like"
    line = f"{fastest}, which lasts {held['lasts_seconds']:.0f} s"
    return line + (f"; tired in bar {held['tired_bar']}" if held["tired_bar"] is not None else "; the part is shorter")
