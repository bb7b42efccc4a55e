"""`recount`: a sheet changed in place, checked by ear of arithmetic before it is saved."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from grooveforge import files
from grooveforge.core.arrange import Arrangement
from grooveforge.core.perform import Performance, perform
from grooveforge.errors import GrooveForgeError, MusicError, UsageError
from grooveforge.formats.locate import place_faults
from grooveforge.formats.recount_sheet import recount_section, recount_song, unused_parts
from grooveforge.formats.sheetedit import set_keys
from grooveforge.project.naming import entry_of
from grooveforge.project.sheets import arranged, data_with, read_sheet, sheet_from

PLACE_TOLERANCE = 1e-6
"""Seconds that a stroke's place may move: none but for the rounding of binary fractions."""


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
    if sheet.song.changes:
        raise UsageError(
            "the bars of the changes file would not fit a recounted sheet; nothing was changed",
            file=str(files.changes_file(path)),
            hint="put their strokes into the sheet, or move the file away",
        )
    before = arranged(sheet)
    try:
        index = None if section is None else entry_of(sheet, section)
        changes = recount_song(sheet.song, factor) if index is None else recount_section(sheet.song, index, factor)
    except GrooveForgeError as error:
        raise type(error)(place_faults(sheet.text, error.faults)).in_file(path) from error
    data = data_with(sheet, set_keys(sheet.text, changes))
    after = _recounted(data, path)
    _check_same_sound(before, after, path)
    files.change_in_place(path, sheet.data, data)
    what = f"{path}: {section or 'the whole song'} recounted {factor}, {before.bars} bars are now {after.bars}"
    lines = [what, f"every stroke sounds when it did; grooveforge undo {path} takes it back"]
    left = unused_parts(sheet.song) if index is None else []
    return lines + ([f"not in the form, so left as they are: {', '.join(left)}"] if left else [])


def _recounted(data: bytes, path: str) -> Arrangement:
    """The arrangement of the recounted sheet; its faults are no faults of the sheet on disk."""
    try:
        return arranged(sheet_from(data, path))
    except GrooveForgeError as error:
        raise MusicError(
            replace(fault, message=f"recounted, the sheet would be wrong, so nothing was changed: {fault.message}")
            for fault in error.faults
        ) from error


@dataclass(frozen=True)
class _Sounds:
    """Strokes by surface, then time: surface, level, place on the grid and distance from it in seconds."""

    surface: NDArray[np.int64]
    velocity: NDArray[np.uint8]
    place: NDArray[np.float64]
    offset: NDArray[np.float64]
    tick: float


def _check_same_sound(before: Arrangement, after: Arrangement, path: str) -> None:
    """A recount that would move a stroke is not saved.

    Places on the grid must be the same to the microsecond, at the tempi that the sheet says (a MIDI file
    rounds them). Grace strokes and offsets are whole ticks, which a recount makes longer or shorter. Levels inside
    their bands and looseness are drawn anew over the new bars, so they are left out.
    """
    first, second = _sounds(perform(before, plain=True)), _sounds(perform(after, plain=True))
    same = np.array_equal(first.surface, second.surface) and np.array_equal(first.velocity, second.velocity)
    tick = max(first.tick, second.tick)
    if not (
        same
        and bool(np.all(np.abs(first.place - second.place) <= PLACE_TOLERANCE))
        and bool(np.all(np.abs(first.offset - second.offset) <= tick))
    ):
        raise MusicError(
            "this sheet cannot be recounted so that every stroke sounds when it did; nothing was changed",
            file=path,
            hint="a recount of one section with --section",
        )


def _sounds(performance: Performance) -> _Sounds:
    events = performance.events
    at = np.array([start for start, _ in performance.tempos], np.float64)
    rate = np.array([60 / float(bpm) / performance.division for _, bpm in performance.tempos])
    begun = np.concatenate(([0.0], np.cumsum(np.diff(at) * rate[:-1])))
    grid = events.tick - events.offset
    row = np.searchsorted(at, grid, side="right") - 1
    place = begun[row] + (grid - at[row]) * rate[row]
    order = np.lexsort((events.offset, grid, events.surface))
    return _Sounds(
        events.surface[order],
        events.velocity[order],
        place[order],
        (events.offset * rate[row])[order],
        float(rate.max(initial=0)),
    )
