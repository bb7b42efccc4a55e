"""The drums of a MIDI file as a frozen value: strokes in columns, bars, and what there is to say about them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from math import ceil, lcm

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.kit import UNKNOWN_PREFIX
from grooveforge.core.meter import Meter
from grooveforge.core.tempo import MICROSECONDS_A_MINUTE
from grooveforge.errors import FormatError
from grooveforge.formats.keymap import GM, KeyMap, Replacement
from grooveforge.formats.smf import ArrayValue, IntArray, TempoTable

Floats = NDArray[np.float64]

DEFAULT_MICROSECONDS = 500_000
"""A quarter note where a file says nothing: 120 a minute (SMF 1.0)."""

MOST_BARS = 100_000
"""More bars than this are no song: a slip in a metre or a delta time."""

COLUMNS = ("tick", "note", "velocity", "duration", "track", "origin")


@dataclass(frozen=True)
class Bar:
    """A bar: where its bar line stands in ticks (between two ticks in odd divisions), metre, tempo there."""

    start: Fraction
    meter: Meter
    bpm: float

    @property
    def tick(self) -> int:
        """The bar line, moved to the next whole tick when it stands between two."""
        return ceil(self.start)


@dataclass(frozen=True)
class OtherTrack:
    """A track, or what is left of one, that is no drums: its number from 1, name, notes and channels from 1."""

    number: int
    name: str
    notes: int
    channels: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class DrumPart(ArrayValue):
    """The drums of a file.

    Parameters
    ----------
    division : ticks to a quarter note.
    channel : MIDI channel of the drums, counted from 1.
    tracks : the tracks whose notes of that channel are the drums, counted from 0.
    tick, note, velocity, duration : (n,) int64, sorted by tick, then note; no note twice on one tick.
    track : (n,) the track of each stroke, from 0.
    origin : (n,) its row in that track's note table; -1 for a new one.
    bars : every bar up to the end; the first begins at tick 0.
    end : the bar line after the last bar. tempos : of the whole file.
    duplicates : strokes left out since a louder one of the same note stands on the same tick.
    replacements : what changes had to strike instead of surfaces that the kit lacks.
    controls : controllers, program changes and the like on the drums' channel, by kind; `vary` keeps them.
    """

    division: int
    channel: int
    tracks: tuple[int, ...]
    tick: IntArray
    note: IntArray
    velocity: IntArray
    duration: IntArray
    track: IntArray
    origin: IntArray
    bars: tuple[Bar, ...]
    end: int
    tempos: TempoTable = field(default_factory=TempoTable)
    key_map: KeyMap = GM
    duplicates: int = 0
    warnings: tuple[str, ...] = ()
    other_tracks: tuple[OtherTrack, ...] = ()
    replacements: tuple[Replacement, ...] = ()
    controls: Mapping[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._freeze(COLUMNS, np.int64)

    def __len__(self) -> int:
        return len(self.tick)

    @property
    def surfaces(self) -> IntArray:
        """(n,) surface codes (`kit.SURFACE_CODES`)."""
        return self.key_map.note_to_code[self.note]

    @property
    def unknown_notes(self) -> dict[int, int]:
        """Notes that the key map does not know, with their counts."""
        notes, counts = np.unique(self.note, return_counts=True)
        return {
            note: count
            for note, count in zip(notes.tolist(), counts.tolist())
            if self.key_map.surface_of(note).startswith(UNKNOWN_PREFIX)
        }

    @property
    def tempo_map(self) -> tuple[tuple[int, Fraction], ...]:
        """(tick, quarter notes a minute) of each tempo, as a performance has them; one stands at tick 0."""
        rows = {0: DEFAULT_MICROSECONDS}
        listed = zip(self.tempos.tick.tolist(), self.tempos.microseconds.tolist())
        rows |= {tick: micro for tick, micro in listed if micro}
        return tuple((tick, Fraction(MICROSECONDS_A_MINUTE, micro)) for tick, micro in sorted(rows.items()))

    @property
    def meter_map(self) -> tuple[tuple[int, Meter], ...]:
        """(tick, metre) of the first bar, and of each bar in another metre than the one before it."""
        changed = [*self.bars[:1], *(bar for before, bar in pairwise(self.bars) if bar.meter != before.meter)]
        return tuple((bar.tick, bar.meter) for bar in changed)

    def bar_starts(self) -> Floats:
        """(bars + 1,) exact ticks of all bar lines; they are whole numbers over a power of two."""
        return bar_lines(self.bars, self.division)

    def bar_at(self, tick: int) -> int:
        """The number, from 1, of the bar that a tick stands in."""
        return bar_number(self.bars, tick)

    def seconds_a_tick(self, ticks: IntArray) -> Floats:
        """How long a tick lasts at each of the given ticks."""
        return tempo_at(self.tempos, ticks) / 1e6 / self.division


def bar_lines(bars: Sequence[Bar], division: int) -> Floats:
    """(bars + 1,) exact ticks of all bar lines, the last one behind the last bar; empty without bars."""
    lines = [float(bar.start) for bar in bars]
    lines += [lines[-1] + float(division * bar.meter.quarters) for bar in bars[-1:]]
    return np.array(lines, np.float64)


def figures_of(bars: Sequence[Bar]) -> tuple[IntArray, IntArray]:
    """Upper and lower figures of the bars' metres, (bars,) each."""
    return np.array([bar.meter.upper for bar in bars], np.int64), np.array([bar.meter.lower for bar in bars], np.int64)


