"""Stickings: which limb plays each stroke, and which hand a written sticking asks for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from grooveforge.analysis.instants import Floats, Ints, Passage, passage_of
from grooveforge.analysis.limbs import Assigned
from grooveforge.analysis.options import HAND_LETTERS, NOTHING
from grooveforge.core.kit import SURFACE_NAMES
from grooveforge.core.perform import Performance
from grooveforge.core.profile import RIGHT, Profile

LIMBS = ("right hand", "left hand", "right foot", "left foot")


@dataclass(frozen=True, eq=False)
class Sticking:
    """Which limb plays each stroke, as columns of one length by tick.

    Parameters
    ----------
    tick : of the stroke's place on the grid. surface : `kit.SURFACE_CODES`. limb : index into `LIMBS`.
    bar : from 1. beat : quarter notes from 1.0.
    """

    tick: Ints
    surface: Ints
    limb: Ints
    bar: Ints
    beat: Floats

    def __len__(self) -> int:
        return int(self.tick.size)

    def patterns(self) -> list[dict[str, Any]]:
        """Who plays what in each different bar: the bars, the hands in a line, and every stroke."""
        found: dict[tuple[tuple[float, int, int], ...], list[int]] = {}
        rows = list(zip(self.beat.tolist(), self.limb.tolist(), self.surface.tolist()))
        bars, starts = np.unique(self.bar, return_index=True)
        for bar, low, high in zip(bars.tolist(), starts.tolist(), [*starts.tolist()[1:], len(rows)]):
            found.setdefault(tuple(rows[low:high]), []).append(bar)
        return [
            {
                "bars": same,
                "hands": hands_line(strokes),
                "strokes": [
                    {"beat": beat, "limb": LIMBS[limb], "surface": SURFACE_NAMES[code]} for beat, limb, code in strokes
                ],
            }
            for strokes, same in found.items()
        ]


def sticking_of(passage: Passage, parts: tuple[Assigned, Assigned], profile: Profile) -> Sticking:
    """Who plays what of a passage; strokes that no limb plays are left out."""
    mirrored = int(profile.handed != RIGHT)
    rows: list[tuple[int, int, int]] = []
    for chain, part in enumerate(parts):
        for instant, option in zip(part.work.group.tolist(), part.taken):
            for limb, code in enumerate(option.strikes):
                if code != NOTHING:
                    rows.append((instant, code, 2 * chain + (limb ^ mirrored)))
    table = np.array(sorted(rows), np.int64).reshape(-1, 3)
    instants = table[:, 0]
    place, bar = passage.place[instants], passage.bar[instants]
    beats = np.round(1 + (place - passage.lines[bar]) / passage.division, 4)
    return Sticking(place, table[:, 1], table[:, 2], bar + 1, beats)


def hands_line(strokes: Iterable[tuple[float, int, int]]) -> str:
    """The hands of (beat, limb, surface) rows as a line: R, L, or B for both at one instant."""
    masks: dict[float, int] = {}
    for beat, limb, _ in strokes:
        if limb < 2:
            masks[beat] = masks.get(beat, 0) | 1 << limb
    return " ".join(HAND_LETTERS[masks[beat]] for beat in sorted(masks))


# -- written ------------------------------------------------------------------------------------------------

REST = "-"


def by_turns(hands: str, performance: Performance) -> dict[int, str]:
    """Hands that take turns, such as "RLRRLRLL", one for each instant at which hands strike, over and over."""
    passage = passage_of(performance)
    ticks = passage.place[passage.hands.group].tolist()
    return {tick: hands[number % len(hands)] for number, tick in enumerate(ticks)}


def by_columns(marks: str, spacing: int, end: int) -> dict[int, str]:
    """A line of hands, R, L or B for both, with - for rests and small letters for soft strokes, `spacing` ticks a
    column, over and over up to the tick `end`."""
    ticks = range(0, end, spacing)
    marked = ((tick, marks[number % len(marks)].upper()) for number, tick in enumerate(ticks))
    return {tick: mark for tick, mark in marked if mark != REST}
