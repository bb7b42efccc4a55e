"""Output files: what this package wrote is known, anything else is replaced only by force and kept."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Mapping
from pathlib import Path

from grooveforge.errors import FileError
from grooveforge.files.placing import alone_in, make_folder, replace, sweep
from grooveforge.files.reading import STANDARD_STREAM, Data, digest, reason

MANIFEST = ".grooveforge.json"


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
    make_folder(root)
    with alone_in(root):
        for below in {path.parent for path in map(root.joinpath, files)} - {root}:
            sweep(below)
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
            make_folder(path.parent)
            if path.exists() and digest(_written(path)) not in ours.get(name, ()):
                _back_up(path)
            replace(path, files[name])
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
        raise FileError(f"the file cannot be read: {reason(error)}", file=str(path)) from error


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
    replace(root / MANIFEST, (json.dumps(text, indent=1) + "\n").encode())


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
    hint = "another place, or --force (the old file is kept)"
    raise FileError(f"{why}; it is left as it is", file=str(path), hint=hint)


def _back_up(path: Path) -> None:
    number = 1
    while (backup := path.with_name(f"{path.name}.{number}")).exists():
        number += 1
    replace(backup, _written(path))
