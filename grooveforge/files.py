"""The only code that opens, replaces and backs up files.

A file is written whole or not at all: into a temporary file beside it, then renamed over it. What this
package wrote is known from `.grooveforge.json` in the output folder (name and SHA-256 of each file, written
last; what is about to be written is announced there first, so that a process killed in between leaves no file
that looks foreign); any other file is replaced only with `force`, and then kept as NAME.1, NAME.2 ... A sheet
that is changed in place is kept for `undo` in the folder `.grooveforge` beside it, ten deep. Two processes on
one folder take turns.
"""

from __future__ import annotations

import glob
import hashlib
import json
import os
import re
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from grooveforge.errors import FileError

try:
    import fcntl
except ImportError:  # no such locks on this system: processes on one folder are not kept apart there
    fcntl = None  # type: ignore[assignment]  # a module or nothing

Data = bytes | bytearray
"""What is written."""

MOST_BYTES = 64 * 2**20
"""A larger file is refused with a message."""

MANIFEST = ".grooveforge.json"
UNDO_FOLDER = ".grooveforge"
UNDO_DEPTH = 10
NEW_FILE = " new"
"""What stands behind the SHA-256 of a kept change that made its file."""

RECORD = ".rendered."
CHANGES_ENDING = ".changes.toml"
STANDARD_STREAM = "-"
TEMPORARY = ".new"
"""The ending of files that are not whole yet."""


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
        raise FileError(f"the file cannot be read: {_reason(error)}", file=str(path)) from error


def read_head(path: str | Path, count: int) -> bytes:
    """The first bytes of a file of any size; errors as `read_bytes`."""
    place = Path(path)
    try:
        with place.open("rb") as file:
            return file.read(count)
    except FileNotFoundError as error:
        raise FileError("there is no such file", file=str(path), hint=_neighbours(place)) from error
    except (OSError, ValueError) as error:
        raise FileError(f"the file cannot be read: {_reason(error)}", file=str(path)) from error


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
        raise FileError(f"the folder cannot be read: {_reason(error)}", file=str(folder)) from error


def _reason(error: Exception) -> str:
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


def _replace(path: Path, data: Data) -> None:
    """Put a file in place in one step: whole or not at all."""
    prefix = f".{path.name[:40]}."
    try:
        mode = path.stat().st_mode & 0o7777 if path.exists() else 0o666 & ~_umask()
        _sweep(path.parent, prefix)
        name = path.with_name(f"{prefix}{os.urandom(6).hex()}{TEMPORARY}")
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
        raise FileError(f"the file cannot be written: {_reason(error)}", file=str(path)) from error


def _lock(handle: int, wait: bool = True) -> bool:
    """Whether an open file or folder is ours alone now, until it is closed."""
    if fcntl is None:
        return True
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except OSError:  # held by another, or a file system without locks
        return wait
    return True


def _sweep(folder: Path, prefix: str) -> None:
    """Remove temporary files that a killed process left: those that no one holds."""
    for left in folder.glob(f"{glob.escape(prefix)}*{TEMPORARY}"):
        with suppress(OSError):
            handle = os.open(left, os.O_RDWR)
            try:
                if _lock(handle, wait=False):
                    left.unlink()
            finally:
                os.close(handle)


@contextmanager
def _alone_in(folder: Path) -> Iterator[None]:
    """The folder for this process alone: others that change files in it wait."""
    if fcntl is None:
        yield
        return
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError as error:
        raise FileError(f"the folder cannot be opened: {_reason(error)}", file=str(folder)) from error
    try:
        _lock(handle)
        yield
    finally:
        os.close(handle)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def write_outputs(folder: str | Path, files: Mapping[str, Data], force: bool = False) -> list[Path]:
    """Write output files into a folder, which is made when missing; nothing is written when one is refused.

    Parameters
    ----------
    files : bytes by name; a name may have folders in it.
    force : replace files that this package did not write, or that were edited since; the old ones are kept
        as NAME.1, NAME.2 ...

    Returns
    -------
    The paths written, in the order given.

    Raises
    ------
    FileError
        When a file is foreign or edited and `force` is off, or the disk refuses.
    """
    root = Path(folder)
    _make_folder(root)
    with _alone_in(root):
        ours = _manifest(root)
        if not force:
            for name, data in files.items():
                _refuse_foreign(root, name, data, ours)
        listed = {name: hashes[0] for name, hashes in ours.items()}
        coming = {name: digest(data) for name, data in files.items()}
        changing = [name for name, data in files.items() if not _holds(root / name, data)]
        if changing:
            _write_manifest(root, listed, {name: coming[name] for name in changing})
        for name in changing:
            path = root / name
            _make_folder(path.parent)
            if path.exists() and digest(_written(path)) not in ours.get(name, ()):
                _back_up(path)
            _replace(path, files[name])
        if changing or any(listed.get(name) != said for name, said in coming.items()):
            _write_manifest(root, listed | coming)
    return [root / name for name in files]


