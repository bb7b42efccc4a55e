"""`inspect`: what is in a song sheet, groove file or MIDI file, bar by bar."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf
from typing import Any

from grooveforge import files
from grooveforge.core.groove import Groove
from grooveforge.core.inspect import BarFacts, bar_facts
from grooveforge.core.loop import DEFAULT_TEMPO
from grooveforge.core.meter import Meter
from grooveforge.errors import GrooveForgeError, UsageError
from grooveforge.formats.drum_part import DrumPart
from grooveforge.formats.drums_groove import grooves_of, place_part
from grooveforge.formats.drums_read import read_drums
from grooveforge.formats.groovefile import read_groove_file
from grooveforge.formats.keymap import GM, KeyMap
from grooveforge.formats.midi import MidiOptions
from grooveforge.formats.quantise import residue_ms
from grooveforge.formats.smf_read import read_smf
from grooveforge.project.library import is_midi
from grooveforge.project.rendering import render
from grooveforge.project.sheets import sheet_from

SHEET, GROOVE, MIDI = "song sheet", "groove file", "MIDI file"

SHORT_BAR, LONG_BAR = 1.0, 4.0
"""Seconds: a bar outside this is perhaps counted at half or twice the tempo (house rule)."""


def kind_of(data: bytes, source: str = "") -> str:
    """What an input is, by its content; a FileError that names `source` when it is neither MIDI nor text."""
    if is_midi(data):
        return MIDI
    import tomllib

    try:
        text = files.decode(data)
    except GrooveForgeError as error:
        raise error.in_file(source) from error
    try:
        table = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError):
        return SHEET  # the sheet's reader says where the fault is
    return GROOVE if "tab" in table and "form" not in table else SHEET


def inspect(source: str, channel: int | None = None, key_map: KeyMap | None = None) -> dict[str, Any]:
    """What an input holds, as `inspect --json` gives it.

    Parameters
    ----------
    source : a path, or "-" for standard input. channel : the drums' MIDI channel, from 1; None finds it.
    key_map : what the notes are read by; None for the sheet's, or General MIDI.

    Raises
    ------
    GrooveForgeError
        When the input cannot be read.
    """
    data = files.read_bytes(source)
    return inspect_bytes(data, source, channel, key_map)


def inspect_bytes(
    data: bytes, source: str, channel: int | None = None, key_map: KeyMap | None = None
) -> dict[str, Any]:
    """As `inspect`, for the bytes of an input that was read."""
    kind = kind_of(data, source)
    try:
        if kind == GROOVE:
            if key_map is not None:
                raise UsageError("a groove file has surfaces, no notes", hint="--key-map is for sheets and MIDI files")
            return groove_inspection(read_groove_file(files.decode(data)).groove)
        if kind == SHEET:
            made = render(sheet_from(data, source), MidiOptions(key_map=key_map))
            data, key_map = next(iter(made.files.values())), made.key_map
        return midi_inspection(read_drums(read_smf(data), channel, key_map or GM))
    except GrooveForgeError as error:
        raise error.in_file(source) from error


def midi_inspection(part: DrumPart) -> dict[str, Any]:
    """The inspection of the drums of a MIDI file."""
    placement = place_part(part) if part.bars else None
    rows: list[dict[str, Any]] = []
    grids = placement.grid.tolist() if placement else []
    for run in grooves_of(part, placement):
        for facts in bar_facts(run.groove):
            bar = part.bars[len(rows)]
            rows.append(_row(len(rows) + 1, bar.meter, bar.bpm, facts, grids[len(rows)]))
    residue = residue_ms(placement, part.division, part.seconds_a_tick(part.tick)) if placement else 0.0
    others = [
        {"track": other.number, "name": other.name, "notes": other.notes, "channels": list(other.channels)}
        for other in part.other_tracks
    ]
    return {
        "bars": rows,
        "hits": len(part),
        "duplicates": part.duplicates,
        "unknown_notes": {str(note): count for note, count in part.unknown_notes.items()},
        "grid_residue_ms": round(residue, 3),
        "warnings": [*part.key_map.remarks, *part.warnings, *length_hints(rows)],
        "other_tracks": others,
    }


def groove_inspection(groove: Groove) -> dict[str, Any]:
    """The inspection of a groove, at the tempo of one that says none."""
    rows = [
        _row(number, groove.meter, DEFAULT_TEMPO, facts, groove.grid)
        for number, facts in enumerate(bar_facts(groove), 1)
    ]
    hits = sum(int(lane.struck.size) for _, lane in groove.voices)
    return {
        "bars": rows,
        "hits": hits,
        "duplicates": 0,
        "unknown_notes": {},
        "grid_residue_ms": 0.0,
        "warnings": [],
        "other_tracks": [],
    }


def _row(number: int, meter: Meter, bpm: float, facts: BarFacts, grid: int) -> dict[str, Any]:
    """One bar; `fill` is the beat on which one begins, `grid` the steps to a whole note that tell its strokes apart."""
    return {
        "bar": number,
        "meter": str(meter),
        "tempo": bpm,
        "feel": facts.feel,
        "backbeats": list(facts.backbeats),
        "timekeeper": facts.timekeeper,
        "subdivision": facts.subdivision,
        "kicks": facts.kicks,
        "double_kick": facts.double_kick,
        "ghosts": facts.roles.ghosts,
        "fill": facts.roles.fill,
        "arrival": facts.roles.arrival,
        "grid": grid,
    }


def length_hints(rows: Sequence[dict[str, Any]]) -> list[str]:
    """Hints for bars that are so short or long that the song is perhaps counted at another tempo."""
    hints = []
    for words, factor, (low, high) in (
        ("shorter than 1 s", "/2", (0.0, SHORT_BAR)),
        ("longer than 4 s", "x2", (LONG_BAR, inf)),
    ):
        found = [row["bar"] for row in rows if low < _bar_seconds(row) < high]
        if found:
            many = f"{len(found)} bars are" if len(found) > 1 else "one bar is"
            hints.append(f"{many} {words} (the first is bar {found[0]}); `recount {factor}` counts them the other way")
    return hints


def _bar_seconds(row: dict[str, Any]) -> float:
    upper, _, lower = str(row["meter"]).partition("/")
    return 4 * int(upper) / int(lower) * 60 / float(row["tempo"])
