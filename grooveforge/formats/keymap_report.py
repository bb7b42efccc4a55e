"""What there is to say about a key map, and a file to hear it by."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from grooveforge.core.kit import NORMAL, SURFACES
from grooveforge.errors import FormatError
from grooveforge.formats.keymap import KeyMap
from grooveforge.formats.smf_events import marker_event, meter_event, name_event, tempo_event
from grooveforge.formats.smf_write import NotesOut, TrackOut, write_smf

DIVISION = 480
BEAT_MICROSECONDS = 500_000
STROKE_QUARTERS = 2
"""An audition strikes a surface every half note at 120 quarter notes a minute: one a second (house rule)."""

BAR_QUARTERS = 4


def read_twice(key_map: KeyMap) -> tuple[tuple[int, tuple[str, ...]], ...]:
    """Notes that are listed for several surfaces: (note, surfaces); the first is what it is read as."""
    listed: dict[int, list[str]] = {}
    for surface, rows in key_map.notes.items():
        for note in rows:
            listed.setdefault(note, []).append(surface)
    return tuple((note, tuple(names)) for note, names in sorted(listed.items()) if len(names) > 1)


def key_map_facts(key_map: KeyMap) -> dict[str, object]:
    """A map as `key-map --json` gives it."""
    return {
        "name": key_map.name,
        "notes": {surface: list(rows) for surface, rows in key_map.notes.items()},
        "fallbacks": dict(key_map.fallbacks),
        "lacks": [{"surface": surface, "used": used} for surface, used in key_map.missing],
        "shared": [{"note": note, "surfaces": list(names)} for note, names in key_map.shared],
        "read_as": [{"note": note, "surfaces": list(names), "read": names[0]} for note, names in read_twice(key_map)],
    }


def check_text(key_map: KeyMap) -> str:
    """What a map lacks, and which of its surfaces share a note, a line each."""
    lines = [f"{key_map.name}: notes for {len(key_map.notes)} of {len(SURFACES)} surfaces"]
    for surface, used in key_map.missing:
        lines.append(f"the kit has no {surface}: {used or 'nothing'} instead{_softer(key_map, surface, used)}")
    written = dict(key_map.shared)
    for note, names in read_twice(key_map):
        what = "is written for" if note in written else "is listed for"
        lines.append(f"note {note} {what} {' and '.join(written.get(note, names))}; it is read as {names[0]}")
    return "\n".join(lines)


def _softer(key_map: KeyMap, surface: str, used: str | None) -> str:
    if used is None:
        return "; a song that strikes it is refused"
    return ", a level softer" if key_map.softer(surface) else ""


def list_text(maps: Sequence[KeyMap]) -> str:
    """A line a map: its name, how many surfaces have a note, what it lacks."""
    width = max(len(key_map.name) for key_map in maps)
    lines = []
    for key_map in maps:
        lacks = ", ".join(surface for surface, _ in key_map.missing) or "nothing"
        lines.append(f"{key_map.name.ljust(width)}  {len(key_map.notes)} surfaces, lacks {lacks}")
    return "\n".join(lines)


def audition_midi(key_map: KeyMap, channel: int = 10) -> bytes:
    """Every surface that a map has, struck once in the kit's order, with a marker that names it.

    Parameters
    ----------
    channel : MIDI channel, 1 to 16.
    """
    if not 1 <= channel <= 16:
        raise FormatError("no such MIDI channel", found=str(channel), allowed="1 to 16; drums are 10")
    surfaces = [row.name for row in SURFACES if row.name in key_map.notes]
    ticks = np.arange(len(surfaces), dtype=np.int64) * STROKE_QUARTERS * DIVISION
    bar = BAR_QUARTERS * DIVISION
    end = -(-len(surfaces) * STROKE_QUARTERS * DIVISION // bar) * bar
    head = [(0, name_event(f"Audition of {key_map.name}")), (0, meter_event(4, 4)), (0, tempo_event(BEAT_MICROSECONDS))]
    head += [(int(tick), marker_event(name)) for tick, name in zip(ticks, surfaces)]
    notes = NotesOut(
        ticks,
        np.array([key_map.note_of(name) for name in surfaces], np.int64),
        np.full(len(surfaces), NORMAL),
        np.full(len(surfaces), DIVISION // 4),
        channel - 1,
    )
    return write_smf(1, DIVISION, [TrackOut(head, end_tick=end), TrackOut([(0, name_event("Drums"))], notes, end)])
