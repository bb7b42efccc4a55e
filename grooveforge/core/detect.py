"""Which feel a bar has: read from the strokes alone.

The rules are house rules built on the feel table: a bar's snare is compared with every feel's backbeats by
F1 (the harmonic mean of precision and recall), kicks on the skeleton break a tie.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.detect_hand import may_keep_time
from grooveforge.core.feel_fit import Fit, matches
from grooveforge.core.feel_readings import MATCH, OWN_BACKBEATS, TABLE, Reading, cycle_of, readings
from grooveforge.core.feel_table import D_BEAT, DOUBLE, FULL, HALF, RUNG, FeelPattern
from grooveforge.core.groove import SNARE, Groove
from grooveforge.core.kit import BACKBEAT_SURFACES, BANDS, Kind
from grooveforge.core.meter import Meter

ROLL_STEP = 1 / 16 + 1e-9
ROLL_STROKES = 3
"""Three or more snare strokes a sixteenth or less apart with no kick between are a roll."""

GHOST_TOP = BANDS[0].high

Places = NDArray[np.float64]


@dataclass(frozen=True)
class BarFeel:
    """The feel of one bar; `feel` is None for a fill or a stop, `variant` says in which way it is played."""

    feel: str | None
    spelling: str | None = None
    variant: str = TABLE

    @property
    def own(self) -> bool:
        """Whether its backbeats stand elsewhere than the table's."""
        return self.variant in OWN_BACKBEATS

    def cycle(self, meter: Meter) -> FeelPattern | None:
        """Its kicks and backbeats; None for no feel."""
        return None if self.feel is None else cycle_of(meter, self.feel, self.spelling, self.variant)


NO_FEEL = BarFeel(None)


def loud_strokes(groove: Groove) -> list[tuple[float, str, int]]:
    """Snare, side stick and hand clap above the ghost band: (whole notes from the start, surface, step), rising."""
    return sorted(
        (step / groove.grid, name, step) for name in BACKBEAT_SURFACES for step in _above_ghosts(groove, name)
    )


def candidates(groove: Groove, surfaces: Sequence[str] = BACKBEAT_SURFACES) -> list[tuple[float, str, int]]:
    """The strokes on some surfaces that may be backbeats: the loud ones that are no part of a roll."""
    kicks = groove.lane_on("kick").struck / groove.grid
    rolls = _rolls([stroke for stroke in loud_strokes(groove) if stroke[1] in surfaces], kicks)
    return [stroke for roll, strokes in rolls if not roll for stroke in _one_each(strokes)]


def _one_each(strokes: list[tuple[float, str, int]]) -> Iterator[tuple[float, str, int]]:
    """Strokes that cannot be two backbeats count once, by the first: a clap on the snare, an echo of it."""
    last = float("-inf")
    for stroke in strokes:
        if stroke[0] - last > MATCH:
            last = stroke[0]
            yield stroke


def _above_ghosts(groove: Groove, name: str) -> list[int]:
    lane = groove.lane_on(name)
    loud = (lane.velocity > GHOST_TOP) & (lane.kind != Kind.GHOST)
    return [int(step) for step in np.flatnonzero(loud)]


def _rolls(
    strokes: list[tuple[float, str, int]], kicks: Places
) -> Iterable[tuple[bool, list[tuple[float, str, int]]]]:
    """Cut strokes into runs a sixteenth or less apart; True for those that are rolls."""
    run: list[tuple[float, str, int]] = []
    for stroke in [*strokes, (float("inf"), "", -1)]:
        if run and stroke[0] - run[-1][0] > ROLL_STEP:
            between = int(np.searchsorted(kicks, run[-1][0] - 1e-9) - np.searchsorted(kicks, run[0][0] + 1e-9))
            yield len(run) >= ROLL_STROKES and between <= 0, run
            run = []
        run.append(stroke)


class _Reader:
    """The strokes of a groove, cut into windows of bars and scored against the feels."""

    def __init__(self, groove: Groove, surfaces: tuple[str, ...] = BACKBEAT_SURFACES) -> None:
        self.meter, self.bars = groove.meter, groove.bars
        self.snares = np.array([place for place, _, _ in candidates(groove, surfaces)])
        self.kicks = groove.lane_on("kick").struck / groove.grid
        self._groove = groove
        self._windows: dict[tuple[int, int], tuple[list[float], list[float]]] = {}

    @cached_property
    def hands(self) -> Places:
        """Where some hand that may keep time strikes."""
        struck = [lane.struck for name, lane in self._groove.voices if may_keep_time(name)]
        # As np.unique would, which imports masked arrays at its first call: more than a song takes to arrange.
        return np.array(sorted(set(np.concatenate(struck).tolist()))) / self._groove.grid if struck else np.empty(0)

    def hand_in_every_beat(self, bar: int) -> bool:
        """Whether some hand that may keep time strikes in every beat of a bar."""
        struck = np.searchsorted([float(beat) for beat in self.meter.beats], self.window(self.hands, bar, 1), "right")
        return len(set(struck.tolist()) - {0}) == len(self.meter.beats)

    def window(self, places: Places, first: int, bars: int) -> list[float]:
        bar = float(self.meter.whole)
        # A stroke just before a bar line may be the downbeat's: the window is shifted by the tolerance.
        low, high = np.searchsorted(places, (first * bar - MATCH, (first + bars) * bar - MATCH))
        return [float(place) - first * bar for place in places[low:high]]

    def fits(self, bar: int) -> list[Fit]:
        """All feels that one bar may have."""
        best: list[Fit] = []
        for reading in readings(self.meter):
            bars = reading.cycle.bars
            starts = [bar - phase for phase in range(bars) if 0 <= bar - phase <= self.bars - bars]
            found = [fit for first in starts if (fit := self.fit(reading, first)).is_feel]
            if found:
                best.append(max(found, key=lambda fit: (fit.f1, fit.kick_share)))
        return best

    def fit(self, reading: Reading, first: int) -> Fit:
        """One reading's cycle begun at a bar."""
        where = (first, reading.cycle.bars)
        if where not in self._windows:
            self._windows[where] = (self.window(self.snares, *where), self.window(self.kicks, *where))
        return Fit(self.meter, reading, *self._windows[where])


