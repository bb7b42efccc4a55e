"""Lanes: the strokes of one voice over a grid, frozen all the way down."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.kit import NORMAL, Kind
from grooveforge.errors import MusicError

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
Steps = NDArray[np.int64]

_MARKS = "xXgfdohcb#"
"""How a lane's repr shows each `Kind`, in the order of their codes."""


def _frozen(array: NDArray[Any], dtype: type[np.generic]) -> NDArray[Any]:
    owner = array if array.base is None else array.base
    if array.dtype == dtype and isinstance(owner, np.ndarray) and not (array.flags.writeable or owner.flags.writeable):
        return array
    copy = np.array(array, dtype=dtype)
    copy.flags.writeable = False
    return copy


@dataclass(frozen=True, eq=False)
class Lane:
    """The strokes of one voice, one cell a step.

    Parameters
    ----------
    velocity : shape (steps,), MIDI velocities 1-127; 0 is a rest.
    kind : shape (steps,), `Kind` codes; 0 where there is a rest.
    offset : shape (steps,), quarter notes that a stroke stands after (before: negative) its step; 0 at rests.
    """

    velocity: Bytes
    kind: Bytes
    offset: Floats

    def __post_init__(self) -> None:
        velocity = np.asarray(self.velocity)
        if velocity.ndim != 1 or not np.shape(self.kind) == np.shape(self.offset) == velocity.shape:
            raise MusicError("the arrays of a lane are one-dimensional and of one length")
        if velocity.size and (int(velocity.max()) > 127 or int(velocity.min()) < 0):
            raise MusicError("a velocity is 0 to 127", found=str(velocity.max()))
        struck = velocity > 0
        object.__setattr__(self, "velocity", _frozen(velocity, np.uint8))
        object.__setattr__(self, "kind", _frozen(np.where(struck, self.kind, 0), np.uint8))
        object.__setattr__(self, "offset", _frozen(np.where(struck, self.offset, 0.0) + 0.0, np.float64))

    @classmethod
    def rests(cls, steps: int) -> Lane:
        """A lane of `steps` rests."""
        return cls(np.zeros(steps, np.uint8), np.zeros(steps, np.uint8), np.zeros(steps))

    @classmethod
    def of(
        cls, steps: int, struck: Iterable[int], velocity: int = NORMAL, kind: Kind = Kind.PLAIN
    ) -> Lane:
        """A lane of `steps` steps with equal strokes on the steps `struck`."""
        velocities = np.zeros(steps, np.uint8)
        velocities[list(struck)] = velocity
        return cls(velocities, np.where(velocities > 0, np.uint8(kind), 0), np.zeros(steps))

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Lane):
            return NotImplemented
        return (
            np.array_equal(self.velocity, other.velocity)
            and np.array_equal(self.kind, other.kind)
            and np.array_equal(self.offset, other.offset)
        )

    def __hash__(self) -> int:
        return hash((self.velocity.tobytes(), self.kind.tobytes(), self.offset.tobytes()))

    def __repr__(self) -> str:
        marks = "".join(_MARKS[kind] if velocity else "-" for kind, velocity in zip(self.kind, self.velocity))
        offsets = f", offsets {self.offset[self.struck].tolist()}" if self.offset.any() else ""
        return f"Lane({marks!r}, velocities {self.velocity[self.struck].tolist()}{offsets})"

    def __len__(self) -> int:
        return int(self.velocity.size)

    @cached_property
    def struck(self) -> Steps:
        """The steps that have a stroke, rising, as an integer array."""
        return np.flatnonzero(self.velocity).astype(np.int64)

    @property
    def silent(self) -> bool:
        """Whether the lane has no stroke at all."""
        return not self.velocity.any()

    def at(self, index: NDArray[np.int64] | slice) -> Lane:
        """The lane made of the cells that a slice or an index array picks, in that order."""
        if isinstance(index, slice):  # views of what was checked and frozen already
            part = object.__new__(Lane)
            for name, column in (("velocity", self.velocity), ("kind", self.kind), ("offset", self.offset)):
                object.__setattr__(part, name, column[index])
            return part
        return Lane(self.velocity[index], self.kind[index], self.offset[index])

    def put(self, steps: Iterable[int], velocity: int, kind: Kind) -> Lane:
        """The lane with equal strokes put on (or, with velocity 0, taken off) the given steps."""
        index = list(steps)
        velocities, kinds, offsets = self.velocity.copy(), self.kind.copy(), self.offset.copy()
        velocities[index], kinds[index], offsets[index] = velocity, kind, 0.0
        return Lane(velocities, kinds, offsets)

    def only(self, keep: NDArray[np.bool_]) -> Lane:
        """The lane with rests where `keep`, shape (steps,), is false."""
        return Lane(np.where(keep, self.velocity, 0), self.kind, self.offset)

    def over(self, other: Lane) -> Lane:
        """This lane's strokes laid over another lane of the same length."""
        mine = self.velocity > 0
        return Lane(
            np.where(mine, self.velocity, other.velocity),
            np.where(mine, self.kind, other.kind),
            np.where(mine, self.offset, other.offset),
        )

    def regridded(self, old: int, new: int) -> Lane:
        """The lane on a grid of `new` in place of `old` steps to a whole note; every stroke must have a step there."""
        steps = len(self) * new // old
        places = self.struck * new // old
        velocities, kinds, offsets = np.zeros(steps, np.uint8), np.zeros(steps, np.uint8), np.zeros(steps)
        velocities[places] = self.velocity[self.struck]
        kinds[places] = self.kind[self.struck]
        offsets[places] = self.offset[self.struck]
        return Lane(velocities, kinds, offsets)

    def tiled(self, steps: int) -> Lane:
        """The lane as a loop, `steps` steps of it."""
        turns = -(-steps // len(self))
        arrays = (np.tile(self.velocity, turns), np.tile(self.kind, turns), np.tile(self.offset, turns))
        return Lane(arrays[0][:steps], arrays[1][:steps], arrays[2][:steps])

    def rolled(self, steps: int) -> Lane:
        """The lane as a loop begun `steps` steps later."""
        return Lane(np.roll(self.velocity, -steps), np.roll(self.kind, -steps), np.roll(self.offset, -steps))

    def then(self, other: Lane) -> Lane:
        """This lane and after it another."""
        return Lane(
            np.concatenate((self.velocity, other.velocity)),
            np.concatenate((self.kind, other.kind)),
            np.concatenate((self.offset, other.offset)),
        )
