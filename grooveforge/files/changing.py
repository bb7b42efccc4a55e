"""Changes in place: a sheet and its changes file, with `undo`; and records of what was rendered from them."""

from __future__ import annotations

import glob
import re
from contextlib import suppress
from pathlib import Path

from grooveforge.errors import FileError
from grooveforge.files.placing import alone_in, make_folder, replace, sweep
from grooveforge.files.reading import digest, read_bytes

UNDO_FOLDER = ".grooveforge"
UNDO_DEPTH = 10
NEW_FILE = " new"
"""What stands behind the SHA-256 of a kept change that made its file."""

RECORD = ".rendered."
CHANGES_ENDING = ".changes.toml"


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
    with alone_in(place.parent):
        if _now(place) != before:
            raise FileError(
                "the file changed on disk meanwhile; nothing was written", file=str(path), hint="run it again"
            )
        family = _family(place if sheet is None else Path(sheet))
        number = 1 + max((_number(item) for each in family for item in _made_changes(each, _now(each))), default=0)
        folder = place.parent / UNDO_FOLDER
        make_folder(folder)
        sweep(folder)
        head = digest(after) + (NEW_FILE if before is None else "")
        replace(folder / f"{place.name}.{number}", head.encode() + b"\n" + (before or b""))
        replace(place, after)
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
    with alone_in(sheet.parent):
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
            replace(place, before)
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


def keep_record(sheet: str | Path, data: bytes) -> None:
    """Keep a record of what was rendered from a sheet, ten deep; one that is kept already is not kept twice.

    A folder that cannot be written (a sheet on a read-only disk) has none.
    """
    place = Path(sheet)
    with suppress(FileError, OSError):
        make_folder(place.parent / UNDO_FOLDER)
        with alone_in(place.parent):
            changes = _now(changes_file(sheet))
            kept = _records(place)
            if any(_record(item) == data for item in kept):
                return
            number = _number(kept[-1]) + 1 if kept else 1
            head = digest(changes or b"").encode() + b"\n"
            replace(place.parent / UNDO_FOLDER / f"{place.name}{RECORD}{number}", head + data)
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
