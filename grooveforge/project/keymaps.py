"""Key maps from disk."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from grooveforge import files
from grooveforge.errors import FileError, FormatError, GrooveForgeError
from grooveforge.formats.keymap import GM, KeyMap
from grooveforge.formats.keymap_file import read_key_map
from grooveforge.formats.toml_values import shown
from grooveforge.project.library import ENDING


def key_map_of(said: str, folder: Path | None = None) -> KeyMap:
    """The key map that a sheet or command names.

    Parameters
    ----------
    said : "gm", a file (its ending may be left out), or "-" for standard input.
    folder : where the file lies; None for the working folder.

    Raises
    ------
    GrooveForgeError
        When there is no such file, or with every fault of it.
    """
    if said == GM.name:
        return GM
    if said == files.STANDARD_STREAM:
        return _read(files.decode(files.read_bytes(said)), said, "standard input")
    path = (folder or Path()) / said
    try:
        text = files.read_text(path)
    except FileError:
        if path.suffix:
            raise
        path = Path(f"{path}{ENDING}")
        text = files.read_text(path)
    return _read(text, str(path), path.name.removesuffix(ENDING))


def key_map_finder(folder: Path) -> Callable[[str], KeyMap]:
    """A function that reads the key map a sheet names, beside the sheet; a missing file is the sheet's fault."""

    def find(name: str) -> KeyMap:
        if name == files.STANDARD_STREAM:
            raise FormatError("a sheet names its key map by a file", found=shown(name), hint='"gm" or "my-kit.toml"')
        try:
            return key_map_of(name, folder)
        except FileError as error:
            raise FormatError(replace(fault, file="", found=shown(name)) for fault in error.faults) from error

    return find


def _read(text: str, path: str, name: str) -> KeyMap:
    try:
        return read_key_map(text, name)
    except GrooveForgeError as error:
        raise error.in_file(path) from error


def key_maps_in(folder: Path) -> tuple[list[KeyMap], list[str]]:
    """The key maps of a folder by file name, and what is wrong with those that cannot be read.

    Raises
    ------
    FileError
        When there is no such folder.
    """
    found, wrong = [], []
    for path in files.listed(folder, f"*{ENDING}"):
        try:
            text = files.read_text(path)
            if _is_key_map(text):
                found.append(_read(text, str(path), path.name.removesuffix(ENDING)))
        except GrooveForgeError as error:
            wrong += [str(fault) for fault in error.in_file(str(path)).faults]
    return found, wrong


def _is_key_map(text: str) -> bool:
    """Whether a TOML text is meant as a key map: it has notes or a base, and no form and no tab."""
    try:
        table = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError):
        return False  # no one can say what it was to be; the command that it is given to will
    return bool({"notes", "base", "lacks"} & set(table)) and not {"form", "tab"} & set(table)
