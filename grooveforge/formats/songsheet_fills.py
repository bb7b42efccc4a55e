"""The fills that a song sheet names, and those that a fill by its length is chosen from."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from grooveforge.core.figures import LENGTHS, Fill
from grooveforge.errors import FormatError, GrooveForgeError
from grooveforge.formats.toml_text import FaultList, Path
from grooveforge.formats.toml_values import shown


@dataclass(frozen=True)
class FillSource:
    """Where fills come from.

    Parameters
    ----------
    find : a fill by its name, or a GrooveForgeError. shipped : those to choose among, read when one is needed.
    """

    find: Callable[[str], Fill]
    shipped: Callable[[], tuple[Fill, ...]]


def _none(name: str) -> Fill:
    raise FormatError("no fill is at hand here", found=shown(name), hint='a length, such as "1 bar"')


NO_FILLS = FillSource(_none, lambda: ())
"""Where there are no files to look in: fills by their length are plain runs."""


def sheet_fills(
    said: Iterable[tuple[object, Path]], source: FillSource, faults: FaultList
) -> tuple[dict[str, Fill], tuple[Fill, ...]]:
    """The fills by the names that a sheet says, and those to choose among where it says a length.

    Parameters
    ----------
    said : what each place of the sheet says for its key `fill`, with the key's path; not found is a fault once.
    """
    found: dict[str, Fill] = {}
    missing: set[str] = set()
    by_length = False
    for name, path in said:
        if not isinstance(name, str) or name in found or name in missing:
            continue
        if name in LENGTHS:
            by_length = True
            continue
        with faults.at(*path):
            try:
                found[name] = source.find(name)
            except GrooveForgeError:
                missing.add(name)
                raise
    return found, source.shipped() if by_length else ()
