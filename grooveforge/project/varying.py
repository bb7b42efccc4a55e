"""`vary`: one change to a drum MIDI file or a groove file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from grooveforge import files
from grooveforge.core.feel import set_feel
from grooveforge.core.groove import Groove
from grooveforge.core.timekeeper import KEEP, set_subdivision
from grooveforge.errors import GrooveForgeError, UsageError
from grooveforge.formats.drums_read import read_drums
from grooveforge.formats.groovefile import GrooveFile, print_groove_file, read_groove_file
from grooveforge.formats.keymap import GM, KeyMap, Replacement
from grooveforge.formats.smf_read import read_smf
from grooveforge.formats.vary_midi import Variation, bars_from, vary_part, write_back
from grooveforge.project.inspecting import MIDI, SHEET, inspect_bytes, kind_of


@dataclass(frozen=True)
class Varied:
    """The changed file, and what there is to say about it."""

    data: bytes
    in_words: str
    warnings: tuple[str, ...] = ()
    replacements: tuple[Replacement, ...] = ()
    channel: int | None = None
    key_map: KeyMap | None = None

    def facts(self) -> dict[str, Any]:
        """What the changed file holds, as `inspect` gives it, and what the kit lacks for the change."""
        held = inspect_bytes(self.data, "the result", self.channel, self.key_map)
        return {**held, "changed": self.in_words, "replacements": [row.facts() for row in self.replacements]}


def vary(source: str, change: Variation, channel: int | None = None, key_map: KeyMap | None = None) -> Varied:
    """An input with one change; the result is of the input's kind.

    Parameters
    ----------
    source : a path, or "-" for standard input. channel : the drums' MIDI channel, from 1; None finds it.
    key_map : what a MIDI file's notes are read and written by; None for General MIDI.

    Raises
    ------
    GrooveForgeError
        When the input cannot be read or the change is impossible.
    """
    data = files.read_bytes(source)
    kind = kind_of(data, source)
    try:
        if kind == SHEET:
            raise UsageError(
                "vary changes groove files and MIDI files; a song sheet says its changes itself",
                hint='a form entry such as { part = "chorus", feel = "half" }',
            )
        if kind == MIDI:
            return _vary_midi(data, change, channel, key_map)
        if key_map is not None:
            raise UsageError("a groove file has surfaces, no notes", hint="--key-map is for MIDI files")
        return _vary_groove(files.decode(data), change)
    except GrooveForgeError as error:
        raise error.in_file(source) from error


def _vary_midi(data: bytes, change: Variation, channel: int | None, key_map: KeyMap | None) -> Varied:
    file = read_smf(data)
    part = read_drums(file, channel, key_map or GM)
    changed = vary_part(part, change)
    said = (*part.key_map.remarks, *changed.warnings)
    return Varied(write_back(file, changed), words_for(change), said, changed.replacements, channel, key_map)


def _vary_groove(text: str, change: Variation) -> Varied:
    if change.bars is not None:
        raise UsageError("--bars is for MIDI files; a groove file is changed as a whole")
    file = read_groove_file(text)
    groove = vary_groove(file.groove, change)
    if groove == file.groove:
        return Varied(text.encode(), words_for(change))
    made = GrooveFile.of(groove, file.name)
    made = replace(made, tempo=file.tempo, profile=file.profile, about=file.about, tags=file.tags)
    return Varied(print_groove_file(made).encode(), words_for(change))


def vary_groove(groove: Groove, change: Variation) -> Groove:
    """A groove, as a loop, with one change: feel, then the hand's rate, then its surface."""
    if change.moves_feel:
        groove = set_feel(groove, change.feel_change)
    groove = set_subdivision(groove, change.subdivision or KEEP)
    return groove if change.timekeeper is None else groove.move_hand(change.timekeeper)


def words_for(change: Variation) -> str:
    """The change in words, as a report says it."""
    said = {
        "feel": change.feel,
        "spelling": change.spelling,
        "kick": change.kick,
        "rate of the hand": change.subdivision,
        "the hand on": change.timekeeper,
    }
    words = [f"{key} {value}" for key, value in said.items() if value is not None]
    bars = f" in bars {change.bars[0]}-{change.bars[1]}" if change.bars else ""
    return (", ".join(words) or "nothing changed") + bars


__all__ = ["Variation", "Varied", "bars_from", "vary", "vary_groove"]
