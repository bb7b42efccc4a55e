"""A performance as Standard MIDI Files in one canonical form: the song, its tempo map, its click.

General MIDI: drums on channel 10; track 1 holds tempo, metre, markers, names and text only (SMF 1.0, MMA
RP-001). The same performance gives the same bytes on every machine.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.count_in import count_in_ticks, with_count_in
from grooveforge.core.kit import ACCENT, NORMAL, SURFACE_NAMES, Kind
from grooveforge.core.meter import Meter
from grooveforge.core.perform import Performance
from grooveforge.core.tempo import microseconds
from grooveforge.errors import UsageError
from grooveforge.formats.keymap import GM, NOTES, KeyMap, Meeting, Replacement
from grooveforge.formats.smf import louder_of_doubles
from grooveforge.formats.smf_events import marker_event, meter_event, name_event, tempo_event, text_event
from grooveforge.formats.smf_write import NotesOut, TrackOut, write_smf

DRUM_CHANNEL = 10
"""The drums' channel in General MIDI, counted from 1."""

LONGEST_MARKER = 30
"""Characters of a marker; longer ones are cut by many hosts (house rule)."""

CLICK_NOTES = (76, 77)
"""General MIDI's high and low wood block: the click on beat 1 and on the other beats."""

CLICK = "Click"

LEAST_SECONDS = 0.020
"""A note shorter than this is written only where two strokes of a note stand closer."""

Ints = NDArray[np.int64]
Value = TypeVar("Value")


@dataclass(frozen=True)
class MidiOptions:
    """How a song's file is laid out.

    Parameters
    ----------
    format : 0 or 1. channel : 1 to 16. split_surfaces : a track for each surface instead of one drum track.
    key_map : which note a surface has; None for the sheet's, or General MIDI where there is no sheet.
    """

    format: int = 1
    channel: int = DRUM_CHANNEL
    split_surfaces: bool = False
    key_map: KeyMap | None = None

    def __post_init__(self) -> None:
        if self.format not in (0, 1):
            raise UsageError("no such format of a MIDI file", found=str(self.format), allowed="0 or 1")
        if not 1 <= self.channel <= 16:
            raise UsageError("no such MIDI channel", found=str(self.channel), allowed="1 to 16; drums are 10")
        if self.split_surfaces and self.format == 0:
            raise UsageError("a format 0 file has one track", hint="--format 1 with --split surfaces")


@dataclass(frozen=True)
class Written:
    """A MIDI file and what its making had to say."""

    data: bytes
    replacements: tuple[Replacement, ...] = ()
    warnings: tuple[str, ...] = ()
    meetings: tuple[Meeting, ...] = ()


def tempo_text(bpm: Fraction) -> str:
    """A tempo in full: as a decimal where it ends, else with the fraction behind it."""
    plain = f"{float(bpm):.6f}".rstrip("0").rstrip(".")
    return plain if Fraction(plain) == bpm else f"{plain} ({bpm})"


def conductor(performance: Performance, title: str, markers: bool = True) -> list[tuple[int, bytes]]:
    """The events of track 1: name, metre, tempo (with the exact tempo as text) and markers."""
    events = [(0, name_event(title))]
    events += [(tick, meter_event(meter.upper, meter.lower)) for tick, meter in performance.meters]
    for tick, bpm in performance.tempos:
        events.append((tick, tempo_event(microseconds(bpm))))
        events.append((tick, text_event(f"tempo {tempo_text(bpm)}")))
    if markers:
        events += [(tick, marker_event(name, LONGEST_MARKER)) for tick, name in performance.markers]
    return sorted(events, key=lambda event: event[0])


