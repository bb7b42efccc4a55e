"""The song as the writer sees it: parts, a form of sections, and what each return changes.

These are the values that a song sheet becomes. Every key of a part may be unset (None); `settings_of` lays
the layers over one another: [defaults], the part, the form's entry. Nothing is arranged here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from fractions import Fraction
from functools import cached_property
from types import MappingProxyType
from typing import Any

from grooveforge.core.figures import Fill, Insert, Stops
from grooveforge.core.groove import Groove
from grooveforge.core.meter import Meter
from grooveforge.core.played_bar import Changes
from grooveforge.core.profile import DEFAULT_PROFILE

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


@dataclass(frozen=True)
class Level:
    """How much louder or softer a section is, in steps, at its start and at its end."""

    start: int
    end: int

    @property
    def top(self) -> int:
        return max(self.start, self.end)


@dataclass(frozen=True)
class Swing:
    """The long to the short half of the pulse, 1 to 3."""

    ratio: Fraction

    def __str__(self) -> str:
        return f"{self.ratio.numerator}:{self.ratio.denominator}"


SHAPED, FLAT_LEVELS = "shaped", "flat"
LEVELS = (SHAPED, FLAT_LEVELS)
"""How loud strokes are: shaped within their bands, or one velocity a band."""

BAR, HIT = "bar", "hit"
FINALS = (BAR, HIT)
"""How a song ends: on its last bar line, or with crash and kick on the 1 of one more bar."""

HandOn = tuple[tuple[int, str], ...]
"""Surfaces by bars: (bars, surface) in order; the last one holds to the section's end."""


@dataclass(frozen=True)
class Riff:
    """A guitar riff: attacks over a grid of its own.

    Parameters
    ----------
    length : steps of one cycle; grid : steps to a whole note.
    attacks : struck steps, rising; accents : those of them that stand out.
    low : those of them in the lowest register; None where the source does not say (a typed line).
    residue_ms : how far the attacks stood from their steps before they were put there, on average.
    """

    length: int
    grid: int
    attacks: tuple[int, ...]
    accents: tuple[int, ...] = ()
    low: tuple[int, ...] | None = None
    residue_ms: float = 0.0

    @property
    def whole(self) -> Fraction:
        """Length of the cycle in whole notes."""
        return Fraction(self.length, self.grid)


@dataclass(frozen=True)
class Settings:
    """What a part or entry may say; None is unset. The names are the sheet's keys.

    `timekeeper` is one surface, a tuple of surfaces in equal parts, or (bars, surface) pairs. `backbeats` are
    whole notes from the bar line. `play` names lanes. `looseness` is in ms. `ending` is a length or true (the
    usual one), `fill` a length or a fill's name; false means none.
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
    riff_mode: str | None = None
    riff_restart: bool | None = None
    riff_downbeat: bool | None = None
    ending: bool | str | None = None
    fill: bool | str | None = None
    fill_every: int | None = None
    arrival: bool | str | None = None
    stops: Stops | None = None
    choke: bool | None = None
    tacet: bool | None = None
    play: tuple[str, ...] | None = None
    level: Level | None = None
    levels: str | None = None
    looseness: Fraction | None = None
    swing: Swing | None = None
    insert: tuple[Insert, ...] | None = None
    fit: str | None = None

    def over(self, below: Settings) -> Settings:
        """These settings laid over others: what is unset here is as it is below."""
        given = self.given()
        return replace(below, **given) if given else below

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
    own : what the song itself says of levels, looseness and swing, under the defaults.
    parts : settings by part name.
    grooves : every groove that a part or entry names, by that name.
    count_in : bars of clicks in front of bar 1, in the click and in a file to record against.
    riffs : the riffs from files, by file name.
    key_map : the kit's key map, "gm" or a file beside the sheet. profile : the drummer's, by name or such a file.
    changes : bars as a drummer played them, by number, in place of those that are arranged; changes_from : the name
        of the file that holds them.
    final : how the song ends. fills : those that a part or entry names. fill_pool : those to choose among.
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
    own: Settings = field(default_factory=Settings)
    count_in: int = 0
    riffs: Mapping[str, Riff] = field(default_factory=dict)
    final: str = BAR
    fills: Mapping[str, Fill] = field(default_factory=dict)
    fill_pool: tuple[Fill, ...] = ()
    key_map: str = "gm"
    profile: str = DEFAULT_PROFILE
    changes: Changes = field(default_factory=dict)
    changes_from: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "form", tuple(self.form))
        object.__setattr__(self, "parts", MappingProxyType(dict(self.parts)))
        object.__setattr__(self, "grooves", MappingProxyType(dict(self.grooves)))
        object.__setattr__(self, "riffs", MappingProxyType(dict(self.riffs)))
        object.__setattr__(self, "fills", MappingProxyType(dict(self.fills)))
        object.__setattr__(self, "changes", MappingProxyType(dict(self.changes)))

    def __hash__(self) -> int:
        return hash((self.title, self.form, self.tempo, self.meter, self.seed, tuple(self.parts), tuple(self.grooves)))

    def settings_of(self, entry: Entry) -> Settings:
        """What holds in a section: the entry over its part over the defaults over the song's own."""
        return entry.settings.over(self.plain_settings_of(entry.part))

    def plain_settings_of(self, part: str) -> Settings:
        """What holds in a part's statement that changes nothing."""
        return self._plain_settings[part]

    @cached_property
    def _plain_settings(self) -> Mapping[str, Settings]:
        below = self.defaults.over(self.own)
        return {name: said.over(below) for name, said in self.parts.items()}
