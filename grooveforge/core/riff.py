"""Guitar riffs: typed lines and lists, which attacks count, and the kicks that follow them.

A typed riff is a line of cymbal marks, `x` an attack and `X` a louder one, `-` a rest; bar lines and spaces
are free. A riff of n steps under bars of m is a cycle that runs on over the bar line.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from math import ceil

from grooveforge.core.groove import FINEST_GRID, Groove, Lane
from grooveforge.core.kit import ACCENT, NORMAL, Kind
from grooveforge.core.song import Riff
from grooveforge.errors import MusicError

ATTACK, ACCENTED, REST, FREE = "x", "X", "-", "| "

DEFAULT_RIFF_GRID = 16
"""Steps to a whole note of a typed riff; a file's sixteenths are such steps."""

LONGEST_RIFF = 4096
"""Steps that a typed riff may have."""

ALL, ACCENTS, LOW = "all", "accents", "low"
MODES = (ALL, ACCENTS, LOW)
"""Which attacks the kick follows: every one, those that stand out, those of the lowest register."""

_FILE_SIGNS = re.compile(r"[./\\]")


def is_riff_file(said: str) -> bool:
    """Whether what a sheet says of a riff names a file: it holds more than a line's marks, and a dot or slash."""
    return bool(said.strip("xX-| \t\n")) and _FILE_SIGNS.search(said) is not None


@lru_cache(maxsize=64)
def typed_riff(line: str, grid: int = 16) -> Riff:
    """A riff from a typed line.

    Parameters
    ----------
    line : marks; grid : steps to a whole note.

    Raises
    ------
    MusicError
        On another mark, an empty line or one without an attack.
    """
    marks = [mark for mark in "".join(line.split()) if mark not in FREE]
    wrong = next((mark for mark in marks if mark not in ATTACK + ACCENTED + REST), None)
    if wrong is not None:
        allowed = "x X - | and spaces, or a file such as riff.mid"
        raise MusicError("a riff has a wrong mark", found=repr(wrong), allowed=allowed)
    attacks = tuple(step for step, mark in enumerate(marks) if mark != REST)
    if not attacks:
        raise MusicError("a riff needs at least one attack", hint='"x--X--x-"')
    if len(marks) > LONGEST_RIFF:
        raise MusicError(f"a riff has {len(marks)} steps", allowed=f"at most {LONGEST_RIFF}")
    accents = tuple(step for step in attacks if marks[step] == ACCENTED)
    return Riff(len(marks), grid, attacks, accents)


def at_grid(riff: Riff, grid: int) -> Riff:
    """A riff whose sixteenths are steps of a grid of `grid` to a whole note: on 8 it is twice as long.

    A typed line's marks are those steps from the start; this does the same for a riff that was played.
    """
    steps = Fraction(riff.grid * grid, DEFAULT_RIFF_GRID)
    finer = steps.denominator

    def moved(places: tuple[int, ...]) -> tuple[int, ...]:
        return tuple(place * finer for place in places)

    return replace(
        riff,
        length=riff.length * finer,
        grid=steps.numerator,
        attacks=moved(riff.attacks),
        accents=moved(riff.accents),
        low=None if riff.low is None else moved(riff.low),
    )


def listed_riff(
    attacks: Iterable[int],
    length: int,
    accents: Iterable[int] = (),
    low: Iterable[int] | None = None,
    grid: int = 16,
) -> Riff:
    """A riff from lists of steps.

    Parameters
    ----------
    attacks : struck steps, in any order. length : steps of the cycle; grid : steps to a whole note.
    accents, low : those of the attacks that stand out, or lie in the lowest register (None: not known).

    Raises
    ------
    MusicError
        When there is no attack, a step is outside the cycle, or an accent or low step is no attack.
    """
    struck, accents = set(attacks), set(accents)
    low = None if low is None else set(low)
    if not struck:
        raise MusicError("a riff needs at least one attack")
    if min(struck) < 0 or max(struck) >= length:
        outside = min(struck) if min(struck) < 0 else max(struck)
        raise MusicError("an attack is outside its riff", found=str(outside), allowed=f"0 to {length - 1}")
    for name, steps in (("an accent", accents), ("a low step", low or set())):
        if steps - struck:
            raise MusicError(f"{name} of a riff is no attack", found=str(min(steps - struck)))
    lowest = None if low is None else tuple(sorted(low))
    return Riff(length, grid, tuple(sorted(struck)), tuple(sorted(accents)), lowest)


