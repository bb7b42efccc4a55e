"""Bars as a drummer played them, laid over an arrangement: every stroke where it stood and as loud as it was.

A changed bar takes no part in swing, looseness and shaped levels, and all other bars sound as they would without
it: their timing and levels go by the bars as they were arranged.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from grooveforge.core import looseness
from grooveforge.core.breathing import GRACE_SECONDS
from grooveforge.core.kit import GHOST, GRACE_STROKES, SURFACE_CODES, Kind, sounding
from grooveforge.core.played_bar import Changes, Grace, Place, PlayedBar
from grooveforge.core.section import Arrangement, Section, Span
from grooveforge.core.spans import cut_at_bar
from grooveforge.core.strokes import Events
from grooveforge.core.words import listed, runs


def places_of(sections: Iterable[Section]) -> list[Place]:
    """The place of every bar of a song, in order."""
    counts: dict[str, int] = {}
    found = []
    for section in sections:
        counts[section.name] = counts.get(section.name, 0) + 1
        found += [Place(section.name, counts[section.name], bar + 1) for bar in range(section.bars)]
    return found


def with_changes(arrangement: Arrangement, changes: Changes, source: str) -> Arrangement:
    """An arrangement with changed bars in place of its own.

    A bar whose section has moved in the form moves along; one whose place is gone, or has another metre now, is
    left out. Notes of the arrangement say what was done.

    Parameters
    ----------
    source : the name of the file that holds them, for the notes.
    """
    if not changes:
        return arrangement
    numbers = {place: number for number, place in enumerate(places_of(arrangement.sections), 1)}
    meters = [span.groove.meter for section in arrangement.sections for span in section.spans
              for _ in range(span.groove.bars)]  # fmt: skip
    found: dict[int, PlayedBar] = {}
    notes: list[str] = []
    for number, change in sorted(changes.items()):
        at = number if change.place is None else numbers.get(change.place)
        if at is None or at > len(meters):
            notes.append(f"bar {number} of {source} is left out: {_absent(change.place, len(meters))}")
            continue
        meter, own = meters[at - 1], change.bar.groove.meter
        if (meter.upper, meter.lower) != (own.upper, own.lower):
            notes.append(f"bar {number} of {source} is left out: it is in {own}, and the bar is in {meter} now")
            continue
        if at != number:
            notes.append(f"bar {number} of {source}, {change.place}, is bar {at} now")
        found[at] = replace(change.bar, groove=replace(change.bar.groove, meter=meter))
    if found:
        notes.insert(0, f"played as in {source}: {_numbers(sorted(found))}")
    sections = tuple(_with_bars(section, found) for section in arrangement.sections)
    return replace(arrangement, sections=sections, notes=(*arrangement.notes, *notes))


def _absent(place: Place | None, bars: int) -> str:
    return f"the song has {bars} bars" if place is None else f"the song has no {place} any more"


def _numbers(bars: Sequence[int]) -> str:
    """Bar numbers, runs drawn together: "bar 11", "bars 11-12 and 15"."""
    return f"bar{'s' if len(bars) > 1 else ''} {listed(runs(bars))}"


def _with_bars(section: Section, found: Mapping[int, PlayedBar]) -> Section:
    mine = {bar: found[bar] for bar in range(section.bar, section.bar + section.bars) if bar in found}
    if not mine:
        return section
    spans = section.spans
    for number, played in mine.items():
        before, rest = cut_at_bar(spans, number)
        (span, *_), after = cut_at_bar(rest, number + 1)
        spans = (*before, Span(number, played.groove, own=span.own), *after)
    return replace(section, spans=spans, arranged=section.spans, played=tuple(mine.items()))


# -- events ---------------------------------------------------------------------------------------------


def with_played(section: Section, events: Events, division: int, start: int) -> Events:
    """A section's events with those of its changed bars in place of the arranged ones.

    Parameters
    ----------
    events : of the section as it was arranged, in any order. start : the section's first tick.
    """
    mine = dict(section.played)
    place = events.tick - events.offset
    kept = np.ones(place.size, bool)
    pieces = []
    for begin, span in section.placed_spans:
        if span.bar not in mine:
            continue
        low = start + int(4 * begin * division)
        kept &= (place < low) | (place >= low + int(4 * span.groove.whole * division))
        pieces.append(_bar_events(mine[span.bar], (division, start, low), section))
    return Events.joined([events.rows(kept), *pieces])


def _bar_events(bar: PlayedBar, at: tuple[int, int, int], section: Section) -> Events:
    """The events of one bar; `at`: ticks to a quarter, the section's first tick, the bar's."""
    division, start, low = at
    rows: list[tuple[int, int, int, int, int]] = []
    graces: dict[tuple[str, int], list[Grace]] = {}
    for grace in bar.graces:
        graces.setdefault((grace.surface, grace.step), []).append(grace)
    for name, lane in bar.groove.voices:
        for step in lane.struck.tolist():
            kind, velocity = Kind(int(lane.kind[step])), int(lane.velocity[step])
            surface, _ = sounding(name, kind, velocity)
            code = SURFACE_CODES[surface]
            place = low + step * 4 * division // bar.groove.grid
            tick = max(0, place + round(float(lane.offset[step]) * division))
            rows.append((tick, code, velocity, int(kind), tick - place))
            own = graces.get((surface, step))
            for late, level in _graces(kind, own, (tick - place, division), section, tick - start):
                if place + late >= 0:
                    rows.append((place + late, code, level, int(Kind.GHOST), late))
    columns = np.array(rows, np.int64).reshape(-1, 5).T
    return Events(columns[0], columns[1], columns[2].astype(np.uint8), columns[3].astype(np.uint8), columns[4])


def _graces(
    kind: Kind, written: list[Grace] | None, at: tuple[int, int], section: Section, tick: int
) -> list[tuple[int, int]]:
    """(ticks after the place, level) of a stroke's grace strokes; `at`: those of the stroke, ticks to a quarter."""
    late, division = at
    if written is not None:
        return [(round(grace.late * division), grace.velocity) for grace in written]
    ms = np.array([1000 * GRACE_SECONDS * number for number in range(1, GRACE_STROKES.get(kind, 0) + 1)])
    gaps = looseness.ticks_of(ms, np.full(ms.size, tick), section.tempo, division)
    return [(late - max(int(gap), number), GHOST) for number, gap in enumerate(gaps.tolist(), 1)]
