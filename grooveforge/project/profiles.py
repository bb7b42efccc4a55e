"""Profiles from disk."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from grooveforge import files
from grooveforge.core.profile import BOUNDS, PROFILES, Profile
from grooveforge.errors import FileError, FormatError, GrooveForgeError
from grooveforge.formats.profile_file import read_profile
from grooveforge.formats.toml_values import shown
from grooveforge.project.library import ENDING


def profile_of(said: str, folder: Path | None = None) -> Profile:
    """The profile that a sheet, groove file or command names.

    Parameters
    ----------
    said : "learning", "experienced", "extreme", a file (its ending may be left out), or "-" for standard input.
    folder : where the file lies; None for the working folder.

    Raises
    ------
    GrooveForgeError
        When there is no such profile or file, or with every fault of it.
    """
    if said in PROFILES:
        return PROFILES[said]
    if said == files.STANDARD_STREAM:
        return _read(files.decode(files.read_bytes(said)), said, "standard input")
    path = (folder or Path()) / said
    try:
        text = files.read_text(path)
    except FileError as error:
        if path.suffix:
            raise
        path = Path(f"{path}{ENDING}")
        if not path.is_file():
            names = ", ".join(PROFILES)
            raise FileError("no profile is called that", file=said, allowed=f"{names}, a file") from error
        text = files.read_text(path)
    return _read(text, str(path), path.name.removesuffix(ENDING))


def profile_finder(folder: Path) -> Callable[[str], Profile]:
    """A function that reads the profile a sheet names, beside the sheet; a missing file is the sheet's fault."""

    def find(name: str) -> Profile:
        if name == files.STANDARD_STREAM:
            hint = '"experienced" or "drummer.toml"'
            raise FormatError("a sheet names its profile by a file", found=shown(name), hint=hint)
        try:
            return profile_of(name, folder)
        except FileError as error:
            raise FormatError(replace(fault, file="", found=shown(name)) for fault in error.faults) from error

    return find


def _read(text: str, path: str, name: str) -> Profile:
    try:
        return read_profile(text, name)
    except GrooveForgeError as error:
        raise error.in_file(path) from error


def profiles_in(folder: Path) -> tuple[list[Profile], list[str]]:
    """The profiles of a folder by file name, and what is wrong with those that cannot be read."""
    found, wrong = [], []
    for path in files.listed(folder, f"*{ENDING}"):
        try:
            text = files.read_text(path)
            if _is_profile(text):
                found.append(_read(text, str(path), path.name.removesuffix(ENDING)))
        except GrooveForgeError as error:
            wrong += [str(fault) for fault in error.in_file(str(path)).faults]
    return found, wrong


def _is_profile(text: str) -> bool:
    """Whether a TOML text is meant as a profile: it has one of its numbers, and no form and no tab."""
    try:
        table = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError):
        return False  # no one can say what it was to be; the command that it is given to will
    return bool({*BOUNDS, "handed"} & set(table)) and not {"form", "tab"} & set(table)
