"""The energy of every bar of a song: how loud, how open and how busy hand, snare and kick are (house rule).

hand = mean of level times surface weight, times the root of its strokes a beat; snare = mean level of its strokes
(the mean, so that fewer, heavier backbeats are no loss); kick = mean level times 0.5, times the root of its strokes
a beat. Levels are velocities from 0 to 1; beats are the metre's. Everything that is neither kick nor snare counts
as the hand's.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from grooveforge.analysis.bars import bar_lines, beats_of_bars
from grooveforge.core.groove import Groove
from grooveforge.core.kit import BACKBEAT_SURFACES, SURFACE_CODES
from grooveforge.core.perform import Performance

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SURFACE_WEIGHTS: Mapping[str, float] = MappingProxyType(
    {
        "floor tom": 1.0, "high floor tom": 1.0, "closed hi-hat": 1.0, "half-open hi-hat": 1.5, "open hi-hat": 1.9,
        "pedal hi-hat": 0.8, "ride": 1.3, "second ride": 1.3, "ride bell": 1.6, "crash": 2.3, "second crash": 2.3,
        "china": 2.4, "splash": 1.5, "cowbell": 1.6,
    }
)  # fmt: skip
"""How much a stroke of the hand counts by its surface (house rule); any other surface 1."""

KICK_WEIGHT = 0.5
LOUDEST = 127

KICK, SNARE, HAND = range(3)

WEIGHT: Floats = np.ones(max(SURFACE_CODES.values()) + 1)
ROLE: NDArray[np.int8] = np.full(WEIGHT.size, HAND, np.int8)
for _name, _weight in SURFACE_WEIGHTS.items():
    WEIGHT[SURFACE_CODES[_name]] = _weight
for _name in BACKBEAT_SURFACES:
    ROLE[SURFACE_CODES[_name]] = SNARE
ROLE[SURFACE_CODES["kick"]] = KICK
for _table in (WEIGHT, ROLE):
    _table.flags.writeable = False


def energy_line(performance: Performance) -> Floats:
    """(bars,) the energy of every bar; 0 where nothing is played."""
    starts, beats = bar_lines(performance)[:-1], beats_of_bars(performance)
    events = performance.events
    bar = np.searchsorted(starts, events.tick - events.offset, side="right") - 1
    return bar_energy(np.maximum(bar, 0), events.surface, events.velocity.astype(np.float64), beats)


def bar_energy(bar: Ints, surface: Ints, velocity: Floats, beats: Ints) -> Floats:
    """(bars,) the energy of bars given as columns of strokes.

    Parameters
    ----------
    bar, surface, velocity : of each stroke: from 0, `kit.SURFACE_CODES`, 1 to 127. beats : (bars,) of each bar.
    """
    level = velocity / LOUDEST
    role = ROLE[surface]
    total = np.zeros(beats.size)
    factors = {HAND: WEIGHT[surface], SNARE: np.ones(surface.size), KICK: np.full(surface.size, KICK_WEIGHT)}
    for which, factor in factors.items():
        rows = role == which
        count = np.bincount(bar[rows], minlength=beats.size).astype(np.float64)
        loud = np.bincount(bar[rows], weights=(level * factor)[rows], minlength=beats.size)
        mean = loud / np.maximum(count, 1.0)
        total += mean if which == SNARE else mean * np.sqrt(count / np.maximum(beats, 1))
    return total


def groove_energy(groove: Groove) -> tuple[Floats, Floats]:
    """The energy of a groove's bars in two parts, each (bars,): snare and kick, and the hand on weight 1."""
    bars: list[Ints] = []
    surfaces: list[Ints] = []
    levels: list[Floats] = []
    for name, lane in groove.voices:
        steps = lane.struck
        code = SURFACE_CODES["closed hi-hat" if lane is groove.hand else name]
        bars.append(steps // groove.steps_per_bar)
        surfaces.append(np.full(steps.size, code, np.int64))
        levels.append(lane.velocity[steps].astype(np.float64))
    beats = np.full(groove.bars, len(groove.meter.beats), np.int64)
    if not bars:
        return np.zeros(groove.bars), np.zeros(groove.bars)
    bar, surface, level = np.concatenate(bars), np.concatenate(surfaces), np.concatenate(levels)
    hand = ROLE[surface] == HAND
    drums = bar_energy(bar[~hand], surface[~hand], level[~hand], beats)
    return drums, bar_energy(bar[hand], surface[hand], level[hand], beats)
