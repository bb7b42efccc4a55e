"""The arc of a song: the rules that a plan keeps, measured on what `render` would give."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from grooveforge.analysis.energy import energy_line
from grooveforge.core.arrange import Arrangement
from grooveforge.core.perform import perform
from grooveforge.core.section import Section
from grooveforge.core.song import Level
from grooveforge.project.returns import surfaces_by_bar

WASHING = frozenset(("crash", "second crash", "china"))
"""Surfaces that wear off when a song rides on them for long (common practice)."""

WASH_SHARE = 3
"""One bar in so many may ride on them (house rule)."""

ENERGY_TOLERANCE = 1e-9


def washes(name: str | None) -> bool:
    return name in WASHING


def wash_bars(section: Section) -> int:
    """Bars of a section that ride on crash or china."""
    return sum(washes(name) for name in surfaces_by_bar(section))


@dataclass(frozen=True, eq=False)
class Arc:
    """A song as an arc.

    Parameters
    ----------
    arrangement : of the whole song. last : index of the section that holds the last return.
    """

    arrangement: Arrangement
    last: int

    @cached_property
    def energy(self) -> NDArray[np.float64]:
        """(bars,) with every level as the song says it."""
        return energy_line(perform(self.arrangement))

    def means(self) -> list[float]:
        """The mean energy of every section."""
        return [float(self.energy[s.bar - 1 : s.bar - 1 + s.bars].mean()) for s in self.arrangement.sections]

    @property
    def peak_is_last(self) -> bool:
        """Whether the loudest bar of the last return, or of what comes after it, is no lower than any before."""
        first = self.arrangement.sections[self.last].bar - 1
        before = float(self.energy[:first].max(initial=0.0))
        return float(self.energy[first:].max(initial=0.0)) >= before - ENERGY_TOLERANCE

    @property
    def bars_to_wash(self) -> int:
        """How many bars may ride on crash or china."""
        return sum(section.own_bars for section in self.arrangement.sections) // WASH_SHARE

    def like_neighbours(self, changed: Sequence[int]) -> bool:
        """Whether a changed section and a neighbour of another part have surface, feel and level in common."""
        numbered = enumerate(pairwise(self.arrangement.sections))
        return any(_alike(one, two) for at, (one, two) in numbered if {at, at + 1} & set(changed))


def _alike(one: Section, two: Section) -> bool:
    levels = [section.settings.level or Level(0, 0) for section in (one, two)]
    same = one.feel == two.feel and one.timekeepers == two.timekeepers and levels[0] == levels[1]
    return same and one.part != two.part and one.feel is not None
