"""Song sheets on disk: reading, arranging, starting a new one."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from pathlib import Path

from grooveforge import files
from grooveforge.core.arrange import Arrangement, arrange
from grooveforge.core.meter import parse_meter
from grooveforge.core.played_bar import Changes
from grooveforge.core.profile import Profile
from grooveforge.core.song import Song
from grooveforge.core.tempo import check_tempo
from grooveforge.errors import FormatError, GrooveForgeError, UsageError
from grooveforge.formats.keymap import GM, KeyMap
from grooveforge.formats.locate import place_faults
from grooveforge.formats.songsheet import Band, read_song
from grooveforge.project.library import ENDING, fill_source, groove_finder, is_midi
from grooveforge.project.named import DRUMMERS, KEY_MAPS
from grooveforge.project.riffs import riff_finder


@dataclass(frozen=True)
class Sheet:
    """A song sheet that was read: its bytes as they stand on disk, the song, what its riff files had to say. The bars
    of its changes file are the song's."""

    path: str
    data: bytes
    song: Song
    warnings: tuple[str, ...] = ()

    @property
    def without_changes(self) -> Sheet:
        """The sheet as its text alone gives it."""
        return replace(self, song=replace(self.song, changes={}))

    @cached_property
    def key_map(self) -> KeyMap:
        """The kit's key map that the sheet names."""
        return KEY_MAPS.beside(folder_of(self.path))(self.song.key_map)

    @cached_property
    def profile(self) -> Profile:
        """The drummer's profile that the sheet names."""
        return DRUMMERS.beside(folder_of(self.path))(self.song.profile)

    @property
    def text(self) -> str:
        return files.decode(self.data)

    @property
    def stem(self) -> str:
        """The base of output names: the file's name without its ending; `song` for standard input."""
        return stem_of(self.path)


def stem_of(path: str) -> str:
    """The base of output names for an input."""
    return "song" if path == files.STANDARD_STREAM else Path(path).name.removesuffix(ENDING)


def file_name(path: str) -> str:
    """The name that a new sheet goes by in its own text."""
    return f"{stem_of(path)}{ENDING}" if path == files.STANDARD_STREAM else Path(path).name


def title_of(path: str) -> str:
    """The title that a new sheet has by its file's name."""
    return stem_of(path).replace("-", " ").replace("_", " ").title()


def folder_of(path: str) -> Path:
    """The folder that a sheet's files lie in."""
    return Path() if path == files.STANDARD_STREAM else Path(path).parent


def read_sheet(path: str) -> Sheet:
    """A song sheet from disk, or from standard input for "-".

    Raises
    ------
    GrooveForgeError
        With every fault of the sheet, each with file, key path and line.
    """
    return sheet_from(files.read_bytes(path), path)


def sheet_from(data: bytes, path: str) -> Sheet:
    """A song sheet from the bytes of a file; its grooves are looked for beside `path`."""
    if is_midi(data):
        raise FormatError("this is a MIDI file where a song sheet is needed", file=path, hint="grooveforge inspect")
    try:
        warnings: list[str] = []
        song = song_from(files.decode(data), path, warnings)
        changed = replace(song, changes=changes_of(path), changes_from=files.changes_file(path).name)
        return Sheet(path, data, changed, tuple(dict.fromkeys(warnings)))
    except GrooveForgeError as error:
        raise error.in_file(path) from error


BOM = "\ufeff".encode()


def data_with(sheet: Sheet, text: str) -> bytes:
    """The bytes of a sheet with another text; a byte order mark stays."""
    return (BOM if sheet.data.startswith(BOM) else b"") + text.encode()


def changes_of(path: str) -> Changes:
    """The changed bars of the changes file beside a sheet; none where there is no such file.

    Raises
    ------
    GrooveForgeError
        With every fault of the file.
    """
    beside = files.changes_file(path)
    if path == files.STANDARD_STREAM or not beside.is_file():
        return {}
    from grooveforge.formats.changes_file import read_changes

    try:
        return read_changes(files.read_text(beside))
    except GrooveForgeError as error:
        raise error.in_file(str(beside)) from error


def song_from(text: str, path: str, warnings: list[str] | None = None) -> Song:
    """The song of a sheet's text; its grooves and riffs are looked for beside `path`.

    `warnings` takes what there is to say about riff files.
    """
    folder = folder_of(path)
    kit, find = [GM], KEY_MAPS.beside(folder)

    def find_key_map(name: str) -> KeyMap:
        kit[0] = find(name)
        return kit[0]

    riffs, fills = riff_finder(folder, warnings), fill_source(folder)
    band = Band(find_key_map, DRUMMERS.beside(folder))
    return read_song(text, stem_of(path), groove_finder(folder, lambda: kit[0]), riffs, fills, band)


def arranged(sheet: Sheet) -> Arrangement:
    """The arrangement of a sheet, changed bars in it; faults name the line of the sheet that caused them."""
    try:
        return arrange(sheet.song)
    except GrooveForgeError as error:
        raise type(error)(place_faults(sheet.text, error.faults)).in_file(sheet.path) from error


def new_sheet(path: Path, form: list[str], tempo: str, meter: str, force: bool = False) -> Path:
    """Write a commented sheet that renders as it stands.

    Raises
    ------
    GrooveForgeError
        When the tempo, metre or form is none, or a file is in the way and `force` is off.
    """
    from grooveforge.formats.newsheet import new_sheet as text_of

    try:
        rate = Fraction(tempo)
    except (ValueError, ZeroDivisionError) as error:
        raise UsageError("the tempo is no number", found=repr(tempo), allowed="20 to 400") from error
    text = text_of(file_name(str(path)), title_of(str(path)), form, check_tempo(rate), parse_meter(meter))
    return files.write_output(path, text.encode(), force)
