"""The error types of the project: what a wrong input raises, and how it reads.

Every error says where (file and place), what was found, what is allowed and what to try, in one or two
lines. Errors are for malformed input; a bar that no one can play is a finding, never an exception.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong with an input.

    Parameters
    ----------
    message : what is wrong, in a plain sentence without a full stop.
    file : name of the input as the user gave it; empty when the caller adds it later.
    place : key path and line, or track, tick and bar; empty when the whole file is meant.
    found : what stood there.
    allowed : what may stand there.
    hint : what to try.
    path : the key path in a song sheet, where one is known; the reader of the sheet turns it into a place.
    """

    message: str
    file: str = ""
    place: str = ""
    found: str = ""
    allowed: str = ""
    hint: str = ""
    path: tuple[str | int, ...] = ()

    def __str__(self) -> str:
        where = ": ".join(part for part in (self.file, self.place) if part)
        first = f"{where}: {self.message}" if where else self.message
        if self.found:
            first += f" (found {self.found})"
        rest = [f"allowed: {self.allowed}"] if self.allowed else []
        if self.hint:
            rest.append(f"try: {self.hint}")
        return first + ("\n  " + "; ".join(rest) if rest else "")


class GrooveForgeError(Exception):
    """Base of all errors of this package; carries one or more `Fault` values.

    The command line prints every fault and ends with exit status 2.
    """

    def __init__(
        self,
        message: str | Fault | Iterable[Fault],
        *,
        file: str = "",
        place: str = "",
        found: str = "",
        allowed: str = "",
        hint: str = "",
        path: tuple[str | int, ...] = (),
    ) -> None:
        if isinstance(message, str):
            message = Fault(message, file, place, found, allowed, hint, path)
        self.faults: tuple[Fault, ...] = (message,) if isinstance(message, Fault) else tuple(message)
        super().__init__("\n".join(str(fault) for fault in self.faults))

    def in_file(self, file: str) -> GrooveForgeError:
        """The same error with the file's name filled in where a fault has none."""
        faults = tuple(fault if fault.file else replace(fault, file=file) for fault in self.faults)
        return type(self)(faults)

    def at(self, place: str) -> GrooveForgeError:
        """The same error with the place filled in where a fault has none."""
        faults = tuple(fault if fault.place else replace(fault, place=place) for fault in self.faults)
        return type(self)(faults)


class MusicError(GrooveForgeError):
    """A musical value that cannot be: a metre, a grid, a feel off the ladder, a surface no kit has."""


class FormatError(GrooveForgeError):
    """Text or bytes that cannot be read as the format that they should be."""


class FileError(GrooveForgeError):
    """A file that is missing, is no file, is too large, or must not be overwritten."""


class UsageError(GrooveForgeError):
    """A command or function called with options that do not go together."""
