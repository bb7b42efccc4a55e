"""`recount`: a sheet changed in place, checked by ear of arithmetic before it is saved."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from grooveforge import files
from grooveforge.core.arrange import Arrangement, statements
from grooveforge.core.perform import Performance, perform, seconds_at
from grooveforge.errors import GrooveForgeError, MusicError, UsageError
from grooveforge.formats.locate import place_faults
from grooveforge.formats.recount_sheet import recount_section, recount_song
from grooveforge.formats.sheetedit import set_keys
from grooveforge.project.sheets import Sheet, arranged, read_sheet, sheet_from

TOLERANCE = 0.001
"""Seconds that a stroke may move: tempi are whole microseconds a quarter in a MIDI file, and that adds up."""


def recount(path: str, factor: str, section: str | None = None) -> list[str]:
    """Recount a sheet in place.

    Parameters
    ----------
    factor : "x2" or "/2". section : a section's name, with its number where several share it; None for all.

    Returns
    -------
    What was done, in lines for the user.

    Raises
    ------
    GrooveForgeError
        When the sheet has faults or cannot be recounted exactly; the file is then as it was.
    """
    if path == files.STANDARD_STREAM:
        raise UsageError("a sheet is recounted in place, so it must be a file", found="-")
    sheet = read_sheet(path)
    before = arranged(sheet)
    try:
        index = None if section is None else entry_of(sheet, section)
        changes = recount_song(sheet.song, factor) if index is None else recount_section(sheet.song, index, factor)
    except GrooveForgeError as error:
        raise type(error)(place_faults(sheet.text, error.faults)).in_file(path) from error
    data = set_keys(sheet.text, changes).encode()
    after = arranged(sheet_from(data, path))
    _check_same_sound(before, after, path)
    files.change_in_place(path, sheet.data, data)
    what = f"{path}: {section or 'the whole song'} recounted {factor}, {before.bars} bars are now {after.bars}"
    return [what, f"every stroke sounds when it did; grooveforge undo {path} takes it back"]


def entry_of(sheet: Sheet, name: str) -> int:
    """The form entry of a section: by its name, with its number where several share it; a bare name is the last.

    Raises
    ------
    UsageError
        When the song has no such section; the error lists them.
    """
    listed: dict[str, list[int]] = {}
    for index, entry, _ in statements(sheet.song):
        listed.setdefault(entry.name or entry.part, []).append(index)
    if name in listed:
        return listed[name][-1]
    bare, _, number = name.rpartition(" ")
    if bare in listed and number.isdecimal() and 1 <= int(number) <= len(listed[bare]):
        return listed[bare][int(number) - 1]
    raise UsageError(f"the song has no section {name!r}", file=sheet.path, allowed=", ".join(listed))


def _check_same_sound(before: Arrangement, after: Arrangement, path: str) -> None:
    """A recount that would move a stroke is not saved."""
    first, second = _sounds(perform(before)), _sounds(perform(after))
    same = first[0].size == second[0].size and np.array_equal(first[0], second[0])
    if not same or not bool(np.all(np.abs(first[1] - second[1]) <= TOLERANCE)):
        raise MusicError(
            "this sheet cannot be recounted so that every stroke sounds when it did; nothing was changed",
            file=path,
            hint="a recount of one section with --section",
        )


def _sounds(performance: Performance) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Surfaces and times in seconds of all strokes, by surface, then time."""
    events = performance.events
    times = seconds_at(performance, events.tick)
    order = np.lexsort((times, events.surface))
    return events.surface[order], times[order]
