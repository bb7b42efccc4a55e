"""The file that a sheet on the page is saved in, which something else may change in the meantime."""

from __future__ import annotations

from pathlib import Path

from grooveforge import files
from grooveforge.errors import FileError, UsageError
from grooveforge.page.confine import is_still_there
from grooveforge.project.sheets import BOM


class SheetFile:
    """A sheet's file.

    Parameters
    ----------
    path : where the sheet is, or where it is to be written. data : its bytes. there : whether the file exists.
    """

    def __init__(self, path: Path, data: bytes, there: bool) -> None:
        self.path = path.resolve()
        self.mark = _mark(data)
        self.base = data if there else None
        """What was read or written last; None for a sheet that is in no file yet."""

    def bytes_of(self, text: str) -> bytes:
        """A text as the file would hold it."""
        return self.mark + text.encode()

    @property
    def changed(self) -> bool:
        """Whether the file is no longer what the page read or wrote last."""
        if self.base is None:
            return False
        try:
            return not is_still_there(self.path) or files.read_bytes(self.path) != self.base
        except FileError:
            return True

    @property
    def digest(self) -> str | None:
        """The digest of what stands on disk; None where nothing can be read."""
        try:
            return files.digest(files.read_bytes(self.path))
        except FileError:
            return None

    def write(self, text: str, force: bool) -> None:
        """Put a text into the file; `force` replaces whatever is there.

        Raises
        ------
        FileError
            When a link stands there, something else changed the file, or the disk refuses.
        """
        if not is_still_there(self.path):
            raise FileError("a link stands where the sheet was; nothing was written", file=str(self.path))
        data = self.bytes_of(text)
        if self.base is None or not self.path.exists():
            files.write_output(self.path, data)
        elif data != self.base or force:
            files.change_in_place(self.path, files.read_bytes(self.path) if force else self.base, data)
        self.base = data

    def read(self) -> bytes:
        """What stands on disk; `taken` says that the page holds it from now on.

        Raises
        ------
        GrooveForgeError
            When there is no file yet, a link stands there, or it cannot be read.
        """
        if self.base is None:
            raise UsageError("this sheet is in no file yet", hint="save")
        if not is_still_there(self.path):
            raise FileError("a link stands where the sheet was", file=str(self.path))
        return files.read_bytes(self.path)

    def taken(self, data: bytes) -> None:
        """The page holds these bytes now."""
        self.base, self.mark = data, _mark(data)


def _mark(data: bytes) -> bytes:
    return BOM if data.startswith(BOM) else b""
