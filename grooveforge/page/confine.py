"""Which files a sheet may name on the page: those of its own folder, and nothing that leads out of it.

A sheet's text can be typed in a browser, so what it names is held to the folder that the user opened: no `..`,
no path from the root, no link that points outside.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

from grooveforge.errors import Fault, FormatError, GrooveForgeError
from grooveforge.formats.locate import place_faults
from grooveforge.formats.toml_text import Path as KeyPath
from grooveforge.formats.toml_text import load_toml
from grooveforge.formats.toml_values import shown
from grooveforge.project.library import ENDING, LONGEST_NAME, file_name_of

NAMING = ("groove", "riff", "fill", "key_map", "profile")
"""Keys whose value may name a file."""


def check_inside(text: str, folder: Path) -> None:
    """Refuse a sheet that names a file outside its folder.

    Raises
    ------
    FormatError
        With a fault for each such key. A text that is no TOML passes: its reader says where it is wrong.
    """
    try:
        table = load_toml(text)
    except GrooveForgeError:
        return
    root = folder.resolve()
    faults = [
        Fault(
            "the page opens files of the sheet's own folder alone",
            found=shown(name),
            hint="a copy of the file beside the sheet",
            path=path,
        )
        for path, name in _named(table)
        if not _is_inside(name, root)
    ]
    if faults:
        raise FormatError(place_faults(text, faults))


def _named(table: Mapping[str, object]) -> Iterator[tuple[KeyPath, str]]:
    """Every value that may name a file, with its key path."""
    layers: list[tuple[KeyPath, object]] = [((), table), (("defaults",), table.get("defaults"))]
    parts, form = table.get("parts"), table.get("form")
    if isinstance(parts, Mapping):
        layers += [(("parts", name), part) for name, part in parts.items()]
    if isinstance(form, list):
        layers += [(("form", index), entry) for index, entry in enumerate(form)]
    for path, layer in layers:
        if isinstance(layer, Mapping):
            for key in NAMING:
                value = layer.get(key)
                if isinstance(value, str):
                    yield (*path, key), value


def _is_inside(name: str, root: Path) -> bool:
    """Whether all files that a name may mean lie in a folder."""
    names = [name, f"{name}{ENDING}"] if len(name) <= LONGEST_NAME else [name]
    if len(name) <= LONGEST_NAME:
        names.append(f"{file_name_of(name)}{ENDING}")
    try:
        return all((root / one).resolve().is_relative_to(root) for one in names)
    except (OSError, ValueError, RuntimeError):  # too long, a zero byte, a circle of links: no reader opens it
        return True


def is_still_there(path: Path) -> bool:
    """Whether a sheet's path still leads to itself and was not replaced by a link to elsewhere."""
    return path.resolve() == path
