"""The drums of a MIDI file: which track and channel they are, their strokes, their bars."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from grooveforge.core.meter import Meter
from grooveforge.errors import FormatError, MusicError
from grooveforge.formats.drum_part import COLUMNS, Bar, DrumPart, OtherTrack, bar_number, lay_bars
from grooveforge.formats.keymap import GM, KeyMap
from grooveforge.formats.smf import IntArray, SmfFile, louder_of_doubles

DRUM_CHANNEL = 10
"""General MIDI's channel of the drums, counted from 1."""

DRUM_WORDS = ("drum", "kit", "perc")
"""A track with one of these in its name is drums, whatever its channel."""

CONTROLS = {
    0xA: "aftertouch", 0xB: "controller", 0xC: "program change", 0xD: "channel aftertouch", 0xE: "pitch bend"
}  # fmt: skip
"""What a channel sends beside notes, by the upper half of its status byte (MIDI 1.0)."""

DRUM_NOTES = (35, 59)
"""The notes of a drum set in General MIDI: a track of these alone may be drums."""


@dataclass(frozen=True)
class _Voice:
    """The notes of one channel in one track."""

    track: int
    channel: int
    name: str
    notes: int
    in_range: bool


def read_drums(file: SmfFile, channel: int | None = None, key_map: KeyMap = GM) -> DrumPart:
    """The drums of a file.

    Parameters
    ----------
    channel : the drums' channel, counted from 1. None takes channel 10 where it has notes, else the one track
        named drum, kit or perc, else the one whose notes all lie in 35 to 59, with a warning.

    Raises
    ------
    FormatError
        When it cannot be told which notes are the drums; the hint names --channel.
    """
    voices = _voices(file)
    chosen, warnings = _choose(voices, channel)
    number = channel or (chosen[0].channel + 1 if chosen else DRUM_CHANNEL)
    tracks = tuple(sorted({voice.track for voice in chosen}))
    return gather_drums(file, number, tracks, key_map, tuple(warnings))


def gather_drums(
    file: SmfFile, channel: int, tracks: tuple[int, ...], key_map: KeyMap = GM, warnings: tuple[str, ...] = ()
) -> DrumPart:
    """The notes of one channel (from 1) in some tracks (from 0) as drums."""
    rows, duplicates = _strokes(file, channel - 1, tracks)
    meters, more = meters_of(file)
    ends = [track.end_tick for track in file.tracks]
    last = max((int(track.notes.tick.max()) for track in file.tracks if len(track.notes)), default=-1)
    bars = lay_bars(meters, file.tempos, file.division, max(ends, default=0), last)
    end = round(float(bars[-1].start + file.division * bars[-1].meter.quarters)) if bars else 0
    more += _inside_bars(meters, bars, end)
    said = [_placed(str(warning.message), warning.track, warning.tick, bars) for warning in file.warnings]
    others = [
        OtherTrack(number + 1, file.tracks[number].name, notes, used)
        for number, notes, used in _others(_voices(file), channel - 1, tracks)
    ]
    return DrumPart(
        file.division,
        channel,
        tracks,
        tick=rows[0],
        note=rows[1],
        velocity=rows[2],
        duration=rows[3],
        track=rows[4],
        origin=rows[5],
        bars=bars,
        end=end,
        tempos=file.tempos,
        key_map=key_map,
        duplicates=duplicates,
        warnings=(*said, *more, *warnings),
        other_tracks=tuple(others),
        controls=_controls(file, channel - 1, tracks),
    )


def _placed(message: str, track: int, tick: int, bars: tuple[Bar, ...]) -> str:
    if not track:
        return message
    bar = f", bar {bar_number(bars, tick)}" if bars else ""
    return f"track {track}, tick {tick}{bar}: {message}"


def _voices(file: SmfFile) -> list[_Voice]:
    found = []
    for number, track in enumerate(file.tracks):
        notes = track.notes
        for channel in np.unique(notes.channel).tolist():
            pitches = notes.note[notes.channel == channel]
            inside = bool(np.all((pitches >= DRUM_NOTES[0]) & (pitches <= DRUM_NOTES[1])))
            found.append(_Voice(number, channel, track.name, len(pitches), inside))
    return found


