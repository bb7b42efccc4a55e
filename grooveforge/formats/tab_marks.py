"""The lines and marks of drum tab as one table, walked by reader and printer alike.

Letters and marks: encyclopaedia article "Drum tablature" (CC, HH, Rd, SN, T1, T2, FT, BD, Hf; cymbals x, X, o
open, # choke; drums o, O accent, g ghost, f flam, d drag). House marks, so that every stroke has one: the lines
R2, C2, T3, T4, F1, CB, HC, TB, VS, T, St and unknown notes by number; h half-open, b bell, c china, s splash,
@ side stick, t tap, g on cymbals too; the capital of a mark is its accent.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

from grooveforge.core.kit import (
    ACCENT,
    BANDS,
    GHOST,
    HI_HATS,
    NORMAL,
    SURFACE_CODES,
    TAP,
    UNKNOWN_PREFIX,
    Kind,
    band_of,
    sounding,
)

REST = "-"
FREE = "| \t"
"""Characters that mean nothing inside a line."""

HAND_LINE, STICKING_LINE = "T", "St"
STICKING_MARKS = "RLrlB" + REST
"""Right, left, the same played softly, both hands."""

HIGHEST_NOTE = 127


@dataclass(frozen=True)
class Stroke:
    """What one mark strikes. On the line T the surface is empty: it is the hand's."""

    surface: str
    kind: Kind
    velocity: int


Marks = Mapping[str, Stroke]

_DRUM = {
    "o": (Kind.PLAIN, NORMAL),
    "O": (Kind.ACCENT, ACCENT),
    "t": (Kind.PLAIN, TAP),
    "g": (Kind.GHOST, GHOST),
    "f": (Kind.FLAM, NORMAL),
    "F": (Kind.FLAM, ACCENT),
    "d": (Kind.DRAG, NORMAL),
    "D": (Kind.DRAG, ACCENT),
}
_CYMBAL = {
    "x": (Kind.PLAIN, NORMAL),
    "X": (Kind.ACCENT, ACCENT),
    "t": (Kind.PLAIN, TAP),
    "g": (Kind.GHOST, GHOST),
}
_CHOKED = {**_CYMBAL, "#": (Kind.CHOKE, NORMAL)}


def _marks(surface: str, rows: Mapping[str, tuple[Kind, int]], **colours: str) -> Marks:
    """The marks of a line; each colour is a mark of a surface of its own, its capital the accent."""
    found = {mark: Stroke(surface, kind, velocity) for mark, (kind, velocity) in rows.items()}
    for mark, name in colours.items():
        found[mark] = Stroke(name, Kind.PLAIN, NORMAL)
        found[mark.upper()] = Stroke(name, Kind.ACCENT, ACCENT)
    return MappingProxyType(found)


def _hand_marks() -> Marks:
    coloured = {"o": Kind.OPEN, "h": Kind.HALF_OPEN, "b": Kind.BELL, "c": Kind.CLOSED}
    rows = {mark: (kind, NORMAL) for mark, kind in coloured.items()}
    return _marks("", {**_CHOKED, **rows, **{mark.upper(): (kind, ACCENT) for mark, (kind, _) in rows.items()}})


LINES: Mapping[str, Marks] = MappingProxyType(
    {
        "CC": _marks("crash", _CHOKED, c="china", s="splash"),
        "C2": _marks("second crash", _CHOKED),
        "HH": _marks("closed hi-hat", _CYMBAL, o="open hi-hat", h="half-open hi-hat"),
        "Rd": _marks("ride", _CYMBAL, b="ride bell"),
        "R2": _marks("second ride", {**_CYMBAL, "b": (Kind.BELL, NORMAL), "B": (Kind.BELL, ACCENT)}),
        "CB": _marks("cowbell", _CYMBAL),
        "SN": MappingProxyType({**_marks("snare", _DRUM), "@": Stroke("side stick", Kind.PLAIN, NORMAL)}),
        "T1": _marks("high tom", _DRUM),
        "T2": _marks("hi-mid tom", _DRUM),
        "T3": _marks("low-mid tom", _DRUM),
        "T4": _marks("low tom", _DRUM),
        "F1": _marks("high floor tom", _DRUM),
        "FT": _marks("floor tom", _DRUM),
        "BD": _marks("kick", _DRUM),
        "Hf": _marks("pedal hi-hat", _CYMBAL),
        "HC": _marks("hand clap", _CYMBAL),
        "TB": _marks("tambourine", _CYMBAL),
        "VS": _marks("vibraslap", _CYMBAL),
    }
)
"""Every line in the order in which it is printed, cymbals above drums above feet."""

HAND_MARKS = _hand_marks()

HAND_LINES = ("HH", "Rd", "R2", "CC", "C2", "FT", "F1", "Hf")
"""Hi-hat, cymbal and floor-tom lines that may keep time; the first wins a tie for the busiest (house rule)."""

COLOUR_KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        "closed hi-hat": Kind.CLOSED,
        "half-open hi-hat": Kind.HALF_OPEN,
        "open hi-hat": Kind.OPEN,
        "ride bell": Kind.BELL,
    }
)
"""What a stroke on this surface is to a hand that stands on another surface of the same instrument."""