def chosen(riff: Riff, mode: str = ALL) -> Riff:
    """The riff with only the attacks that a mode chooses.

    Raises
    ------
    MusicError
        When the mode is none, or chooses no attack of this riff.
    """
    if mode not in MODES:
        raise MusicError("no such riff mode", found=repr(mode), allowed=", ".join(MODES))
    if mode == ALL:
        return riff
    if mode == LOW and riff.low is None:
        raise MusicError("a typed riff does not say which attacks are low", hint="a MIDI file, or mode accents")
    kept = riff.accents if mode == ACCENTS else riff.low or ()
    if not kept:
        why = "all its attacks are alike" if riff.low is not None else "its line has no X"
        raise MusicError(f"the riff has no accents: {why}", hint="mode all")
    inside = set(kept)
    return replace(
        riff,
        attacks=tuple(kept),
        accents=tuple(step for step in riff.accents if step in inside),
        low=riff.low and tuple(step for step in riff.low if step in inside),
    )


def turn_bars(cycle: Fraction, bar: Fraction) -> int:
    """After how many bars a cycle that began on a bar line begins on one again; both in whole notes."""
    return (cycle / bar).numerator


def meeting_bars(cycle: Fraction, bar: Fraction, bars: int, start: Fraction = Fraction(0)) -> tuple[int, ...]:
    """The bars, from 0, up to and with the bar line behind the last, on whose bar line the cycle begins anew.

    The very beginning of the riff is left out: there they have not met again yet.

    Parameters
    ----------
    cycle, bar : lengths in whole notes. start : how long the riff has run before the first bar.
    """
    places = ((number, start + number * bar) for number in range(bars + 1))
    return tuple(number for number, place in places if place and (place / cycle).denominator == 1)


def attack_places(riff: Riff, start: Fraction, length: Fraction) -> list[tuple[Fraction, bool]]:
    """The attacks of a running cycle inside a stretch of the song.

    Parameters
    ----------
    start : where the stretch begins in the cycle's own time, in whole notes from its first attack's bar.
    length : of the stretch, in whole notes.

    Returns
    -------
    (position, accented) pairs, rising; positions in whole notes from the stretch's start.
    """
    first = int(start / riff.whole)
    turns = ceil(length / riff.whole) + 1
    accented = set(riff.accents)
    places = (
        ((first + turn) * riff.whole + Fraction(step, riff.grid) - start, step in accented)
        for turn in range(turns)
        for step in riff.attacks
    )
    return [(place, accent) for place, accent in places if 0 <= place < length]


def follow(groove: Groove, riff: Riff, start: Fraction = Fraction(0), downbeats: bool = False) -> Groove:
    """The groove with its kicks on the riff's attacks, and on each bar's 1 when `downbeats` is set.

    `start` is where the groove's first bar stands in the riff's own running time, in whole notes.

    Raises
    ------
    MusicError
        When the attacks need a grid over 96 steps to a whole note.
    """
    attacks = dict(attack_places(riff, start, groove.whole))
    if downbeats:
        bars = (number * groove.meter.whole for number in range(groove.bars))
        attacks = dict.fromkeys(bars, False) | attacks
    try:
        finer = replace(groove, kick=None).fit_grid(attacks)
    except MusicError as error:
        raise MusicError(
            "the riff's attacks do not fit the groove's grid", hint=f"a riff_grid that divides {FINEST_GRID}"
        ) from error
    lane = Lane.rests(finer.steps)
    loud = [finer.step(place) for place, accent in attacks.items() if accent]
    plain = [finer.step(place) for place, accent in attacks.items() if not accent]
    return finer.with_lane("kick", lane.put(plain, NORMAL, Kind.PLAIN).put(loud, ACCENT, Kind.ACCENT))
