"""`merge`: a drummer's edited MIDI file back into a song, without losing either side's work."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from grooveforge import files
from grooveforge.analysis.merge import BarLanes, MergedBar, merge_bar, sounds
from grooveforge.core import detect_hand
from grooveforge.core.arrange import statements
from grooveforge.core.groove import LANES
from grooveforge.core.hands import hand_of
from grooveforge.core.meter import Meter
from grooveforge.core.played_bar import Place, Sounded
from grooveforge.core.song import Fixed, Song
from grooveforge.errors import FormatError, GrooveForgeError, UsageError
from grooveforge.formats.changes_text import changed_bar_text, with_tables
from grooveforge.formats.drum_part import DrumPart
from grooveforge.formats.drums_read import read_drums
from grooveforge.formats.keymap import KeyMap
from grooveforge.formats.lane_words import Bar, words_between
from grooveforge.formats.record import Record, record_of_part
from grooveforge.formats.returned import LEAST_SHARE, Returned, bar_strokes, check_layout, common_ticks, returned
from grooveforge.formats.smf_read import read_smf
from grooveforge.project import records
from grooveforge.project.library import is_midi
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
class ChangedLanes:
    """A bar that the file changed: its number in the song as it is now, its section, lanes, and words."""

    bar: int
    section: str
    lanes: tuple[str, ...]
    in_words: str

    def facts(self) -> dict[str, object]:
        return {"bar": self.bar, "section": self.section, "lanes": list(self.lanes), "in_words": self.in_words}


@dataclass(frozen=True)
class Conflict:
    """A lane of a bar that both sides changed, each side's change in words."""

    bar: int
    section: str
    lane: str
    sheet: str
    file: str

    def facts(self) -> dict[str, object]:
        return {"bar": self.bar, "lane": self.lane, "sheet": self.sheet, "file": self.file, "section": self.section}


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
    merger = _Merger(sheet.song, base, now, part)
    merger.check_share(edited, options.force)
    merger.run(options, progress or (lambda share: None))
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


# -- bar by bar -----------------------------------------------------------------------------------------


class _Merger:
    """One merge: the three versions bar by bar, and what becomes of them."""

    def __init__(self, song: Song, base: Record, now: Record, part: DrumPart) -> None:
        self.base, self.now, self.part = base, now, part
        self.ticks = common_ticks((base.division, now.division))
        self.back: Returned = returned(part, base, self.ticks)
        self.old = bar_strokes(base, self.ticks)
        self.mine = bar_strokes(now, self.ticks)
        self.fixed_lanes = _fixed_lanes(song, now)
        self.bars: list[ChangedLanes] = []
        self.conflicts: list[Conflict] = []
        self.fixed: list[ChangedLanes] = []
        self.tables: dict[int, str] = {}

    def check_share(self, edited: str, force: bool) -> None:
        """An error for a file that has hardly a stroke as it went out."""
        if not force and self.back.share < LEAST_SHARE:
            raise FormatError(
                "this is hardly the song that was sent, so nothing was changed",
                file=edited,
                found=f"{100 * self.back.share:.0f} % of its strokes stand as they were sent",
                allowed=f"at least {100 * LEAST_SHARE:.0f} %",
                hint="another SONG; or --force if the drummer played all of it anew",
            )

    def run(self, options: MergeOptions, progress: Callable[[float], None]) -> None:
        targets = _targets(self.base, self.now)
        for index, target in enumerate(targets):
            progress(index / len(targets))
            base = BarLanes(self.old[index], self.base.bars[index].hand, self.base.bars[index].played)
            file = self._lanes(self.back.bars[index], None, index)
            if sounds(base.strokes) == sounds(file.strokes):
                continue
            if target is None:
                self._homeless(index, base, file)
            else:
                self._merge(index, target, (base, file), options)

    def _lanes(self, strokes: frozenset[Sounded], own: str | None, index: int) -> BarLanes:
        """A version of a bar, its hand that of the base where it strikes there, else its own or the one it has."""
        bar = self.base.bars[index]
        if bar.hand is None or any(row.surface in hand_of(bar.hand) for row in strokes):
            return BarLanes(strokes, bar.hand)
        return BarLanes(strokes, own or _hand_in(strokes, bar.meter, self.ticks) or bar.hand)

    def _merge(self, index: int, target: int, sides: tuple[BarLanes, BarLanes], options: MergeOptions) -> None:
        base, file = sides
        here = self.now.bars[target]
        mine = self._lanes(self.mine[target], here.hand, index)
        sheet = BarLanes(mine.strokes, mine.hand, here.played)
        fixed = self.fixed_lanes.get(target, frozenset())
        decided = dict.fromkeys(LANES, options.conflicts == FILE) if options.conflicts else None
        merged = merge_bar(base, sheet, file, fixed, decided)
        place = here.place
        self._tell(index, target, (base, sheet, file), merged)
        if sounds(merged.bar.strokes) != sounds(sheet.strokes):
            at = (self.ticks, merged.bar.hand or here.hand)
            table = changed_bar_text(target + 1, place, here.meter, merged.bar.strokes, at)
            self.tables[target + 1] = table

    def _tell(self, index: int, target: int, sides: tuple[BarLanes, BarLanes, BarLanes], merged: MergedBar) -> None:
        """What became of one bar, in words."""
        base, sheet, file = sides
        section = self.now.bars[target].place.section
        fixed = self.fixed_lanes.get(target, frozenset())
        kept = tuple(name for name in merged.changed if name in fixed)
        if kept:
            self.fixed.append(ChangedLanes(target + 1, section, kept, self._words(index, base, file, kept)))
        lanes = tuple(name for name in merged.changed if name not in (*kept, *merged.conflicts))
        if lanes:
            self.bars.append(ChangedLanes(target + 1, section, lanes, self._words(index, base, file, lanes)))
        for name in merged.conflicts:
            said = [self._words(index, base, side, (name,)) for side in (sheet, file)]
            self.conflicts.append(Conflict(target + 1, section, name, *said))

    def _homeless(self, index: int, base: BarLanes, file: BarLanes) -> None:
        """A changed bar that the song has no more."""
        place = self.base.bars[index].place
        for name in merge_bar(base, base, file).changed:
            words = self._words(index, base, file, (name,))
            gone = f"the song has no {place} any more, or it is in another metre"
            self.conflicts.append(Conflict(index + 1, place.section, name, gone, words))

    def _words(self, index: int, base: BarLanes, other: BarLanes, lanes: Sequence[str]) -> str:
        now = base
        for name in lanes:
            now = now.with_lane(name, other)
        sides = [self._bar(index, side) for side in (base, now)]
        return words_between(*sides) or "the same strokes"

    def _bar(self, index: int, side: BarLanes) -> Bar:
        bpm = self.part.bars[index].bpm if index < len(self.part.bars) else self.base.bars[index].bpm
        return Bar(side.strokes, side.hand, self.base.bars[index].meter, self.ticks, bpm)


