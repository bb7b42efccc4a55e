"""Guitar riffs: typed lines, and the kicks that follow them.

A typed riff is a line of cymbal marks, `x` an attack and `X` a louder one, `-` a rest; bar lines and spaces
are free. A riff of n steps under bars of m is a cycle that runs on over the bar line.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from math import ceil

from grooveforge.core.groove import FINEST_GRID, Groove, Lane
from grooveforge.core.kit import ACCENT, NORMAL, Kind
from grooveforge.core.song import Riff
from grooveforge.errors import MusicError

ATTACK, ACCENTED, REST, FREE = "x", "X", "-", "| "

LONGEST_RIFF = 4096
"""Steps that a typed riff may have."""


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
        raise MusicError("a riff has a wrong mark", found=repr(wrong), allowed="x X - | and spaces")
    attacks = tuple(step for step, mark in enumerate(marks) if mark != REST)
    if not attacks:
        raise MusicError("a riff needs at least one attack", hint='"x--X--x-"')
    if len(marks) > LONGEST_RIFF:
        raise MusicError(f"a riff has {len(marks)} steps", allowed=f"at most {LONGEST_RIFF}")
    accents = tuple(step for step in attacks if marks[step] == ACCENTED)
    return Riff(len(marks), grid, attacks, accents)


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
