"""A merge bar by bar: the song as it went out, as it is now, and as it came back."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from grooveforge.analysis.merge import BarLanes, MergedBar, merge_bar, sounds
from grooveforge.core import detect_hand
from grooveforge.core.arrange import statements
from grooveforge.core.groove import LANES
from grooveforge.core.hands import hand_of
from grooveforge.core.meter import Meter
from grooveforge.core.played_bar import Place, Sounded
from grooveforge.core.song import Fixed, Song
from grooveforge.errors import FormatError
from grooveforge.formats.changes_text import changed_bar_text
from grooveforge.formats.drum_part import DrumPart
from grooveforge.formats.lane_words import Bar, words_between
from grooveforge.formats.record import Record
from grooveforge.formats.returned import LEAST_SHARE, Returned, bar_strokes, common_ticks, returned


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


class BarMerger:
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

    def run(self, files_way: bool | None, progress: Callable[[float], None]) -> None:
        """Merge every bar.

        Parameters
        ----------
        files_way : whether conflicts go the file's way, or the sheet's; None leaves them.
        """
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
                self._merge(index, target, (base, file), files_way)

    def _lanes(self, strokes: frozenset[Sounded], own: str | None, index: int) -> BarLanes:
        """A version of a bar, its hand that of the base where it strikes there, else its own or the one it has."""
        bar = self.base.bars[index]
        if bar.hand is None or any(row.surface in hand_of(bar.hand) for row in strokes):
            return BarLanes(strokes, bar.hand)
        return BarLanes(strokes, own or _hand_in(strokes, bar.meter, self.ticks) or bar.hand)

    def _merge(self, index: int, target: int, sides: tuple[BarLanes, BarLanes], files_way: bool | None) -> None:
        base, file = sides
        here = self.now.bars[target]
        mine = self._lanes(self.mine[target], here.hand, index)
        sheet = BarLanes(mine.strokes, mine.hand, here.played)
        fixed = self.fixed_lanes.get(target, frozenset())
        decided = None if files_way is None else dict.fromkeys(LANES, files_way)
        merged = merge_bar(base, sheet, file, fixed, decided)
        self._tell(index, target, (base, sheet, file), merged)
        if sounds(merged.bar.strokes) != sounds(sheet.strokes):
            at = (self.ticks, merged.bar.hand or here.hand)
            table = changed_bar_text(target + 1, here.place, here.meter, merged.bar.strokes, at)
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
