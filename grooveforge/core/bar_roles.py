"""What else a bar does beside its feel: ghost strokes, a fill, an arrival. House rules after how both are built:
a fill silences the hand for a beat or more up to a bar line, an arrival is a crash with the kick on 1."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.detect import GHOST_TOP
from grooveforge.core.detect_hand import may_keep_time
from grooveforge.core.groove import KICK, SNARE, Groove
from grooveforge.core.hands import hand_of
from grooveforge.core.kit import Kind
from grooveforge.core.kit import surface as surface_row

LEAST_FILL = 2
"""Strokes a beat of a fill, the kick counted, one of them on snare or toms."""

Steps = NDArray[np.int64]
Inside = Mapping[str, Steps]


@dataclass(frozen=True)
class BarRoles:
    """Ghost strokes of the snare; the quarter note from 1.0 at which a fill begins, None without; an arrival."""

    ghosts: int
    fill: float | None
    arrival: bool


def bar_roles(groove: Groove, bars: Sequence[Inside], timekeepers: Sequence[str | None]) -> tuple[BarRoles, ...]:
    """The roles in every bar of a groove.

    Parameters
    ----------
    bars : for each bar the steps struck on each surface, counted from its bar line.
    timekeepers : for each bar the surface of the hand that keeps time.
    """
    snare = groove.lane_on(SNARE)
    ghost = ((snare.velocity > 0) & (snare.velocity <= GHOST_TOP)) | (snare.kind == Kind.GHOST)
    ghosts = ghost.reshape(groove.bars, groove.steps_per_bar).sum(axis=1).tolist()
    found: list[BarRoles] = []
    held: str | None = None  # the hand heard last; a fill goes on from it
    for inside, timekeeper, count in zip(bars, timekeepers, ghosts):
        held = timekeeper or held
        fill = _fill(groove, inside, held) if held is not None else None
        found.append(BarRoles(count, fill, _arrives(groove, inside, timekeeper or held)))
    return tuple(found)


def _fill(groove: Groove, inside: Inside, hand: str) -> float | None:
    """Where the beats up to the bar's end begin in which the hand rests and the drums are busy."""
    hands = [
        steps
        for name, steps in inside.items()
        if name in hand_of(hand) or (may_keep_time(name) and surface_row(name).family not in ("floor tom", "foot"))
    ]
    resting = np.concatenate(hands) if hands else np.empty(0, np.int64)
    drums = [steps for name, steps in inside.items() if surface_row(name).family in ("snare", "tom", "floor tom")]
    struck = np.concatenate(drums) if drums else np.empty(0, np.int64)
    kicks = inside.get(KICK, np.empty(0, np.int64))
    edges = [int(beat * groove.grid) for beat in groove.meter.beats] + [groove.steps_per_bar]
    begins = None
    for low, high in reversed(list(pairwise(edges))):
        on_drums = np.unique(struck[(struck >= low) & (struck < high)])
        in_all = np.union1d(on_drums, kicks[(kicks >= low) & (kicks < high)])
        if np.any((resting >= low) & (resting < high)) or not len(on_drums) or len(in_all) < LEAST_FILL:
            break
        begins = 1 + 4 * low / groove.grid
    return begins


def _arrives(groove: Groove, inside: Inside, hand: str | None) -> bool:
    """A crash with the kick on 1, on another surface than the hand's own."""
    own = hand_of(hand) if hand is not None else ()
    crashes = [name for name in inside if surface_row(name).family == "crash" and name not in own and name != "splash"]
    return any(0 in inside[name] for name in crashes) and 0 in inside.get(KICK, ())