ONE_HAND: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {**dict.fromkeys(HI_HATS, HI_HATS), "ride": ("ride", "ride bell")}
)
"""Surfaces that belong to one hand; a hand on any other surface has that one alone."""


def marks_of(label: str) -> Marks | None:
    """The marks of a line, or None where there is no such line."""
    if label == HAND_LINE:
        return HAND_MARKS
    if label.isdecimal() and label.isascii():
        known = str(int(label)) == label and int(label) <= HIGHEST_NOTE if len(label) < 4 else False
        return _marks(f"{UNKNOWN_PREFIX}{label}", _CYMBAL) if known else None
    return LINES.get(label)


def order_of(label: str) -> tuple[int, int]:
    """Where a line is printed: the table's order, then T, unknown notes by number, sticking last."""
    if label.isdecimal():
        return len(LINES) + 1, int(label)
    labels = [*LINES, HAND_LINE]
    return (labels.index(label) if label in labels else len(LINES) + 2), 0


_CLASSES = {Kind.ACCENT: Kind.PLAIN, Kind.GHOST: Kind.PLAIN}
"""Kinds that the level alone tells apart."""


@lru_cache(maxsize=1)
def _choices() -> dict[tuple[str, Kind], list[tuple[int, str, str]]]:
    """(surface, kind) -> its marks as (rank of the level's band, label, mark)."""
    found: dict[tuple[str, Kind], list[tuple[int, str, str]]] = {}
    notes = [name for name in SURFACE_CODES if name.startswith(UNKNOWN_PREFIX)]
    labels = [*LINES, *(name.removeprefix(UNKNOWN_PREFIX) for name in notes)]
    for label in labels:
        for mark, stroke in (marks_of(label) or {}).items():
            key = stroke.surface, _CLASSES.get(stroke.kind, stroke.kind)
            found.setdefault(key, []).append((_rank(stroke.velocity), label, mark))
    return found


def _rank(velocity: int) -> int:
    return BANDS.index(band_of(velocity))


@lru_cache(maxsize=4096)
def mark_of(surface: str, kind: Kind, velocity: int) -> tuple[str, str]:
    """The (line, mark) that prints a stroke: its surface and kind exactly, its level by the nearest band.

    A kind that the surface has no mark for prints as what it sounds like: open on a ride is the bell.
    """
    velocity = GHOST if kind == Kind.GHOST else velocity
    choices = _choices().get((surface, _CLASSES.get(kind, kind)))
    if choices is None:
        surface, velocity = sounding(surface, kind, velocity)
        choices = _choices()[surface, Kind.PLAIN]
    rank = _rank(velocity)
    _, label, mark = min(choices, key=lambda choice: abs(choice[0] - rank))
    return label, mark


@lru_cache(maxsize=1024)
def hand_mark_of(kind: Kind, velocity: int) -> str | None:
    """The mark of the line T that prints a stroke of the hand; None for a kind that the line has not."""
    velocity = GHOST if kind == Kind.GHOST else velocity
    wanted = _CLASSES.get(kind, kind)
    choices = [mark for mark, stroke in HAND_MARKS.items() if _CLASSES.get(stroke.kind, stroke.kind) == wanted]
    rank = _rank(velocity)
    return min(choices, key=lambda mark: abs(_rank(HAND_MARKS[mark].velocity) - rank), default=None)


def misses(stroke: Stroke, kind: Kind, velocity: int) -> bool:
    """Whether a mark's stroke is of another band of levels than the one that it prints."""
    return _rank(stroke.velocity) != _rank(GHOST if kind == Kind.GHOST else velocity)


_WORDS: Mapping[Kind, str] = MappingProxyType(
    {
        Kind.FLAM: "flam",
        Kind.DRAG: "drag",
        Kind.CHOKE: "choke",
        Kind.OPEN: "open",
        Kind.HALF_OPEN: "half-open",
        Kind.CLOSED: "closed",
        Kind.BELL: "bell",
    }
)


def words_for(label: str, mark: str) -> str:
    """What a mark means, as the legend says it: "accent", "open hi-hat", "accented flam"."""
    marks = marks_of(label) or {}
    stroke = marks[mark]
    base = _WORDS.get(stroke.kind, "") or ("" if stroke.surface == main_surface(label) else stroke.surface)
    level = band_of(stroke.velocity).name
    if not base:
        return "stroke" if level == "normal" else level
    return f"accented {base}" if level == "accent" else base


def main_surface(label: str) -> str:
    """The surface that a line is named after; for T the timekeeping hand."""
    if label == HAND_LINE:
        return ""
    return next(iter((marks_of(label) or {}).values())).surface


def legend(used: Iterable[tuple[str, str]]) -> list[str]:
    """Comment lines that say what the marks mean, one for each line of the tab.

    Parameters
    ----------
    used : (label, marks) of each line; only marks that occur are explained.
    """
    lines: dict[str, set[str]] = {}
    for label, marks in used:
        lines.setdefault(label, set()).update(marks)
    printed = []
    for label in lines:
        known = marks_of(label)
        if known is None:
            continue
        meanings = ", ".join(f"{mark} {words_for(label, mark)}" for mark in known if mark in lines[label])
        printed.append(f"# {label} {main_surface(label) or 'timekeeping hand'}" + (f": {meanings}" if meanings else ""))
    return printed
