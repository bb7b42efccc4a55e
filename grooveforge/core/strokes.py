"""The strokes of a section as columns: where each stands, what it strikes, and what shaping needs to know of it.

Grooves are lanes of steps; everything that makes a part breathe (swing, looseness, levels) works on these
columns, one section at a time.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.kit import BANDS, SURFACE_CODES, SURFACES, Kind, sounding
from grooveforge.core.meter import Meter

if TYPE_CHECKING:
    from grooveforge.core.groove import Lane
    from grooveforge.core.section import Section, Span

Ints = NDArray[np.int64]
Small = NDArray[np.int8]
Bytes = NDArray[np.uint8]
Truths = NDArray[np.bool_]

FLAT = np.zeros(128, np.uint8)
for _band in BANDS:
    FLAT[_band.low : _band.high + 1] = _band.flat
FLAT.flags.writeable = False
"""The flat level of the band that each velocity lies in."""

FOOT, HI_HAT_FOOT, DRUM_HANDS, CYMBAL_HAND = range(4)
LIMBS = 4
"""The limbs as far as timing and touch go: kick foot, hi-hat foot, hands on snare and toms, hand on cymbals."""

_LIMB_OF_FAMILY: Mapping[str, int] = MappingProxyType(
    {"kick": FOOT, "foot": HI_HAT_FOOT, "snare": DRUM_HANDS, "tom": DRUM_HANDS, "floor tom": DRUM_HANDS}
)

LIMB = np.full(max(SURFACE_CODES.values()) + 1, CYMBAL_HAND, np.int8)
for _row in SURFACES:
    LIMB[SURFACE_CODES[_row.name]] = _LIMB_OF_FAMILY.get(_row.family, CYMBAL_HAND)
LIMB.flags.writeable = False
"""The limb that strikes a surface code. It goes by the surface alone, so that two strokes of one surface, or of
surfaces that a kit plays on one note, never drift apart."""


class Events(NamedTuple):
    """Columns of one length: tick, surface code, velocity, stroke kind, ticks off the grid place."""

    tick: Ints
    surface: Ints
    velocity: Bytes
    kind: Bytes
    offset: Ints

    @classmethod
    def joined(cls, pieces: Iterable[Events]) -> Events:
        """Pieces one after the other."""
        listed = list(pieces)
        if not listed:
            ints, small = np.zeros(0, np.int64), np.zeros(0, np.uint8)
            return cls(ints, ints.copy(), small, small.copy(), ints.copy())
        return cls(
            np.concatenate([piece.tick for piece in listed]),
            np.concatenate([piece.surface for piece in listed]),
            np.concatenate([piece.velocity for piece in listed]),
            np.concatenate([piece.kind for piece in listed]),
            np.concatenate([piece.offset for piece in listed]),
        )

    def rows(self, index: Ints | Truths) -> Events:
        """The rows that an index or mask picks."""
        return Events(self.tick[index], self.surface[index], self.velocity[index], self.kind[index], self.offset[index])


class Strokes(NamedTuple):
    """The strokes of one section by place, then surface; ticks count from the section's start.

    Parameters
    ----------
    place : on the grid. within : the place again, from its bar line. bar : number of the bar, from 0.
    tick : with the offset that the groove's writer gave. surface : what is struck, colours resolved.
    written : flat level of the band that the groove asks for. kind : `Kind` codes.
    depth : how weak the place is in its metre: 0 on a beat, below 0 on a stronger one, above 0 between.
    hand : whether the timekeeping hand plays it. tight : whether it never leaves its place.
    """

    place: Ints
    within: Ints
    bar: Ints
    tick: Ints
    surface: Ints
    written: Bytes
    kind: Bytes
    depth: Small
    hand: Truths
    tight: Truths

    @property
    def limb(self) -> Small:
        """Which limb plays each stroke, as an index below `LIMBS`."""
        limbs: Small = LIMB[self.surface]
        return limbs


def section_strokes(section: Section, division: int) -> Strokes | None:
    """The strokes of a section, or None where it rests."""
    lanes = [
        columns
        for start, span in section.placed_spans
        for columns in _span_strokes(span, int(4 * start * division), (span.bar - section.bar, division))
    ]
    if not lanes:
        return None
    columns = [np.concatenate(column) for column in zip(*lanes)]
    order = np.argsort(columns[0] * LIMB.size + columns[4], kind="stable")
    return Strokes(*(column[order] for column in columns))


def _span_strokes(span: Span, start: int, at: tuple[int, int]) -> Iterable[Strokes]:
    """The strokes of a span that starts at a tick of its section, lane by lane; `at`: bars before it, division."""
    first_bar, division = at
    groove = span.groove
    depths = _depths(groove.meter, groove.grid)
    for name, lane in groove.voices:
        steps = lane.struck
        bars, in_bar = np.divmod(steps, groove.steps_per_bar)
        places = start + steps * (4 * division) // groove.grid
        offsets = np.rint(lane.offset[steps] * division).astype(np.int64)
        codes, written = _sounding_codes(name, lane, steps)
        yield Strokes(
            places,
            in_bar * (4 * division) // groove.grid,
            first_bar + bars,
            places + offsets,
            codes,
            written,
            lane.kind[steps],
            depths[in_bar],
            np.full(steps.size, lane is groove.hand),
            np.isin(steps, span.tight) if span.tight else np.zeros(steps.size, bool),
        )


@lru_cache(maxsize=256)
def _depths(meter: Meter, grid: int) -> Small:
    """How weak each step of a bar is, counted from the beat; shape (steps of a bar,)."""
    beat = len(meter.levels) - 1
    steps = range(meter.steps(grid))
    return np.array([meter.level_of(Fraction(step, grid)) - beat for step in steps], np.int8)


def _sounding_codes(name: str, lane: Lane, steps: Ints) -> tuple[Ints, Bytes]:
    """Surface codes and flat velocities of a lane's strokes, the colours of the hand resolved."""
    kinds = lane.kind[steps]
    velocities = FLAT[lane.velocity[steps]]
    codes = np.full(steps.size, SURFACE_CODES[name], np.int64)
    if kinds.size and int(kinds.max()) > Kind.DRAG:
        for kind in np.flatnonzero(np.bincount(kinds)):
            chosen = kinds == kind
            target, least = sounding(name, Kind(int(kind)), 1)
            codes[chosen] = SURFACE_CODES[target]
            velocities[chosen] = np.maximum(velocities[chosen], least)
    return codes, velocities
