"""What command line, page and Python users share: inputs from disk, the shipped library, outputs of a song.

The formats read and write text and bytes, `files` opens and replaces; this module joins them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from grooveforge import files
from grooveforge.core.arrange import Arrangement, arrange
from grooveforge.core.groove import Groove
from grooveforge.core.perform import Performance, perform, section_ticks
from grooveforge.core.song import Song
from grooveforge.errors import Fault, FileError, FormatError, GrooveForgeError
from grooveforge.formats import midi
from grooveforge.formats.groovefile import GrooveFile, read_groove_file
from grooveforge.formats.keymap import Replacement
from grooveforge.formats.smf_events import ascii_text
from grooveforge.formats.songsheet import read_song

SHEET_ENDING = ".toml"
MIDI_ENDINGS = (".mid", ".midi")
LIBRARY_FOLDERS = ("grooves", "fills", "songs")


# -- the library -----------------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def library() -> Path:
    """The folder of the shipped patterns: inside an installed package, else beside it in the source tree."""
    package = Path(__file__).parent
    for place in (package / "patterns", package.parent / "patterns"):
        if place.is_dir():
            return place
    raise FileError("the shipped patterns are missing", hint="install the package again")


def file_name_of(name: str) -> str:
    """The file name of a groove or song by its name: lower case, hyphens for all that is no letter or figure."""
    return re.sub(r"[^a-z0-9]+", "-", ascii_text(name).lower()).strip("-")


def library_grooves(folder: str = "grooves") -> Iterator[GrooveFile]:
    """Every shipped groove in order of its file name."""
    for path in sorted((library() / folder).glob(f"*{SHEET_ENDING}")):
        yield _groove_file(path)


@lru_cache(maxsize=1024)
def _groove_file(path: Path) -> GrooveFile:
    try:
        return read_groove_file(files.read_text(path))
    except GrooveForgeError as error:
        raise error.in_file(str(path)) from error


def groove_finder(folder: Path) -> Callable[[str], Groove]:
    """A function that finds the grooves a sheet names: beside the sheet, then in the library.

    A name may be a file of the folder (a groove file or a drum MIDI) or the name of a groove.
    """

    def find(name: str) -> Groove:
        stem = file_name_of(name)
        beside = [folder / name] if Path(name).suffix else [folder / f"{name}{SHEET_ENDING}", folder / f"{stem}.toml"]
        for path in [*beside, library() / "grooves" / f"{stem}{SHEET_ENDING}"]:
            if path.is_file():
                return groove_of(path)
        raise FormatError(f"no groove is called {name!r}", hint=_nearest(name))

    return find


def groove_of(path: Path) -> Groove:
    """The groove of a groove file or a drum MIDI file."""
    data = files.read_bytes(path)
    if is_midi(data):
        from grooveforge.formats.drums_groove import groove_of_midi

        return _named(path, lambda: groove_of_midi(data))
    return _groove_file(path).groove


def _named(path: Path | str, make: Callable[[], Groove]) -> Groove:
    try:
        return make()
    except GrooveForgeError as error:
        raise error.in_file(str(path)) from error


def _nearest(name: str) -> str:
    from difflib import get_close_matches

    names = [path.stem for path in (library() / "grooves").glob(f"*{SHEET_ENDING}")]
    close = get_close_matches(file_name_of(name), names, n=3, cutoff=0.4)
    return f"one of {', '.join(close)}; `grooveforge grooves` lists all" if close else "`grooveforge grooves` lists all"


# -- inputs ----------------------------------------------------------------------------------------------


def is_midi(data: bytes) -> bool:
    """Whether bytes are a Standard MIDI File (bare, or wrapped in RIFF), told by content."""
    return data[:4] == b"MThd" or (data[:4] == b"RIFF" and data[8:12] == b"RMID")


def is_sheet(text: str) -> bool:
    """Whether a text is meant as a song sheet: it has a form or parts, a groove file has a tab."""
    return re.search(r"^\s*(form\s*=|\[parts)", text, re.MULTILINE) is not None


@dataclass(frozen=True)
class Sheet:
    """A song sheet that was read: its text as it stands on disk, and the song."""

    path: str
    data: bytes
    song: Song

    @property
    def stem(self) -> str:
        """The base of output names: the file's name without its ending; `song` for standard input."""
        return "song" if self.path == files.STANDARD_STREAM else Path(self.path).name.removesuffix(SHEET_ENDING)


def read_sheet(path: str) -> Sheet:
    """A song sheet from disk or standard input ("-").

    Raises
    ------
    GrooveForgeError
        With every fault of the sheet, each with file, key path and line.
    """
    data = files.read_bytes(path)
    if is_midi(data):
        raise FormatError("this is a MIDI file where a song sheet is needed", file=path, hint="vary, or inspect")
    try:
        return Sheet(path, data, song_from(files.decode(data), path))
    except GrooveForgeError as error:
        raise error.in_file(path) from error


def song_from(text: str, path: str) -> Song:
    """The song of a sheet's text; its grooves are looked for beside `path`."""
    folder = Path() if path == files.STANDARD_STREAM else Path(path).parent
    name = "song" if path == files.STANDARD_STREAM else Path(path).name.removesuffix(SHEET_ENDING)
    return read_song(text, name, groove_finder(folder))


def arranged(sheet: Sheet) -> Arrangement:
    """The arrangement of a sheet; faults name the line of the sheet that caused them."""
    try:
        return arrange(sheet.song)
    except GrooveForgeError as error:
        raise _with_lines(error, files.decode(sheet.data)).in_file(sheet.path) from error


def _with_lines(error: GrooveForgeError, text: str) -> GrooveForgeError:
    from grooveforge.formats.locate import place_text

    def placed(fault: Fault) -> Fault:
        if fault.place or not fault.path:
            return fault
        place = place_text(text, fault.path)
        return Fault(fault.message, fault.file, place, fault.found, fault.allowed, fault.hint, fault.path)

    return type(error)(placed(fault) for fault in error.faults)


# -- outputs ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Rendered:
    """Everything that rendering a song gives: its files by name, and what was said about them."""

    arrangement: Arrangement
    performance: Performance
    files: dict[str, bytes] = field(default_factory=dict)
    replacements: tuple[Replacement, ...] = ()
    warnings: tuple[str, ...] = ()


def render(sheet: Sheet, options: midi.MidiOptions | None = None, sections: bool = False) -> Rendered:
    """A sheet as MIDI: the song, its tempo map as a file and a table, its click, and a file a section."""
    arrangement = arranged(sheet)
    performance = perform(arrangement)
    title, stem = sheet.song.title, sheet.stem
    song = midi.song_midi(performance, title, options)
    made = {
        f"{stem}.mid": song.data,
        f"{stem}-tempo.mid": midi.tempo_midi(performance, title),
        f"{stem}-tempo.txt": midi.tempo_table(performance).encode(),
        f"{stem}-click.mid": midi.click_midi(performance, title),
    }
    if sections:
        made |= section_files(arrangement, performance, stem, options)
    return Rendered(arrangement, performance, made, song.replacements, song.warnings)


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
