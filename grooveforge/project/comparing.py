"""`compare`: what differs between two inputs, bar by bar and lane by lane, and how much."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from math import lcm
from typing import Any

from grooveforge import files
from grooveforge.analysis.distance import LANES, Difference, Strokes, difference, joined, strokes_of
from grooveforge.core.groove import Groove
from grooveforge.core.inspect import BarFacts, bar_facts
from grooveforge.core.kit import SURFACE_NAMES
from grooveforge.core.loop import LOOP, loop_performance
from grooveforge.core.meter import Meter
from grooveforge.errors import GrooveForgeError, UsageError
from grooveforge.formats.bar_words import BarView, bar_words
from grooveforge.formats.drums_groove import grooves_of
from grooveforge.formats.drums_read import read_drums
from grooveforge.formats.groovefile import read_groove_file
from grooveforge.formats.keymap import GM, GM_NOTES, KeyMap
from grooveforge.formats.midi import MidiOptions, song_midi
from grooveforge.formats.smf_read import read_smf
from grooveforge.project.inspecting import GROOVE, MIDI, kind_of
from grooveforge.project.rendering import render
from grooveforge.project.sheets import sheet_from

EVERY_SURFACE = KeyMap("every surface", {**GM_NOTES, "half-open hi-hat": (0,)})
"""A kit that tells apart what General MIDI does not; for two inputs of which neither is MIDI."""


@dataclass(frozen=True, eq=False)
class Side:
    """One of the two inputs, bar by bar.

    Parameters
    ----------
    meters, tempos, facts : (bars,) each; a tempo is None where the input has none of its own.
    strokes : on the grid. loops : whether it runs on as a loop beside a longer one, as a groove file does.
    """

    meters: tuple[Meter, ...]
    tempos: tuple[float | None, ...]
    facts: tuple[BarFacts, ...]
    strokes: Strokes
    loops: bool = False
    warnings: tuple[str, ...] = ()

    @property
    def bars(self) -> int:
        return len(self.meters)

    def over(self, bars: int) -> Side:
        """A loop over so many bars; what does not loop stays as it is."""
        if not self.loops or not self.bars or bars == self.bars:
            return self
        turns = -(-bars // self.bars)
        return replace(
            self,
            meters=(self.meters * turns)[:bars],
            tempos=(self.tempos * turns)[:bars],
            facts=(self.facts * turns)[:bars],
            strokes=self.strokes.looped(bars),
        )

    @cached_property
    def views(self) -> tuple[BarView, ...]:
        """Every bar as the words need it; bars that are alike share one value."""
        strokes: defaultdict[int, set[tuple[str, str, Fraction]]] = defaultdict(set)
        rows = zip(*(column.tolist() for column in self.strokes[2:6]))
        for bar, step, lane, code in rows:
            strokes[bar].add((LANES[lane], SURFACE_NAMES[code], Fraction(step, self.strokes.grid)))
        bars = zip(self.meters, self.tempos, self.facts)
        return tuple(BarView(*row, frozenset(strokes[number])) for number, row in enumerate(bars))


@dataclass(frozen=True, eq=False)
class Comparison:
    """What differs from one side to the other."""

    one: Side
    other: Side
    difference: Difference

    @property
    def warnings(self) -> tuple[str, ...]:
        return (*self.one.warnings, *self.other.warnings)

    def facts(self) -> dict[str, Any]:
        """The comparison as `compare --json` gives it; `bars` holds only those that differ."""
        found = self.difference
        return {
            "distance": round(found.distance, 4),
            "lanes": {name: round(value, 4) for name, value in found.lanes.items()},
            "surface": round(found.surface, 4),
            "bars": self._bars(),
            "levels": round(found.level, 4),
            "compared_bars": len(found.bars),
            "warnings": list(self.warnings),
        }

    def _bars(self) -> list[dict[str, Any]]:
        rows = []
        a, b = self.one.views, self.other.views
        for number, far in enumerate(self.difference.bars.tolist()):
            words = bar_words(_at(a, number), _at(b, number))
            if far or words:
                rows.append({"bar": number + 1, "distance": round(far, 4), "in_words": words})
        return rows


def _at(views: Sequence[BarView], number: int) -> BarView | None:
    return views[number] if number < len(views) else None


def compare(
    one: str, other: str, channels: tuple[int | None, int | None] = (None, None), key_map: KeyMap = GM
) -> Comparison:
    """Two inputs, each a song sheet, a groove file or a MIDI file, told by content.

    Resolution, channel, tracks and the order of events are no differences, nor is how far a stroke stands from
    the grid. A groove file is a loop: beside something longer it runs on.

    Parameters
    ----------
    one, other : paths, or "-" for standard input for one of them.
    channels : the drums' channel of each, from 1; None finds it. key_map : of MIDI files.

    Raises
    ------
    GrooveForgeError
        When either cannot be read, or both are to come from standard input.
    """
    if one == other == files.STANDARD_STREAM:
        raise UsageError("only one of the two can come from standard input", hint="a file for the other")
    return compare_bytes((files.read_bytes(one), files.read_bytes(other)), (one, other), channels, key_map)


def compare_bytes(
    data: tuple[bytes, bytes],
    names: tuple[str, str],
    channels: tuple[int | None, int | None] = (None, None),
    key_map: KeyMap = GM,
) -> Comparison:
    """As `compare`, for the bytes of two inputs that were read; `names` are paths for errors and sheets' grooves."""
    kinds = [kind_of(item, name) for item, name in zip(data, names)]
    # A MIDI file does not say which hand keeps time, and has no half-open hi-hat in General MIDI: what stands
    # beside one is taken as it would be as MIDI.
    kit = key_map if MIDI in kinds else EVERY_SURFACE
    as_midi = kinds != [GROOVE, GROOVE]
    sides = []
    for item, name, kind, channel in zip(data, names, kinds, channels):
        try:
            sides.append(_side(item, name, kind, channel, kit if as_midi else None))
        except GrooveForgeError as error:
            raise error.in_file(name) from error
    longest = max(side.bars for side in sides)
    if all(side.loops for side in sides):
        longest = lcm(*(side.bars for side in sides))
    a, b = (side.over(longest) for side in sides)
    return Comparison(a, b, difference(a.strokes, b.strokes))


