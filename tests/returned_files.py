"""Files as they come back from a drummer: edited with mido, saved by mido or pretty_midi, not by this package."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable
from pathlib import Path

import mido
import pretty_midi

from tests.read_back import Message, Stroke, at_ticks, strokes

Edit = Callable[[Stroke], Iterable[Stroke]]
"""What becomes of one stroke."""


def keep(hit: Stroke) -> Iterable[Stroke]:
    """A stroke as it is."""
    return [hit]


def edited(data: bytes, edit: Edit, more: Iterable[Stroke] = (), ticks: int | None = None, channel: int = 10) -> bytes:
    """A file with strokes changed, written by mido: format 1, one track for the drums.

    Parameters
    ----------
    more : strokes that are added, in the file's own ticks. ticks : another resolution. channel : from 1.
    """
    file = mido.MidiFile(file=io.BytesIO(data))
    scale = (ticks or file.ticks_per_beat) / file.ticks_per_beat
    head: list[tuple[int, int, Message]] = []
    for tick, message in at_ticks(file):
        if message.is_meta and message.type not in ("end_of_track", "track_name"):
            head.append((round(tick * scale), 0, message))
    drums: list[tuple[int, int, Message]] = [
        (0, 0, mido.MetaMessage("track_name", name="My drums"))
    ]
    changed = [new for hit in strokes(data) for new in edit(hit)] + list(more)
    for tick, note, velocity in changed:
        at = round(tick * scale)
        drums.append((at, 2, mido.Message("note_on", channel=channel - 1, note=note, velocity=velocity)))
        drums.append((at + 1, 1, mido.Message("note_off", channel=channel - 1, note=note)))
    new = mido.MidiFile(type=1, ticks_per_beat=ticks or file.ticks_per_beat)
    for events in (head, drums):
        track, last = mido.MidiTrack(), 0
        for tick, _, message in sorted(events, key=lambda event: event[:2]):
            track.append(message.copy(time=tick - last))
            last = tick
        new.tracks.append(track)
    out = io.BytesIO()
    new.save(file=out)
    return out.getvalue()


def through_pretty_midi(data: bytes, folder: Path) -> bytes:
    """A file read and written again by pretty_midi, which keeps seconds and drops markers."""
    path = folder / "pretty.mid"
    pretty_midi.PrettyMIDI(io.BytesIO(data)).write(str(path))
    return path.read_bytes()


def bar_of(tick: int, bar_ticks: int = 1920) -> int:
    """The bar, from 1, that a stroke belongs to: one pulled a little before its bar line belongs behind it."""
    return (tick + 60) // bar_ticks + 1


def later(bars: Iterable[int], note: int, by: int, bar_ticks: int = 1920) -> Edit:
    """A note's strokes in some bars (from 1) moved by some ticks, ghost notes left where they are."""
    chosen = set(bars)

    def edit(hit: Stroke) -> Iterable[Stroke]:
        tick, number, velocity = hit
        moved = number == note and velocity > 45 and bar_of(tick, bar_ticks) in chosen
        return [(tick + by, number, velocity) if moved else hit]

    return edit
