"""Bridges for Python users: a song as objects of pretty_midi and mido or as a numpy table, and grooves back.

pretty_midi and mido are loaded only when they are asked for. A pretty_midi object holds no markers.
"""

from __future__ import annotations

import io
from math import ceil
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.arrange import Arrangement, arrange
from grooveforge.core.groove import Groove
from grooveforge.core.perform import Performance, perform
from grooveforge.core.song import Song
from grooveforge.errors import FormatError, GrooveForgeError, UsageError
from grooveforge.formats.drums_groove import groove_of_midi
from grooveforge.formats.keymap import GM, KeyMap
from grooveforge.formats.midi import MidiOptions, song_midi
from grooveforge.formats.smf import NoteTable, SmfFile
from grooveforge.formats.smf_read import read_smf

MidoFile = Any
"""A `mido.MidiFile`; the package has no types of its own, and is loaded only when it is asked for."""

PrettyMidi = Any
"""A `pretty_midi.PrettyMIDI`, likewise."""

EVENT = np.dtype([("tick", np.int64), ("note", np.int64), ("velocity", np.int64), ("duration", np.int64)])
"""A row of the table of `events`."""

TITLE = "song"


class HasSong(Protocol):
    """What `read_sheet` gives: something with a song."""

    @property
    def song(self) -> Song: ...


class HasPerformance(Protocol):
    """What `render` gives: something with a performance."""

    @property
    def performance(self) -> Performance: ...


Playable = Song | Arrangement | Performance | HasSong | HasPerformance
"""Everything that is a song on its way from a sheet to MIDI."""


def events(song: Playable, key_map: KeyMap | None = None) -> NDArray[np.void]:
    """The notes of a song as a table.

    Parameters
    ----------
    song : a sheet that was read, a song, an arrangement, a performance or what `render` gave.
    key_map : which note a surface has; None for the one that `song` has, else General MIDI.

    Returns
    -------
    (n,) structured array with the int64 fields tick, note, velocity and duration, by tick, then note. There
    are 480 ticks to a quarter note, or more where the music needs them: `to_mido(song).ticks_per_beat`.

    Raises
    ------
    GrooveForgeError
        When the song cannot be arranged or played.
    """
    found = read_smf(_bytes(song, key_map))
    rows = np.concatenate([_rows(track.notes) for track in found.tracks])
    return np.sort(rows, order=("tick", "note"))


def _rows(notes: NoteTable) -> NDArray[np.void]:
    rows = np.empty(len(notes), EVENT)
    for name in EVENT.names or ():
        rows[name] = getattr(notes, name)
    return rows


def to_mido(song: Playable, key_map: KeyMap | None = None) -> MidoFile:
    """A song as a mido file: what `render` writes, markers and tempo map in track 1. See `events`."""
    import mido

    return mido.MidiFile(file=io.BytesIO(_bytes(song, key_map)))


def to_pretty_midi(song: Playable, key_map: KeyMap | None = None) -> PrettyMidi:
    """A song as a pretty_midi object with one drum instrument; markers are left out. See `events`."""
    import pretty_midi

    return pretty_midi.PrettyMIDI(io.BytesIO(_bytes(song, key_map)))


def groove_from_pretty_midi(pm: PrettyMidi, key_map: KeyMap = GM) -> Groove:
    """The drums of a pretty_midi object as one groove, on the best grid of each bar, offsets kept.

    The drums are its drum instruments together; where none is marked as drums, the one that looks like them.

    Raises
    ------
    FormatError
        When there are no drums, or more than one metre.
    UsageError
        When `pm` is no pretty_midi object.
    """
    if not hasattr(pm, "instruments") or not hasattr(pm, "write"):
        raise UsageError("a pretty_midi object is needed", found=type(pm).__name__)
    written = io.BytesIO()
    try:
        pm.write(written)
    except (ValueError, TypeError, OverflowError) as error:
        raise FormatError(f"pretty_midi cannot write this object: {error}") from error
    try:
        groove = groove_of_midi(written.getvalue(), key_map=key_map)
    except GrooveForgeError as error:
        raise error.in_file("the pretty_midi object") from error
    return groove.slice(0, _bars_with_notes(groove, read_smf(written.getvalue())))


def _bars_with_notes(groove: Groove, file: SmfFile) -> int:
    """Bars up to the last note's end: pretty_midi closes a track a tick behind it, in a bar that no one asked for."""
    ends = [int((track.notes.tick + track.notes.duration).max()) for track in file.tracks if len(track.notes)]
    sounding = ceil((max(ends) - 1) / (file.division * groove.meter.quarters))
    struck = max(int(lane.struck[-1]) for _, lane in groove.voices) // groove.steps_per_bar + 1
    return min(max(sounding, struck), groove.bars)


def _bytes(song: Playable, key_map: KeyMap | None) -> bytes:
    performance, title = _performance(song)
    own = getattr(song, "key_map", None)
    kit = key_map or (own if isinstance(own, KeyMap) else GM)
    return song_midi(performance, title, MidiOptions(key_map=kit)).data


def _performance(song: Playable) -> tuple[Performance, str]:
    if isinstance(song, Performance):
        return song, TITLE
    if isinstance(song, Arrangement):
        return perform(song), song.title
    if isinstance(song, Song):
        return perform(arrange(song)), song.title
    played = getattr(song, "performance", None)
    if isinstance(played, Performance):
        return played, getattr(getattr(song, "arrangement", None), "title", TITLE)
    held = getattr(song, "song", None)
    if isinstance(held, Song):
        return perform(arrange(held)), held.title
    raise UsageError(
        "no song stands here",
        found=type(song).__name__,
        allowed="what read_sheet, arrange, perform or render gives",
        hint='grooveforge.read_sheet("my-song.toml")',
    )
