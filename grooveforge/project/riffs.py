"""Riffs from disk."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from grooveforge import files
from grooveforge.core.song import Riff
from grooveforge.errors import FormatError, GrooveForgeError
from grooveforge.project.library import is_midi

if TYPE_CHECKING:
    from grooveforge.formats.riff_midi import RiffFile


def riff_finder(folder: Path, warnings: list[str] | None = None) -> Callable[[str], Riff]:
    """A function that reads the riff files a sheet names, beside the sheet; `warnings` takes what they say."""

    def find(name: str) -> Riff:
        path = folder / name
        found = riff_file(files.read_bytes(path), str(path))
        if warnings is not None:
            warnings.extend(f"{path}: {warning}" for warning in found.warnings)
        return found.riff

    return find


def riff_file(data: bytes, path: str) -> RiffFile:
    """The riff of a file's bytes; errors name the file."""
    from grooveforge.formats.riff_midi import read_riff

    try:
        if not is_midi(data):
            raise FormatError(
                "a riff file is a MIDI file, and this is none",
                found=f"{len(data)} bytes" if data else "an empty file",
                hint='a typed riff such as "x--X--x-"',
            )
        return read_riff(data)
    except GrooveForgeError as error:
        raise error.in_file(path) from error