def _side(data: bytes, name: str, kind: str, channel: int | None, kit: KeyMap | None) -> Side:
    if kind == GROOVE:
        groove = read_groove_file(files.decode(data)).groove
        return groove_side(groove) if kit is None else _of_midi(_loop_midi(groove, kit), kit, None, loop=groove)
    if kind == MIDI:
        return _of_midi(data, kit or GM, channel)
    made = render(sheet_from(data, name), MidiOptions(key_map=kit or GM))
    return _of_midi(next(iter(made.files.values())), kit or GM, None)


def groove_side(groove: Groove) -> Side:
    """A groove as a side: a loop with the hand that it names."""
    bars = groove.bars
    return Side((groove.meter,) * bars, (None,) * bars, bar_facts(groove), strokes_of(groove), loops=True)


def _loop_midi(groove: Groove, kit: KeyMap) -> bytes:
    """A groove once through as a MIDI file."""
    return song_midi(loop_performance(groove), LOOP, MidiOptions(key_map=kit)).data


def _of_midi(data: bytes, kit: KeyMap, channel: int | None, loop: Groove | None = None) -> Side:
    part = read_drums(read_smf(data), channel, kit)
    grooves = [run.groove for run in grooves_of(part)]
    facts = tuple(row for groove in grooves for row in bar_facts(groove))
    strokes = joined(strokes_of(groove) for groove in grooves)
    tempos: tuple[float | None, ...] = tuple(None if loop else bar.bpm for bar in part.bars)
    return Side(tuple(bar.meter for bar in part.bars), tempos, facts, strokes, loop is not None, part.warnings)