def _holds(path: Path, data: Data) -> bool:
    """Whether a file is there and holds just these bytes: then there is nothing to write."""
    return path.is_file() and path.stat().st_size == len(data) and _written(path) == data


def _written(path: Path) -> bytes:
    """The bytes of an output file; unlike an input it may be of any size."""
    try:
        return path.read_bytes()
    except OSError as error:
        raise FileError(f"the file cannot be read: {_reason(error)}", file=str(path)) from error


def write_output(path: str | Path, data: Data, force: bool = False) -> Path:
    """Write one output file (its folder is made when missing), or standard output for "-"."""
    if str(path) == STANDARD_STREAM:
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
        return Path(STANDARD_STREAM)
    place = Path(path)
    if place.is_dir():
        raise FileError("this is a directory where a file is needed", file=str(path), hint=f"{path}/NAME")
    return write_outputs(place.parent, {place.name: data}, force)[0]


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise FileError(f"the folder cannot be made: {_reason(error)}", file=str(folder)) from error


def _manifest(root: Path) -> dict[str, tuple[str, ...]]:
    """What is known to be ours below a folder, by name: the SHA-256 of the file as it was written, and of what was
    about to be written when a process was killed."""
    try:
        held = json.loads((root / MANIFEST).read_bytes())
        listed, coming = dict(held["files"]), dict(held.get("writing", {}))
        names = [*listed, *(name for name in coming if name not in listed)]
        return {_local(str(name)): tuple(str(row[name]) for row in (listed, coming) if name in row) for name in names}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return {}


def _write_manifest(root: Path, listed: Mapping[str, str], coming: Mapping[str, str] | None = None) -> None:
    rows = {"files": listed, "writing": coming or {}}
    text = {key: {_portable(name): row[name] for name in sorted(row)} for key, row in rows.items() if row}
    _replace(root / MANIFEST, (json.dumps(text, indent=1) + "\n").encode())


def _portable(name: str) -> str:
    """A file's name as it reads in every locale: its bytes as UTF-8; those that are none as lone surrogates."""
    return os.fsencode(name).decode("utf-8", "surrogateescape")


def _local(name: str) -> str:
    """The opposite: a name of the manifest as this process names the file."""
    return os.fsdecode(name.encode("utf-8", "surrogateescape"))


def _refuse_foreign(root: Path, name: str, new: Data, ours: Mapping[str, tuple[str, ...]]) -> None:
    path = root / name
    if path.is_dir():
        raise FileError("this is a directory where a file is to be written", file=str(path))
    if not path.exists() or digest(_written(path)) in (digest(new), *ours.get(name, ())):
        return
    edited = name in ours
    why = "the file was edited since it was written" if edited else "a file that GrooveForge did not write is there"
    raise FileError(f"{why}; it is left as it is", file=str(path), hint="another -o, or --force (the old file is kept)")


def _back_up(path: Path) -> None:
    number = 1
    while (backup := path.with_name(f"{path.name}.{number}")).exists():
        number += 1
    _replace(backup, _written(path))


# -- changes in place ------------------------------------------------------------------------------------


def changes_file(sheet: str | Path) -> Path:
    """The file beside a sheet that holds bars as a drummer played them: NAME.changes.toml."""
    place = Path(sheet)
    return place.with_name(place.name.removesuffix(".toml") + CHANGES_ENDING)


def _undo_files(path: Path) -> list[Path]:
    """The kept versions of a file, oldest first."""
    return _numbered(path.parent / UNDO_FOLDER, f"{path.name}.")


def _numbered(folder: Path, prefix: str) -> list[Path]:
    """The files of a folder that are called a prefix and a number, by number."""
    found = folder.glob(f"{glob.escape(prefix)}*") if folder.is_dir() else ()
    return sorted((item for item in found if item.name[len(prefix) :].isdecimal()), key=_number)


def _number(path: Path) -> int:
    return int(re.split(r"\D", path.name)[-1])


