"""The drums of a MIDI file as grooves: one for each stretch of bars of one metre, with the way back to its strokes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import groupby
from math import lcm

import numpy as np

from grooveforge.core import hands, inspect
from grooveforge.core.groove import Groove, Lane
from grooveforge.core.kit import BANDS, SURFACE_NAMES, Kind
from grooveforge.core.kit import surface as surface_row
from grooveforge.core.meter import Meter
from grooveforge.errors import FormatError
from grooveforge.formats.drum_part import DrumPart, figures_of
from grooveforge.formats.drums_read import read_drums
from grooveforge.formats.keymap import GM, KeyMap
from grooveforge.formats.quantise import Placement, find_graces, place_on_grids
from grooveforge.formats.smf import IntArray
from grooveforge.formats.smf_read import read_smf

DRUM_FAMILIES = ("kick", "snare", "tom", "floor tom")
"""Where a soft stroke is a ghost; on a cymbal it is just soft."""


@dataclass(frozen=True, eq=False)
class Run:
    """A stretch of bars of one metre.

    Parameters
    ----------
    first_bar : its first bar, counted from 0.
    groove : kick, snare and every other surface as lanes; no hand is named.
    strokes : surface -> (steps, rows): for every stroke of the part its step of the groove and its row, by
        step. Strokes that share a step are all there: grace strokes, or strokes closer than the grid.
    """

    first_bar: int
    groove: Groove
    strokes: Mapping[str, tuple[IntArray, IntArray]]

    def rows_at(self, surface: str, steps: IntArray) -> IntArray:
        """The part's rows of all strokes on these steps of a surface."""
        if surface not in self.strokes:
            return np.empty(0, np.int64)
        at, rows = self.strokes[surface]
        wanted = np.unique(steps)
        low, high = np.searchsorted(at, wanted), np.searchsorted(at, wanted, side="right")
        counts = high - low
        ends = np.cumsum(counts)
        return rows[np.repeat(low - ends + counts, counts) + np.arange(int(counts.sum()))]


def place_part(part: DrumPart) -> Placement:
    """The strokes of a part on the grid."""
    seconds = part.seconds_a_tick(part.tick)
    main = find_graces(part.tick, part.surfaces, part.velocity, seconds)
    return place_on_grids(part.tick, part.bar_starts(), part.division, figures_of(part.bars), main)


def grooves_of(part: DrumPart, placement: Placement | None = None) -> tuple[Run, ...]:
    """The part as grooves, in order; empty for a part without bars."""
    if not part.bars:
        return ()
    placement = placement or place_part(part)
    kinds = kinds_of(part, placement)
    runs, first = [], 0
    for meter, group in groupby(bar.meter for bar in part.bars):
        end = first + len(list(group))
        runs.append(_run(part, placement, kinds, meter, (first, end)))
        first = end
    return tuple(runs)


def kinds_of(part: DrumPart, placement: Placement) -> IntArray:
    """(n,) stroke kinds: flams and drags by their grace strokes, accents and ghosts by level."""
    drums = np.zeros(max(SURFACE_NAMES) + 1, bool)
    for code, name in SURFACE_NAMES.items():
        drums[code] = surface_row(name).family in DRUM_FAMILIES
    kinds = np.where(part.velocity >= BANDS[-1].low, int(Kind.ACCENT), int(Kind.PLAIN))
    kinds[(part.velocity <= BANDS[0].high) & drums[part.surfaces]] = Kind.GHOST
    graces = np.bincount(placement.main[placement.is_grace], minlength=len(part))
    kinds[graces == 1], kinds[graces == 2] = Kind.FLAM, Kind.DRAG
    return kinds.astype(np.int64)


def _run(part: DrumPart, placed: Placement, kinds: IntArray, meter: Meter, bars: tuple[int, int]) -> Run:
    low, high = np.searchsorted(placed.bar, bars)
    rows = np.arange(low, high)
    grids = placed.grid[bars[0] : bars[1]]
    # Only grids in use count; a bar of rests fits any.
    used = np.unique(grids[np.unique(placed.bar[rows]) - bars[0]]).tolist()
    grid = lcm(*used) if used else int(grids[0])
    per_bar = meter.steps(grid)
    steps = (placed.bar[rows] - bars[0]) * per_bar + placed.step[rows] * (grid // placed.grid[placed.bar[rows]])
    codes = part.surfaces[rows]
    count = (bars[1] - bars[0]) * per_bar
    lanes, strokes = {}, {}
    for code in np.unique(codes).tolist():
        name = SURFACE_NAMES[code]
        chosen = codes == code
        mine, at = rows[chosen], steps[chosen]
        order = np.argsort(at, kind="stable")
        strokes[name] = (at[order], mine[order])
        lanes[name] = _lane(count, at, mine, part, (placed, kinds))
    groove = Groove(
        meter,
        grid,
        bars[1] - bars[0],
        kick=lanes.pop("kick", None),
        snare=lanes.pop("snare", None),
        others=tuple(lanes.items()),
    )
    return Run(bars[0], groove, strokes)


def _lane(
    count: int, at: IntArray, rows: IntArray, part: DrumPart, placed: tuple[Placement, IntArray]
) -> Lane:
    """A lane of the loudest stroke of each step; grace strokes are in its kind."""
    placement, kinds = placed
    main = ~placement.is_grace[rows]
    at, rows = at[main], rows[main]
    order = np.argsort(part.velocity[rows], kind="stable")  # of strokes on one step the last one put stays
    at, rows = at[order], rows[order]
    velocity, kind, offset = np.zeros(count, np.uint8), np.zeros(count, np.uint8), np.zeros(count)
    velocity[at], kind[at], offset[at] = part.velocity[rows], kinds[rows], placement.offset[rows]
    return Lane(velocity, kind, offset)


def groove_of_midi(data: bytes, channel: int | None = None, key_map: KeyMap = GM) -> Groove:
    """A drum MIDI file as one groove, its busiest timekeeping hand named.

    Raises
    ------
    FormatError
        When the file has no strokes, or more than one metre.
    """
    part = read_drums(read_smf(data), channel, key_map)
    if not len(part):
        raise FormatError("the file has no drums, so it is no groove")
    runs = grooves_of(part)
    if len(runs) > 1:
        bar = runs[1].first_bar
        raise FormatError(
            "a groove has one metre",
            place=f"bar {bar + 1}",
            found=f"{part.bars[bar].meter} after {part.bars[bar - 1].meter}",
            hint="a file for each metre",
        )
    groove = runs[0].groove
    named = [facts.timekeeper for facts in inspect.bar_facts(groove) if facts.timekeeper]
    return hands.with_hand(groove, max(named, key=named.count)) if named else groove
