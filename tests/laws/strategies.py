"""Hypothesis strategies for the core: metres of every class, grids that divide the bar, whole grooves."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from hypothesis import strategies as st

from grooveforge.core.groove import Groove, Lane
from grooveforge.core.kit import ACCENT, SURFACES, Kind
from grooveforge.core.meter import Meter

METERS = (
    Meter(4, 4), Meter(2, 4), Meter(2, 2), Meter(6, 4), Meter(6, 8), Meter(12, 8), Meter(4, 8),
    Meter(3, 4), Meter(9, 8), Meter(6, 8, (2, 2, 2)),
    Meter(5, 4), Meter(7, 4), Meter(5, 4, (2, 3)), Meter(7, 4, (2, 2, 3)), Meter(9, 4), Meter(15, 8),
    Meter(5, 8), Meter(7, 8), Meter(11, 8), Meter(13, 8), Meter(5, 8, (2, 3)), Meter(7, 8, (3, 2, 2)),
    Meter(7, 8, (2, 3, 2)), Meter(8, 8), Meter(10, 8), Meter(7, 16), Meter(4, 4, (3, 1)),
)  # fmt: skip
"""Metres of every class of the feel table, with groupings."""

GRIDS = (4, 6, 8, 12, 16, 24, 32, 48)
FURTHER = tuple(row.name for row in SURFACES if row.name not in ("kick", "snare"))
HANDS = tuple(row.name for row in SURFACES if row.keeps_time)
OFFSETS = (0.0, 0.0, 0.01, -0.02, 0.125)


def meters() -> st.SearchStrategy[Meter]:
    """A metre of any class."""
    return st.sampled_from(METERS)


def grids_of(meter: Meter) -> tuple[int, ...]:
    """Grids that divide a bar of the metre evenly."""
    return tuple(grid for grid in GRIDS if (grid * meter.whole).denominator == 1)


def grids(meter: Meter) -> st.SearchStrategy[int]:
    """A grid that divides a bar of the metre evenly."""
    return st.sampled_from(grids_of(meter))


@st.composite
def lanes(draw: st.DrawFn, steps: int, most: int = 12, softest: int = 1, any_kind: bool = True) -> Lane:
    """A lane with up to `most` strokes of any level from `softest`, any kind and a few offsets."""
    kinds = st.sampled_from(list(Kind) if any_kind else [Kind.PLAIN])
    strokes = draw(
        st.dictionaries(
            st.integers(0, steps - 1),
            st.tuples(st.integers(softest, 127), kinds, st.sampled_from(OFFSETS)),
            max_size=most,
        )
    )
    velocity, kind, offset = np.zeros(steps, np.uint8), np.zeros(steps, np.uint8), np.zeros(steps)
    for step, (level, how, late) in strokes.items():
        velocity[step], kind[step], offset[step] = level, how, late
    return Lane(velocity, kind, offset)


@st.composite
def grooves(
    draw: st.DrawFn,
    meter: Meter | None = None,
    grid: int | None = None,
    bars: int | None = None,
    most_bars: int = 3,
    with_snare: bool = True,
) -> Groove:
    """A groove with any lanes; every lane may be missing."""
    meter = draw(meters()) if meter is None else meter
    grid = draw(grids(meter)) if grid is None else grid
    bars = draw(st.integers(1, most_bars)) if bars is None else bars
    steps = bars * meter.steps(grid)
    further = FURTHER if with_snare else tuple(name for name in FURTHER if name not in ("side stick", "hand clap"))
    others = draw(st.lists(st.sampled_from(further), max_size=2, unique=True))
    return Groove(
        meter,
        grid,
        bars,
        kick=draw(st.none() | lanes(steps)),
        snare=draw(st.none() | lanes(steps)) if with_snare else None,
        hand=(hand := draw(st.none() | lanes(steps))),
        surface=None if hand is None else draw(st.sampled_from(HANDS)),
        others=tuple((name, draw(lanes(steps, most=4))) for name in others),
    )


@st.composite
def kick_sets(draw: st.DrawFn, steps: int) -> frozenset[int]:
    """Steps that a kick strikes: sparse, dense, or in runs."""
    sparse = draw(st.sets(st.integers(0, steps - 1), max_size=8))
    start, gap = draw(st.integers(0, steps - 1)), draw(st.integers(1, 3))
    run = {(start + gap * index) % steps for index in range(draw(st.integers(0, 6)))}
    return frozenset(sparse | run)


@st.composite
def own_backbeats(draw: st.DrawFn, meter: Meter) -> tuple[Fraction, ...]:
    """Backbeats of one bar on its eighths (or beats where those are smaller), rising; at least one."""
    unit = min(Fraction(1, 8), meter.unit)
    count = int(meter.whole / unit)
    return tuple(sorted(unit * step for step in draw(st.sets(st.integers(0, count - 1), min_size=1, max_size=4))))


def struck(steps: int, on: frozenset[int], velocity: int = ACCENT) -> Lane:
    """A lane of plain strokes."""
    return Lane.of(steps, sorted(on), velocity)
