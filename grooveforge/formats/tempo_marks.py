"""Where a score says its tempo: each change once, a ramp at its first and last beat with a word."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from grooveforge.core.score import Score

RAMP_STEP = Fraction(1, 4)
"""Whole notes: changes that follow one another at most this far apart are one ramp."""

LEAST_STEPS = 3

Change = tuple[int, Fraction, Fraction, Fraction]
"""(bar index, place in it, place from the start, quarter notes a minute)"""


@dataclass(frozen=True)
class TempoMark:
    """A change of tempo.

    Parameters
    ----------
    place : whole notes from the bar line. shown : whether a number is printed. words : "rit. to 101" or empty.
    """

    place: Fraction
    bpm: Fraction
    shown: bool = True
    words: str = ""


def short_number(bpm: Fraction) -> str:
    """A tempo as it is printed: at most one decimal."""
    return f"{round(float(bpm), 1):g}"


def tempo_marks(score: Score) -> dict[int, list[TempoMark]]:
    """Bar number -> its changes of tempo."""
    found: dict[int, list[TempoMark]] = {}
    for run in _runs(list(_changes(score))):
        arrives = _arrival(score, run)
        for number, (bar, place, _, bpm) in enumerate(run):
            inner = 0 < number < len(run) - (arrives == run[-1][3])
            words = ""
            if number == 0 and len(run) > 1:
                words = f"{'accel.' if arrives > bpm else 'rit.'} to {short_number(arrives)}"
            found.setdefault(score.bars[bar].number, []).append(TempoMark(place, bpm, not inner, words))
    return found


def _arrival(score: Score, run: Sequence[Change]) -> Fraction:
    """The tempo that a run of changes arrives at.

    One that moves up to the last beat before a bar line arrives there, one step further on.
    """
    bar, place, _, bpm = run[-1]
    if len(run) > 1 and place + RAMP_STEP == score.bars[bar].meter.whole:
        return bpm + bpm - run[-2][3]
    return bpm


def _changes(score: Score) -> Iterator[Change]:
    start = Fraction(0)
    for index, bar in enumerate(score.bars):
        for place, bpm in bar.tempos:
            yield index, place, start + place, bpm
        start += bar.meter.whole


def _runs(changes: Sequence[Change]) -> Iterator[Sequence[Change]]:
    """Changes grouped: a ramp together, every other one alone."""
    start = 0
    while start < len(changes):
        end = start + 1
        while end < len(changes) and _onward(changes, start, end):
            end += 1
        if end - start < LEAST_STEPS:
            end = start + 1
        yield changes[start:end]
        start = end


def _onward(changes: Sequence[Change], start: int, end: int) -> bool:
    """Whether a change follows soon, and moves on the way that the run has begun with."""
    if changes[end][2] - changes[end - 1][2] > RAMP_STEP:
        return False
    first = changes[start + 1][3] - changes[start][3]
    return first * (changes[end][3] - changes[end - 1][3]) > 0
