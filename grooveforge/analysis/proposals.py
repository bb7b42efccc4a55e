"""Changes that may remove a finding, in the order in which they are tried.

The smallest come first, and of equally small ones those that a listener misses least.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain, combinations

import numpy as np

from grooveforge.analysis.bars import bar_lines
from grooveforge.analysis.changes import Change, Stroke
from grooveforge.analysis.findings import Finding, Reason
from grooveforge.analysis.instants import CLOSE_SECONDS, Ints, without_graces
from grooveforge.analysis.limbs import FEET
from grooveforge.analysis.options import KICK, PEDAL, RANK
from grooveforge.analysis.zones import ZONE_OF_CODE
from grooveforge.core.kit import GRACE_STROKES, HI_HATS, SURFACE_CODES, SURFACE_NAMES, Kind
from grooveforge.core.perform import Performance

SHORT = 12
"""Strokes of a passage up to which one or two of them are looked for; longer ones are thinned first."""

STRAIGHT, TRIPLE = (2,), (3, 2)
"""How many steps of a lane become one of the next slower subdivision: sixteenths to eighths, triplets to their beat."""

_NEAR = (
    ("crash", "second crash", "china", "splash"),
    ("ride", "second ride"),
    ("high tom", "hi-mid tom", "low-mid tom", "low tom", "high floor tom", "floor tom"),
)
"""Surfaces that stand in for one another when a hand cannot get there in time."""

REACH_SECONDS = 0.2
"""How far round an instant a stroke may stand whose absence frees a hand."""

Mark = tuple[Reason, int, int]
"""A finding by its reason and the ticks of its first and last instant."""


def candidates(window: Performance, finding: Finding, mark: Mark) -> Iterator[Change]:
    """Changes that may remove a finding, the smallest and least missed first.

    Parameters
    ----------
    mark : the finding's, in ticks of the window.
    """
    second = finding.bpm / 60 * window.division
    feet = finding.pair == FEET
    there = [
        row
        for row in _strokes(window, mark[1], mark[2] + round(CLOSE_SECONDS * second))
        if _plays(row[0][1], feet)
    ]
    strokes = [stroke for stroke, _ in there]
    ornate = chain(
        (Change("", plain=(stroke,)) for stroke, kind in there if kind in GRACE_STROKES),
        (Change("", ringing=(stroke,)) for stroke, kind in there if kind == Kind.CHOKE),
    )
    hats = _hat_changes(window, mark) if finding.reason == Reason.HI_HAT_FOOT else ()
    moves = _moves(strokes) if finding.reason in (Reason.TRAVEL, Reason.TWO_SURFACES) else ()
    thinned = _thinned(window, mark, feet) if finding.reason == Reason.RATE else ()
    if len(strokes) > SHORT:
        return chain(thinned, hats, ornate)
    reach = round(REACH_SECONDS * second)
    around = [row for row, _ in _strokes(window, mark[1] - reach, mark[2] + reach) if _plays(row[1], feet)]
    ordered = [*sorted(strokes, key=_missed), *sorted(set(around) - set(strokes), key=_missed)]
    single = (Change("", removed=(stroke,)) for stroke in ordered)
    pairs = (Change("", removed=pair) for pair in combinations(ordered, 2))
    return chain(hats, ornate, moves, single, thinned, pairs)


def _plays(code: int, feet: bool) -> bool:
    """Whether feet, or hands, play a surface."""
    return code in (KICK, PEDAL) if feet else int(ZONE_OF_CODE[code]) >= 0


def _missed(stroke: Stroke) -> tuple[int, int, int]:
    return RANK.get(stroke[1], 0), stroke[0], stroke[1]


def _strokes(window: Performance, first: int, last: int) -> list[tuple[Stroke, int]]:
    """The strokes, without grace strokes, whose places lie from `first` to `last`, with their kinds."""
    events = without_graces(window.events)
    place = np.maximum(events.tick - events.offset, 0)
    rows = np.flatnonzero((place >= first) & (place <= last))
    columns = (place[rows].tolist(), events.surface[rows].tolist(), events.kind[rows].tolist())
    return [((tick, code), kind) for tick, code, kind in zip(*columns)]


def _moves(strokes: list[Stroke]) -> Iterator[Change]:
    """Each stroke on the other surfaces that may stand in for its own, the nearest first."""
    for stroke in sorted(strokes, key=_missed):
        family = next((row for row in _NEAR if SURFACE_NAMES[stroke[1]] in row), ())
        others = [SURFACE_CODES[name] for name in family if SURFACE_CODES[name] != stroke[1]]
        zone = ZONE_OF_CODE[stroke[1]]
        for code in sorted(others, key=lambda code: abs(int(ZONE_OF_CODE[code] - zone))):
            if (stroke[0], code) not in strokes:
                yield Change("", moved=((stroke, code),))


def _hat_changes(window: Performance, mark: Mark) -> Iterator[Change]:
    """A stroke of the pedal left out; a hi-hat left as open as it was, or opened or closed a stroke before."""
    pedal = [row for row, _ in _strokes(window, mark[1], mark[2]) if row[1] == PEDAL]
    yield from (Change("", removed=(row,)) for row in pedal)
    codes = [SURFACE_CODES[name] for name in HI_HATS]
    hats = [row for row, _ in _strokes(window, 0, window.end) if row[1] in codes]
    at = next((index for index, row in enumerate(hats) if row[0] >= mark[1]), 0)
    if at == 0 or pedal:
        return
    here, before = hats[at], hats[at - 1]
    yield Change("", moved=((here, before[1]),))
    yield Change("", moved=((before, here[1]),))
    after = hats[at + 1 : at + 2]
    yield from (Change("", moved=((here, before[1]), (row, before[1]))) for row in after if row[1] != before[1])
    earlier = hats[at - 2 : at - 1]
    yield from (Change("", moved=((before, here[1]), (row, here[1]))) for row in earlier if row[1] != here[1])


def _thinned(window: Performance, mark: Mark, feet: bool) -> Iterator[Change]:
    """Each lane of the limbs on the next slower subdivision over the passage, the busiest lane first."""
    codes = {code for (_, code), _ in _strokes(window, mark[1], mark[2]) if _plays(code, feet)}
    lanes = {code: lane_places(window, code, mark[1], mark[2]) for code in codes - {PEDAL}}
    lines = bar_lines(window)
    for code in sorted(lanes, key=lambda code: (-lanes[code].size, code)):
        ticks = lanes[code]
        if ticks.size < 2:
            continue
        step = int(np.diff(ticks).min())
        triple = window.division % step == 0 and window.division // step % 3 == 0
        for factor in TRIPLE if triple else STRAIGHT:
            spacing = factor * step
            off = off_the_grid(ticks, spacing, lines)
            if 0 < len(off) < ticks.size:
                yield Change("", removed=tuple((tick, code) for tick in off), thinned=code, spacing=spacing)


def lane_places(performance: Performance, code: int, first: int, last: int) -> Ints:
    """The places of a surface's strokes from `first` to `last`, rising."""
    ticks: Ints = np.array([tick for (tick, row), _ in _strokes(performance, first, last) if row == code], np.int64)
    return ticks


def off_the_grid(ticks: Ints, spacing: int, lines: Ints) -> list[int]:
    """The ticks that are no multiple of `spacing` from their bar line."""
    within = ticks - lines[np.searchsorted(lines, ticks, side="right") - 1]
    off: list[int] = ticks[within % spacing != 0].tolist()
    return off
