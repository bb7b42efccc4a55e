"""A song as the page draws and plays it: plain values, columns for what is many.

Field names are a contract with the page's scripts; everything here is counted from the arrangement and its
performance, nothing is decided.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from grooveforge.analysis.energy import energy_line
from grooveforge.core.arrange import Arrangement, Span
from grooveforge.core.inspect import bar_facts
from grooveforge.core.kit import COLOURS, SURFACE_CODES, SURFACE_NAMES, SURFACES, Kind
from grooveforge.core.perform import Performance, perform, seconds_at, section_ticks
from grooveforge.formats.midi import beats
from grooveforge.page.sections import Tones, section_rows
from grooveforge.project.attacks import riff_attacks
from grooveforge.project.sheets import Sheet, arranged
from grooveforge.sound.loudness import song_level
from grooveforge.sound.sounds import damped_at, performance_sounds

HAND, SNARE, KICK, OTHER = range(4)
"""The lines that strokes stand on."""

_LINES = {"snare": SNARE, "kick": KICK}
_LINE_OF = np.full(max(SURFACE_CODES.values()) + 1, OTHER, np.int8)
for _surface in SURFACES:
    _LINE_OF[SURFACE_CODES[_surface.name]] = _LINES.get(_surface.family, OTHER)

Ints = NDArray[np.int64]
Truths = NDArray[np.bool_]

PLACES = 6
"""Decimals of seconds: to the microsecond."""


@dataclass(frozen=True, eq=False)
class Shown:
    """A sheet with all that the page needs of it, worked out once."""

    sheet: Sheet
    arrangement: Arrangement
    performance: Performance

    @classmethod
    def of(cls, sheet: Sheet) -> Shown:
        """A sheet arranged and performed; raises as `arranged`."""
        arrangement = arranged(sheet)
        return cls(sheet, arrangement, perform(arrangement))

    @cached_property
    def ticks(self) -> list[tuple[int, int]]:
        """First tick and tick after the end of every section."""
        return section_ticks(self.arrangement, self.performance.division)

    @cached_property
    def against(self) -> list[int | None]:
        """The index of the statement before each section, of the same part."""
        last: dict[str, int] = {}
        found = []
        for index, section in enumerate(self.arrangement.sections):
            found.append(last.get(section.part))
            last[section.part] = index
        return found

    @property
    def replacements(self) -> list[str]:
        """What the kit of the sheet lacks of what the song strikes, in sentences."""
        events = self.performance.events
        _, _, replaced = self.sheet.key_map.apply(events.surface, events.velocity)
        return [str(row) for row in replaced]

    def view(self) -> dict[str, object]:
        """The song as plain values, without findings."""
        sheet, performance = self.sheet, self.performance
        bars = bar_rows(self)
        events = event_columns(self)
        codes = np.unique(performance.events.surface).tolist()
        surfaces = {code: SURFACE_NAMES[code] for code in (*range(len(SURFACES)), *codes)}
        return {
            "name": sheet.song.title,
            "division": performance.division,
            "seconds": round(float(seconds_at(performance, np.array([performance.end]))[0]), PLACES),
            "bars": bars,
            "sections": section_rows(sheet, self.arrangement, self.against, riff_tones(self)),
            "events": events,
            "surfaces": {str(code): name for code, name in surfaces.items()},
            "notes": {str(code): sheet.key_map.note_of(SURFACE_NAMES[code]) for code in codes},
            "clicks": click_rows(performance),
            "level": song_level(performance_sounds(performance)),
        }


def _seconds(performance: Performance, ticks: Ints) -> list[float]:
    rounded: list[float] = np.round(seconds_at(performance, ticks), PLACES).tolist()
    return rounded


def click_rows(performance: Performance) -> list[list[float]]:
    """When each beat of the song is, in seconds, and whether it is a bar's first."""
    listed = beats(performance)
    times = _seconds(performance, np.array([tick for tick, _, _ in listed], np.int64))
    return [[time, int(beat == 1)] for time, (_, _, beat) in zip(times, listed)]


def riff_tones(shown: Shown) -> list[Tones | None]:
    """The riff under each section as [seconds, accented, muted] rows; None where it has none."""
    listed = riff_attacks(shown.sheet.song, shown.arrangement, shown.performance)
    return [None if rows is None else [[round(at, PLACES), *map(int, how)] for at, *how in rows] for rows in listed]


# -- bars ------------------------------------------------------------------------------------------------


_facts = lru_cache(maxsize=512)(bar_facts)
"""Most sections are as they were before an edit, and so are the facts of their bars."""


