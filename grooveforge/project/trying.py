"""Choices tried out on the whole song: exactly what `render` would give, how different it is, who can play it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from grooveforge.analysis.distance import Difference, Strokes, difference
from grooveforge.analysis.energy import energy_line
from grooveforge.analysis.limbs import Player
from grooveforge.analysis.playability import check
from grooveforge.analysis.surprise import Bar, Listener, bars_of
from grooveforge.core.arrange import Arrangement, arrange
from grooveforge.core.perform import Performance
from grooveforge.core.profile import Profile
from grooveforge.core.section import Section
from grooveforge.core.song import Fixed
from grooveforge.errors import GrooveForgeError
from grooveforge.project.checking import performance_to_check
from grooveforge.project.returns import Return, own_strokes


@dataclass(frozen=True, eq=False)
class Tried:
    """A choice taken in the song.

    Parameters
    ----------
    back : the return. given : what its entry says then. arrangement : of the whole song.
    difference : from the statement before, which runs on as a loop where it is shorter.
    """

    back: Return
    given: Mapping[str, Any]
    arrangement: Arrangement

    @property
    def section(self) -> Section:
        return self.arrangement.sections[self.back.number]

    @property
    def section_before(self) -> Section:
        return self.arrangement.sections[self.back.before[0]]

    @cached_property
    def strokes(self) -> Strokes:
        return own_strokes(self.section)

    @cached_property
    def difference(self) -> Difference:
        return difference(self.back.strokes_before(self.section_before), self.strokes)

    @cached_property
    def performance(self) -> Performance:
        """The song without looseness and shades of level."""
        return performance_to_check(self.arrangement)

    @cached_property
    def bars(self) -> list[Bar]:
        return bars_of(self.performance)

    @property
    def surprise(self) -> float:
        """Bits a stroke of the section to someone who has heard the song up to it, bar by bar."""
        first = self.section.bar - 1
        listener = Listener()
        for bar in self.bars[:first]:
            listener.learn(bar)
        return float(np.mean([listener.heard(bar) for bar in self.bars[first : first + self.section.bars]]))

    @cached_property
    def energy(self) -> np.ndarray[Any, np.dtype[np.float64]]:
        """(bars,) of the song."""
        return energy_line(self.performance)

    def mean_energy(self, section: Section) -> float:
        """The mean energy of a section's bars."""
        return float(self.energy[section.bar - 1 : section.bar - 1 + section.bars].mean())

    def breaks(self, fixed: Fixed) -> bool:
        """Whether something changes that the sheet keeps as it is."""
        if not fixed:
            return False
        now, then = own_strokes(self.back.section), self.strokes
        found = difference(now, then)
        if fixed is True:
            return bool(found.distance)
        if isinstance(fixed, tuple):
            moved = any(found.lanes[name] > 0 for name in fixed)
            return moved or ("timekeeper" in fixed and found.surface > 0)
        low, _, high = str(fixed).partition("-")
        return bool(found.bars[int(low) - 1 : int(high or low)].any())


@dataclass
class Trier:
    """Tries choices for one drummer; remembers bars that were played."""

    profile: Profile
    player: Player = field(init=False)

    def __post_init__(self) -> None:
        self.player = Player(self.profile)

    def tried(self, back: Return, given: Mapping[str, Any]) -> Tried | None:
        """A choice taken in the song; None where the song cannot be arranged with it."""
        try:
            return Tried(back, given, arrange(back.song_with(given)))
        except GrooveForgeError:
            return None

    def playable(self, tried: Tried) -> bool:
        """Whether no one says no to the section, the bar before it and the bar after it, by the full search."""
        first, last = tried.section.bar - 1, tried.section.bar + tried.section.bars
        found = check(tried.performance, self.profile, remedies=False, player=self.player)
        return not any(first <= bar <= last for bar in found.bars_with_findings)

    def playable_song(self, tried: Tried) -> bool:
        """Whether no one says no to any bar of the song that could be played before."""
        found = check(tried.performance, self.profile, remedies=False, player=self.player)
        return not found.bars_with_findings
