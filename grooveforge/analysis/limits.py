"""Necessary limits of hands and feet for many candidates at once: what fails here no one can play.

What passes may still be unplayable; the full search says. The bounds follow from the run rule: a limb is never more
than a whole burst ahead of its limit, and never faster than a burst.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from grooveforge.analysis.chains import SECOND, TOLERANCE
from grooveforge.analysis.zones import ZONES
from grooveforge.core.profile import Profile

KICK, PEDAL = "kick", "pedal hi-hat"

WINDOW_SECONDS = 1.0
"""The longest stretch that is looked at; after a second even the slowest limb has caught up (house rule)."""

Counts = NDArray[np.int64]
Truths = NDArray[np.bool_]


def possible(
    strokes: NDArray[np.uint8] | Truths,
    surfaces: Sequence[str],
    step_seconds: float,
    profile: Profile,
    loop: bool = True,
) -> Truths:
    """Which candidates pass the necessary limits of two hands and two feet.

    Parameters
    ----------
    strokes : (candidates, surfaces, steps), how many strokes each surface has on each step: 0, 1, or 2 for a flam or
        drag. surfaces : the names of the second axis; what no limb strikes has no say.
    step_seconds : how long a step lasts. loop : whether the end goes into the beginning.

    Returns
    -------
    (candidates,) False where more strokes stand at one instant, or in some stretch of time, than limbs can play.
    """
    counts = np.asarray(strokes, np.int8)
    hands = _count(counts, [at for at, name in enumerate(surfaces) if name in ZONES])
    kicks = _count(counts, [at for at, name in enumerate(surfaces) if name == KICK])
    pedal = _count(counts, [at for at, name in enumerate(surfaces) if name == PEDAL])
    within = _within(hands, (profile.hand, 2), step_seconds, profile, loop)
    within &= _within(kicks + pedal, (profile.foot, 2), step_seconds, profile, loop)
    within &= _within(pedal, (profile.foot, 1), step_seconds, profile, loop)
    return within & _within(kicks, (profile.foot, 2 if profile.double_pedal else 1), step_seconds, profile, loop)


def _count(counts: NDArray[np.int8], rows: list[int]) -> NDArray[np.int16]:
    """(candidates, steps) strokes of some surfaces together."""
    total: NDArray[np.int16] = counts[:, rows].sum(axis=1, dtype=np.int16)
    return total


def most_strokes(seconds: float, rate: float, profile: Profile) -> int:
    """The most strokes of one limb, limited to `rate` a second, that lie in a stretch of time, its ends counted."""
    seconds += TOLERANCE / SECOND
    ahead = (profile.burst - 1) * (1 - 1 / profile.burst_factor)
    fast, held = profile.burst_factor * rate * seconds, ahead + rate * seconds
    return 1 + int(min(fast, held) + 0.01)


def _within(
    counts: NDArray[np.int16], limbs: tuple[float, int], step_seconds: float, profile: Profile, loop: bool
) -> Truths:
    """(candidates,) whether in no stretch there are more strokes than some limbs of one rate can play."""
    rate, number = limbs
    steps = counts.shape[1]
    passed = np.ones(counts.shape[0], bool)
    if not counts.any():
        return passed
    widest = max(min(int(WINDOW_SECONDS / step_seconds) + 1, 2 * steps if loop else steps), 1)
    if loop:
        turns = -(-(steps + widest - 1) // steps)
        counts = np.tile(counts, (1, turns))[:, : steps + widest - 1]
    sums = np.zeros((counts.shape[0], counts.shape[1] + 1), np.int16)
    np.cumsum(counts, axis=1, out=sums[:, 1:])
    for width in range(1, widest + 1):
        most = number * most_strokes((width - 1) * step_seconds, rate, profile)
        if most < width * int(counts.max()):
            passed &= (sums[:, width:] - sums[:, :-width] <= most).all(axis=1)
    return passed
