"""A groove of one metre under bars of another: cut at every bar line, or running over them.

House rules. Both begin anew with the section. Cut: each bar of the section begins with a bar of the groove and
plays on into what follows where the section's bar is longer. Feel and rate are the groove's own, set before.
"""

from __future__ import annotations

from fractions import Fraction
from math import lcm

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.groove import Groove
from grooveforge.core.meter import Meter
from grooveforge.core.roles import read_feel

CUT, RUN = "cut", "run"
FITS = (CUT, RUN)


def fitted(groove: Groove, meter: Meter, fit: str, bars: int) -> Groove:
    """A groove, as a loop, as bars of another metre; at most `bars` bars when it runs over the bar lines.

    Raises
    ------
    MusicError
        When no grid of at most 96 steps to a whole note has steps at both metres' bar lines.
    """
    finer = groove.fit_grid((meter.whole,))
    bar = meter.steps(finer.grid)
    if fit == CUT:
        starts = np.arange(finer.bars) * finer.steps_per_bar
        index = (starts[:, None] + np.arange(bar)[None, :]).reshape(-1) % finer.steps
        count = finer.bars
    else:
        count = min(bars, lcm(bar, finer.steps) // bar)
        index = np.arange(count * bar) % finer.steps
    return _picked(finer, meter, count, index)


def _picked(groove: Groove, meter: Meter, bars: int, index: NDArray[np.int64]) -> Groove:
    """Bars of a metre made of the steps that `index` picks; the groove's backbeats stay backbeats."""
    reading = read_feel(groove)
    beaten = np.isin(index, [step for _, step in reading.backbeats])
    return groove.map_lanes(
        lambda lane: lane.at(index),
        meter=meter,
        bars=bars,
        feel=reading.feel,
        spelling=reading.spelling,
        backbeats=tuple(Fraction(int(step), groove.grid) for step in np.flatnonzero(beaten)) or None,
    )