def _hand_in(strokes: frozenset[Sounded], meter: Meter, ticks: int) -> str | None:
    """The surface of the hand that keeps time among some strokes."""
    grid = 96
    steps: dict[str, list[int]] = {}
    for row in strokes:
        steps.setdefault(row.surface, []).append(row.place * grid // (4 * ticks))
    columns = {name: np.unique(np.array(row, np.int64)) for name, row in sorted(steps.items())}
    return detect_hand.timekeeper_of(columns, meter, grid)


def _targets(base: Record, now: Record) -> list[int | None]:
    """For every bar that went out the bar of the song as it is now, from 0; None where it is gone.

    A bar goes by its section, the how-manieth of its name, and its number there; where sections were renamed alone,
    by its number in the song.
    """
    where = {bar.place: number for number, bar in enumerate(now.bars)}
    found = [where.get(bar.place) for bar in base.bars]
    meters = [[(bar.meter.upper, bar.meter.lower) for bar in side.bars] for side in (base, now)]
    if None in found and meters[0] == meters[1]:
        return list(range(len(base.bars)))
    return [at if at is not None and meters[1][at] == meters[0][number] else None for number, at in enumerate(found)]


def _fixed_lanes(song: Song, now: Record) -> Mapping[int, frozenset[str]]:
    """The lanes of every bar, from 0, that the sheet says are fixed."""
    found: dict[int, frozenset[str]] = {}
    section = -1
    entries = [entry.fixed for _, entry, _ in statements(song)]
    for number, bar in enumerate(now.bars):
        section += bar.place.bar == 1
        lanes = _lanes_fixed(entries[section], bar.place)
        if lanes:
            found[number] = lanes
    return found


def _lanes_fixed(fixed: Fixed, place: Place) -> frozenset[str]:
    if isinstance(fixed, str):
        first, _, last = fixed.partition("-")
        return frozenset(LANES if int(first) <= place.bar <= int(last or first) else ())
    if isinstance(fixed, bool):
        return frozenset(LANES if fixed else ())
    return frozenset(fixed)


__all__ = ["FILE", "SHEET", "ChangedLanes", "Conflict", "MergeOptions", "Merged", "merge"]
