"""The values of bars as a drummer played them: their strokes, their grace strokes, where they belong."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from grooveforge.core.groove import Groove


class Sounded(NamedTuple):
    """A stroke as it sounds: tick and place on the grid, both from its bar line; grace strokes have the place of
    their stroke."""

    tick: int
    place: int
    surface: str
    velocity: int
    kind: int


class Grace(NamedTuple):
    """A grace stroke: the step of the stroke it belongs to, quarter notes after (before: negative) it, its level."""

    surface: str
    step: int
    late: Fraction
    velocity: int


@dataclass(frozen=True)
class PlayedBar:
    """One bar as it was played.

    Parameters
    ----------
    groove : one bar; velocities and offsets of its lanes hold as they stand.
    graces : of its flams and drags; those of a stroke that has none here stand 30 ms apart, at ghost level.
    """

    groove: Groove
    graces: tuple[Grace, ...] = ()


@dataclass(frozen=True)
class Place:
    """Where a bar stands in the form: the section's name, the how-manieth of that name, its bar; all from 1."""

    section: str
    statement: int
    bar: int

    def __str__(self) -> str:
        return f"bar {self.bar} of {self.section} {self.statement}"


@dataclass(frozen=True)
class ChangedBar:
    """A played bar and where it belongs; without a place it belongs to the song's bar of its number."""

    bar: PlayedBar
    place: Place | None = None


Changes = Mapping[int, ChangedBar]
"""Changed bars by the number that the song's bar had when they were played."""
