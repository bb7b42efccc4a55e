"""What a voice is made of: parts that ring, glide or hiss, as frozen rows that turn into JSON and sound.

Modal synthesis: a struck body is a sum of decaying partials (P. R. Cook, "Real Sound Synthesis", 2002); what
the partials leave out is noise in bands. Times are seconds to 1/e, pitches hertz. `force` is how much the part
grows with the stroke: its gain is multiplied by the layer's force to this power, so that a hard stroke is
brighter and not only louder.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, ClassVar

JsonRow = dict[str, object]


@dataclass(frozen=True)
class Part:
    """A part of a voice; `kind` names it in JSON."""

    kind: ClassVar[str]

    if TYPE_CHECKING:  # every part has them as fields, behind its own

        @property
        def gain(self) -> float: ...

        @property
        def force(self) -> float: ...

    @property
    def longest_decay(self) -> float:
        """Seconds to 1/e of what rings longest in it."""
        raise NotImplementedError

    def row(self) -> JsonRow:
        """The part as a JSON object."""
        return {"kind": self.kind} | {field.name: getattr(self, field.name) for field in fields(self)}


@dataclass(frozen=True)
class Glide(Part):
    """A sine that falls from one pitch to another, as a struck skin does: `glide` is the time of the fall."""

    kind: ClassVar[str] = "glide"

    high: float
    low: float
    glide: float
    decay: float
    gain: float
    force: float = 0.0

    @property
    def longest_decay(self) -> float:
        return self.decay


@dataclass(frozen=True)
class Ring(Part):
    """Named partials: (pitch, gain, decay) each."""

    kind: ClassVar[str] = "ring"

    partials: tuple[tuple[float, float, float], ...]
    gain: float = 1.0
    force: float = 0.0

    @property
    def longest_decay(self) -> float:
        return max(decay for _, _, decay in self.partials)


@dataclass(frozen=True)
class Cloud(Part):
    """Many inharmonic partials, spread evenly by pitch with a jitter.

    Parameters
    ----------
    count : partials between the pitches `low` and `high`. tilt : decibels an octave.
    decay_low, decay_high : of the lowest and highest partial; those between lie between, by pitch.
    """

    kind: ClassVar[str] = "cloud"

    count: int
    low: float
    high: float
    tilt: float
    decay_low: float
    decay_high: float
    gain: float
    force: float = 0.0

    @property
    def longest_decay(self) -> float:
        return max(self.decay_low, self.decay_high)


@dataclass(frozen=True)
class Hiss(Part):
    """Noise between two pitches through `taps` taps, decaying; `rise` is how long it takes to bloom."""

    kind: ClassVar[str] = "hiss"

    low: float
    high: float
    decay: float
    gain: float
    force: float = 0.0
    rise: float = 0.0
    taps: int = 31

    @property
    def longest_decay(self) -> float:
        return self.decay


@dataclass(frozen=True)
class Voice:
    """One thing that sounds.

    Parameters
    ----------
    code : its number in event tables. seconds : its length. gain : of the whole. pan : -1 left to 1 right, as
    the listener in front of the kit hears it. ramp : seconds in which it starts from nothing.
    drive : how hard its peaks are rounded off, 0 not at all. group : strokes of a group stop each other; empty
    for none. shared : whether all variants share their parts, each weighed otherwise in every variant, as for
    the long cymbals, whose parts take long to make. held : so many strokes of it ring at once; the next one
    lets the oldest go.
    """

    name: str
    code: int
    seconds: float
    gain: float
    pan: float
    parts: tuple[Part, ...]
    drive: float = 0.0
    ramp: float = 0.001
    group: str = ""
    shared: bool = False
    held: int = 4

    def row(self) -> JsonRow:
        """The voice as a JSON object."""
        own = {field.name: getattr(self, field.name) for field in fields(self)}
        return own | {"parts": [part.row() for part in self.parts]}
