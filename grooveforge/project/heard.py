"""Inputs that are to be heard: a song sheet, a groove file or a MIDI file as one performance, and its sections."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from grooveforge import files
from grooveforge.core.loop import DEFAULT_TEMPO, loop_performance
from grooveforge.core.perform import Performance, perform
from grooveforge.errors import GrooveForgeError, UsageError
from grooveforge.formats.drums_read import read_drums
from grooveforge.formats.groovefile import read_groove_file
from grooveforge.formats.keymap import GM, KeyMap
from grooveforge.formats.part_events import events_of_part
from grooveforge.formats.smf_read import read_smf
from grooveforge.project.inspecting import GROOVE, MIDI, kind_of
from grooveforge.project.naming import named
from grooveforge.project.sheets import arranged, sheet_from

LEAST_BARS = 4
"""A shorter groove is heard several times over."""

DRUMS = 10


@dataclass(frozen=True, eq=False)
class Heard:
    """What an input sounds like.

    Parameters
    ----------
    performance : its events, tempi and markers. source : as the user named it. key_map : which notes it has
    on a MIDI port, `channel` (from 1) which channel. warnings : what there is to say.
    """

    performance: Performance
    source: str
    key_map: KeyMap = GM
    channel: int = DRUMS
    warnings: tuple[str, ...] = ()

    def notes(self) -> tuple[NDArray[np.int64], NDArray[np.uint8]]:
        """(n,) the note and velocity of every event."""
        events = self.performance.events
        notes, velocities, _ = self.key_map.apply(events.surface, events.velocity)
        return notes, velocities


def read_heard(source: str, channel: int | None = None, key_map: KeyMap | None = None) -> Heard:
    """What an input sounds like.

    Parameters
    ----------
    source : a path, or "-" for standard input. channel : of a MIDI file's drums, from 1; None finds it.
    key_map : the kit; None for the sheet's own, or General MIDI.

    Raises
    ------
    GrooveForgeError
        When the input cannot be read or arranged.
    """
    data = files.read_bytes(source)
    kind = kind_of(data, source)
    try:
        if kind == MIDI:
            return _of_midi(data, source, channel, key_map or GM)
        if kind == GROOVE:
            file = read_groove_file(files.decode(data))
            tempo = float(file.middle_tempo or DEFAULT_TEMPO)
            times = -(-LEAST_BARS // file.groove.bars)
            return Heard(loop_performance(file.groove, tempo, times), source, key_map or GM)
    except GrooveForgeError as error:
        raise error.in_file(source) from error
    sheet = sheet_from(data, source)
    kit = key_map or sheet.key_map
    return Heard(perform(arranged(sheet)), source, kit, warnings=(*sheet.warnings, *kit.remarks))


def _of_midi(data: bytes, source: str, channel: int | None, key_map: KeyMap) -> Heard:
    file = read_smf(data)
    part = read_drums(file, channel, key_map)
    said = [*part.key_map.remarks, *part.warnings]
    if part.unknown_notes:
        notes = ", ".join(str(note) for note in part.unknown_notes)
        count = sum(part.unknown_notes.values())
        strokes = "one stroke" if count == 1 else f"{count} strokes"
        said.append(f"{strokes} on notes that the key map does not know ({notes}), heard as a plain tick")
    performance = events_of_part(part, file.markers)
    return Heard(performance, source, key_map, part.channel, tuple(said))


def section_of(heard: Heard, name: str) -> Heard:
    """One section: by its name, with its number where several share it; a bare name is the last.

    Raises
    ------
    UsageError
        When there is no such section; the error lists them.
    """
    song = heard.performance
    listed: dict[str, list[tuple[int, int]]] = {}
    ends = [tick for tick, _ in song.markers[1:]] + [song.end]
    for (start, said), end in zip(song.markers, ends):
        listed.setdefault(said, []).append((start, end))
    span = named(listed, name)
    if not listed:
        raise UsageError("this has no sections", file=heard.source, found=repr(name), hint="leave --section out")
    if span is None:
        raise UsageError(f"there is no section {name!r}", file=heard.source, allowed=", ".join(listed))
    return replace(heard, performance=song.between(*span))
