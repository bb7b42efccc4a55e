"""Key maps as text, both ways: a TOML file that says which note of a kit plays which surface.

A map starts from nothing, and what it does not list the kit does not have; `base = "gm"` starts from General
MIDI and `lacks` takes away. `[notes]` holds surface = note (or a list: the first is written, all are read),
`[fallbacks]` surface = the surface that is struck in its place.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TypeVar, cast

from grooveforge.errors import FormatError
from grooveforge.formats.key_values import kit_surface
from grooveforge.formats.keymap import GM, NOTES, KeyMap, known_surface
from grooveforge.formats.keys import KEY_MAP, MOST_HINTS, read_keys
from grooveforge.formats.locate import read_whole
from grooveforge.formats.toml_text import FaultList, Table, key_text, nearest, quoted
from grooveforge.formats.toml_values import each, items, kind_of, shown, whole

LONGEST = 1 << 16
"""Characters of a key map; with every note of every surface and a comment in each line one has a few thousand."""

NOTES_TABLE, FALLBACKS_TABLE = TABLES = ("notes", "fallbacks")

Value = TypeVar("Value")

_note = whole(0, NOTES - 1)


def read_key_map(text: str, name: str) -> KeyMap:
    """The key map of a file's text.

    Parameters
    ----------
    name : what reports call the map.

    Raises
    ------
    FormatError
        With every fault of the file, each with key path and line; a fault of TOML's syntax stands alone.
    """
    if len(text) > LONGEST:
        raise FormatError("this is too long for a key map", found=f"{len(text):,} characters", allowed=f"{LONGEST:,}")
    return read_whole(text, partial(_key_map, name))


def _key_map(name: str, table: Table, faults: FaultList) -> KeyMap | None:
    """The map of a table; None, or of no use, when there are faults."""
    own = read_keys(table, KEY_MAP, faults, (), TABLES)
    notes = _surface_rows(table, NOTES_TABLE, _notes, faults)
    fallbacks = _surface_rows(table, FALLBACKS_TABLE, kit_surface, faults)
    lacks = cast("tuple[str, ...]", own.get("lacks", ()))
    if "lacks" in table and "base" not in table:
        faults.add("lacks takes away from a base, and there is none", ("lacks",), hint='base = "gm"')
    for surface in sorted(set(lacks) & set(notes)):
        faults.add(f"the kit lacks {surface} and has notes for it", ("lacks",), hint="one of the two")
    base = GM.notes if "base" in own else {}
    # What the user lists stands first: a note of two surfaces is read as the one that is named first.
    both = notes | {surface: rows for surface, rows in base.items() if surface not in notes and surface not in lacks}
    if not both and not faults:
        faults.add("the kit has no surface with a note", (), hint='kick = 36 under [notes], or base = "gm"')
    if faults:
        return None
    with faults.at():
        return KeyMap(name, both, fallbacks)
    return None


def _surface_rows(table: Table, name: str, read: Callable[[object], Value], faults: FaultList) -> dict[str, Value]:
    """The rows surface = value of one table, by the surface's full name; what is wrong is collected."""
    rows = table.get(name, {})
    if not isinstance(rows, dict):
        faults.add(f"{kind_of(rows)} stands where a table is needed", (name,), found=shown(rows))
        return {}
    found: dict[str, Value] = {}
    written: dict[str, str] = {}
    for key, value in rows.items():
        with faults.at(name, key):
            full = _surface(key, with_hint=len(faults) < MOST_HINTS)
            if full in written:
                raise FormatError(f"{full} stands here twice", found=f"{written[full]!r} and {key!r}")
            written[full] = key
            found[full] = read(value)
    return found


def _surface(key: str, with_hint: bool) -> str:
    try:
        return known_surface(key)
    except FormatError as error:
        fault = error.faults[0]
        hint = nearest(key, GM.notes)[0] if with_hint else ""
        raise FormatError(fault.message, found=fault.found, allowed=fault.allowed, hint=hint) from error


def _notes(value: object) -> tuple[int, ...]:
    """One note, or a list of them, each once."""
    if not isinstance(value, list):
        return (_note(value),)
    listed = cast("tuple[int, ...]", each(items(value, "a note or a list of notes"), _note))
    return tuple(dict.fromkeys(listed))


# -- printing -------------------------------------------------------------------------------------------

_HEAD = """\
# A key map: which note of your kit plays which surface. What is not listed the kit does not have.
# base = "gm" up here starts from General MIDI instead, and lacks = ["china"] takes away from it.
# Try it: grooveforge key-map check FILE; hear it: grooveforge key-map audition FILE -o kit.mid
"""


def print_key_map(key_map: KeyMap) -> str:
    """A commented file that says a whole map; reading it gives an equal one."""
    lines = [_HEAD, f"[{NOTES_TABLE}]", "# surface = note, 0 to 127; of a list the first is written, all are read"]
    lines += [f"{key_text(surface)} = {_notes_text(rows)}" for surface, rows in key_map.notes.items()]
    lines += [f"# {key_text(surface)} =    # the kit has none: {_instead(used)}" for surface, used in key_map.missing]
    lines += ["", f"[{FALLBACKS_TABLE}]", "# surface = the surface that is struck where the kit has none"]
    lines += [f"{key_text(surface)} = {quoted(used)}" for surface, used in key_map.fallbacks.items()]
    return "\n".join(lines) + "\n"


def _notes_text(rows: tuple[int, ...]) -> str:
    return str(rows[0]) if len(rows) == 1 else str(list(rows))


def _instead(used: str | None) -> str:
    return "nothing stands in for it" if used is None else f"{used} is struck"
