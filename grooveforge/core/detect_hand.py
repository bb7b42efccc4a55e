"""Which hand keeps time in a bar and how fast: read from the strokes alone. The rules are house rules."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.hands import hand_of
from grooveforge.core.kit import surface as surface_row
from grooveforge.core.meter import Meter

Places = NDArray[np.float64]

LEAST_STROKES = 3
LEAST_BEATS = 0.75
"""A hand that strikes less than three times a bar, or in fewer than three quarters of its beats, keeps no time."""

KEEPS_TIME = ("hi-hat", "foot", "ride", "crash", "china", "floor tom")


def may_keep_time(name: str) -> bool:
    """Whether a hand that keeps time is looked for on a surface."""
    row = surface_row(name)
    return row.family in KEEPS_TIME or name == "cowbell"


def timekeeper_of(strokes: Mapping[str, NDArray[np.int64]], meter: Meter, grid: int) -> str | None:
    """The surface of the hand that keeps time in one bar.

    Parameters
    ----------
    strokes : steps of the bar struck on each surface (each counted from the bar line).

    Returns
    -------
    The surface with most strokes among hi-hats, cymbals, floor toms and cowbell that are struck often and
    evenly enough to keep time, where the surfaces of one hand (open and closed hi-hat, ride and its bell)
    count together and go by the more frequent; of equals a hand goes before the foot. None without such.
    """
    hands: dict[tuple[str, ...], list[str]] = {}
    for name in strokes:
        if len(strokes[name]) and may_keep_time(name):
            hands.setdefault(hand_of(name), []).append(name)
    if not hands:
        return None
    steps = {hand: np.unique(np.concatenate([strokes[name] for name in names])) for hand, names in hands.items()}
    # A fill on floor toms may have more strokes than the hand that keeps time until it begins.
    steady = {
        hand: at for hand, at in steps.items() if len(at) >= LEAST_STROKES and _in_most_beats(at, meter, grid)
    }
    if not steady:
        return None
    busiest = max(steady, key=lambda hand: (len(steady[hand]), surface_row(hand[0]).family != "foot"))
    return max(hands[busiest], key=lambda name: len(strokes[name]))


def _in_most_beats(steps: NDArray[np.int64], meter: Meter, grid: int) -> bool:
    starts = _beat_starts(meter)
    struck = np.unique(np.searchsorted(starts, steps * 4 / grid + 1e-9, side="right"))
    return len(struck) >= LEAST_BEATS * len(starts)


@lru_cache(maxsize=256)
def _beat_starts(meter: Meter) -> Places:
    """Where the beats of a bar begin, in quarter notes."""
    starts = np.array([float(4 * beat) for beat in meter.beats])
    starts.flags.writeable = False
    return starts


ECHO = 1 / 8 + 1e-6
"""Quarter notes: a stroke this close behind another is no step of a rate, as the finest rate is sixteenths."""

QUARTER_PARTS = 24
"""Parts of a quarter that tell halves, thirds, fourths and eighths apart."""


def subdivision_of(steps: NDArray[np.int64], meter: Meter, grid: int) -> str | None:
    """The rate of a hand in one bar: "1/4", "1/8", "1/16", or "1/8T" for thirds of a quarter.

    The finest regular step that is seen in at least two of the metre's beats; None without strokes. A beat
    itself counts as "1/4", also a dotted one.
    """
    return _rate(np.asarray(steps, np.int64).tobytes(), meter, grid) if len(steps) else None


def _without_echoes(place: Places) -> Places:
    """Rising places without those that follow one that stays by a thirty-second or less: its echo or drag."""
    kept: list[float] = []
    for at in place.tolist():
        if not kept or at - kept[-1] > ECHO:
            kept.append(at)
    return np.array(kept)


@lru_cache(maxsize=4096)
def _rate(steps: bytes, meter: Meter, grid: int) -> str:
    """As `subdivision_of`, for the bytes of the steps: bars are alike far more often than not."""
    starts = _beat_starts(meter)
    place = _without_echoes(np.frombuffer(steps, np.int64) * 4 / grid) + 1e-9  # quarter notes
    beat = np.searchsorted(starts, place, side="right") - 1
    within = place - starts[beat]
    part = np.round(within * QUARTER_PARTS).astype(int) % QUARTER_PARTS
    # In a loosely swung bar the late stroke may stand at 5/8 of its quarter with nothing near it.
    swung = (part == 15) & ~np.any(np.isin(part, (3, 6, 9, 18, 21)))
    part = np.where(swung, 16, part)
    needed = min(2, len(starts))

    def beats_with(mask: NDArray[np.bool_]) -> int:
        return len(np.unique(beat[mask]))

    thirds = beats_with(np.isin(part, (8, 16)))
    sixteenths = beats_with(np.isin(part, (3, 6, 9, 15, 18, 21)))
    if not meter.compound and thirds >= needed and thirds >= sixteenths:
        return "1/8T"
    if sixteenths >= needed:
        return "1/16"
    halves = (part == 12) | ((part == 0) & (within > 0.5) & (meter.lower > 4))
    return "1/8" if beats_with(halves) >= needed else "1/4"
