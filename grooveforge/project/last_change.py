"""The one clear change of a song's last return: its kinds, and the candidates of each that the arc has room for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from grooveforge.analysis.energy import SURFACE_WEIGHTS, groove_energy
from grooveforge.core.feel_table import RUNG
from grooveforge.core.kick import FOLLOW
from grooveforge.core.roles import read_feel
from grooveforge.project.arc import washes
from grooveforge.project.choices import Amount, Field

SLOWER, FASTER, PUSHED, FEET, RATE, HAND = "slower", "faster", "pushed", "feet", "rate", "hand"
KINDS: Mapping[str, str] = {
    SLOWER: "a slower feel, everything twice as wide,",
    FASTER: "a faster feel, the snare more often,",
    PUSHED: "a pushed backbeat",
    FEET: "other feet under the same hands",
    RATE: "the hand at another rate",
    HAND: "the hand on another surface",
}
"""What the last change is, and how a plan's reason begins."""

LOUDER = 0.12
"""How much energy two steps of level may add, as a share (measured: a step is 6 velocities of about 100)."""


def kind_of(field: Field, frame: int) -> str:
    """What a frame changes most against the statement before."""
    before, now = field.choices[0], field.choices[frame]
    rungs = _rungs(field, frame)
    if rungs:
        return SLOWER if rungs < 0 else FASTER
    if read_feel(field.grooves[frame]).feel != read_feel(field.before).feel:
        return FASTER  # d-beat stands on double's rung
    return next((kind for key, kind in KIND_OF_KEY.items() if now[key] != before[key]), HAND)


KIND_OF_KEY: Mapping[str, str] = {"backbeats": PUSHED, "spelling": FASTER, "kick": FEET, "subdivision": RATE}
"""What a key that differs makes of a change whose feel stays."""


def _rungs(field: Field, frame: int) -> int:
    """How many rungs of the ladder a frame's feel is above the statement before; below 0 for slower ones."""
    feels = [read_feel(groove).feel for groove in (field.before, field.grooves[frame])]
    return 0 if None in feels else RUNG[str(feels[1])] - RUNG[str(feels[0])]


def candidates(
    field: Field, amount: Amount, room: int, needed: float
) -> Iterator[tuple[str, Iterator[dict[str, Any]]]]:
    """The kinds of last change in order, each with its candidates, plain and surprising ones first.

    Parameters
    ----------
    room : bars that may ride on crash or china. needed : the energy that the loudest bar must reach.
    """
    inside = field.inside(amount, field.back.song.settings_of(field.back.entry).kick == FOLLOW)
    washed = np.array([washes(name) for name in field.surfaces])[field.assigned].sum(axis=1)
    inside &= (washed <= room)[None, :]
    inside &= _loudest(field) * (1 + LOUDER) >= needed
    bits = field.bits(inside)
    frames = np.flatnonzero(inside.any(axis=1)).tolist()
    kinds = {frame: kind_of(field, frame) for frame in frames}
    told = field.told()
    for kind in KINDS:
        rows = []
        for frame in (frame for frame in frames if kinds[frame] == kind):
            passing = np.flatnonzero(inside[frame])
            best = passing[np.argsort(-bits[frame, passing], kind="stable")][:PER_FRAME]
            far = abs(_rungs(field, frame))  # half time comes before quarter time
            rows += [(far, int(told[frame, one]), -float(bits[frame, one]), frame, int(one)) for one in best]
        if rows:
            yield kind, (field.given(row[3], row[4]) for row in sorted(rows))


PER_FRAME = 2


def _loudest(field: Field) -> NDArray[np.float64]:
    """(frames, assignments) about the energy of the loudest bar, at the level as it is."""
    parts = [groove_energy(groove) for groove in field.grooves]
    drums = np.array([part[0].max() for part in parts])
    hand = np.array([part[1].max() for part in parts])
    weight = np.array([SURFACE_WEIGHTS.get(name, 1.0) for name in field.surfaces])
    open_ = weight[field.assigned].max(axis=1)
    found: NDArray[np.float64] = drums[:, None] + hand[:, None] * open_[None, :]
    return found
