"""How long a part can be held: a leaky sum of the strokes a second above comfort.

The sum rises while a pair of limbs strikes faster than is comfortable and leaks away with a time constant: 10 s for
what a short passage costs, 60 s for what a song does. Both, and how much a pair can take, are house rules: at its limit
it lasts a minute, at 1.2 times the limit ten seconds. (The records that are known are of one minute, and 15 minutes at
0.86 of that rate: contest figures.)
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log

import numpy as np
from numpy.typing import NDArray

from grooveforge.analysis.instants import Floats, Passage, Work
from grooveforge.core.profile import Profile

WINDOW = 1.0
"""Seconds over which strokes are counted."""


@dataclass(frozen=True)
class Tank:
    """One of the leaky sums: its time constant in seconds, and for how many seconds which multiple of the limit fills
    it."""

    seconds: float
    held: float
    ratio: float

    def room(self, limit: float, comfort: float) -> float:
        """How much fits in, in strokes."""
        over = self.ratio * limit - comfort
        return over * self.seconds * (1 - exp(-self.held / self.seconds))

    def lasts(self, rate: float, limit: float, comfort: float) -> float | None:
        """Seconds until a steady rate has filled it; None for ever."""
        over = rate - comfort
        if over <= 0:
            return None
        full = self.room(limit, comfort) / (over * self.seconds)
        return None if full >= 1 else -self.seconds * log(1 - full)


TANKS = (Tank(10.0, 10.0, 1.2), Tank(60.0, 60.0, 1.0))
"""Short and long breath (house rule)."""


@dataclass(frozen=True)
class Held:
    """How long one pair of limbs holds a part.

    Parameters
    ----------
    fastest : most strokes in a second. fullest : how full the fuller of the two sums gets; from 1 on it is too much.
    tired_bar : the bar, from 1, in which that is reached; None where it is not.
    lasts : seconds for which the fastest second could go on; None for as long as one likes.
    """

    fastest: float
    fullest: float
    tired_bar: int | None
    lasts: float | None

    def facts(self) -> dict[str, object]:
        return {
            "fastest": round(self.fastest, 2),
            "fullest": round(self.fullest, 3),
            "tired_bar": self.tired_bar,
            "lasts_seconds": None if self.lasts is None else round(self.lasts, 1),
        }


@dataclass(frozen=True)
class Endurance:
    """How long hands and feet hold a part."""

    hands: Held
    feet: Held

    def facts(self) -> dict[str, object]:
        """As `check --json` gives it."""
        return {"hands": self.hands.facts(), "feet": self.feet.facts()}


def endurance_of(passage: Passage, profile: Profile) -> Endurance:
    """How long a drummer holds a passage."""
    hands = _held(passage, passage.hands, 2 * profile.hand, profile.comfort)
    return Endurance(hands, _held(passage, passage.feet, profile.kicks, profile.comfort))


def _held(passage: Passage, work: Work, limit: float, comfort_share: float) -> Held:
    """Strokes of the work, counted by windows, against a limit in strokes a second."""
    if not len(work):
        return Held(0.0, 0.0, None, None)
    comfort = comfort_share * limit
    counts = _rates(passage.seconds[work.group], np.diff(work.first))
    over = counts - comfort
    fullest, tired = 0.0, None
    for tank in TANKS:
        filled = _leaky(over, tank.seconds) / tank.room(limit, comfort)
        fullest = max(fullest, float(filled.max()))
        if filled.max() >= 1:
            at = float(np.argmax(filled >= 1)) * WINDOW
            bar = int(np.searchsorted(passage.line_seconds, at, side="right"))
            tired = min(bar, tired or bar)
    fastest = float(counts.max())
    lasting = [held for tank in TANKS if (held := tank.lasts(fastest, limit, comfort)) is not None]
    return Held(fastest, fullest, tired, min(lasting, default=None))


def _rates(seconds: Floats, strokes: NDArray[np.int64]) -> Floats:
    """Strokes a second in each window; those of an instant are spread over the time up to the next one."""
    struck = np.concatenate(([0], np.cumsum(strokes)[:-1]))
    edges = np.arange(int(seconds[-1] / WINDOW) + 2) * WINDOW
    rates: Floats = np.diff(np.interp(edges, seconds, struck)) / WINDOW
    return rates


def _leaky(over: Floats, constant: float) -> Floats:
    """The leaky sum of what is over comfort, never below 0; what is under it lets the sum leak."""
    keep = exp(-WINDOW / constant)
    gain = constant * (1 - keep)
    sums, held = np.empty(over.size), 0.0
    for at, value in enumerate(over.tolist()):
        held = max(held * keep + max(value, 0.0) * gain, 0.0)
        sums[at] = held
    return sums
