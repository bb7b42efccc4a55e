"""What a sheet or command names and a file may hold: shipped values by their names, a user's own by file."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Generic, TypeVar

from grooveforge import files
from grooveforge.core.profile import BOUNDS, PROFILES
from grooveforge.errors import FileError, FormatError, GrooveForgeError
from grooveforge.formats.keymap import GM
from grooveforge.formats.keymap_file import read_key_map
from grooveforge.formats.profile_file import read_profile
from grooveforge.formats.toml_values import shown
from grooveforge.project.library import ENDING

Value = TypeVar("Value")


@dataclass(frozen=True)
class Kept(Generic[Value]):
    """One kind of value that is kept in files, such as key maps.

    Parameters
    ----------
    what : the kind, as errors call it. shipped : the values that need no file, by name.
    read : from a file's text, and the name that reports call it, to the value.
    keys : one of which a file of the kind has; a file of another kind may have it too, with `form` or `tab`.
    example : two ways for a sheet to name one, for errors.
    """

    what: str
    shipped: Mapping[str, Value]
    read: Callable[[str, str], Value]
    keys: frozenset[str]
    example: str

    def of(self, said: str, folder: Path | None = None) -> Value:
        """The value that a sheet, groove file or command names.

        Parameters
        ----------
        said : the name of a shipped one, a file (its ending may be left out), or "-" for standard input.
        folder : where the file lies; None for the working folder.

        Raises
        ------
        GrooveForgeError
            When there is none, or with every fault of it.
        """
        if said in self.shipped:
            return self.shipped[said]
        if said == files.STANDARD_STREAM:
            return self._read(files.decode(files.read_bytes(said)), said, "standard input")
        path = (folder or Path()) / said
        try:
            text = files.read_text(path)
        except FileError:
            if path.suffix:
                raise
            path = Path(f"{path}{ENDING}")
            text = self._text(path, said)
        return self._read(text, str(path), path.name.removesuffix(ENDING))

    def _text(self, path: Path, said: str) -> str:
        try:
            return files.read_text(path)
        except FileError as error:
            if not isinstance(error.__cause__, FileNotFoundError):
                raise
            allowed = f"{', '.join(self.shipped)}, a file"
            raise FileError(f"no {self.what} is called that", file=said, allowed=allowed) from error

    def beside(self, folder: Path) -> Callable[[str], Value]:
        """A function that reads the one a sheet in a folder names; a missing file is the sheet's fault."""

        def find(name: str) -> Value:
            if name == files.STANDARD_STREAM:
                message = f"a sheet names its {self.what} by a file"
                raise FormatError(message, found=shown(name), hint=self.example)
            try:
                return self.of(name, folder)
            except FileError as error:
                raise FormatError(replace(fault, file="", found=shown(name)) for fault in error.faults) from error

        return find

    def all_in(self, folder: Path) -> tuple[list[Value], list[str]]:
        """Those of a folder by file name, and what is wrong with the ones that cannot be read.

        Raises
        ------
        FileError
            When there is no such folder.
        """
        found, wrong = [], []
        for path in files.listed(folder, f"*{ENDING}"):
            try:
                text = files.read_text(path)
                if self._is_one(text):
                    found.append(self._read(text, str(path), path.name.removesuffix(ENDING)))
            except GrooveForgeError as error:
                wrong += [str(fault) for fault in error.in_file(str(path)).faults]
        return found, wrong

    def _read(self, text: str, path: str, name: str) -> Value:
        try:
            return self.read(text, name)
        except GrooveForgeError as error:
            raise error.in_file(path) from error

    def _is_one(self, text: str) -> bool:
        """Whether a TOML text is meant as one of these."""
        try:
            table = tomllib.loads(text)
        except (tomllib.TOMLDecodeError, RecursionError, ValueError):
            return False  # no one can say what it was to be; the command that it is given to will
        return bool(self.keys & set(table)) and not {"form", "tab"} & set(table)


KEY_MAPS = Kept("key map", {GM.name: GM}, read_key_map, frozenset(("notes", "base", "lacks")), '"gm" or "my-kit.toml"')
DRUMMERS = Kept("profile", PROFILES, read_profile, frozenset((*BOUNDS, "handed")), '"experienced" or "drummer.toml"')
