"""The kick under a feel: which strokes are skeleton and which follow the guitar, and the four policies.

House rules: a kick on the old feel's skeleton that is no part of a run is skeleton; every other kick is a
riff kick and stays when the feel moves.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from grooveforge.core.groove import Lane
from grooveforge.core.kit import ACCENT, Kind

ADAPT, KEEP, FIGURE, FOLLOW = "adapt", "keep", "figure", "follow"
POLICIES = (ADAPT, KEEP, FIGURE, FOLLOW)
"""What happens to the kicks when the feel is set: only the skeleton moves; nothing does; the skeleton alone
stays; the riff's attacks take their place."""

RUN_STROKES = 3
RUN_NOTE = 8
"""Three or more kicks at one equal distance of an eighth or less are a run."""


def runs(steps: Iterable[int], grid: int, length: int) -> set[int]:
    """The steps that are part of a run of kicks, in a loop of `length` steps (runs cross the bar line).

    Parameters
    ----------
    steps : struck steps; grid : steps to a whole note; length : steps of the loop.
    """
    struck = sorted(set(steps))
    if len(struck) < 2:
        return set()
    after = [*struck[1:], struck[0] + length]
    gaps = [late - early for early, late in zip(struck, after)]
    if len(set(gaps)) == 1:
        return set(struck) if gaps[0] * RUN_NOTE <= grid else set()
    found: set[int] = set()
    for index, gap in enumerate(gaps):
        if gap == gaps[index - 1] and gap * RUN_NOTE <= grid:
            before, at = struck[index - 1], struck[index]
            found |= {before, at, struck[(index + 1) % len(struck)]}
    return found


def skeleton_steps(kicks: Iterable[int], old: set[int], grid: int, length: int, is_figure: bool) -> set[int]:
    """The kicks that belong to the old feel: on its skeleton and in no run, or anywhere on its figure."""
    struck = set(kicks)
    return struck & old if is_figure else (struck & old) - runs(struck, grid, length)


def laid(lane: Lane, steps: set[int]) -> Lane:
    """A lane of just these steps: strokes that stood there keep their kind and level, the others are new."""
    missing = sorted(steps - set(lane.struck.tolist()))
    kept = lane.only(np.isin(np.arange(len(lane)), sorted(steps)))
    loudest = ACCENT if lane.silent else int(lane.velocity.max())
    model = Kind.PLAIN if lane.silent else Kind(int(lane.kind[int(lane.velocity.argmax())]))
    return kept.put(missing, loudest, model) if missing else kept
