"""A section's strokes as they sound: swung, loosened, with their grace strokes and levels.

Every random choice comes from the seed, the part's name and the statement's number, so nothing that changes
in another section touches this one. The song's peak is the one thing that sections have between them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from random import Random
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from grooveforge.core import levels, looseness
from grooveforge.core.chance import generator, numbers
from grooveforge.core.kit import GHOST, GRACE_STROKES, Kind
from grooveforge.core.rows import first_of_each
from grooveforge.core.song import FLAT_LEVELS, Level, Settings
from grooveforge.core.strokes import Events, Strokes, section_strokes
from grooveforge.core.swing import STRAIGHT, swung

if TYPE_CHECKING:
    from grooveforge.core.section import Section

GRACE_SECONDS = 0.030
"""Distance of grace strokes: a flam's is 20-45 ms before the stroke (facts of hearing: C. Sapp, onset order)."""

Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Chance:
    """Where a section's random choices come from, and whether the section is the song's peak."""

    seed: int
    peak: bool = False

    def generator(self, section: Section, purpose: str) -> Random:
        return generator(self.seed, section.part, section.statement, purpose)


EVEN = Level(0, 0)


def level_of(settings: Settings) -> Level:
    """The level that holds, 0 where none is said."""
    return settings.level or EVEN


def peak_section(sections: Iterable[Section]) -> Section | None:
    """The last section with the song's highest level, if another one that plays is lower."""
    listed = list(sections)
    tops = [None if _is_silent(section) else level_of(section.settings).top for section in listed]
    found = levels.peak_of(tops)
    return None if found is None else listed[found]


def _is_silent(section: Section) -> bool:
    flat = section.settings.levels == FLAT_LEVELS
    return flat or not any(True for span in section.as_arranged.spans for _ in span.groove.voices)


def section_events(section: Section, division: int, start: int, chance: Chance | None) -> Events:
    """The events of a section that starts at tick `start`, in no order.

    Parameters
    ----------
    chance : None leaves out swing, looseness and shaped levels.
    """
    strokes = section_strokes(section, division)
    if strokes is None:
        return Events.joined(())
    ticks = strokes.tick
    if chance is not None:
        ticks = _swung(section, strokes, division)
        ticks = _loosened(section, strokes, ticks, (division, start), chance)
    rows, back = _with_graces(section, strokes, ticks, (division, start))
    grace = back > 0
    ticks = np.maximum(ticks[rows] - back + start, 0)
    events = Events(
        ticks,
        strokes.surface[rows],
        np.where(grace, np.uint8(GHOST), strokes.written[rows]),
        np.where(grace, np.uint8(Kind.GHOST), strokes.kind[rows]),
        ticks - start - strokes.place[rows],
    )
    if chance is None or section.settings.levels == FLAT_LEVELS:
        return events
    shaped = _shaped(section, strokes, (rows, back), division, chance)
    order = first_of_each((events.surface, events.tick), (-events.velocity.astype(np.int16),))
    events = events.rows(order)  # of two strokes of one surface on one tick the louder alone
    return events._replace(velocity=levels.apart(events.surface, levels.Shaped(*(column[order] for column in shaped))))


def _swung(section: Section, strokes: Strokes, division: int) -> Ints:
    """The ticks of the strokes with the halves of the pulse in the ratio that the section says."""
    swing = section.settings.swing
    if swing is None or swing.ratio == STRAIGHT:
        return strokes.tick
    line = strokes.place - strokes.within
    moved = line + swung(strokes.tick - line, section.meter, swing.ratio, division)
    for span in section.spans:
        if span.groove.meter != section.meter:  # inserted beats, in a metre of their own
            bar = strokes.bar == span.bar - section.bar
            moved[bar] = line[bar] + swung((strokes.tick - line)[bar], span.groove.meter, swing.ratio, division)
    return moved


def _loosened(section: Section, strokes: Strokes, ticks: Ints, at: tuple[int, int], chance: Chance) -> Ints:
    """The ticks of the strokes, those that are not tight moved by the section's drift; `at`: division, start."""
    asked = section.settings.looseness
    if not asked:
        return ticks
    division, start = at
    free = ~strokes.tight
    moved = looseness.drift(numbers(chance.generator(section, "looseness")), strokes.place / division, strokes.limb)
    off = looseness.ticks_of(
        looseness.milliseconds(moved, free, float(asked), section.own_bars), strokes.place, section.tempo, division
    )
    edges = (start, int(section.quarters * division), int(looseness.GUARD * division))
    return looseness.loosened(ticks, strokes.limb, free, off, edges)


def _with_graces(section: Section, strokes: Strokes, ticks: Ints, at: tuple[int, int]) -> tuple[Ints, Ints]:
    """All strokes and the grace strokes of flams and drags: (row of the stroke, ticks that it comes before).

    Grace strokes stand 30 ms apart; none comes before tick 0 of the song.
    """
    division, start = at
    rows = [np.arange(strokes.kind.size)]
    back = [np.zeros(strokes.kind.size, np.int64)]
    for kind, count in GRACE_STROKES.items():
        found = np.flatnonzero(strokes.kind == kind)
        for number in range(1, count + 1) if found.size else ():
            ms = np.full(found.size, 1000 * GRACE_SECONDS * number)
            gap = np.maximum(looseness.ticks_of(ms, ticks[found], section.tempo, division), number)
            kept = ticks[found] + start >= gap
            rows.append(found[kept])
            back.append(gap[kept])
    return np.concatenate(rows), np.concatenate(back)


def _shaped(
    section: Section, strokes: Strokes, parts: tuple[Ints, Ints], division: int, chance: Chance
) -> levels.Shaped:
    """The shaped levels of strokes and grace strokes; `parts` as `_with_graces` gives them."""
    rows, back = parts
    length = int(section.quarters * division)
    touch = levels.Touch.drawn(chance.generator(section, "levels"), length, division)
    said = level_of(section.settings)
    added = levels.level_added((said.start, said.end), strokes.place, length)
    main = levels.shape(strokes, division, added, touch, chance.peak)
    count = strokes.kind.size
    if rows.size == count:
        return main
    extra = rows[count:]
    graces = levels.grace_levels(strokes.place[extra] - back[count:], added[extra], touch)
    return levels.Shaped(*(np.concatenate(pair) for pair in zip(main, graces)))
