"""Grooves: lanes of strokes over a bar grid, frozen all the way down, with a small closed algebra.

A groove is what the kit plays over a few bars. Its lanes are kick, snare, the timekeeping hand (which knows
the surface it stands on), and one lane for each further surface. Positions are steps of a grid of 4 to 96
steps to a whole note that divides the bar evenly, so nothing is ever rounded.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from math import gcd, lcm
from typing import Any

import numpy as np

from grooveforge.core.kit import SURFACE_CODES, timekeeping_surface
from grooveforge.core.kit import surface as surface_row
from grooveforge.core.lane import Lane
from grooveforge.core.meter import Meter
from grooveforge.errors import MusicError

COARSEST_GRID, FINEST_GRID = 4, 96
"""Grids accepted, in steps to a whole note."""

SIXTEENTHS = 16
"""The grid that stands where none is said."""

Cut = slice
"""The built-in, under another name: inside `Groove` the word is a method."""

KICK, SNARE, TIMEKEEPER, OTHER = "kick", "snare", "timekeeper", "other"
LANES = (TIMEKEEPER, SNARE, KICK, OTHER)
"""The names of a groove's lanes; `other` stands for all lanes of further surfaces together."""


@dataclass(frozen=True)
class Groove:
    """What the kit plays over a few bars.

    Parameters
    ----------
    meter, grid, bars : the bar grid: `bars * meter.steps(grid)` steps.
    kick, snare : lanes, or None where the groove has none. A lane of rests counts as none.
    hand : the timekeeping hand's lane; `surface` : what it strikes (None together with the lane).
    others : lanes of further surfaces, as a mapping or pairs; kept in the kit's order.
    feel, spelling : what the writer said; None leaves the feel to `roles.read_feel`.
    backbeats : the groove's own backbeats, whole notes from its start; None when they are the feel's.

    Raises
    ------
    MusicError
        When the grid is off its range or does not divide the bar, or a lane has another length.
    """

    meter: Meter
    grid: int = 16
    bars: int = 1
    kick: Lane | None = None
    snare: Lane | None = None
    hand: Lane | None = None
    surface: str | None = None
    others: tuple[tuple[str, Lane], ...] = ()
    feel: str | None = None
    spelling: str | None = None
    backbeats: tuple[Fraction, ...] | None = None

    def __post_init__(self) -> None:
        if self.bars < 1:
            raise MusicError("a groove is at least one bar long", found=str(self.bars))
        steps = self.bars * _steps_of_bar(self.meter, self.grid)
        pairs = self.others.items() if isinstance(self.others, Mapping) else self.others
        named = ((surface_row(name).name, lane) for name, lane in pairs if not lane.silent)
        others = sorted(named, key=lambda pair: SURFACE_CODES[pair[0]])
        for name in (KICK, SNARE, "hand"):
            lane: Lane | None = getattr(self, name)
            if lane is not None and lane.silent:
                object.__setattr__(self, name, None)
        if self.hand is None:
            object.__setattr__(self, "surface", None)
        elif self.surface is None:
            raise MusicError("a timekeeping hand needs a surface to strike")
        else:
            object.__setattr__(self, "surface", surface_row(self.surface).name)
        object.__setattr__(self, "others", tuple(others))
        if self.backbeats is not None:
            object.__setattr__(self, "backbeats", tuple(sorted(self.backbeats)))
        for _, lane in self.voices:
            if len(lane) != steps:
                raise MusicError(f"a lane has {len(lane)} steps where {self.bars} bars of {self.meter} have {steps}")

    # -- reading --------------------------------------------------------------------------------------

    @cached_property
    def steps_per_bar(self) -> int:
        return self.meter.steps(self.grid)

    @property
    def steps(self) -> int:
        """Steps of the whole groove."""
        return self.bars * self.steps_per_bar

    @property
    def whole(self) -> Fraction:
        """Length in whole notes."""
        return self.bars * self.meter.whole

    @property
    def voices(self) -> Iterator[tuple[str, Lane]]:
        """Every lane with strokes, as (surface, lane): kick, snare, the hand, the others."""
        if self.kick is not None:
            yield KICK, self.kick
        if self.snare is not None:
            yield SNARE, self.snare
        if self.hand is not None and self.surface is not None:
            yield self.surface, self.hand
        yield from self.others

    def lane_on(self, surface: str) -> Lane:
        """The lane of kick, snare or a further surface (rests where there is none); never the hand's."""
        lane = {KICK: self.kick, SNARE: self.snare, **dict(self.others)}.get(surface)
        return Lane.rests(self.steps) if lane is None else lane

    def with_lane(self, surface: str, lane: Lane) -> Groove:
        """The groove with the lane of kick, snare or a further surface replaced."""
        if surface == KICK:
            return replace(self, kick=lane)
        if surface == SNARE:
            return replace(self, snare=lane)
        return replace(self, others=tuple({**dict(self.others), surface: lane}.items()))

    def position(self, step: int) -> Fraction:
        """Whole notes from the groove's start to a step."""
        return Fraction(int(step), self.grid)

    def step(self, position: Fraction) -> int:
        """The step at a position in whole notes; `fit_grid` makes sure that there is one."""
        step = position * self.grid
        if step.denominator != 1:
            raise MusicError(f"no step of a grid of {self.grid} stands at {position} of a whole note")
        return int(step)

    # -- the hand -------------------------------------------------------------------------------------

    def move_hand(self, surface: str) -> Groove:
        """The groove with the timekeeping hand on another surface; every array stays as it is."""
        return replace(self, surface=timekeeping_surface(surface)) if self.hand is not None else self

    # -- algebra --------------------------------------------------------------------------------------

    def map_lanes(self, change: Callable[[Lane], Lane], **fields: Any) -> Groove:
        """The groove with every lane changed, and further fields replaced."""
        return replace(
            self,
            kick=self.kick and change(self.kick),
            snare=self.snare and change(self.snare),
            hand=self.hand and change(self.hand),
            others=tuple((name, change(lane)) for name, lane in self.others),
            **fields,
        )

    def overlay(self, other: Groove) -> Groove:
        """Another groove of the same metre and length laid over this one; where both strike, it wins.

        When the two hands stand on different surfaces the other's hand becomes a lane of its surface.
        """
        if (self.meter, self.bars) != (other.meter, other.bars):
            raise MusicError(f"cannot lay {other.bars} bars of {other.meter} over {self.bars} bars of {self.meter}")
        grid = lcm(self.grid, other.grid)
        below, above = self.regrid(grid), other.regrid(grid)
        if above.hand is not None and below.hand is not None and above.surface != below.surface:
            above = above._hand_as_lane()
        joined = replace(
            below,
            surface=below.surface or above.surface,
            feel=below.feel or above.feel,
            spelling=below.spelling or above.spelling,
            backbeats=above.backbeats if below.backbeats is None else below.backbeats,
            hand=_over(above.hand, below.hand),
        )
        for name in (KICK, SNARE, *(name for name, _ in above.others)):
            joined = joined.with_lane(name, above.lane_on(name).over(joined.lane_on(name)))
        return joined

    def _hand_as_lane(self) -> Groove:
        if self.hand is None or self.surface is None:
            return self
        lane = self.hand.over(self.lane_on(self.surface))
        return replace(self.with_lane(self.surface, lane), hand=None, surface=None)

    def then(self, other: Groove) -> Groove:
        """This groove and after it another of the same metre.

        When the two hands stand on different surfaces the other's hand becomes a lane of its surface.
        """
        if self.meter != other.meter:
            raise MusicError(f"cannot go from a groove in {self.meter} on to one in {other.meter}")
        grid = lcm(self.grid, other.grid)
        first, second = self.regrid(grid), other.regrid(grid)
        if first.hand is not None and second.hand is not None and first.surface != second.surface:
            second = second._hand_as_lane()
        steps = (first.steps, second.steps)
        names = dict.fromkeys(name for name, _ in (*first.others, *second.others))
        marked = (first.backbeats, second.backbeats)
        return Groove(
            self.meter,
            grid,
            self.bars + other.bars,
            kick=_join(first.kick, second.kick, steps),
            snare=_join(first.snare, second.snare, steps),
            hand=_join(first.hand, second.hand, steps),
            surface=first.surface or second.surface,
            others=tuple((name, first.lane_on(name).then(second.lane_on(name))) for name in names),
            feel=first.feel if first.feel == second.feel else None,
            spelling=first.spelling if first.spelling == second.spelling else None,
            backbeats=None
            if None in marked
            else (*(first.backbeats or ()), *(first.whole + place for place in second.backbeats or ())),
        )

    def repeat(self, times: int) -> Groove:
        """The groove `times` times after itself."""
        return self.bars_of(self.bars * times)

    def bars_of(self, bars: int) -> Groove:
        """The groove as a loop, `bars` bars of it: repeated, and cut at the end."""
        if bars < 1:
            raise MusicError("a groove is at least one bar long", found=str(bars))
        if bars == self.bars:
            return self
        steps = bars * self.steps_per_bar
        end = bars * self.meter.whole
        places = self.backbeats and tuple(
            turn * self.whole + place
            for turn in range(bars // self.bars + 1)
            for place in self.backbeats
            if turn * self.whole + place < end
        )
        return self.map_lanes(lambda lane: lane.tiled(steps), bars=bars, backbeats=places)

    def slice(self, first: int, last: int) -> Groove:
        """The bars from number `first` up to but without `last`, counted from 0."""
        if not 0 <= first < last <= self.bars:
            raise MusicError(f"no bars {first} to {last} in a groove of {self.bars} bars")
        cut = slice(first * self.steps_per_bar, last * self.steps_per_bar)
        start, end = first * self.meter.whole, last * self.meter.whole
        places = self.backbeats and tuple(place - start for place in self.backbeats if start <= place < end)
        return self.map_lanes(lambda lane: lane.at(cut), bars=last - first, backbeats=places)

    def rotate(self, steps: int) -> Groove:
        """The groove as a loop begun `steps` steps later (earlier when negative)."""
        places = self.backbeats and tuple((place - self.position(steps)) % self.whole for place in self.backbeats)
        return self.map_lanes(lambda lane: lane.rolled(steps), backbeats=places)

    def regrid(self, grid: int) -> Groove:
        """The same strokes on another grid, exactly.

        Raises
        ------
        MusicError
            When a stroke would stand between two steps or the grid does not divide the bar.
        """
        if grid == self.grid:
            return self
        _steps_of_bar(self.meter, grid)
        if any(np.any(lane.struck * grid % self.grid) for _, lane in self.voices):
            raise MusicError(
                f"a grid of {grid} steps to a whole note cannot hold every stroke",
                hint=f"a multiple of {self.coarsest.grid}, at most {FINEST_GRID}",
            )
        return self.map_lanes(lambda lane: lane.regridded(self.grid, grid), grid=grid)

    @cached_property
    def coarsest(self) -> Groove:
        """The same groove on the coarsest grid that holds every stroke exactly."""
        step = gcd(self.grid, *(int(np.gcd.reduce(lane.struck)) for _, lane in self.voices))
        grids = (
            self.grid // part
            for part in range(step, 0, -1)
            if step % part == 0 and self.grid // part >= COARSEST_GRID
        )
        return self.regrid(next((grid for grid in grids if (grid * self.meter.whole).denominator == 1), self.grid))

    def fit_grid(self, positions: Iterable[Fraction]) -> Groove:
        """The groove on a grid that also has a step at each of the positions (whole notes from its start).

        Raises
        ------
        MusicError
            When no grid of at most 96 steps to a whole note holds them all.
        """
        positions = tuple(positions)  # asked twice below
        needed = lcm(self.grid, *(place.denominator for place in positions))
        if needed > FINEST_GRID:
            needed = lcm(self.coarsest.grid, *(place.denominator for place in positions))
        if needed > FINEST_GRID:
            raise MusicError(
                f"the strokes need a grid of {needed} steps to a whole note",
                allowed=f"at most {FINEST_GRID}",
                hint="a groove on a coarser grid, or another feel",
            )
        return self.regrid(needed)

    def mask(self, lanes: Iterable[str] = LANES, steps: Cut | None = None) -> Groove:
        """The groove with only the named lanes ("timekeeper", "snare", "kick", "other") inside `steps`.

        Everything else rests; `steps` None keeps the whole length.
        """
        names = set(lanes)
        keep = np.zeros(self.steps, bool)
        keep[slice(None) if steps is None else steps] = True
        inside = self.map_lanes(lambda lane: lane.only(keep))
        return replace(
            inside,
            kick=inside.kick if KICK in names else None,
            snare=inside.snare if SNARE in names else None,
            hand=inside.hand if TIMEKEEPER in names else None,
            others=inside.others if OTHER in names else (),
        )

    __or__ = overlay
    __add__ = then
    __mul__ = repeat


def _steps_of_bar(meter: Meter, grid: int) -> int:
    """Steps of a bar on a grid that is in range and divides it evenly."""
    if not COARSEST_GRID <= grid <= FINEST_GRID:
        raise MusicError(
            "a grid is out of range",
            found=str(grid),
            allowed=f"{COARSEST_GRID} to {FINEST_GRID} steps to a whole note",
        )
    return meter.steps(grid)


def _over(upper: Lane | None, lower: Lane | None) -> Lane | None:
    return upper.over(lower) if upper is not None and lower is not None else upper or lower


def _join(first: Lane | None, second: Lane | None, steps: tuple[int, int]) -> Lane | None:
    if first is None and second is None:
        return None
    return (first or Lane.rests(steps[0])).then(second or Lane.rests(steps[1]))


def empty(meter: Meter, grid: int | None = None, bars: int = 1) -> Groove:
    """A groove of rests, on sixteenths where no grid is said and the bars have them, else on the metre's own notes."""
    if grid is None:
        grid = SIXTEENTHS if (SIXTEENTHS * meter.whole).denominator == 1 else meter.lower
    return Groove(meter, grid, bars)


__all__ = ["FINEST_GRID", "KICK", "LANES", "OTHER", "SNARE", "TIMEKEEPER", "Groove", "Lane", "empty"]
