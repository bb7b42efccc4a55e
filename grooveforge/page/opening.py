"""Which sheet the page opens: a file, a text from standard input, or a demo song to start from."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from grooveforge import files
from grooveforge.errors import GrooveForgeError
from grooveforge.page.session import Session
from grooveforge.project.library import ENDING, SONGS, library

DEMO = "copper-weather"
NEW_NAME = "my-song"


def session_of(source: str | None, folder: Path) -> Session:
    """The session over a sheet.

    Parameters
    ----------
    source : a path; "-" for standard input; None for a demo song to try things on.
    folder : where a sheet that is in no file yet is saved.

    Raises
    ------
    GrooveForgeError
        When the sheet cannot be read or has faults.
    """
    if source is not None and source != files.STANDARD_STREAM:
        data = files.read_bytes(source)
        try:
            return Session(Path(source), data)
        except GrooveForgeError as error:
            raise _as_given(error, source) from error
    if source is None:
        data = files.read_bytes(library() / SONGS / f"{DEMO}{ENDING}")
        return Session(free_name(folder, NEW_NAME), data, there=False)
    return Session(free_name(folder, "song"), files.read_bytes(source), there=False)


def _as_given(error: GrooveForgeError, source: str) -> GrooveForgeError:
    """Faults that name the sheet as the user did."""
    own = str(Path(source).resolve())
    return type(error)(replace(fault, file=source) if fault.file in ("", own) else fault for fault in error.faults)


def free_name(folder: Path, stem: str) -> Path:
    """A sheet's path in a folder where no file is yet: my-song.toml, my-song-2.toml ..."""
    number = 1
    while (path := folder / f"{stem}{f'-{number}' if number > 1 else ''}{ENDING}").exists():
        number += 1
    return path
