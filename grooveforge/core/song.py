"""The song as the writer sees it: parts, a form of sections, and what each return changes.

These are the values that a song sheet becomes. Every key of a part may be unset (None); `settings_of` lays
the layers over one another: [defaults], the part, the form's entry. Nothing is arranged here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from fractions import Fraction
from types import MappingProxyType
from typing import Any

from grooveforge.core.groove import Groove
from grooveforge.core.meter import Meter

SLOWEST, FASTEST = 20, 400
"""Tempi accepted, in quarter notes a minute (house rule)."""

MOST_SECTION_BARS = 2000
MOST_SONG_BARS = 10_000


@dataclass(frozen=True)
class TempoRatio:
    """A tempo as a ratio of the one that the section would have without it ("2/3")."""

    ratio: Fraction


@dataclass(frozen=True)
class TempoRamp:
    """A tempo that moves from the one the section would have to `to` over `over` quarter notes."""

    to: Fraction
    over: int


Tempo = Fraction | TempoRatio | TempoRamp

HandOn = tuple[tuple[int, str], ...]
"""Surfaces by bars: (bars, surface) in order; the last one holds to the section's end."""


@dataclass(frozen=True)
class Riff:
    """A typed guitar riff: attacks over a grid of its own.

    Parameters
    ----------
    length : steps of one cycle; grid : steps to a whole note.
    attacks : struck steps, rising; accents : those of them that are louder.
    """

    length: int
    grid: int
    attacks: tuple[int, ...]
    accents: tuple[int, ...] = ()

    @property
    def whole(self) -> Fraction:
        """Length of the cycle in whole notes."""
        return Fraction(self.length, self.grid)


@dataclass(frozen=True)
class Settings:
    """What a part or entry may say; None is unset. The names are the sheet's keys.

    `timekeeper` is one surface, a tuple of surfaces in equal parts, or (bars, surface) pairs. `backbeats` are
    whole notes from the bar line. `play` names lanes.
    """

    groove: str | None = None
    bars: int | None = None
    meter: Meter | None = None
    grouping: tuple[int, ...] | None = None
    tempo: Tempo | None = None
    timekeeper: str | tuple[str, ...] | HandOn | None = None
    subdivision: str | None = None
    hi_hat_foot: bool | None = None
    feel: str | None = None
    spelling: str | None = None
    backbeats: tuple[Fraction, ...] | None = None
    kick: str | None = None
    riff: str | None = None
    riff_grid: int | None = None
    riff_restart: bool | None = None
    riff_downbeat: bool | None = None
    arrival: bool | None = None
    tacet: bool | None = None
    play: tuple[str, ...] | None = None

    def over(self, below: Settings) -> Settings:
        """These settings laid over others: what is unset here is as it is below."""
        return replace(below, **self.given())

    def given(self) -> dict[str, Any]:
        """The keys that are set, in the order of the sheet's table."""
        return {row.name: value for row in fields(self) if (value := getattr(self, row.name)) is not None}


Fixed = bool | str | tuple[str, ...]


@dataclass(frozen=True)
class Entry:
    """One place of the form: a part, how often in a row, and what it says over the part."""

    part: str
    settings: Settings = field(default_factory=Settings)
    name: str | None = None
    repeat: int = 1
    fixed: Fixed = False


@dataclass(frozen=True)
class Song:
    """A whole song.

    Parameters
    ----------
    title, tempo (quarter notes a minute), meter, grouping (None where the sheet says none), seed : the
        song's own keys.
    form : the entries in order.
    defaults : settings under every part.
    parts : settings by part name.
    grooves : every groove that a part or entry names, by that name.
    """

    title: str
    form: tuple[Entry, ...]
    parts: Mapping[str, Settings]
    grooves: Mapping[str, Groove]
    tempo: Fraction = Fraction(120)
    meter: Meter = field(default_factory=lambda: Meter(4, 4))
    grouping: tuple[int, ...] | None = None
    seed: int = 1
    defaults: Settings = field(default_factory=Settings)

    def __post_init__(self) -> None:
        object.__setattr__(self, "form", tuple(self.form))
        object.__setattr__(self, "parts", MappingProxyType(dict(self.parts)))
        object.__setattr__(self, "grooves", MappingProxyType(dict(self.grooves)))

    def __hash__(self) -> int:
        return hash((self.title, self.form, self.tempo, self.meter, self.seed, tuple(self.parts), tuple(self.grooves)))

    def settings_of(self, entry: Entry) -> Settings:
        """What holds in a section: the entry over its part over the defaults."""
        return entry.settings.over(self.plain_settings_of(entry.part))

    def plain_settings_of(self, part: str) -> Settings:
        """What holds in a part's statement that changes nothing."""
        return self.parts[part].over(self.defaults)
