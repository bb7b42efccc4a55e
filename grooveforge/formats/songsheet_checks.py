"""What must hold in each section of a song sheet, once its layers lie over one another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from grooveforge.core import feel_table, kick
from grooveforge.core.song import MOST_SONG_BARS, Entry, Settings, Song
from grooveforge.core.timekeeper import surface_spans
from grooveforge.formats.toml_text import FaultList, Path, Table


@dataclass(frozen=True)
class Said:
    """What a section's three layers say in the sheet, as raw tables, and where its entry stands."""

    defaults: Table
    part: Table
    entry: Table
    path: Path

    def where(self, key: str, part: str) -> Path:
        """The path of a key that holds in the section: in the entry, the part, the defaults, else the part."""
        if key in self.entry:
            return (*self.path, key)
        if key in self.part or key not in self.defaults:
            return ("parts", part, key)
        return ("defaults", key)

    def says(self, key: str) -> bool:
        return key in self.entry or key in self.part or key in self.defaults


def check_sections(song: Song, sections: Sequence[Said], faults: FaultList) -> None:
    """Collect what is wrong in the sections, and with the length of the song.

    Parameters
    ----------
    sections : one for each entry of the song's form.
    """
    total = 0
    for layer, path in [(song.defaults, ("defaults",)), *((row, ("parts", name)) for name, row in song.parts.items())]:
        _check_spelling(layer, path, faults)
    for entry, said in zip(song.form, sections):
        _check_spelling(entry.settings, said.path, faults)
        _check_feel(song, entry, said, faults)
        total += entry.repeat * _check_section(song, entry, said, faults)
    if total > MOST_SONG_BARS:
        faults.add(f"the song has {total:,} bars", ("form",), allowed=f"at most {MOST_SONG_BARS:,}, repeats counted")


def _check_section(song: Song, entry: Entry, said: Said, faults: FaultList) -> int:
    """The bars of one statement; 1 where they are not known."""
    holds = song.settings_of(entry)
    if not said.says("groove") and not said.says("stops") and not holds.tacet:
        names = ", ".join(song.grooves)
        faults.add("a part needs a groove", ("parts", entry.part), allowed=names, hint='groove = "..." or tacet = true')
    silent = holds.tacet or holds.stops is not None
    if holds.kick == kick.FOLLOW and not said.says("riff") and not silent:
        path = said.where("kick", entry.part)
        faults.add('kick = "follow" needs a riff to follow', path, hint='riff = "x--X--x-"')
    if holds.fill_every is not None and not said.says("fill"):
        path = said.where("fill_every", entry.part)
        faults.add("fill_every needs a fill to come so often", path, hint='fill = "1 bar"')
    groove = song.grooves.get(holds.groove or "")
    bars = holds.bars if holds.bars is not None else groove.bars if groove is not None else None
    if bars is None:
        if not said.says("groove") and not said.says("bars"):
            faults.add("a part without a groove needs a number of bars", ("parts", entry.part), hint="bars = 4")
        return 1
    if isinstance(holds.timekeeper, tuple):
        with faults.at(*said.where("timekeeper", entry.part)):
            surface_spans(holds.timekeeper, bars)
    return bars


def _check_spelling(layer: Settings, path: Path, faults: FaultList) -> None:
    """A spelling belongs to the feel that the same table names."""
    if layer.spelling is not None and layer.feel in feel_table.FEELS:
        with faults.at(*path, "spelling"):
            feel_table.check_spelling(layer.feel, layer.spelling)


def _check_feel(song: Song, entry: Entry, said: Said, faults: FaultList) -> None:
    """A relative feel of an entry must not leave the ladder from the feel that its part names."""
    plain, wanted = song.plain_settings_of(entry.part).feel, entry.settings.feel
    if wanted is not None and wanted in feel_table.RELATIVE and plain is not None and plain in feel_table.FEELS:
        with faults.at(*said.path, "feel"):
            feel_table.step_feel(plain, wanted)
