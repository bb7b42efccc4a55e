"""Stretches of bars that a change is made to, and how a groove's change comes back to the strokes of a part."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from math import lcm

import numpy as np

from grooveforge.core import detect
from grooveforge.core.detect import BarFeel
from grooveforge.core.groove import Groove, Lane
from grooveforge.core.hands import hand_of
from grooveforge.core.inspect import BarFacts, bar_facts
from grooveforge.core.kit import GRACE_STROKES, NORMAL, Kind, sounding
from grooveforge.core.kit import surface as surface_row
from grooveforge.core.words import runs
from grooveforge.formats.drum_part import DrumPart
from grooveforge.formats.drums_groove import Run, grooves_of
from grooveforge.formats.smf import IntArray
from grooveforge.formats.vary_edits import Edits, NewStroke

CYMBALS = ("hi-hat", "ride", "crash", "china")
"""A stroke on one of these takes the place of the timekeeping hand's on the same step (common practice)."""


@dataclass(frozen=True)
class Stretch:
    """Bars in a row of one run that are alike: `first` up to but without `last`, counted in the run from 0."""

    run: Run
    first: int
    last: int
    facts: tuple[BarFacts, ...]

    @property
    def groove(self) -> Groove:
        return self.run.groove.slice(self.first, self.last)

    @property
    def numbers(self) -> range:
        """The bars' numbers in the file, from 1."""
        return range(self.run.first_bar + self.first + 1, self.run.first_bar + self.last + 1)

    @property
    def heard(self) -> BarFeel:
        """The feel that the bars are a part of."""
        return self.facts[0].heard

    @property
    def hand(self) -> str | None:
        """The surface that the hand stands on in most of the bars."""
        return Counter(row.timekeeper for row in self.facts).most_common(1)[0][0]

    def single_bars(self) -> list[Stretch]:
        """The stretch as one stretch a bar."""
        return [Stretch(self.run, self.first + n, self.first + n + 1, (row,)) for n, row in enumerate(self.facts)]

    def rows(self, surface: str, steps: IntArray) -> IntArray:
        """The part's rows of all strokes on steps of the stretch."""
        return self.run.rows_at(surface, steps + self.first * self.run.groove.steps_per_bar)


Key = Callable[[BarFacts], object]


def stretches_of(part: DrumPart, wanted: Callable[[int], bool], key: Key) -> Iterator[Stretch]:
    """The wanted bars (by number, from 1) in stretches of one metre whose `key` is alike."""
    for run in grooves_of(part):
        facts = bar_facts(run.groove)
        keys = [(wanted(run.first_bar + bar + 1), key(row)) for bar, row in enumerate(facts)]
        for (chosen, _), bars in groupby(range(len(facts)), key=keys.__getitem__):
            listed = list(bars)
            if chosen:
                yield Stretch(run, listed[0], listed[-1] + 1, facts[listed[0] : listed[-1] + 1])


def bars_in_words(numbers: Sequence[int]) -> str:
    """Bar numbers, rising: "bar 3", "bars 1-4, 7"."""
    said = runs(numbers)
    more = f" and {len(said) - 8} more places" if len(said) > 8 else ""
    return f"bar{'s' * (len(numbers) > 1)} {', '.join(said[:8])}{more}"



# -- the difference --------------------------------------------------------------------------------------

HAND = "the hand"


def write_difference(
    edits: Edits, stretch: Stretch, before: Groove, after: Groove, only: Sequence[str] | None = None
) -> None:
    """Put what two grooves of the same bars differ in into the edits; `only` in some lanes, None in all."""
    for name in only or dict.fromkeys((*_lane_names(before), *_lane_names(after))):
        _write_lane(edits, stretch, name, (before, after))


def _lane_names(groove: Groove) -> list[str]:
    hand = [HAND] if groove.hand is not None else []
    named = ("kick", groove.kick), ("snare", groove.snare)
    return [*hand, *(name for name, lane in named if lane is not None), *(name for name, _ in groove.others)]


def _lane(groove: Groove, name: str) -> Lane:
    return (groove.hand or Lane.rests(groove.steps)) if name == HAND else groove.lane_on(name)


def _write_lane(edits: Edits, stretch: Stretch, name: str, grooves: tuple[Groove, Groove]) -> None:
    before, after = grooves
    grid = lcm(before.grid, after.grid)
    old, new = _lane(before, name), _lane(after, name)
    old_places, new_places = old.struck * (grid // before.grid), new.struck * (grid // after.grid)
    surfaces = hand_of(before.surface or "") if name == HAND else (name,)
    gone = old.struck[~np.isin(old_places, new_places)]
    for surface in surfaces:
        edits.remove(stretch.rows(surface, gone))
    if name != HAND:
        _, at_old, at_new = np.intersect1d(old_places, new_places, return_indices=True)
        _strengthen(edits, stretch, name, (old, old.struck[at_old]), (new, new.struck[at_new]))
    fresh = ~np.isin(new_places, old_places)
    if name == HAND:
        taken = _cymbal_places(before, surfaces) * (grid // before.grid)
        fresh &= ~np.isin(new_places, taken)
    usual = int(np.median(old.velocity[old.struck])) if len(old.struck) else NORMAL
    for step in new.struck[fresh].tolist():
        velocity, kind = int(new.velocity[step]), Kind(int(new.kind[step]))
        surface = name
        if name == HAND:
            # The core gives a normal stroke where it knows no better: here the hand's own usual level is known.
            surface, velocity = sounding(before.surface or "", kind, usual if velocity == NORMAL else velocity)
        bar, within = divmod(step, after.steps_per_bar)
        where = edits.part.bars[stretch.numbers[bar] - 1]
        edits.add(NewStroke(where, within, after.grid, surface, velocity, kind))


def _strengthen(
    edits: Edits, stretch: Stretch, name: str, old: tuple[Lane, IntArray], new: tuple[Lane, IntArray]
) -> None:
    """Strokes that stay stay as they are, but a ghost that becomes a backbeat is played as one."""
    (before, old_steps), (after, new_steps) = old, new
    rises = (before.velocity[old_steps] <= detect.GHOST_TOP) & (after.velocity[new_steps] > detect.GHOST_TOP)
    for was, now in zip(old_steps[rises].tolist(), new_steps[rises].tolist()):
        rows = stretch.rows(name, np.array([was]))
        row = int(rows[edits.part.velocity[rows].argmax()])
        edits.velocity[row] = after.velocity[now]
        kind = Kind(int(after.kind[now]))
        if kind in GRACE_STROKES and len(rows) == 1:
            edits.add_graces(int(edits.part.tick[row]), int(edits.part.note[row]), int(edits.part.track[row]), kind)


def _cymbal_places(groove: Groove, hand: tuple[str, ...]) -> IntArray:
    """Steps on which another cymbal than the hand's is struck."""
    struck = [
        lane.struck for name, lane in groove.others if name not in hand and surface_row(name).family in CYMBALS
    ]
    return np.unique(np.concatenate(struck)) if struck else np.empty(0, np.int64)
