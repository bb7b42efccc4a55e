"""A guitar riff from a MIDI file: which notes are the riff, its attacks on the grid, its length in whole bars."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import lcm

import numpy as np

from grooveforge.core import attacks as heard
from grooveforge.core.meter import Meter
from grooveforge.core.song import Riff
from grooveforge.errors import FormatError
from grooveforge.formats.drum_part import Bar, Floats, bar_lines, figures_of, lay_bars, tempo_at
from grooveforge.formats.drums_read import DRUM_CHANNEL, meters_of
from grooveforge.formats.quantise import place_on_grids
from grooveforge.formats.smf import IntArray, SmfFile
from grooveforge.formats.smf_read import read_smf

LONGEST_TAIL = 0.5
"""Quarter notes: a last note may ring so far over the bar line without making the riff a bar longer."""

MOST_LISTED = 8


@dataclass(frozen=True)
class RiffFile:
    """A riff that was read, and what its file says besides.

    Parameters
    ----------
    riff : its attacks, accents, low attacks and residue. bars : how many bars its cycle has.
    meter, bpm : of the first bar. warnings : what had to be decided.
    """

    riff: Riff
    bars: int
    meter: Meter
    bpm: float
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Voice:
    """Notes that one player may play: a track, or in a file of one track a channel of it."""

    track: int
    channels: tuple[int, ...]
    name: str
    notes: int

    def __str__(self) -> str:
        plural = "s" if len(self.channels) > 1 else ""
        channels = ", ".join(str(channel + 1) for channel in self.channels)
        name = f" {self.name!r}" if self.name else ""
        return f"track {self.track + 1}{name} (channel{plural} {channels}, {self.notes} notes)"


def read_riff(data: bytes, grid: int | None = None) -> RiffFile:
    """The riff of a MIDI file, on any channel.

    Of several tracks (of several channels, in a file of one track) the one with most notes is the riff, with a
    warning; drums on channel 10 only where there is nothing else. The cycle is as long as the file, in whole
    bars of its metre.

    Parameters
    ----------
    grid : steps to a whole note; None takes the coarsest that tells the attacks apart.

    Raises
    ------
    FormatError
        When the bytes are no MIDI file or hold no notes.
    MusicError
        When the grid does not divide the file's bars.
    """
    file = read_smf(data)
    voice, warnings = _choose(_voices(file))
    tick, note, velocity, lasts = _notes(file, voice)
    bars, meters_said = _bars(file, int(tick[-1]))
    seconds = _seconds(file, tick)
    found = heard.attacks_of(seconds, note, velocity, lasts.astype(np.float64) / file.division)
    riff = _on_grid(file, bars, tick[found.first], grid, found)
    said = [str(warning) for warning in file.warnings]
    return RiffFile(riff, len(bars), bars[0].meter, bars[0].bpm, (*said, *meters_said, *warnings))


# -- which notes ----------------------------------------------------------------------------------------


def _voices(file: SmfFile) -> list[_Voice]:
    found = []
    sounding = [number for number, track in enumerate(file.tracks) if len(track.notes)]
    for number in sounding:
        track = file.tracks[number]
        channels, counts = np.unique(track.notes.channel, return_counts=True)
        listed = list(zip(channels.tolist(), counts.tolist()))
        drums = [(channel, count) for channel, count in listed if channel == DRUM_CHANNEL - 1]
        others = [(channel, count) for channel, count in listed if channel != DRUM_CHANNEL - 1]
        # A guitar to MIDI converter gives each string a channel; only a file of one track keeps players apart so.
        groups = [[pair] for pair in others] if len(sounding) == 1 else [others]
        found += [
            _Voice(number, tuple(c for c, _ in group), track.name, sum(n for _, n in group))
            for group in (*groups, drums)
            if group
        ]
    return found


def _choose(voices: Sequence[_Voice]) -> tuple[_Voice, list[str]]:
    """The voice that is the riff, and a warning where there was a choice."""
    if not voices:
        raise FormatError("the file has no notes, so it is no riff")
    pitched = [voice for voice in voices if voice.channels != (DRUM_CHANNEL - 1,)] or list(voices)
    best = max(pitched, key=lambda voice: voice.notes)  # the first of equals
    if len(pitched) == 1:
        return best, []
    others = [str(voice) for voice in pitched if voice is not best]
    more = ", ..." if len(others) > MOST_LISTED else ""
    listed = ", ".join(others[:MOST_LISTED]) + more
    return best, [f"{best} was taken as the riff, since it has most notes; left out: {listed}"]


def _notes(file: SmfFile, voice: _Voice) -> tuple[IntArray, IntArray, IntArray, IntArray]:
    """Columns tick, note, velocity, duration of a voice, by tick."""
    notes = file.tracks[voice.track].notes
    rows = np.flatnonzero(np.isin(notes.channel, voice.channels))
    rows = rows[np.argsort(notes.tick[rows], kind="stable")]
    return notes.tick[rows], notes.note[rows], notes.velocity[rows], notes.duration[rows]


# -- where they stand -----------------------------------------------------------------------------------


def _bars(file: SmfFile, last: int) -> tuple[tuple[Bar, ...], list[str]]:
    """The bars of the riff's cycle, and what was wrong with the file's metres.

    The file's length is that of its longest track. A last bar in which nothing begins, and which is only there
    since a note rings an eighth or less over the bar line, is none.
    """
    meters, warnings = meters_of(file)
    end = max(track.end_tick for track in file.tracks)
    bars = lay_bars(meters, file.tempos, file.division, end, last)
    if len(bars) > 1 and last < bars[-1].start and end <= bars[-1].start + file.division * LONGEST_TAIL:
        bars = bars[:-1]
    return bars, warnings


def _seconds(file: SmfFile, ticks: IntArray) -> Floats:
    """(n,) when ticks sound, along the file's tempi."""
    at = np.unique(np.concatenate(([0], file.tempos.tick)))
    a_tick = tempo_at(file.tempos, at) / 1e6 / file.division
    begun = np.concatenate(([0.0], np.cumsum(np.diff(at) * a_tick[:-1])))
    row = np.searchsorted(at, ticks, side="right") - 1
    return np.asarray(begun[row] + (ticks - at[row]) * a_tick[row], np.float64)


def _on_grid(
    file: SmfFile, bars: tuple[Bar, ...], tick: IntArray, grid: int | None, found: heard.Attacks
) -> Riff:
    """The attacks on steps of one grid; one that is nearest to the end of the cycle is the next turn's first."""
    if grid is None:
        placed = place_on_grids(tick, bar_lines(bars, file.division), file.division, figures_of(bars))
        grid = lcm(*placed.grid[np.unique(placed.bar)].tolist())
    length = sum(bar.meter.steps(grid) for bar in bars)
    exact = tick / file.division * grid / 4
    step = np.rint(exact).astype(np.int64)
    off = np.abs(exact - step) * 4 / grid * tempo_at(file.tempos, tick) / 1000
    turned = step % length

    def where(mask: heard.Bools) -> tuple[int, ...]:
        return tuple(np.unique(turned[mask]).tolist())

    return Riff(
        length,
        grid,
        where(np.ones(len(found), bool)),
        where(heard.accents(found)),
        where(heard.low(found)),
        round(float(off.mean()), 3),
    )