def bar_rows(shown: Shown) -> list[dict[str, object]]:
    """Every bar: where it stands, its metre and tempo, and what is read from its strokes.

    Energy is a share of the fullest bar's.
    """
    performance = shown.performance
    division = performance.division
    rows: list[dict[str, object]] = []
    ticks: list[int] = []
    for index, (section, (start, _)) in enumerate(zip(shown.arrangement.sections, shown.ticks)):
        for begin, span in section.placed_spans:
            length = int(span.groove.meter.quarters * division)
            first = start + int(4 * begin * division)
            meter = str(span.groove.meter)
            for bar, facts in enumerate(_facts(span.groove)):
                ticks.append(first + bar * length)
                rows.append(
                    {
                        "bar": len(rows) + 1,
                        "ticks": length,
                        "meter": meter,
                        "section": index,
                        "feel": facts.feel,
                        "backbeats": facts.backbeats,
                    }
                )
    times = _seconds(performance, np.array([*ticks, performance.end], np.int64))
    starts = np.array([at for at, _ in performance.tempos])
    holds = np.searchsorted(starts, np.array(ticks), side="right") - 1
    rates = [float(bpm) for _, bpm in performance.tempos]
    energy = energy_line(performance)
    levels = np.round(energy / (float(energy.max(initial=0.0)) or 1.0), 4).tolist()
    for number, row in enumerate(rows):
        row["tick"] = ticks[number]
        row["time"] = times[number]
        row["seconds"] = round(times[number + 1] - times[number], PLACES)
        row["tempo"] = round(rates[int(holds[number])], 3)
        row["energy"] = levels[number]
    return rows


# -- strokes ---------------------------------------------------------------------------------------------


def event_columns(shown: Shown) -> dict[str, list[int] | list[float] | list[float | None]]:
    """The strokes of the song as columns, by rising tick; `until`, the second at which a stroke is damped, stands
    where any is."""
    events = shown.performance.events
    place = events.tick - events.offset
    until = damped_at(shown.performance)
    damped = [round(second, PLACES) if second < np.inf else None for second in until.tolist()]
    return {
        **({"until": damped} if np.isfinite(until).any() else {}),
        "tick": events.tick.tolist(),
        "time": _seconds(shown.performance, events.tick),
        "surface": events.surface.tolist(),
        "velocity": events.velocity.tolist(),
        "kind": events.kind.tolist(),
        "line": _lines(shown, place).tolist(),
        "new": _new(shown, place).astype(np.int8).tolist(),
    }


def _lines(shown: Shown, place: Ints) -> NDArray[np.int8]:
    """The line of each stroke: what the hand strikes where it stands, then snare, kick, all else."""
    starts: list[int] = []
    hands: list[Truths] = []
    division = shown.performance.division
    for section, (start, _) in zip(shown.arrangement.sections, shown.ticks):
        for begin, span in section.placed_spans:
            starts.append(start + int(4 * begin * division))
            hands.append(_hand_codes(span))
    surface = shown.performance.events.surface
    row = np.maximum(np.searchsorted(np.array(starts), place, side="right") - 1, 0)
    by_hand = np.stack(hands)[row, surface]
    return np.where(by_hand, np.int8(HAND), _LINE_OF[surface])


def _hand_codes(span: Span) -> Truths:
    """Which surface codes are strokes of the timekeeping hand in a span."""
    codes = np.zeros(_LINE_OF.size, np.bool_)
    name = span.groove.surface
    if name is not None:
        coloured = (target for (base, _), target in COLOURS.items() if base == name)
        codes[[SURFACE_CODES[one] for one in (name, *coloured)]] = True
    return codes


def _new(shown: Shown, place: Ints) -> Truths:
    """Which strokes the statement before did not have: another place in the section, surface, or ghost."""
    events = shown.performance.events
    ghost = (events.kind == Kind.GHOST).astype(np.int64)
    names = events.surface * 2 + ghost
    fresh = np.zeros(place.size, np.bool_)
    edges = np.array([start for start, _ in shown.ticks])
    section = np.maximum(np.searchsorted(edges, place, side="right") - 1, 0)
    keys = (place - edges[section]) * (2 * _LINE_OF.size) + names
    rows = [np.flatnonzero(section == index) for index in range(len(shown.ticks))]
    for index, before in enumerate(shown.against):
        if before is not None:
            fresh[rows[index]] = ~np.isin(keys[rows[index]], keys[rows[before]])
    return fresh
