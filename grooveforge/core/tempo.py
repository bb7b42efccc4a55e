"""Tempo: layers of numbers, ratios and ramps resolved into steps of exact tempo.

A tempo belongs to its section. A ratio is of the tempo that the section would have without it (over a ramp,
of its first tempo). A ramp from a to b over n quarters has a + (b - a) * k / n on quarter k and b from
quarter n on. House rules of the song sheet.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from grooveforge.core.song import FASTEST, SLOWEST, Tempo, TempoRamp, TempoRatio
from grooveforge.errors import MusicError

MICROSECONDS_A_MINUTE = 60_000_000

TempoStep = tuple[Fraction, Fraction]
"""(quarters from the start, quarter notes a minute)"""


def check_tempo(bpm: Fraction) -> Fraction:
    """The tempo itself, or a MusicError that says the range."""
    if not SLOWEST <= bpm <= FASTEST:
        raise MusicError(
            "a tempo is out of range",
            found=f"{float(bpm):g}",
            allowed=f"{SLOWEST} to {FASTEST} quarter notes a minute",
        )
    return bpm


def resolve(song_tempo: Fraction, layers: Iterable[Tempo | None], quarters: Fraction) -> tuple[TempoStep, ...]:
    """The tempo steps of a section.

    Parameters
    ----------
    song_tempo : of the whole song. layers : what defaults, part and entry say, in that order.
    quarters : length of the section.

    Raises
    ------
    MusicError
        When a resulting tempo is out of range.
    """
    first, ramp = check_tempo(song_tempo), None
    for layer in layers:
        if isinstance(layer, TempoRatio):
            first, ramp = check_tempo(first * layer.ratio), None
        elif isinstance(layer, TempoRamp):
            check_tempo(layer.to)
            ramp = layer
        elif layer is not None:
            first, ramp = check_tempo(layer), None
    if ramp is None:
        return ((Fraction(0), first),)
    return tuple(
        (Fraction(beat), first + (ramp.to - first) * Fraction(beat, ramp.over))
        for beat in range(ramp.over + 1)
        if beat < quarters
    )


def microseconds(bpm: Fraction) -> int:
    """Microseconds a quarter note, rounded half up, as a MIDI file holds them."""
    return int(MICROSECONDS_A_MINUTE / bpm + Fraction(1, 2))


def seconds(steps: Sequence[TempoStep], quarters: Fraction) -> float:
    """How long `quarters` quarter notes last over tempo steps, with tempi as a MIDI file holds them."""
    ends = [start for start, _ in steps[1:]] + [quarters]
    spans = ((min(end, quarters) - start, bpm) for (start, bpm), end in zip(steps, ends) if start < quarters)
    return float(sum(span * microseconds(bpm) for span, bpm in spans) / 1_000_000)
