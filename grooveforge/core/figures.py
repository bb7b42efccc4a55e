"""What breaks up a section, as the sheet says it: fills, stops, inserted beats, lengths counted in beats.

These are values alone; `fill`, `stops` and `insert` put them into grooves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from math import lcm

from grooveforge.core.kit import Kind
from grooveforge.core.meter import Meter
from grooveforge.core.words import many
from grooveforge.errors import MusicError

LENGTHS = ("1 beat", "2 beats", "1 bar", "2 bars")
"""How long a fill may be; an ending may be all of them but the last."""

FULL_ENDING = "2 beats"
"""The ending that `true` asks for."""


@dataclass(frozen=True)
class FillStroke:
    """One stroke of a fill: whole notes from the fill's start, what it strikes, and how."""

    place: Fraction
    surface: str
    velocity: int
    kind: Kind


@dataclass(frozen=True)
class Fill:
    """A figure that leaves the groove.

    Parameters
    ----------
    name : as a sheet or report calls it.
    beats : lengths of its beats in whole notes. strokes : rising.
    tempo : (lowest, highest) in quarter notes a minute that it is played at; None for any.
    joined : the names of the fills that it is joined from.
    """

    name: str
    beats: tuple[Fraction, ...]
    strokes: tuple[FillStroke, ...]
    tempo: tuple[Fraction, Fraction] | None = None
    joined: tuple[str, ...] = ()

    def __hash__(self) -> int:
        return hash((self.name, len(self.strokes)))

    @property
    def names(self) -> frozenset[str]:
        """The names of all that it is made of."""
        return frozenset(self.joined or (self.name,))

    @cached_property
    def whole(self) -> Fraction:
        """Length in whole notes."""
        return sum(self.beats, Fraction(0))

    @cached_property
    def grid(self) -> int:
        """The coarsest grid, in steps to a whole note, that has a step for every stroke."""
        return lcm(*(stroke.place.denominator for stroke in self.strokes))


@dataclass(frozen=True)
class Stops:
    """Where a part stops: the text as it is written, and the places in whole notes from the part's start."""

    text: str
    places: tuple[Fraction, ...]

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True)
class Insert:
    """Beats put in front of a bar of a part.

    `before_bar` counts the part's own bars from 1; one more than it has stands behind the last. `beats` are
    quarter notes.
    """

    before_bar: int
    beats: int

    def __str__(self) -> str:
        return f"{many(self.beats, 'beat')} before bar {self.before_bar}"


def last_beats(length: str, meters: Sequence[Meter]) -> tuple[Fraction, ...]:
    """The lengths of the last beats of some bars, in whole notes.

    Parameters
    ----------
    length : "1 beat" to "2 bars". meters : of the bars, in order.

    Raises
    ------
    MusicError
        When the bars are fewer, or have fewer beats.
    """
    number, unit = length.split()
    count, of_bars = int(number), unit.startswith("bar")
    if of_bars:
        if count > len(meters):
            raise MusicError(f"{length} are more than there is", found=many(len(meters), "bar"), hint='"1 bar" or less')
        return tuple(beat for meter in meters[len(meters) - count :] for beat in meter.beat_lengths)
    beats: tuple[Fraction, ...] = ()
    for meter in reversed(meters):
        beats = meter.beat_lengths + beats
        if len(beats) >= count:
            return beats[len(beats) - count :]
    raise MusicError(f"{length} are more than there is", found=many(len(meters), "bar"))
