"""Files as they come back from a drummer: edited with mido, saved by mido or pretty_midi, not by this package."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable
from pathlib import Path

import mido
import pretty_midi

Hit = tuple[int, int, int]
"""Tick, note, velocity."""

Edit = Callable[[Hit], Iterable[Hit]]
"""What becomes of one stroke."""


def keep(hit: Hit) -> Iterable[Hit]:
    """A stroke as it is."""
    return [hit]


def hits(data: bytes) -> list[Hit]:
    """Every stroke of a file, by tick and note, read by mido."""
    found = []
    for track in mido.MidiFile(file=io.BytesIO(data)).tracks:
        tick = 0
        for message in track:
            tick += message.time
            if message.type == "note_on" and message.velocity:
                found.append((tick, message.note, message.velocity))
    return sorted(found)


def edited(data: bytes, edit: Edit, more: Iterable[Hit] = (), ticks: int | None = None, channel: int = 10) -> bytes:
    """A file with strokes changed, written by mido: format 1, one track for the drums.

    Parameters
    ----------
    more : strokes that are added, in the file's own ticks. ticks : another resolution. channel : from 1.
    """
    file = mido.MidiFile(file=io.BytesIO(data))
    scale = (ticks or file.ticks_per_beat) / file.ticks_per_beat
    head: list[tuple[int, int, mido.Message | mido.MetaMessage]] = []
    for track in file.tracks:
        tick = 0
        for message in track:
            tick += message.time
            if message.is_meta and message.type not in ("end_of_track", "track_name"):
                head.append((round(tick * scale), 0, message))
    drums: list[tuple[int, int, mido.Message | mido.MetaMessage]] = [
        (0, 0, mido.MetaMessage("track_name", name="My drums"))
    ]
    changed = [new for hit in hits(data) for new in edit(hit)] + list(more)
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

    def edit(hit: Hit) -> Iterable[Hit]:
        tick, number, velocity = hit
        moved = number == note and velocity > 45 and bar_of(tick, bar_ticks) in chosen
        return [(tick + by, number, velocity) if moved else hit]

    return edit