def song_midi(
    performance: Performance, title: str, options: MidiOptions | None = None, clicks: NotesOut | None = None
) -> Written:
    """The whole song as a MIDI file; clicks have a track of their own, or join the one of format 0."""
    options = options or MidiOptions()
    events = performance.events
    notes, velocities, replacements = (options.key_map or GM).apply(events.surface, events.velocity)
    lasts = _durations(performance, notes)
    rows = louder_of_doubles(events.tick, notes, velocities.astype(np.int64))

    def picked(chosen: Ints) -> NotesOut:
        loud = velocities[chosen].astype(np.int64)
        return NotesOut(events.tick[chosen], notes[chosen], loud, lasts[chosen], options.channel - 1)

    head = conductor(performance, title)
    warnings = _close_strokes(performance, events.tick[rows], notes[rows], lasts[rows])
    if options.format == 0:
        tracks = [TrackOut(head, _with_clicks(picked(rows), clicks), performance.end)]
    else:
        tracks = [TrackOut(head, end_tick=performance.end)]
        for name, chosen in _tracks(events.surface[rows], options.split_surfaces):
            tracks.append(TrackOut([(0, name_event(name))], picked(rows[chosen]), performance.end))
        if clicks is not None:
            tracks.append(TrackOut([(0, name_event(CLICK))], clicks, performance.end))
    data = write_smf(options.format, performance.division, tracks)
    return Written(data, replacements, warnings, _meetings(events.tick, notes, events.surface, rows))


def _with_clicks(notes: NotesOut, clicks: NotesOut | None) -> NotesOut:
    if clicks is None:
        return notes
    return NotesOut(
        np.concatenate((clicks.tick, notes.tick)),
        np.concatenate((clicks.note, notes.note)),
        np.concatenate((clicks.velocity, notes.velocity)),
        np.concatenate((clicks.duration, notes.duration)),
        notes.channel,
    )


def _tracks(codes: Ints, split: bool) -> list[tuple[str, NDArray[np.bool_]]]:
    if not split:
        return [("Drums", np.ones(codes.size, bool))]
    return [(SURFACE_NAMES[int(code)], codes == code) for code in np.unique(codes)]


def _durations(performance: Performance, notes: Ints) -> Ints:
    """A sixteenth (an eighth for a choked stroke), or up to the next onset of the same note."""
    tick = performance.events.tick
    sixteenth = performance.division // 4
    wanted = np.where(performance.events.kind == Kind.CHOKE, 2 * sixteenth, sixteenth)
    order = np.lexsort((tick, notes))
    sorted_tick, sorted_note = tick[order], notes[order]
    gap = np.full(tick.size, np.iinfo(np.int64).max)
    if tick.size > 1:
        ahead = np.diff(sorted_tick)
        same = (np.diff(sorted_note) == 0) & (ahead > 0)
        gap[:-1][same] = ahead[same]
    lasts = np.empty(tick.size, np.int64)
    lasts[order] = np.minimum(gap, wanted[order])
    return lasts


def _meetings(tick: Ints, notes: Ints, surfaces: Ints, kept: Ints) -> tuple[Meeting, ...]:
    """What there is to say of strokes that `louder_of_doubles` left out: a line for each note and set of surfaces."""
    lost = np.ones(tick.size, bool)
    lost[kept] = False
    places = tick * NOTES + notes
    met = np.isin(places, places[lost])
    struck: dict[int, list[int]] = {}
    for place, surface in zip(places[met].tolist(), surfaces[met].tolist()):
        struck.setdefault(place, []).append(surface)
    counts: dict[tuple[int, tuple[str, ...]], int] = {}
    for place, codes in struck.items():
        key = (place % NOTES, tuple(SURFACE_NAMES[code] for code in sorted(set(codes))))
        counts[key] = counts.get(key, 0) + len(codes) - 1
    return tuple(Meeting(note, names, count) for (note, names), count in sorted(counts.items()))


def _close_strokes(performance: Performance, tick: Ints, notes: Ints, lasts: Ints) -> tuple[str, ...]:
    """A warning for notes that are shorter than 20 ms, since the next stroke of theirs is so close."""
    fastest = max((float(bpm) for _, bpm in performance.tempos), default=120.0)
    if not lasts.size or int(lasts.min()) * 60 / (fastest * performance.division) >= LEAST_SECONDS:
        return ()
    at = np.array([start for start, _ in performance.tempos])
    seconds = np.array([60 / float(bpm) / performance.division for _, bpm in performance.tempos])
    short = lasts * seconds[np.searchsorted(at, tick, side="right") - 1] < LEAST_SECONDS
    if not short.any():
        return ()
    first = int(np.flatnonzero(short)[0])
    return (
        f"{int(short.sum())} notes are shorter than {LEAST_SECONDS * 1000:.0f} ms, since their next stroke is so "
        f"close; the first is note {int(notes[first])} at tick {int(tick[first])}",
    )


