"""Riff files for tests, written by mido (a writer that is not ours)."""

from __future__ import annotations

from pathlib import Path

import mido

SIXTEENTH = 120
"""Ticks, at 480 to a quarter note."""


def riff_file(path: Path, steps: dict[int, tuple[int, int]], bars: int = 1, bpm: float = 120) -> Path:
    """A riff of single notes on channel 1: sixteenth -> (note, velocity)."""
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm))])
    now = 0
    for step, (note, velocity) in sorted(steps.items()):
        track.append(mido.Message("note_on", note=note, velocity=velocity, time=step * SIXTEENTH - now))
        track.append(mido.Message("note_off", note=note, time=60))
        now = step * SIXTEENTH + 60
    track.append(mido.MetaMessage("end_of_track", time=bars * 16 * SIXTEENTH - now))
    file = mido.MidiFile(type=0, ticks_per_beat=4 * SIXTEENTH)
    file.tracks.append(track)
    file.save(path)
    return path
