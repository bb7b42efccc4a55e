"""Which strokes of a groove have which role: its feel, its backbeats, whether they are its own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

import numpy as np

from grooveforge.core import detect
from grooveforge.core.feel_fit import LEAST_F1, matches
from grooveforge.core.feel_table import SPELLINGS, FeelPattern, pattern
from grooveforge.core.groove import Groove
from grooveforge.errors import MusicError


@dataclass(frozen=True)
class FeelReading:
    """The feel of a groove and the strokes that make it.

    Parameters
    ----------
    feel, spelling : None where the groove has no backbeat, or the feel no spellings.
    backbeats : (surface, step) of each backbeat, by step.
    own : whether the backbeats are the groove's own and not the table's.
    """

    feel: str | None
    spelling: str | None = None
    backbeats: tuple[tuple[str, int], ...] = ()
    own: bool = False


NO_FEEL = FeelReading(None)

NEAR = 1e-9
"""Places in whole notes that differ by less are the same."""


@lru_cache(maxsize=512)
def read_feel(groove: Groove) -> FeelReading:
    """The feel that a groove says or, where it does not say, the one that its strokes have."""
    # What a groove says needs no detection: its backbeats may stand in what else would be a roll.
    said = groove.feel is not None
    strokes = detect.loud_strokes(groove) if said or groove.backbeats is not None else detect.candidates(groove)
    voted = detect.BarFeel(groove.feel) if said else _voted(groove)
    feel = voted.feel
    if feel is None or not strokes:
        return NO_FEEL
    spelling = groove.spelling or closest_spelling(groove, feel)
    if groove.backbeats is not None:
        met = _met(strokes, groove.backbeats)
        return FeelReading(feel, spelling, met, own=True) if met else NO_FEEL
    if voted.own and (cycle := voted.cycle(groove.meter)) is not None:
        return FeelReading(feel, spelling, _met(strokes, cycle.over(groove.bars, groove.meter).backbeats), own=True)
    met, count = _best_phase(strokes, pattern(groove.meter, feel, spelling), groove)
    if not said or len(met) == count:
        return FeelReading(feel, spelling, met) if met else NO_FEEL
    playing = detect.candidates(groove) or strokes
    others = len(playing) - len(met)
    if others <= 0 or 2 * len(met) >= LEAST_F1 * (len(playing) + count):
        return FeelReading(feel, spelling, met)  # strokes are missing, or stand beside: still the table's
    return FeelReading(feel, spelling, tuple((name, step) for _, name, step in playing), own=True)


def _best_phase(
    strokes: list[tuple[float, str, int]], cycle: FeelPattern, groove: Groove
) -> tuple[tuple[tuple[str, int], ...], int]:
    """The strokes that meet a feel's backbeats, begun at the bar of its cycle where most do, and how many of
    the latter there are."""
    runs = [_run(cycle, phase, groove) for phase in range(cycle.bars)]
    found = [(_met(strokes, places), len(places)) for places in runs]
    return max(found, key=lambda pair: (len(pair[0]), -pair[1]))


def _run(cycle: FeelPattern, phase: int, groove: Groove) -> list[float]:
    """The backbeats of a cycle over a groove, begun at some bar of the cycle; whole notes from the groove's start."""
    bar = float(groove.meter.whole)
    end = groove.bars * bar - NEAR
    turns = range(-phase, groove.bars, cycle.bars)
    places = [float(place) for place in cycle.backbeats]
    return [at for turn in turns for place in places if -NEAR < (at := turn * bar + place) < end]


def _met(strokes: list[tuple[float, str, int]], places: Sequence[Fraction | float]) -> tuple[tuple[str, int], ...]:
    pairs = matches([stroke[0] for stroke in strokes], [float(place) for place in places])
    return tuple((strokes[index][1], strokes[index][2]) for index, _ in pairs)


def _voted(groove: Groove) -> detect.BarFeel:
    """The feel of most bars; bars in which the hand rests for a beat or more are fills and have no vote."""
    groove = _turns(groove)
    feels = detect.bar_feels(groove)
    playing = [_hand_plays(groove, bar) for bar in range(groove.bars)]
    return detect.vote(feels, playing if any(playing) else [True] * groove.bars)


LEAST_TURNS, LEAST_BARS = 2, 4
"""How much of a loop is read: so many turns of it and so many bars, as feels run over bar lines."""


def _turns(groove: Groove) -> Groove:
    """The beginning of a groove that is the same few bars over and over; reading on says nothing new."""
    for bars in range(1, groove.bars // LEAST_TURNS):
        read = max(LEAST_TURNS * bars, LEAST_BARS)
        if groove.bars % bars == 0 and read < groove.bars and groove.slice(0, bars).bars_of(groove.bars) == groove:
            return groove.slice(0, read + -read % bars)
    return groove


def _hand_plays(groove: Groove, bar: int) -> bool:
    if groove.hand is None:
        return True
    low = bar * groove.steps_per_bar
    struck = groove.hand.velocity[low : low + groove.steps_per_bar] > 0
    edges = [int(beat * groove.grid) for beat in groove.meter.beats] + [groove.steps_per_bar]
    return all(bool(np.any(struck[start:end])) for start, end in pairwise(edges) if start < end)


def closest_spelling(groove: Groove, feel: str) -> str | None:
    """The spelling of a feel that differs from the groove's kick and snare in fewest strokes."""
    names = SPELLINGS.get(feel)
    if not names:
        return None
    lanes = [set(groove.lane_on(name).struck.tolist()) for name in ("kick", "snare")]
    differing = {}
    for name in names:
        try:
            cycle = pattern(groove.meter, feel, name).over(groove.bars, groove.meter)
        except MusicError:
            continue  # a spelling that this metre does not know
        figure = [{float(place) * groove.grid for place in places} for places in (cycle.kicks, cycle.backbeats)]
        differing[name] = sum(len(lane ^ steps) for lane, steps in zip(lanes, figure))
    return min(differing, key=lambda name: differing[name]) if differing else None