def tempo_midi(performance: Performance, title: str) -> bytes:
    """Tempo map, metres and markers as a file without notes."""
    return write_smf(1, performance.division, [TrackOut(conductor(performance, title), end_tick=performance.end)])


def beats(performance: Performance) -> list[tuple[int, int, int]]:
    """Every beat of the song as (tick, bar from 1, beat from 1), metres followed."""
    found = []
    bar = 1
    ends = [tick for tick, _ in performance.meters[1:]] + [performance.end]
    for (start, meter), end in zip(performance.meters, ends):
        length = int(meter.quarters * performance.division)
        places = [int(4 * beat * performance.division) for beat in meter.beats]
        for line in range(start, end, length):
            found += [(line + place, bar, number) for number, place in enumerate(places, 1)]
            bar += 1
    return found


def click_notes(performance: Performance, end: int | None = None) -> NotesOut:
    """A click on every beat up to tick `end` (None: to the end), the bar's first louder and higher."""
    listed = np.array(beats(performance), np.int64).reshape(-1, 3)
    listed = listed[listed[:, 0] < (performance.end if end is None else end)]
    first = listed[:, 2] == 1
    lasts = np.full(len(listed), performance.division // 4)
    return NotesOut(listed[:, 0], np.where(first, *CLICK_NOTES), np.where(first, ACCENT, NORMAL), lasts)


def click_midi(performance: Performance, title: str, count_in: int = 0) -> bytes:
    """A click on every beat along the song's tempo map and metres, `count_in` bars of it before bar 1."""
    counted = with_count_in(performance, count_in)
    head = conductor(counted, f"{title} click")
    track = TrackOut([(0, name_event(CLICK))], click_notes(counted), counted.end)
    return write_smf(1, counted.division, [TrackOut(head, end_tick=counted.end), track])


def count_in_midi(performance: Performance, title: str, bars: int, options: MidiOptions | None = None) -> bytes:
    """The whole song behind `bars` bars of clicks, to record against."""
    clicks = click_notes(with_count_in(performance, bars), count_in_ticks(performance, bars))
    return song_midi(with_count_in(performance, bars), title, options, clicks).data


def tempo_table(performance: Performance) -> str:
    """A text table of bar, beat, metre and tempo: a line for each change of either."""
    lines = ["bar  beat  metre  tempo (quarter notes a minute)"]
    metres = dict(performance.meters)
    tempi = dict(performance.tempos)
    for tick in sorted({*metres, *tempi}):
        bar, beat = place_of(performance, tick)
        metre = _at(performance.meters, tick)
        lines.append(f"{bar:<5}{_plain(beat):<6}{metre!s:<7}{tempo_text(_at(performance.tempos, tick))}")
    return "\n".join(lines) + "\n"


def place_of(performance: Performance, tick: int) -> tuple[int, Fraction]:
    """Bar from 1 and place in it, in quarter notes from 1, of a tick."""
    bar = 1
    starts: Sequence[tuple[int, Meter]] = performance.meters
    for index, (start, meter) in enumerate(starts):
        length = int(meter.quarters * performance.division)
        end = starts[index + 1][0] if index + 1 < len(starts) else None
        if end is None or tick < end:
            inside, rest = divmod(tick - start, length)
            return bar + inside, 1 + Fraction(rest, performance.division)
        bar += (end - start) // length
    return bar, Fraction(1)


def _at(changes: Sequence[tuple[int, Value]], tick: int) -> Value:
    return [value for at, value in changes if at <= tick][-1]


def _plain(beat: Fraction) -> str:
    return f"{float(beat):g}"
