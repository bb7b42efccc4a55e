"""The list of grooves, as a table and as JSON."""

from __future__ import annotations

from collections.abc import Sequence

from grooveforge.core.differences import plain_value
from grooveforge.core.roles import read_feel
from grooveforge.formats.groovefile import GrooveFile


def groove_facts(row: GrooveFile) -> dict[str, object]:
    """One groove as `grooves --json` gives it."""
    return {
        "name": row.name,
        "meter": str(row.groove.meter),
        "bars": row.groove.bars,
        "feel": read_feel(row.groove).feel,
        "tempo": [plain_value(bpm) for bpm in row.tempo or ()],
        "tags": list(row.tags),
        "about": row.about,
    }


def groove_table(rows: Sequence[GrooveFile]) -> str:
    """A line a groove: name, metre, feel, tempo, what it is."""
    cells = [("name", "metre", "feel", "tempo", "about")]
    for row in rows:
        facts = groove_facts(row)
        tempo = "-".join(f"{float(bpm):g}" for bpm in row.tempo or ())
        cells.append((str(row.name), str(facts["meter"]), str(facts["feel"] or "-"), tempo, str(row.about or "")))
    widths = [max(len(line[column]) for line in cells) for column in range(4)]
    return "".join("  ".join([*(c.ljust(w) for c, w in zip(line, widths)), line[4]]).rstrip() + "\n" for line in cells)