def _played_before(reader: _Reader, bar: int, feel: str | None) -> bool:
    """Whether a bar plays a feel until a fill begins behind one of its backbeats.

    The feel is the one of the bar before. All of its backbeats and no other snare stroke stand before the fill,
    which begins in the second half of the bar, or right behind a backbeat there.
    """
    for reading in readings(reader.meter):
        cycle = reading.cycle
        if reading.feel != feel or cycle.bars > 1:
            continue
        whole = float(reader.meter.whole)
        places = [float(place) for place in cycle.backbeats]
        snares, kicks = reader.window(reader.snares, bar, 1), reader.window(reader.kicks, bar, 1)
        for end in [place + MATCH for place in places if place >= whole / 2 - MATCH] + [whole / 2 - MATCH]:
            due, played = [p for p in places if p < end], [p for p in snares if p < end]
            if due and len(due) == len(played) == len(matches(played, due)):
                return bool(matches(kicks, [float(cycle.kicks[0])]))
    return False


def _higher(one: list[Fit], other: list[Fit]) -> list[Fit]:
    """Of two readings of a bar the one with the higher best score; a side stick may play on under a snare."""
    tops = [max((fit.f1 for fit in fits), default=0.0) for fits in (one, other)]
    return other if tops[1] > tops[0] else one


def _best(fits: list[Fit]) -> list[Fit]:
    """The feels that no rule inside the bar tells apart: best F1, then most kicks on the skeleton."""
    if not fits:
        return []
    top = max((fit.f1, fit.kick_share) for fit in fits)
    best = [fit for fit in fits if (fit.f1, fit.kick_share) == top]
    # A d-beat has double's backbeats; where its extra kicks have been found, it is one.
    beats = [fit for fit in fits if fit.f1 == top[0] and fit.reading.feel == D_BEAT]
    return beats if beats and all(fit.reading.feel in (DOUBLE, D_BEAT) for fit in best) else best


@lru_cache(maxsize=512)
def bar_feels(groove: Groove) -> tuple[BarFeel, ...]:
    """The feel of every bar of a groove, in order.

    Ties go to what the bar before, then the bar after has, then to the slower feel.
    """
    reader = _Reader(groove)
    read = [reader.fits(bar) for bar in range(groove.bars)]
    on_snare = _Reader(groove, (SNARE,))
    if on_snare.snares.tolist() != reader.snares.tolist():
        read = [_higher(fits, on_snare.fits(bar)) for bar, fits in enumerate(read)]
    open_choices = [_best(fits) for fits in read]
    decided: list[BarFeel] = []
    for bar, choices in enumerate(open_choices):
        after = open_choices[bar + 1] if bar + 1 < groove.bars else []
        if not choices:
            heard = [held for held in decided if held.feel][-1:] + [_as_feel(fit) for fit in after[:1]]
            held = next((held for held in heard if _played_before(reader, bar, held.feel)), NO_FEEL)
            decided.append(held if held.feel else _among_others(reader, bar))
            continue
        feels = {fit.reading.feel for fit in choices}
        if len(feels) > 1:
            next_feels = {fit.reading.feel for fit in after}
            wishes = (decided[-1].feel if decided else None, *(next_feels if len(next_feels) == 1 else ()))
            wish = [feel for feel in wishes if feel in feels]
            chosen = wish[0] if wish else min(feels, key=lambda feel: (RUNG[feel], feel))
            choices = [fit for fit in choices if fit.reading.feel == chosen]
        decided.append(_as_feel(min(choices, key=lambda fit: (fit.reading.variant != TABLE, fit.differing))))
    return tuple(decided)


def _as_feel(fit: Fit) -> BarFeel:
    return BarFeel(fit.reading.feel, fit.reading.spelling, fit.reading.variant)


def _among_others(reader: _Reader, bar: int) -> BarFeel:
    """Half or full time whose backbeats all stand among more snare strokes, while kick and hand go on.

    The kick begins the bar and keeps off the backbeats, and the hand strikes in every beat.
    """
    if not reader.hand_in_every_beat(bar):
        return NO_FEEL
    fits = [
        fit
        for reading in readings(reader.meter)
        if reading.feel in (HALF, FULL) and reading.cycle.bars == 1
        if (fit := reader.fit(reading, bar)).places and len(fit.met) == len(fit.places)
        if matches(fit.kicks, fit.skeleton[:1]) and not matches(fit.kicks, fit.places)
    ]
    return _as_feel(max(fits, key=lambda fit: (fit.f1, fit.kick_share))) if fits else NO_FEEL


def vote(feels: Iterable[BarFeel], counted: Iterable[bool]) -> BarFeel:
    """The feel of most of the bars that count; a tie goes to the slower one."""
    votes = Counter(feel for feel, counts in zip(feels, counted) if counts)
    if not votes:
        return NO_FEEL
    by_feel: Counter[str | None] = Counter()
    for bar, count in votes.items():
        by_feel[bar.feel] += count
    feel = max(by_feel, key=lambda name: (by_feel[name], -RUNG[name] if name else -99))
    return max((bar for bar in votes if bar.feel == feel), key=lambda bar: votes[bar])
