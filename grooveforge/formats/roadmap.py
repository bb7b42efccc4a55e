"""The road map of a song: its sections one to a line, and what each return changes."""

from __future__ import annotations

from collections.abc import Sequence

from grooveforge.core.arrange import Arrangement, Section
from grooveforge.core.differences import plain_value
from grooveforge.formats.midi import tempo_text

HEADINGS = ("bars", "section", "metre", "tempo", "feel", "hand", "what differs")


def clock(seconds: float) -> str:
    """Minutes and seconds, as a player reads them."""
    minutes, rest = divmod(round(seconds, 1), 60)
    return f"{int(minutes)}:{rest:04.1f}"


def road_map(arrangement: Arrangement, notes: Sequence[str] = ()) -> str:
    """The road map as text: a title line, then a line a section; every bar of the song is in one of them.

    `notes` stand below: what was left out or made up.
    """
    rows = [HEADINGS, *(_row(section) for section in arrangement.sections)]
    widths = [max(len(row[column]) for row in rows) for column in range(len(HEADINGS) - 1)]
    head = f"{arrangement.title}: {arrangement.bars} bars, {clock(arrangement.seconds)}"
    below = ["", *notes] if notes else []
    return "\n".join([head, "", *(_line(row, widths) for row in rows), *below]) + "\n"


def _line(row: Sequence[str], widths: Sequence[int]) -> str:
    cells = [row[0].rjust(widths[0]), *(cell.ljust(width) for cell, width in zip(row[1:], widths[1:]))]
    return "  ".join([*cells, row[-1]]).rstrip()


def _row(section: Section) -> tuple[str, ...]:
    last = section.bar + section.bars - 1
    bars = f"{section.bar}-{last}" if last > section.bar else f"{section.bar}"
    feel = "tacet" if section.settings.tacet else "stops" if section.settings.stops else section.feel or "-"
    hand = ", ".join(section.timekeepers) or "-"
    words = "; ".join(difference.in_words for difference in section.differences)
    return bars, section.name, str(section.meter), tempo_words(section), feel, hand, words


def tempo_words(section: Section) -> str:
    """The tempo of a section: one number, or where it goes from and to."""
    first, last = section.tempo[0][1], section.tempo[-1][1]
    return tempo_text(first) if first == last else f"{tempo_text(first)} to {tempo_text(last)}"


def section_facts(section: Section) -> dict[str, object]:
    """A section as `render --json` gives it."""
    return {
        "name": section.name,
        "part": section.part,
        "statement": section.statement,
        "bar": section.bar,
        "bars": section.bars,
        "meter": str(section.meter),
        "tempo": plain_value(section.tempo[0][1]),
        "feel": section.feel,
        "timekeeper": list(section.timekeepers),
        "backbeats_per_bar": round(section.backbeats / section.own_bars, 6),
        "differences": [
            {"key": row.key, "from": row.before, "to": row.now, "in_words": row.in_words}
            for row in section.differences
        ],
    }
