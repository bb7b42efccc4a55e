"""Key maps: which note of a MIDI file is which surface of the kit, both ways, as tables.

The built-in map is the General MIDI Level 1 percussion key map (MMA, GM System Level 1); which of its notes
stand for which of our surfaces is common practice (35 and 36 are both the kick). Notes that a map does not
know keep their number as "note 61". A surface that a kit lacks is replaced along a chain of fallbacks; that
never changes the number of strokes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from grooveforge.core.kit import ALIASES, BANDS, SURFACE_CODES, SURFACE_NAMES, SURFACES, UNKNOWN_PREFIX, band_of
from grooveforge.errors import Fault, FormatError

IntArray = npt.NDArray[np.int64]
Velocities = npt.NDArray[np.uint8]

NOTES = 128

GM_NOTES: Mapping[str, tuple[int, ...]] = MappingProxyType(
    {
        "kick": (36, 35),
        "snare": (38, 40),
        "side stick": (37,),
        "hand clap": (39,),
        "closed hi-hat": (42,),
        "open hi-hat": (46,),
        "pedal hi-hat": (44,),
        "ride": (51,),
        "ride bell": (53,),
        "second ride": (59,),
        "crash": (49,),
        "second crash": (57,),
        "china": (52,),
        "splash": (55,),
        "cowbell": (56,),
        "high tom": (50,),
        "hi-mid tom": (48,),
        "low-mid tom": (47,),
        "low tom": (45,),
        "high floor tom": (43,),
        "floor tom": (41,),
        "tambourine": (54,),
        "vibraslap": (58,),
    }
)
"""Surface -> its notes in General MIDI: the first is written, all are read. GM has no half-open hi-hat."""

FALLBACKS: Mapping[str, str] = MappingProxyType(
    {
        "china": "second crash",
        "second crash": "crash",
        "ride bell": "ride",
        "second ride": "ride",
        "half-open hi-hat": "open hi-hat",
        "splash": "crash",
    }
)
"""What is struck instead of a surface that the kit lacks; followed on where that is lacking too."""

SOFTER = frozenset({("splash", "crash")})
"""Replacements that are struck one band of levels softer: a splash is small, a crash is not."""


def _softer_velocities() -> Velocities:
    """(128,) each velocity one band lower, at the same place in its band as far as that band reaches."""
    table = np.arange(NOTES, dtype=np.uint8)
    for velocity in range(1, NOTES):
        at = BANDS.index(band_of(velocity))
        if at:
            lower = BANDS[at - 1]
            table[velocity] = min(max(velocity - BANDS[at].flat + lower.flat, lower.low), lower.high)
    table.flags.writeable = False
    return table


ONE_BAND_SOFTER = _softer_velocities()


@dataclass(frozen=True)
class Replacement:
    """One line of a report: a surface that the kit lacks, what was struck instead, how often."""

    surface: str
    used: str
    count: int

    def __str__(self) -> str:
        times = "once" if self.count == 1 else f"{self.count} times"
        return f"the kit has no {self.surface}: {self.used} instead ({times})"

    def facts(self) -> dict[str, object]:
        """The line as a JSON object."""
        return {"surface": self.surface, "used": self.used, "count": self.count}


@dataclass(frozen=True)
class Meeting:
    """One line of a report: strokes left out since a louder one (or an equal one) has their note and tick.

    Parameters
    ----------
    note : the note that they met on. surfaces : what was to be struck, in the kit's order; one where a surface
        was struck twice at once. count : strokes left out.
    """

    note: int
    surfaces: tuple[str, ...]
    count: int

    @property
    def of_the_map(self) -> bool:
        """Whether it is the key map that brought them together."""
        return len(self.surfaces) > 1

    def __str__(self) -> str:
        strokes = "one stroke" if self.count == 1 else f"{self.count} strokes"
        where = f"met another on note {self.note} at the same tick"
        return f"{strokes} of {' and '.join(self.surfaces)} {where}: the louder stays"

    def facts(self) -> dict[str, object]:
        """The line as a JSON object."""
        return {"note": self.note, "surfaces": list(self.surfaces), "count": self.count}


def known_surface(name: str, place: str = "") -> str:
    """The full name of a surface of the kit.

    Raises
    ------
    FormatError
        When no kit has it; the error lists the names.
    """
    full = ALIASES.get(name, name)
    if full not in SURFACE_CODES or full.startswith(UNKNOWN_PREFIX):
        allowed = ", ".join(row.name for row in SURFACES)
        found = repr(name if len(name) <= 40 else name[:37] + "...")
        raise FormatError("no such surface in a key map", place=place, found=found, allowed=allowed)
    return full


@dataclass(frozen=True, eq=False)
class KeyMap:
    """A kit's key map.

    Parameters
    ----------
    name : what reports call it.
    notes : surface -> its notes, 0 to 127; the first is written, all are read. A note of two surfaces is read
        as the one that is named first.
    fallbacks : surface -> surface struck in its place; `FALLBACKS` holds for surfaces that are not in it.

    Raises
    ------
    FormatError
        When a surface or note does not exist, or fallbacks run in a circle.
    """

    name: str
    notes: Mapping[str, tuple[int, ...]]
    fallbacks: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        notes = {known_surface(surface, "[notes]"): tuple(rows) for surface, rows in self.notes.items()}
        for surface, rows in notes.items():
            if not rows or not all(0 <= note < NOTES for note in rows):
                raise FormatError(
                    f"the notes of {surface} are out of range", place="[notes]", found=str(rows), allowed="0 to 127"
                )
        own = {known_surface(a, "[fallbacks]"): known_surface(b, "[fallbacks]") for a, b in self.fallbacks.items()}
        object.__setattr__(self, "notes", MappingProxyType(notes))
        object.__setattr__(self, "fallbacks", MappingProxyType({**FALLBACKS, **own}))
        circles: dict[frozenset[str], Fault] = {}
        for surface in own:
            try:
                self._chain(surface)
            except FormatError as error:
                circles.setdefault(frozenset(error.faults[0].found.split(" -> ")), error.faults[0])
        if circles:
            raise FormatError(circles.values())

    def _content(self) -> tuple[object, ...]:
        return self.name, tuple(sorted(self.notes.items())), tuple(sorted(self.fallbacks.items()))

    def __eq__(self, other: object) -> bool:
        return self._content() == other._content() if isinstance(other, KeyMap) else NotImplemented

    def __hash__(self) -> int:
        return hash(self._content())

    def lacking(self, surfaces: Iterable[str]) -> KeyMap:
        """The map of a kit that does not have these surfaces."""
        gone = {known_surface(surface, "lacks") for surface in surfaces}
        return KeyMap(
            f"{self.name} without {', '.join(sorted(gone))}",
            {surface: rows for surface, rows in self.notes.items() if surface not in gone},
            self.fallbacks,
        )

    # -- one surface, one note ----------------------------------------------------------------------------

    def _chain(self, surface: str) -> tuple[str, ...]:
        """The surface and what stands in for it, up to the first that the kit has (or the chain's end)."""
        chain = [surface]
        while chain[-1] not in self.notes and chain[-1] in self.fallbacks:
            following = self.fallbacks[chain[-1]]
            if following in chain:
                raise FormatError(
                    "the fallbacks run in a circle",
                    place="[fallbacks]",
                    found=" -> ".join([*chain, following]),
                    path=("fallbacks", surface),
                )
            chain.append(following)
        return tuple(chain)

    def used_for(self, surface: str) -> str:
        """The surface that is struck where `surface` is wanted: itself, or its fallback.

        Raises
        ------
        FormatError
            When the kit has neither.
        """
        full = ALIASES.get(surface, surface)
        if full.startswith(UNKNOWN_PREFIX) and full in SURFACE_CODES:
            return full
        last = self._chain(known_surface(full, "key map"))[-1]
        if last not in self.notes:
            raise FormatError(
                f"the key map {self.name!r} has no note for {full} and nothing that stands in for it",
                place="[notes]",
                hint=f'a line under [fallbacks] such as "{full}" = "{next(iter(self.notes), "snare")}"',
            )
        return last

    def note_of(self, surface: str) -> int:
        """The note that is written for a surface, along the fallbacks.

        Raises
        ------
        FormatError
            When the kit has neither the surface nor a fallback.
        """
        used = self.used_for(surface)
        return SURFACE_CODES[used] - SURFACE_CODES["note 0"] if used.startswith(UNKNOWN_PREFIX) else self.notes[used][0]

    def surface_of(self, note: int) -> str:
        """The surface that a note is read as; "note 61" for one that the map does not know."""
        return SURFACE_NAMES[int(self.note_to_code[note])]

    @cached_property
    def shared(self) -> tuple[tuple[int, tuple[str, ...]], ...]:
        """Notes that more than one surface of the map is written as: (note, surfaces)."""
        users: dict[int, list[str]] = {}
        for surface, rows in self.notes.items():
            users.setdefault(rows[0], []).append(surface)
        return tuple((note, tuple(names)) for note, names in sorted(users.items()) if len(names) > 1)

    @property
    def remarks(self) -> tuple[str, ...]:
        """A line for each note that several surfaces are written as: a listener cannot tell them apart."""
        return tuple(
            f"the key map {self.name!r} writes {' and '.join(names)} as one note, {note}" for note, names in self.shared
        )

    @property
    def missing(self) -> tuple[tuple[str, str | None], ...]:
        """What the kit lacks, in the kit's order: (surface, what is struck instead or None)."""
        lacking = [row.name for row in SURFACES if row.name not in self.notes]
        lasts = [self._chain(name)[-1] for name in lacking]
        return tuple((name, last if last in self.notes else None) for name, last in zip(lacking, lasts))

    def softer(self, surface: str) -> bool:
        """Whether what stands in for a surface is struck one band of levels softer."""
        chain = self._chain(ALIASES.get(surface, surface))
        return not SOFTER.isdisjoint(pairwise(chain))

    # -- whole arrays -------------------------------------------------------------------------------------

    @cached_property
    def note_to_code(self) -> IntArray:
        """(128,) the surface code that each note is read as (`kit.SURFACE_CODES`)."""
        table = SURFACE_CODES["note 0"] + np.arange(NOTES, dtype=np.int64)
        for surface, rows in reversed(list(self.notes.items())):
            table[list(rows)] = SURFACE_CODES[surface]
        table.flags.writeable = False
        return table

    def apply(
        self, codes: npt.ArrayLike, velocities: npt.ArrayLike
    ) -> tuple[IntArray, Velocities, tuple[Replacement, ...]]:
        """Notes and velocities of strokes, and what had to be replaced.

        Parameters
        ----------
        codes : (n,) surface codes. velocities : (n,) 0 to 127.

        Returns
        -------
        notes : (n,) int64. velocities : (n,) uint8. replacements : in the kit's order.

        Raises
        ------
        FormatError
            When the kit has neither a surface nor its fallback.
        """
        surfaces = np.asarray(codes, np.int64).reshape(-1)
        levels = np.asarray(velocities, np.uint8).reshape(-1).copy()
        table = np.full(max(SURFACE_NAMES) + 1, -1, np.int64)
        counts = {code: count for code, count in enumerate(np.bincount(surfaces, minlength=1).tolist()) if count}
        self._demand(SURFACE_NAMES[code] for code in counts)
        replaced = []
        for code, count in counts.items():
            name = SURFACE_NAMES[code]
            table[code] = self.note_of(name)
            used = self.used_for(name)
            if used != name:
                replaced.append(Replacement(name, used, count))
            if self.softer(name):
                levels = np.where(surfaces == code, ONE_BAND_SOFTER[levels], levels)
        return table[surfaces], levels, tuple(replaced)

    def _demand(self, surfaces: Iterable[str]) -> None:
        """An error with a fault for each surface that has neither note nor stand-in."""
        faults: list[Fault] = []
        for name in surfaces:
            try:
                self.used_for(name)
            except FormatError as error:
                faults += error.faults
        if faults:
            raise FormatError(faults)


GM = KeyMap("gm", GM_NOTES)
"""General MIDI Level 1; a half-open hi-hat is written as the open one, 46."""
