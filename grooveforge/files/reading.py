"""Reading files: bytes, text, what is in a folder."""

from __future__ import annotations

import hashlib
import sys
from pathlib import Path

from grooveforge.errors import FileError

Data = bytes | bytearray
"""What is written."""

MOST_BYTES = 64 * 2**20
"""A larger file is refused with a message."""

STANDARD_STREAM = "-"


def read_bytes(path: str | Path) -> bytes:
    """The bytes of a file, or of standard input for "-".

    Raises
    ------
    FileError
        When it is missing, a directory, not readable or over 64 MiB.
    """
    if str(path) == STANDARD_STREAM:
        data = sys.stdin.buffer.read(MOST_BYTES + 1)
        if len(data) > MOST_BYTES:
            raise FileError("standard input is too large", allowed="64 MiB", file="-")
        return data
    place = Path(path)
    try:
        if place.is_dir():
            raise FileError("this is a directory where a file is needed", file=str(path), hint="a file in it")
        size = place.stat().st_size
        if size > MOST_BYTES:
            raise FileError("the file is too large", file=str(path), found=f"{size} bytes", allowed="64 MiB")
        return place.read_bytes()
    except FileNotFoundError as error:
        raise FileError("there is no such file", file=str(path), hint=_neighbours(place)) from error
    except (OSError, ValueError) as error:
        raise FileError(f"the file cannot be read: {reason(error)}", file=str(path)) from error


def read_head(path: str | Path, count: int) -> bytes:
    """The first bytes of a file of any size; errors as `read_bytes`."""
    place = Path(path)
    try:
        with place.open("rb") as file:
            return file.read(count)
    except FileNotFoundError as error:
        raise FileError("there is no such file", file=str(path), hint=_neighbours(place)) from error
    except (OSError, ValueError) as error:
        raise FileError(f"the file cannot be read: {reason(error)}", file=str(path)) from error


def read_text(path: str | Path) -> str:
    """The text of a UTF-8 file (a byte order mark is dropped), or of standard input for "-".

    Raises
    ------
    FileError
        As `read_bytes`, and when the bytes are no text.
    """
    data = read_bytes(path)
    try:
        return decode(data)
    except FileError as error:
        raise error.in_file(str(path)) from error


def decode(data: bytes) -> str:
    """Bytes as UTF-8 text; a FileError when they are none."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise FileError(
            "this is no text file", found=f"byte {data[error.start]:#04x} at {error.start}", allowed="text in UTF-8"
        ) from error
    if "\x00" in text:
        raise FileError("this is no text file", found=f"a zero byte at {text.index(chr(0))}", allowed="text in UTF-8")
    return text


def listed(folder: str | Path, pattern: str) -> list[Path]:
    """The files of a folder whose names fit a pattern such as "*.toml", in order.

    Raises
    ------
    FileError
        When there is no such folder.
    """
    place = Path(folder)
    try:
        if not place.is_dir():
            raise FileError("there is no such folder", file=str(folder))
        return sorted(path for path in place.glob(pattern) if path.is_file())
    except (OSError, ValueError) as error:
        raise FileError(f"the folder cannot be read: {reason(error)}", file=str(folder)) from error


def reason(error: Exception) -> str:
    return (error.strerror or str(error)) if isinstance(error, OSError) else str(error)


def _neighbours(path: Path) -> str:
    """Files beside a missing one that have its ending."""
    try:
        names = sorted(item.name for item in path.parent.iterdir() if item.suffix == path.suffix and item.is_file())
    except OSError:
        return "check the folder's name"
    return "one of " + ", ".join(names[:5]) if names else "check the name"


def digest(data: Data) -> str:
    """The SHA-256 of some bytes, in hexadecimal."""
    return hashlib.sha256(data).hexdigest()
