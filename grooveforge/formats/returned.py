"""A drummer's file beside the record of what went out: which strokes are as they were, which are not.

Resolution, channel and tracks are no differences, nor are notes that the key map reads as one surface. A stroke
that stands within a tick of the coarser file, at its level, is as it was, and has its old tick and surface.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import zip_longest
from math import lcm

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.kit import BANDS, SURFACE_NAMES, Kind
from grooveforge.core.played_bar import Sounded
from grooveforge.errors import FormatError
from grooveforge.formats.drum_part import DrumPart
from grooveforge.formats.drums_groove import place_part
from grooveforge.formats.record import Record

Ints = NDArray[np.int64]

LEAST_SHARE = 0.25
"""Share of the file's strokes that must be just as they went out; of another song's hardly any are (house rule)."""


@dataclass(frozen=True)
class Returned:
    """What came back.

    Parameters
    ----------
    bars : the strokes of every bar of the record, ticks from its bar line.
    kept, moved : strokes of the file that are as they went out; strokes that are not, on either side.
    """

    bars: tuple[frozenset[Sounded], ...]
    kept: int
    moved: int

    @property
    def share(self) -> float:
        """Share of the file's strokes that are just as they went out; 1 for a file without strokes."""
        count = sum(map(len, self.bars))
        return self.kept / count if count else 1.0


def common_ticks(divisions: Iterable[int]) -> int:
    """Ticks to a quarter note in which whole ticks of all divisions are whole."""
    return lcm(*divisions)


def bar_strokes(record: Record, ticks: int) -> list[frozenset[Sounded]]:
    """The strokes of every bar of a record, in `ticks` to a quarter note."""
    found: list[set[Sounded]] = [set() for _ in record.bars]
    scale = ticks // record.division
    columns = record.columns
    names = ("tick", "place", "surface", "velocity", "kind")
    for bar, tick, place, surface, velocity, kind in zip(
        record.bar_of_row.tolist(), *(columns[name].tolist() for name in names)
    ):
        start = record.bars[bar].tick
        name = SURFACE_NAMES[surface]
        found[bar].add(Sounded((tick - start) * scale, (place - start) * scale, name, velocity, kind))
    return [frozenset(strokes) for strokes in found]


def check_layout(part: DrumPart, record: Record) -> None:
    """An error where the bars of a file are not those that went out.

    Bars of rest at the end may be missing or more: many programs cut a file behind its last note.

    Raises
    ------
    FormatError
        For another length or metre, with the bar.
    """
    if not len(part):
        raise FormatError("the file has no drums", hint="--channel N")
    for number, (mine, theirs) in enumerate(zip_longest(record.bars, part.bars), 1):
        if mine is None or theirs is None:
            break
        if (mine.meter.upper, mine.meter.lower) != (theirs.meter.upper, theirs.meter.lower):
            raise FormatError(
                "the metres are not those of the song, so nothing was changed",
                place=f"bar {number}",
                found=str(theirs.meter),
                allowed=str(mine.meter),
                hint="the file as the drummer got it, edited",
            )
    last_sent = int(record.bar_of_row.max()) + 1 if len(record) else 0
    last_back = part.bar_at(int(part.tick[-1]))
    if last_back > len(record.bars) or len(part.bars) < last_sent:
        found = last_back if last_back > len(record.bars) else len(part.bars)
        raise FormatError(
            "the file is not as long as the song, so nothing was changed",
            found=f"{found} bars",
            allowed=f"{len(record.bars)} bars",
            hint="another SONG, or the file as the drummer got it, edited",
        )


def returned(part: DrumPart, record: Record, ticks: int) -> Returned:
    """The strokes of a file bar by bar, those that are as they went out with the ticks and surfaces of the record.

    Parameters
    ----------
    part : of the file, its bars checked. ticks : to a quarter note, a multiple of the record's.
    """
    return _Matcher(part, record, ticks).returned()


