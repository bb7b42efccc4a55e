"""The drum kit: its surfaces, the stroke kinds, the level bands, and the tables that tie them together.

Everything here is a table that other modules walk. Names of surfaces, tab letters and marks: encyclopaedia
article "Drum tablature"; R2, C2, T3, T4, F1, CB, HC, TB, VS and the marks h and t are house letters. What a
stroke's level is called (accent, normal, tap, ghost) and its range: common practice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from types import MappingProxyType

from grooveforge.errors import MusicError


class Kind(IntEnum):
    """How a stroke is played; the colours of a surface (open, bell ...) are kinds too."""

    PLAIN = 0
    ACCENT = 1
    GHOST = 2
    FLAM = 3
    DRAG = 4
    OPEN = 5
    HALF_OPEN = 6
    CLOSED = 7
    BELL = 8
    CHOKE = 9


GRACE_STROKES: Mapping[Kind, int] = MappingProxyType({Kind.FLAM: 1, Kind.DRAG: 2})
"""Grace strokes before the stroke itself: a flam is two notes, a drag three (common practice)."""


@dataclass(frozen=True)
class Band:
    """A band of levels: MIDI velocities `low` to `high`, and the one that flat levels write."""

    name: str
    low: int
    high: int
    flat: int


BANDS = (
    Band("ghost", 1, 45, 32),
    Band("tap", 46, 84, 72),
    Band("normal", 85, 104, 94),
    Band("accent", 105, 127, 114),
)
"""Velocity bands, soft to loud: ghost 20-45, tap 60-84, normal 85-104, accent 105-124 (common practice).
The gaps between them go to the nearer band, so that every velocity of a file has one."""

GHOST, TAP, NORMAL, ACCENT = (band.flat for band in BANDS)


def band_of(velocity: int) -> Band:
    """The band that a MIDI velocity of 1-127 lies in."""
    for band in BANDS:
        if velocity <= band.high:
            return band
    raise MusicError(f"a velocity is 1 to 127, not {velocity}")


@dataclass(frozen=True)
class Surface:
    """One thing to strike.

    Parameters
    ----------
    name : the one name used in code, sheets, reports and the page.
    family : "kick", "snare", "hi-hat", "ride", "crash", "china", "tom", "floor tom", "bell", "foot".
    keeps_time : whether the timekeeping hand may stand on it.
    arrival : the surface that takes an arrival when the hand keeps time here.
    """

    name: str
    family: str
    keeps_time: bool
    arrival: str = "crash"


SURFACES: tuple[Surface, ...] = (
    Surface("kick", "kick", False),
    Surface("snare", "snare", False),
    Surface("side stick", "snare", False),
    Surface("hand clap", "snare", False),
    Surface("closed hi-hat", "hi-hat", True),
    Surface("half-open hi-hat", "hi-hat", True),
    Surface("open hi-hat", "hi-hat", True),
    Surface("pedal hi-hat", "foot", True),
    Surface("ride", "ride", True, "second crash"),
    Surface("ride bell", "ride", True, "second crash"),
    Surface("second ride", "ride", True, "second crash"),
    Surface("crash", "crash", True, "second crash"),
    Surface("second crash", "crash", True, "crash"),
    Surface("china", "china", True, "second crash"),
    Surface("splash", "crash", True),
    Surface("cowbell", "bell", True),
    Surface("high tom", "tom", True),
    Surface("hi-mid tom", "tom", True),
    Surface("low-mid tom", "tom", True),
    Surface("low tom", "tom", True),
    Surface("high floor tom", "floor tom", True),
    Surface("floor tom", "floor tom", True),
    Surface("tambourine", "bell", True),
    Surface("vibraslap", "bell", False),
)
"""All surfaces in the order of the General MIDI table of `formats.keymap`. Which crash an arrival takes is
common practice: a hand on a hi-hat or floor tom has the first crash near, one on ride, bell or china the
second, and one that rides a crash takes the other."""

ALIASES: Mapping[str, str] = MappingProxyType({"low floor tom": "floor tom", "hi-hat": "closed hi-hat"})
"""Other names that a sheet or command may use. "floor tom" means the low one."""

UNKNOWN_PREFIX = "note "
"""A note that a key map does not know stands in a lane named "note 61"."""

_BY_NAME = {surface.name: surface for surface in SURFACES}

BACKBEAT_SURFACES = tuple(surface.name for surface in SURFACES if surface.family == "snare")
"""What can play a backbeat: snare, side stick, hand clap."""

HI_HATS = tuple(surface.name for surface in SURFACES if surface.family == "hi-hat")
"""The surfaces of one hi-hat struck by a stick: open and closed are one hand."""

SURFACE_CODES: Mapping[str, int] = MappingProxyType(
    {surface.name: code for code, surface in enumerate(SURFACES)}
    | {f"{UNKNOWN_PREFIX}{note}": 100 + note for note in range(128)}
)
"""The number of a surface in event tables: 0-99 the kit, 100 + n the unknown note n."""

SURFACE_NAMES: Mapping[int, str] = MappingProxyType({code: name for name, code in SURFACE_CODES.items()})


def surface(name: str) -> Surface:
    """The row of a surface, by its name or alias ("note 61" gives a surface of its own).

    Raises
    ------
    MusicError
        When no kit has it; the error lists the names.
    """
    found = _BY_NAME.get(ALIASES.get(name, name))
    if found is not None:
        return found
    if name in SURFACE_CODES:
        return Surface(name, "unknown", True)
    raise MusicError(f"no surface is called {name!r}", allowed=", ".join(_BY_NAME))


def timekeeping_surface(name: str) -> str:
    """The name in full of a surface that the timekeeping hand may stand on.

    Raises
    ------
    MusicError
        When it is none; the error lists those that are.
    """
    full = ALIASES.get(name, name)
    if full in _BY_NAME and _BY_NAME[full].keeps_time:
        return full
    allowed = ", ".join(row.name for row in SURFACES if row.keeps_time)
    raise MusicError("the timekeeping hand cannot stand there", found=repr(name), allowed=allowed)


_ACCENTED = (Kind.OPEN, Kind.BELL)

COLOURS: Mapping[tuple[str, Kind], str] = MappingProxyType(
    {("half-open hi-hat", Kind.CLOSED): "closed hi-hat", ("open hi-hat", Kind.CLOSED): "closed hi-hat"}
    | {("closed hi-hat", kind): "open hi-hat" for kind in _ACCENTED}
    | {("half-open hi-hat", kind): "open hi-hat" for kind in _ACCENTED}
    | {("closed hi-hat", Kind.HALF_OPEN): "half-open hi-hat"}
    | {("open hi-hat", Kind.HALF_OPEN): "half-open hi-hat"}
    | {("open hi-hat", Kind.OPEN): "open hi-hat"}
    | {(name, kind): "ride bell" for name in ("ride", "second ride") for kind in _ACCENTED}
)
"""What a coloured stroke of the hand strikes: open on a hi-hat is the bell of a ride. Where a surface has no
such colour the stroke is an accent on it (the row is missing); a closed or half-open stroke is plain there."""

ACCENTING_KINDS = frozenset(_ACCENTED)


def sounding(name: str, kind: Kind, velocity: int) -> tuple[str, int]:
    """What a stroke of this kind on this surface strikes, and at which velocity.

    The table open <-> bell <-> accent is applied here, on the way out of the values: a surface that does not
    know the colour plays an accent.
    """
    target = COLOURS.get((name, kind))
    if target is not None:
        return target, velocity
    if kind in ACCENTING_KINDS:
        return name, max(velocity, ACCENT)
    return name, velocity