def _choose(voices: list[_Voice], channel: int | None) -> tuple[list[_Voice], list[str]]:
    """The voices that are the drums, and a warning where they had to be guessed."""
    wanted = (channel or DRUM_CHANNEL) - 1
    chosen = [voice for voice in voices if voice.channel == wanted]
    if chosen:
        return chosen, []
    if not voices:
        return [], ["the file has no notes"]
    if channel is not None:
        raise FormatError(f"channel {channel} has no notes", allowed=_listed(voices), hint="another --channel")
    named = [voice for voice in voices if any(word in voice.name.lower() for word in DRUM_WORDS)]
    for guessed, why in ((named, "its name says drums"), ([v for v in voices if v.in_range], "its notes are drums'")):
        if len(guessed) == 1:
            voice = guessed[0]
            name = f" {voice.name!r}" if voice.name else ""
            return guessed, [
                f"channel 10 has no notes: track {voice.track + 1}{name} on channel {voice.channel + 1} "
                f"was taken, since {why}"
            ]
        if guessed:
            raise FormatError(
                "channel 10 has no notes, and more than one track may be the drums",
                found=_listed(guessed),
                hint="--channel N",
            )
    raise FormatError(
        "channel 10 has no notes, and no track looks like drums", found=_listed(voices), hint="--channel N"
    )


def _listed(voices: list[_Voice]) -> str:
    named = [f"channel {v.channel + 1} (track {v.track + 1}{': ' + v.name if v.name else ''})" for v in voices[:16]]
    return ", ".join(named) + (" ..." if len(voices) > 16 else "")


def _controls(file: SmfFile, channel: int, tracks: tuple[int, ...]) -> dict[str, int]:
    """How many controllers and the like the drums' channel has in its tracks; they are kept when it is written."""
    counts: dict[str, int] = {}
    for number in tracks:
        status = file.tracks[number].events.status
        for kind, name in CONTROLS.items():
            if found := int(np.count_nonzero(status == (kind << 4 | channel))):
                counts[name] = counts.get(name, 0) + found
    return counts


def _others(voices: list[_Voice], channel: int, tracks: tuple[int, ...]) -> list[tuple[int, int, tuple[int, ...]]]:
    """(track, notes, channels from 1) of everything that is no drums."""
    rest: dict[int, list[_Voice]] = {}
    for voice in voices:
        if voice.channel != channel or voice.track not in tracks:
            rest.setdefault(voice.track, []).append(voice)
    return [(track, sum(v.notes for v in of), tuple(v.channel + 1 for v in of)) for track, of in rest.items()]


def _strokes(file: SmfFile, channel: int, tracks: tuple[int, ...]) -> tuple[list[IntArray], int]:
    """The columns tick, note, velocity, duration, track, origin; and how many doubles were left out."""
    pieces: list[list[IntArray]] = [[] for _ in COLUMNS]
    for number in tracks:
        notes = file.tracks[number].notes
        rows = np.flatnonzero(notes.channel == channel)
        columns = (notes.tick, notes.note, notes.velocity, notes.duration)
        for piece, column in zip(pieces, columns):
            piece.append(column[rows])
        pieces[4].append(np.full(len(rows), number, np.int64))
        pieces[5].append(rows.astype(np.int64))
    joined = [np.concatenate(piece) if piece else np.empty(0, np.int64) for piece in pieces]
    rows = louder_of_doubles(joined[0], joined[1], joined[2])
    return [column[rows] for column in joined], len(joined[0]) - len(rows)


def meters_of(file: SmfFile) -> tuple[list[tuple[int, Meter]], list[str]]:
    """The metres of the file; figures that make no metre are left out with a warning."""
    found, warnings = [], []
    for tick, upper, lower in file.meters:
        try:
            found.append((tick, Meter(upper, lower)))
        except MusicError:
            warnings.append(f"tick {tick}: {upper}/{lower} is no metre; the one before stays")
    return found, warnings


def _inside_bars(meters: list[tuple[int, Meter]], bars: tuple[Bar, ...], end: int) -> list[str]:
    """A warning for changes of metre that stand on no bar line."""
    held, found = Meter(4, 4), []
    for tick, meter in meters:
        if meter != held and tick < end and bars[bar_number(bars, tick) - 1].tick != tick:
            found.append(tick)
        held = meter
    if not found:
        return []
    more = f" ({len(found)} times)" if len(found) > 1 else ""
    place = f"tick {found[0]}, bar {bar_number(bars, found[0])}"
    return [f"{place}: the metre changes inside the bar; bars count by it from the next bar line{more}"]