class _Matcher:
    def __init__(self, part: DrumPart, record: Record, ticks: int) -> None:
        self.part, self.record, self.ticks = part, record, ticks
        self.scale = ticks // record.division
        self.codes = part.surfaces
        self.read = part.key_map.note_to_code[record.columns["note"]]
        self.at = np.rint(part.tick * (ticks / part.division)).astype(np.int64)
        self.old = record.columns["tick"] * self.scale
        self.within = ticks // min(part.division, record.division)
        self.mate = np.full(len(part), -1, np.int64)

    def returned(self) -> Returned:
        """The file's strokes, those that have a mate in the record like it."""
        self._pair(same_level=True)
        kept = int((self.mate >= 0).sum())
        self._pair(same_level=False)
        bars: list[set[Sounded]] = [set() for _ in self.record.bars]
        bar_of_row = self.record.bar_of_row.tolist()
        placed = place_part(self.part)
        surfaces = self._surfaces(bar_of_row)
        for row in range(len(self.part)):
            mate = int(self.mate[row])
            main = int(self.mate[placed.main[row]])
            bar = bar_of_row[mate] if mate >= 0 else bar_of_row[main] if main >= 0 else int(placed.bar[row])
            bar = min(bar, len(bars) - 1)
            if mate >= 0:
                bars[bar].add(self._as_it_was(mate, bar, int(self.part.velocity[row])))
            else:
                line = self.record.bars[bar].tick * self.scale
                step = int(placed.step[row]) * 4 * self.ticks // int(placed.grid[placed.bar[row]])
                place = int(self.record.columns["place"][main]) * self.scale - line if main >= 0 else step
                code = int(self.codes[row])
                velocity = int(self.part.velocity[row])
                kind = Kind.GHOST if placed.is_grace[row] or velocity <= BANDS[0].high else Kind.PLAIN
                surface = surfaces.get((bar, code), SURFACE_NAMES[code])
                bars[bar].add(Sounded(int(self.at[row]) - line, place, surface, velocity, int(kind)))
        same = self.mate[self.mate >= 0]
        return Returned(tuple(map(frozenset, bars)), kept, len(self.part) + len(self.record) - kept - len(same))

    def _pair(self, same_level: bool) -> None:
        """Give file strokes without a mate the nearest stroke of the record that has none, near enough and alike."""
        used = np.zeros(len(self.record), bool)
        used[self.mate[self.mate >= 0]] = True
        for code in np.unique(self.codes[self.mate < 0]).tolist():
            mine = np.flatnonzero((self.codes == code) & (self.mate < 0))
            theirs = np.flatnonzero((self.read == code) & ~used)
            if not theirs.size:
                continue
            low = np.searchsorted(self.old[theirs], self.at[mine] - self.within)
            high = np.searchsorted(self.old[theirs], self.at[mine] + self.within, side="right")
            for row, first, last in zip(mine.tolist(), low.tolist(), high.tolist()):
                near = [mate for mate in theirs[first:last].tolist()
                        if not used[mate] and self._alike(row, mate, same_level)]  # fmt: skip
                if near:
                    best = min(near, key=lambda mate: abs(int(self.old[mate] - self.at[row])))
                    self.mate[row], used[best] = best, True

    def _alike(self, row: int, mate: int, same_level: bool) -> bool:
        return not same_level or int(self.record.columns["written"][mate]) == int(self.part.velocity[row])

    def _as_it_was(self, mate: int, bar: int, velocity: int) -> Sounded:
        columns = {name: int(column[mate]) for name, column in self.record.columns.items()}
        line = self.record.bars[bar].tick
        level, surface = columns["velocity"], SURFACE_NAMES[columns["surface"]]
        if velocity != columns["written"]:
            level = velocity
            if columns["written"] != columns["velocity"]:  # a stand-in that is struck softer would be so twice
                surface = SURFACE_NAMES[int(self.read[mate])]
        tick, place = ((columns[name] - line) * self.scale for name in ("tick", "place"))
        return Sounded(tick, place, surface, level, columns["kind"])

    def _surfaces(self, bar_of_row: list[int]) -> dict[tuple[int, int], str]:
        """What a note means in a bar that went out with it: the surface that it stood in for there."""
        counts: dict[tuple[int, int], Counter[int]] = {}
        softer = self.record.columns["written"] != self.record.columns["velocity"]
        rows = zip(bar_of_row, self.read.tolist(), self.record.columns["surface"].tolist(), softer.tolist())
        for bar, code, surface, soft in rows:
            counts.setdefault((bar, code), Counter())[code if soft else surface] += 1
        return {key: SURFACE_NAMES[count.most_common(1)[0][0]] for key, count in counts.items()}

