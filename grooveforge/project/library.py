"""The shipped patterns, and how a sheet's grooves are found."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import lru_cache
from pathlib import Path

from grooveforge import files
from grooveforge.core.figures import Fill
from grooveforge.core.groove import Groove
from grooveforge.errors import FileError, FormatError, GrooveForgeError
from grooveforge.formats.groovefile import GrooveFile, read_fill_file, read_groove_file
from grooveforge.formats.keymap import KeyMap
from grooveforge.formats.smf_events import ascii_text
from grooveforge.formats.songsheet_fills import FillSource

ENDING = ".toml"
LONGEST_NAME = 100
"""Characters of a groove's name; file systems refuse much longer ones."""

GROOVES, FILLS, SONGS = "grooves", "fills", "songs"
"""The folders of the library."""


@lru_cache(maxsize=1)
def library() -> Path:
    """The folder of the shipped patterns: inside an installed package, else beside it in the source tree."""
    package = Path(__file__).parent.parent
    for place in (package / "patterns", package.parent / "patterns"):
        if place.is_dir():
            return place
    raise FileError("the shipped patterns are missing", hint="install the package again")


def file_name_of(name: str) -> str:
    """The file name that a groove or section has by its name: lower case, hyphens between words and figures."""
    return re.sub(r"[^a-z0-9]+", "-", ascii_text(name).lower()).strip("-")


def library_files(folder: str) -> list[Path]:
    """The files of one folder of the library, in order."""
    found = (library() / folder).glob(f"*{ENDING}")
    return sorted(path for path in found if not path.name.endswith(files.CHANGES_ENDING))


def library_grooves() -> Iterator[GrooveFile]:
    """Every shipped groove in order of its file name."""
    for path in library_files(GROOVES):
        yield groove_file(path)


def library_groove(name: str) -> GrooveFile:
    """A shipped groove by its name.

    Raises
    ------
    FormatError
        When there is none; the error names the nearest.
    """
    path = library() / GROOVES / f"{file_name_of(name)}{ENDING}"
    if not path.is_file():
        raise FormatError(f"no groove is called {name!r}", hint=_nearest(name))
    return groove_file(path)


@lru_cache(maxsize=1024)
def groove_file(path: Path) -> GrooveFile:
    """A groove file from disk; errors name the file."""
    try:
        return read_groove_file(files.read_text(path))
    except GrooveForgeError as error:
        raise error.in_file(str(path)) from error


@lru_cache(maxsize=1024)
def fill_of(path: Path) -> Fill:
    """The fill of a file from disk; errors name the file."""
    try:
        return read_fill_file(files.read_text(path)).fill(path.stem)
    except GrooveForgeError as error:
        raise error.in_file(str(path)) from error


@lru_cache(maxsize=1)
def library_fills() -> tuple[Fill, ...]:
    """Every shipped fill in order of its file name."""
    return tuple(fill_of(path) for path in library_files(FILLS))


def _beside(folder: Path, name: str) -> Path | None:
    """The file of a folder that a sheet means by a name: with an ending the file itself, else a pattern file."""
    names = [name] if Path(name).suffix else [f"{name}{ENDING}", f"{file_name_of(name)}{ENDING}"]
    return next((path for path in (folder / one for one in names) if path.is_file()), None)


def fill_source(folder: Path) -> FillSource:
    """Where the fills of a sheet come from: by name beside the sheet, then the library's; by length the library's."""

    def find(name: str) -> Fill:
        beside = _beside(folder, name)
        if beside is not None:
            return fill_of(beside)
        path = library() / FILLS / f"{file_name_of(name)}{ENDING}"
        if not path.is_file():
            raise FormatError(f"no fill is called {name!r}", hint=_nearest(name, FILLS, 'a length: "1 bar"'))
        return fill_of(path)

    return FillSource(find, library_fills)


def groove_finder(folder: Path, kit: Callable[[], KeyMap]) -> Callable[[str], Groove]:
    """A function that finds the grooves a sheet names: beside the sheet, then in the library.

    A name is that of a groove, or of a file of the folder (a groove file or a drum MIDI). A drum MIDI's notes
    are those of the sheet's kit, whose key map `kit` gives.
    """

    def find(name: str) -> Groove:
        if len(name) > LONGEST_NAME:
            raise FormatError("the name of a groove is too long", found=f"{len(name)} characters", hint=_nearest(""))
        beside = _beside(folder, name)
        return library_groove(name).groove if beside is None else groove_of(beside, kit())

    return find


def groove_of(path: Path, kit: KeyMap) -> Groove:
    """The groove of a groove file, or of a drum MIDI file whose notes are those of a kit."""
    data = files.read_bytes(path)
    if not is_midi(data):
        return groove_file(path).groove
    from grooveforge.formats.drums_groove import groove_of_midi

    try:
        return groove_of_midi(data, key_map=kit)
    except GrooveForgeError as error:
        raise error.in_file(str(path)) from error


def is_midi(data: bytes) -> bool:
    """Whether bytes are a Standard MIDI File, bare or wrapped in RIFF; told by content."""
    return data[:4] == b"MThd" or (data[:4] == b"RIFF" and data[8:12] == b"RMID")


def _nearest(name: str, folder: str = GROOVES, others: str = "`grooveforge grooves` lists all") -> str:
    from difflib import get_close_matches  # a name that is found needs none of it

    names = [path.stem for path in library_files(folder)]
    close = get_close_matches(file_name_of(name), names, n=3, cutoff=0.4)
    return (f"one of {', '.join(close)}; " if close else "") + others
