"""Real drum music for tests: the MIDI files of Debian's free game data, where a machine has them.

The music is read out of the installed packages (freedoom's also out of a folder named by
``GROOVEFORGE_CORPUS``), so that no large data is kept beside the tests. Where nothing is installed the
functions return nothing and the tests that want a whole corpus skip, but fail where ``CI`` is set; three of
the files are kept as fixtures, so no test depends on the packages alone.
"""

from __future__ import annotations

import os
import struct
from collections.abc import Iterator
from pathlib import Path

from tests.missing import missing

CORPUS_VARIABLE = "GROOVEFORGE_CORPUS"
"""Environment variable with a folder of ``.mid`` files or ``.wad`` archives; it is looked at first."""

STANDARD_FOLDERS = ("/usr/share/games/doom", "/usr/local/share/games/doom", "/usr/share/doom")
"""Where the Debian package, and the same data by other ways, is installed."""

ARCHIVES = ("freedoom1.wad", "freedoom2.wad")
"""Names of the package's archives; other archives in the standard folders are not looked at."""

FREEDOOM = "freedoom"
FOLDERS = {
    "openttd-openmsx": "/usr/share/games/openttd/baseset/openmsx",  # GPL-2
    "simutrans-data": "/usr/share/games/simutrans/music",  # Artistic licence
}
"""Debian packages with MIDI files under free licences, and where they put them."""

PACKAGES = (FREEDOOM, *FOLDERS)

_HEADER = struct.Struct("<4sii")
_ENTRY = struct.Struct("<ii8s")


def wad_lumps(data: bytes) -> dict[str, bytes]:
    """Split an archive into its named parts ("lumps").

    Parameters
    ----------
    data : the whole archive: the header (4 letters, number of lumps, place of the directory, little-endian),
        then the lumps and the directory, 16 bytes an entry (place, size, name of 8 bytes filled with NUL).

    Returns
    -------
    dict : lower-case name to the lump's bytes, in the directory's order. Of lumps with one name the last is
        kept, as programs that read such archives do.

    Raises
    ------
    ValueError : no archive, or a directory or lump that reaches past the end; the message says which.
    """
    if len(data) < _HEADER.size:
        raise ValueError(f"archive: header cut off after {len(data)} bytes, expected {_HEADER.size}")
    magic, count, place = _HEADER.unpack_from(data)
    if magic not in (b"IWAD", b"PWAD"):
        raise ValueError(f"archive: first four bytes are {magic!r}, expected b'IWAD' or b'PWAD'")
    if count < 0 or place < 0 or place + count * _ENTRY.size > len(data):
        raise ValueError(f"archive: {count} directory entries at byte {place} do not fit {len(data)} bytes")
    lumps: dict[str, bytes] = {}
    for number in range(count):
        start, size, raw = _ENTRY.unpack_from(data, place + number * _ENTRY.size)
        name = raw.split(b"\0")[0].decode("latin-1").lower()
        # Markers are entries of size 0, and what stands as their place is not always inside the file.
        if size and not 0 <= start <= start + size <= len(data):
            raise ValueError(f"archive: lump {name!r} (entry {number}) lies outside the file")
        lumps.pop(name, None)
        lumps[name] = data[start : start + size] if size else b""
    return lumps


def _sources() -> Iterator[tuple[str, bytes]]:
    """Yield name and bytes of each MIDI file found; names of lumps start with their archive's name."""
    own = os.environ.get(CORPUS_VARIABLE)
    if own:
        paths = sorted(path for path in Path(own).iterdir() if path.suffix.lower() in (".mid", ".wad"))
    else:
        paths = []
        for folder in STANDARD_FOLDERS:
            paths = [Path(folder, name) for name in ARCHIVES if Path(folder, name).is_file()]
            if paths:
                break
    for path in paths:
        if path.suffix.lower() == ".mid":
            yield path.stem, path.read_bytes()
            continue
        for lump, data in wad_lumps(path.read_bytes()).items():
            if data.startswith(b"MThd"):
                yield f"{path.stem}-{lump}", data


def freedoom_midis() -> dict[str, bytes]:
    """Return the distinct MIDI files of the corpus by name, such as ``freedoom2-d_runnin``.

    Returns
    -------
    dict : name to the file's bytes, in the archives' order; a file that stands there under several names is
        listed under the first. Empty when neither the package nor a folder of one's own is there.

    Raises
    ------
    FileNotFoundError : ``GROOVEFORGE_CORPUS`` names a folder that does not exist.
    ValueError : an archive is damaged.
    """
    found: dict[str, bytes] = {}
    seen: set[bytes] = set()
    for name, data in _sources():
        if data not in seen:
            seen.add(data)
            found[name] = data
    return found


def midis_of(package: str) -> dict[str, bytes]:
    """The MIDI files of one of `PACKAGES` by name; empty where it is not installed."""
    if package == FREEDOOM:
        return freedoom_midis()
    return {path.stem: path.read_bytes() for path in sorted(Path(FOLDERS[package]).glob("*.mid"))}


def needed(package: str) -> dict[str, bytes]:
    """As `midis_of`; a test without them is skipped with the reason, and fails where ``CI`` is set."""
    found = midis_of(package)
    if not found:
        missing(f"Debian's package {package} is not installed")
    return found