def change_in_place(path: str | Path, before: bytes | None, after: bytes, sheet: str | Path | None = None) -> None:
    """Replace the bytes of a sheet or its changes file and keep the old ones for `undo`.

    Parameters
    ----------
    before : the bytes that the change was made from; None where there was no file.
    sheet : whose changes file it is; None for a sheet itself. Both share one row of changes.

    Raises
    ------
    FileError
        When the file on disk is no longer `before`, or cannot be written.
    """
    place = Path(path)
    with _alone_in(place.parent):
        if _now(place) != before:
            raise FileError(
                "the file changed on disk meanwhile; nothing was written", file=str(path), hint="run it again"
            )
        family = _family(place if sheet is None else Path(sheet))
        number = 1 + max((_number(item) for each in family for item in _made_changes(each, _now(each))), default=0)
        folder = place.parent / UNDO_FOLDER
        _make_folder(folder)
        head = digest(after) + (NEW_FILE if before is None else "")
        _replace(folder / f"{place.name}.{number}", head.encode() + b"\n" + (before or b""))
        _replace(place, after)
        for old in sorted((item for each in family for item in _undo_files(each)), key=_number)[:-UNDO_DEPTH]:
            old.unlink(missing_ok=True)


def _family(sheet: Path) -> tuple[Path, Path]:
    return sheet, changes_file(sheet)


def _now(place: Path) -> bytes | None:
    """The bytes of a file, None where there is none."""
    return read_bytes(place) if place.exists() else None


def undo(path: str | Path) -> Path:
    """Take back the last change that `change_in_place` made to a sheet or its changes file, byte for byte.

    Returns
    -------
    The file that is as it was; it is gone where the change had made it.

    Raises
    ------
    FileError
        When there is no change, or the file was edited since.
    """
    sheet = Path(path)
    read_bytes(sheet)
    with _alone_in(sheet.parent):
        kept = [(versions[-1], place) for place in _family(sheet) if (versions := _made_changes(place, _now(place)))]
        if not kept:
            raise FileError("there is no change to take back", file=str(path), allowed=f"the last {UNDO_DEPTH} changes")
        version, place = max(kept, key=lambda pair: _number(pair[0]))
        changed_to, before = _kept_version(version)
        now = _now(place)
        if now is None or changed_to != digest(now):
            raise FileError(
                "the file was edited after the last change; nothing was taken back",
                file=str(place),
                hint=f"your edit stays; the version before the change is in {version}",
            )
        if before is None:
            place.unlink()
        else:
            _replace(place, before)
        version.unlink(missing_ok=True)
        if place != sheet:
            for record in _records(sheet):  # what was rendered with the bars that are taken back
                if read_bytes(record).startswith(changed_to.encode()):
                    record.unlink(missing_ok=True)
    return place


def _kept_version(path: Path) -> tuple[str, bytes | None]:
    """What a change made of a file (its SHA-256), and the bytes before; None where there was no file."""
    head, _, before = read_bytes(path).partition(b"\n")
    changed_to = head.decode("ascii", "replace")
    return changed_to.removesuffix(NEW_FILE), None if changed_to.endswith(NEW_FILE) else before


def _made_changes(place: Path, now: bytes | None) -> list[Path]:
    """The kept versions of a file, oldest first, without those at the end whose change is not in the file: a process
    was killed before it made the change, or after it took it back."""
    kept = _undo_files(place)
    while kept:
        changed_to, before = _kept_version(kept[-1])
        if before != now or (now is not None and changed_to == digest(now)):
            break
        kept.pop().unlink(missing_ok=True)
    return kept


# -- records of what was rendered ------------------------------------------------------------------------


def keep_record(sheet: str | Path, data: bytes) -> None:
    """Keep a record of what was rendered from a sheet, ten deep; one that is kept already is not kept twice.

    A folder that cannot be written (a sheet on a read-only disk) has none.
    """
    place = Path(sheet)
    with suppress(FileError, OSError):
        _make_folder(place.parent / UNDO_FOLDER)
        with _alone_in(place.parent):
            changes = _now(changes_file(sheet))
            kept = _records(place)
            if any(_record(item) == data for item in kept):
                return
            number = _number(kept[-1]) + 1 if kept else 1
            head = digest(changes or b"").encode() + b"\n"
            _replace(place.parent / UNDO_FOLDER / f"{place.name}{RECORD}{number}", head + data)
            for old in kept[: 1 - UNDO_DEPTH]:
                old.unlink(missing_ok=True)


def kept_records(sheet: str | Path) -> list[bytes]:
    """The records of what was rendered from a sheet, newest first."""
    return [_record(item) for item in reversed(_records(Path(sheet)))]


def _records(sheet: Path) -> list[Path]:
    return _numbered(sheet.parent / UNDO_FOLDER, f"{sheet.name}{RECORD}")


def _record(path: Path) -> bytes:
    """A record without its first line, the SHA-256 of the changes file that it was rendered with."""
    return read_bytes(path).partition(b"\n")[2]
