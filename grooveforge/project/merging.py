"""`merge`: a drummer's edited MIDI file back into a song, without losing either side's work."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from grooveforge import files
from grooveforge.errors import FormatError, GrooveForgeError, UsageError
from grooveforge.formats.changes_text import with_tables
from grooveforge.formats.drum_part import DrumPart
from grooveforge.formats.drums_read import read_drums
from grooveforge.formats.keymap import KeyMap
from grooveforge.formats.record import Record, record_of_part
from grooveforge.formats.returned import check_layout, returned
from grooveforge.formats.smf_read import read_smf
from grooveforge.project import records
from grooveforge.project.library import is_midi
from grooveforge.project.merging_bars import BarMerger, ChangedLanes, Conflict
from grooveforge.project.rendering import render
from grooveforge.project.sheets import Sheet, read_sheet

SHEET, FILE = "sheet", "file"
"""Whose way a conflict goes where the user says."""

NO_RECORD = (
    "there is no record of what was rendered from this sheet; the file was compared with what the sheet gives now, so "
    "if you changed the sheet since, your changes look like the drummer's: name the file that you sent with --base"
)


@dataclass(frozen=True)
class MergeOptions:
    """How a file is merged.

    Parameters
    ----------
    channel : the drums' channel, from 1; None finds it. key_map : of the file; None for the one it went out with.
    base : path of the MIDI file as it went out; None for the record of the render that is nearest.
    conflicts : SHEET or FILE, whose way conflicts go; None leaves them. force : merge whatever the file shares.
    """

    channel: int | None = None
    key_map: KeyMap | None = None
    base: str | None = None
    conflicts: str | None = None
    force: bool = False


@dataclass(frozen=True)
class Merged:
    """What a merge did.

    Parameters
    ----------
    bars : those that the file changed and that stand in the song now, rising. conflicts : left as the sheet has them.
    fixed : changed by the file where the sheet says that nothing changes. base : what the file was compared with.
    saved : the changes file, where it was written or stands as it should; else None. written : whether it changed.
    """

    bars: tuple[ChangedLanes, ...]
    conflicts: tuple[Conflict, ...]
    fixed: tuple[ChangedLanes, ...]
    base: str
    saved: str | None
    written: bool
    warnings: tuple[str, ...] = ()

    def facts(self) -> dict[str, Any]:
        """The merge as `merge --json` gives it."""
        return {
            "bars": [row.facts() for row in self.bars],
            "conflicts": [row.facts() for row in self.conflicts],
            "saved": self.saved,
            "fixed": [row.facts() for row in self.fixed],
            "base": self.base,
            "written": self.written,
            "warnings": list(self.warnings),
        }


def merge(
    path: str, edited: str, options: MergeOptions | None = None, progress: Callable[[float], None] | None = None
) -> Merged:
    """Merge a drummer's file into the changes file of a sheet.

    The file is compared with the record of the render that it is nearest to; what the sheet changed since then
    stays, lane by lane and bar by bar. `files.undo` takes the merge back.

    Parameters
    ----------
    path : the song sheet. edited : the MIDI file that came back, or "-" for standard input.
    progress : told the share of the bars that is done, 0 to 1.

    Raises
    ------
    GrooveForgeError
        When either cannot be read, or the file is of another song, length or metre; nothing is changed then.
    """
    options = options or MergeOptions()
    if path == files.STANDARD_STREAM:
        raise UsageError("merge changes the file beside a sheet, so the sheet must be a file", found="-")
    data = files.read_bytes(edited)
    if not is_midi(data):
        raise FormatError("this is no MIDI file", file=edited, hint="the drummer's edited .mid")
    beside = files.changes_file(path)
    before = files.read_bytes(beside) if beside.exists() else None
    sheet = read_sheet(path)
    now = records.record(render(sheet))
    base, part, name, warnings = _nearest(sheet, now, data, edited, options)
    merger = BarMerger(sheet.song, base, now, part)
    merger.check_share(edited, options.force)
    files_way = None if options.conflicts is None else options.conflicts == FILE
    merger.run(files_way, progress or (lambda share: None))
    text = "" if before is None else files.decode(before)
    after = with_tables(text, merger.tables).encode() if merger.tables else before
    written = after is not None and after != before
    if written and after is not None:
        files.change_in_place(beside, before, after, sheet=path)
    return Merged(
        tuple(merger.bars),
        tuple(merger.conflicts),
        tuple(merger.fixed),
        name,
        str(beside) if merger.bars else None,
        written,
        (*sheet.warnings, *part.warnings, *warnings, *_tempo_warning(part, now)),
    )


# -- what went out --------------------------------------------------------------------------------------


def _nearest(
    sheet: Sheet, now: Record, data: bytes, edited: str, options: MergeOptions
) -> tuple[Record, DrumPart, str, list[str]]:
    """The record that the file is nearest to, the file's drums read by its key map, its name, and warnings."""
    try:
        file = read_smf(data)
    except GrooveForgeError as error:
        raise error.in_file(edited) from error
    if options.base is not None:
        found = [(f"the file {options.base}", _record_of_file(options, now))]
    else:
        found = [("the last render" if not ago else f"the render {ago} before the last", row)
                 for ago, row in enumerate(records.kept(sheet.path))]  # fmt: skip
    warnings = [] if found else [NO_RECORD]
    found = found or [("what the sheet gives now", now)]
    best: tuple[int, Record, DrumPart, str] | None = None
    first: GrooveForgeError | None = None
    for name, base in found:
        try:
            part = read_drums(file, options.channel, options.key_map or base.key_map)
            check_layout(part, base)
        except GrooveForgeError as error:
            first = first or error
            continue
        moved = returned(part, base, base.division).moved
        if best is None or moved < best[0]:
            best = moved, base, part, name
    if best is None:
        assert first is not None
        raise first.in_file(edited)
    return best[1], best[2], best[3], warnings


def _record_of_file(options: MergeOptions, now: Record) -> Record:
    """The record of a MIDI file as it went out; its bars are those that the sheet has now."""
    base = str(options.base)
    try:
        part = read_drums(read_smf(files.read_bytes(base)), None, options.key_map or now.key_map)
        check_layout(part, now)
        return record_of_part(part, now)
    except GrooveForgeError as error:
        raise error.in_file(base) from error


def _tempo_warning(part: DrumPart, now: Record) -> tuple[str, ...]:
    """A line where the file's tempi are not the song's: they are not taken over."""
    for number, (bar, mine) in enumerate(zip(part.bars, now.bars), 1):
        if abs(bar.bpm - mine.bpm) > 0.01:
            said = f"the file has tempo {bar.bpm:g} in bar {number}, the song {mine.bpm:g}; tempi are not merged"
            return (said,)
    return ()
