"""Putting a file in place: whole or not at all, one process at a time."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from grooveforge.errors import FileError
from grooveforge.files.reading import Data, reason

if sys.platform == "win32":  # no such locks there: processes on one folder are not kept apart
    fcntl = None
else:
    import fcntl

TEMPORARY = ".new"
"""The ending of files that are not whole yet."""

_TEMPORARY = re.compile(r"\..*\.[0-9a-f]{12}\.new")


def replace(path: Path, data: Data) -> None:
    """Put a file in place in one step: whole or not at all."""
    try:
        mode = path.stat().st_mode & 0o7777 if path.exists() else 0o666 & ~_umask()
        name = path.with_name(f".{path.name[:40]}.{os.urandom(6).hex()}{TEMPORARY}")
        handle = os.open(name, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o600)
        try:
            with os.fdopen(handle, "wb") as file:
                _lock(file.fileno())
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
                name.chmod(mode)
                if fcntl is not None:  # renamed while it is locked, so that no one sweeps it away
                    name.replace(path)
            if fcntl is None:  # a file that is open cannot be renamed everywhere
                name.replace(path)
        except BaseException:
            name.unlink(missing_ok=True)
            raise
    except (OSError, ValueError) as error:
        raise FileError(f"the file cannot be written: {reason(error)}", file=str(path)) from error


def _lock(handle: int, wait: bool = True) -> bool:
    """Whether an open file or folder is ours alone now, until it is closed."""
    if fcntl is None:
        return True
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except OSError:  # held by another, or a file system without locks
        return wait
    return True


def sweep(folder: Path) -> None:
    """Remove temporary files that a killed process left in a folder: those that no one holds."""
    for left in folder.glob(f".*{TEMPORARY}"):
        if not _TEMPORARY.fullmatch(left.name):
            continue
        with suppress(OSError):
            handle = os.open(left, os.O_RDWR)
            try:
                if _lock(handle, wait=False):
                    left.unlink()
            finally:
                os.close(handle)


@contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """The folder for this process alone: others that change files in it wait; what a killed one left is removed."""
    if fcntl is None:
        yield
        return
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError as error:
        raise FileError(f"the folder cannot be opened: {reason(error)}", file=str(folder)) from error
    try:
        _lock(handle)
        sweep(folder)
        yield
    finally:
        os.close(handle)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise FileError(f"the folder cannot be made: {reason(error)}", file=str(folder)) from error
