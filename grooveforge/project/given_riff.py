"""Riffs as a command takes them: a MIDI file, or a line that was typed."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from grooveforge import files
from grooveforge.core.meter import Meter
from grooveforge.core.riff import is_riff_file, typed_riff
from grooveforge.core.song import FASTEST, SLOWEST, Riff
from grooveforge.project.riffs import riff_file


@dataclass(frozen=True)
class GivenRiff:
    """A riff as a command takes it.

    Parameters
    ----------
    meter, bpm : of a MIDI file's first bar; None for a typed line, which says neither. warnings : what had to be
        decided.
    """

    riff: Riff
    meter: Meter | None = None
    bpm: Fraction | None = None
    warnings: tuple[str, ...] = ()


def riff_of(said: str) -> GivenRiff:
    """What a command takes as a riff: a MIDI file ("-": from standard input), or a typed line of sixteenths."""
    if said == files.STANDARD_STREAM or is_riff_file(said) or Path(said).is_file():
        file = riff_file(files.read_bytes(said), said)
        return GivenRiff(file.riff, file.meter, in_range(file.bpm), file.warnings)
    return GivenRiff(typed_riff(said))


def in_range(bpm: float) -> Fraction:
    """A file's tempo as one that a song may have."""
    return min(max(Fraction(str(bpm)), Fraction(SLOWEST)), Fraction(FASTEST))
