"""Writes the riff files of the demo song "Tin Observatory" with mido: `python -m tests.make_riffs`.

The files are committed; this says what is in them, and a test compares.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import mido

SONGS = Path(__file__).parent.parent / "patterns" / "songs"

DIVISION = 480
SIXTEENTH = DIVISION // 4
OPEN_STRING = 40
"""The low E of a guitar; MIDI note 60 is middle C."""

GUITAR = 30
"""General MIDI's distortion guitar, counted from 0."""

SOFT, LOUD = 84, 112


@dataclass(frozen=True)
class Played:
    """A riff to write: X a loud power chord, x a muted low note, H a chord an octave higher, - silence."""

    name: str
    meter: tuple[int, int]
    line: str
    bpm: int = 138


RIFFS = (
    Played("tin-orbit.mid", (5, 4), "X-xx--X-xx--X-xxX-x-"),
    Played("tin-collapse.mid", (4, 4), "x--xH-xx--x-H---x-xx--H---xxx-H-"),
)

MARKS = {
    "x": ((0,), SOFT, SIXTEENTH // 2),
    "X": ((0, 7, 12), LOUD, SIXTEENTH),
    "H": ((12, 19, 24), LOUD, 2 * SIXTEENTH),
}
"""Mark -> semitones above the open string, velocity, ticks."""


def riff_file(riff: Played) -> mido.MidiFile:
    """The riff as a file of two tracks: tempo and metre, and the guitar on channel 1."""
    head = mido.MidiTrack()
    head.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(riff.bpm)))
    head.append(mido.MetaMessage("time_signature", numerator=riff.meter[0], denominator=riff.meter[1]))
    events = []
    for place, mark in enumerate(riff.line):
        above, velocity, lasts = MARKS.get(mark, ((), 0, 0))
        for semitones in above:
            note = OPEN_STRING + semitones
            events.append((place * SIXTEENTH, mido.Message("note_on", note=note, velocity=velocity)))
            events.append((place * SIXTEENTH + lasts, mido.Message("note_off", note=note)))
    guitar = mido.MidiTrack()
    guitar.append(mido.MetaMessage("track_name", name="Guitar"))
    guitar.append(mido.Message("program_change", program=GUITAR))
    now = 0
    for tick, message in sorted(events, key=lambda event: (event[0], event[1].type == "note_on")):
        guitar.append(message.copy(time=tick - now))
        now = tick
    guitar.append(mido.MetaMessage("end_of_track", time=len(riff.line) * SIXTEENTH - now))
    file = mido.MidiFile(type=1, ticks_per_beat=DIVISION)
    file.tracks += [head, guitar]
    return file


if __name__ == "__main__":
    for each in RIFFS:
        riff_file(each).save(SONGS / each.name)
