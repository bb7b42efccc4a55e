"""A song sheet as MIDI files."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from grooveforge.core.arrange import Arrangement
from grooveforge.core.kit import Kind
from grooveforge.core.perform import Performance, perform, section_ticks
from grooveforge.formats import midi
from grooveforge.formats.keymap import GM, KeyMap, Meeting, Replacement
from grooveforge.project.library import file_name_of
from grooveforge.project.sheets import Sheet, arranged


@dataclass(frozen=True)
class Rendered:
    """Everything that rendering a song gives: its files by name, and what there was to say about them."""

    arrangement: Arrangement
    performance: Performance
    files: dict[str, bytes] = field(default_factory=dict)
    replacements: tuple[Replacement, ...] = ()
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    meetings: tuple[Meeting, ...] = ()
    key_map: KeyMap = GM

    @property
    def changed_by_the_kit(self) -> bool:
        """Whether the kit made strokes other than the song wants them: on another surface, or left out."""
        return bool(self.replacements) or any(row.of_the_map for row in self.meetings)


def render(sheet: Sheet, options: midi.MidiOptions | None = None, sections: bool = False) -> Rendered:
    """A sheet as MIDI: the song, its tempo map as a file and a table, its click and count-in, and a file a section.

    The key map is that of the options, else the sheet's.
    """
    options = options or midi.MidiOptions()
    key_map = options.key_map or sheet.key_map
    options = replace(options, key_map=key_map)
    arrangement = arranged(sheet)
    performance = perform(arrangement)
    title, stem = sheet.song.title, sheet.stem
    song = midi.song_midi(performance, title, options)
    made = {
        f"{stem}.mid": song.data,
        f"{stem}-tempo.mid": midi.tempo_midi(performance, title),
        f"{stem}-tempo.txt": midi.tempo_table(performance).encode(),
        f"{stem}-click.mid": midi.click_midi(performance, title, sheet.song.count_in),
    }
    if sheet.song.count_in:
        made[f"{stem}-count-in.mid"] = midi.count_in_midi(performance, title, sheet.song.count_in, options)
    if sections:
        made |= section_files(arrangement, performance, stem, options)
    warnings = (*sheet.warnings, *key_map.remarks, *song.warnings)
    notes = (*arrangement.notes, *_choke_notes(performance))
    return Rendered(arrangement, performance, made, song.replacements, warnings, notes, song.meetings, key_map)


def _choke_notes(performance: Performance) -> tuple[str, ...]:
    """A line for chokes: General MIDI has no note that damps a cymbal."""
    count = int((performance.events.kind == Kind.CHOKE).sum())
    said = f"{count} choked strokes end after an eighth or at the next stop; a General MIDI kit may let them ring on"
    return (said,) if count else ()


def section_files(
    arrangement: Arrangement, performance: Performance, stem: str, options: midi.MidiOptions | None = None
) -> dict[str, bytes]:
    """A MIDI file a section, each starting on its downbeat: NAME-sections/01-verse.mid ..."""
    digits = max(2, len(str(len(arrangement.sections))))
    made = {}
    ticks = section_ticks(arrangement, performance.division)
    for number, (section, (start, end)) in enumerate(zip(arrangement.sections, ticks), 1):
        name = f"{number:0{digits}d}-{file_name_of(section.name) or 'section'}.mid"
        cut = performance.between(start, end)
        made[f"{stem}-sections/{name}"] = midi.song_midi(cut, f"{arrangement.title}: {section.name}", options).data
    return made