def bar_number(bars: Sequence[Bar], tick: int) -> int:
    """The number, from 1, of the bar that a tick stands in."""
    low, high = 0, len(bars)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if bars[middle].start <= tick else (low, middle)
    return low + 1


def tempo_at(tempos: TempoTable, ticks: IntArray) -> Floats:
    """(n,) microseconds a quarter that hold at each tick."""
    row = np.searchsorted(tempos.tick, ticks, side="right")
    return np.concatenate(([DEFAULT_MICROSECONDS], tempos.microseconds)).astype(np.float64)[row]


def plain_bpm(microseconds: int) -> float:
    """The tempo with fewest decimals that a file writes as these microseconds a quarter."""
    exact = MICROSECONDS_A_MINUTE / microseconds
    for digits in range(6):
        short = round(exact, digits)
        if short > 0 and int(Fraction(MICROSECONDS_A_MINUTE) / Fraction(str(short)) + Fraction(1, 2)) == microseconds:
            return short
    return exact


def lay_bars(
    meters: Sequence[tuple[int, Meter]], tempos: TempoTable, division: int, length: int, last: int
) -> tuple[Bar, ...]:
    """The bars from tick 0 to the first bar line at or behind `length` and behind the onset `last`.

    A metre holds from the first bar line at or behind its event; 4/4 until then.

    Raises
    ------
    FormatError
        When there are more than `MOST_BARS`.
    """
    # Counted in parts of a tick, so that bar lines between ticks are whole numbers too.
    parts = lcm(*(Fraction(division * meter.quarters).denominator for _, meter in meters))
    starts: list[int] = []
    of: list[Meter] = []
    start, meter, row = 0, Meter(4, 4), 0
    step, last_part = 4 * division * parts, max(length * parts - 1, last * parts)
    while start <= last_part:
        while row < len(meters) and (meters[row][0] - 1) * parts < start:
            meter = meters[row][1]
            step = int(division * meter.quarters * parts)
            row += 1
        # Bars of one metre in a row: up to the first bar line behind the next metre's event, or to the end.
        until = min(last_part, (meters[row][0] - 1) * parts) if row < len(meters) else last_part
        count = (until - start) // step + 1
        if len(starts) + count > MOST_BARS:
            raise FormatError(
                f"the file is more than {MOST_BARS} bars long",
                place=f"tick {-(-(start + (MOST_BARS - len(starts)) * step) // parts)}",
                found=f"an end at tick {max(length, last)} with {division} ticks to a quarter note",
                hint="cut it where the music ends",
            )
        starts.extend(range(start, start + count * step, step))
        of.extend([meter] * count)
        start += count * step
    ticks = -(-np.array(starts, np.int64) // parts)
    # A file has far fewer tempi than bars, and the plain form of one takes a while to find.
    values, which = np.unique(tempo_at(tempos, ticks), return_inverse=True)
    plain = [plain_bpm(round(value)) for value in values.tolist()]
    bpm = [plain[row] for row in which.tolist()]
    exact = map(Fraction, starts) if parts == 1 else (Fraction(at, parts) for at in starts)
    return tuple(map(Bar, exact, of, bpm))
