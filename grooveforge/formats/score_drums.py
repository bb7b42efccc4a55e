"""The drums of a MIDI file as a score: strokes on the grid that each bar is read by."""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction

import numpy as np

from grooveforge.core.kit import Kind
from grooveforge.core.score import Score, ScoreBar, joined_hits
from grooveforge.formats.drum_part import DrumPart, plain_bpm
from grooveforge.formats.drums_groove import kinds_of, place_part
from grooveforge.formats.smf import SmfFile

Stroke = tuple[Fraction, int, Kind, int]


def part_score(part: DrumPart, file: SmfFile, title: str) -> Score:
    """The score of a drum part; strokes that share a step of one surface are all in it.

    Parameters
    ----------
    file : what the part was read from; its markers name the sections.
    """
    if not part.bars:
        return Score(title, ())
    placed = place_part(part)
    kinds = kinds_of(part, placed).tolist()
    strokes: defaultdict[int, list[Stroke]] = defaultdict(list)
    columns = (placed.bar, placed.step, placed.grid[placed.bar], part.surfaces, part.velocity)
    for kind, (bar, step, grid, code, velocity) in zip(kinds, zip(*(column.tolist() for column in columns))):
        strokes[bar].append((Fraction(step, grid), code, Kind(kind), velocity))
    heads = _sections(part, file)
    tempos = _tempos(part)
    return Score(
        title,
        tuple(
            ScoreBar(number + 1, bar.meter, joined_hits(strokes[number]), tuple(tempos[number]), heads.get(number))
            for number, bar in enumerate(part.bars)
        ),
    )


def _bar_of(part: DrumPart, tick: int) -> int:
    return min(part.bar_at(tick), len(part.bars)) - 1


def _sections(part: DrumPart, file: SmfFile) -> dict[int, str]:
    """Bar from 0 -> the marker that names it; the first of those in one bar."""
    names: dict[int, str] = {}
    for tick, text in file.markers:
        if text.strip() and tick < part.end:
            names.setdefault(_bar_of(part, tick), text.strip())
    return names


def _tempos(part: DrumPart) -> defaultdict[int, list[tuple[Fraction, Fraction]]]:
    """Bar from 0 -> its changes of tempo; the first bar says one always."""
    found: defaultdict[int, list[tuple[Fraction, Fraction]]] = defaultdict(list)
    held = None
    if not len(part.tempos.tick) or int(np.min(part.tempos.tick)) > 0:
        held = Fraction(str(part.bars[0].bpm))
        found[0].append((Fraction(0), held))
    for tick, microseconds in zip(part.tempos.tick.tolist(), part.tempos.microseconds.tolist()):
        bpm = Fraction(str(plain_bpm(microseconds)))
        if tick < part.end and bpm != held:
            bar = _bar_of(part, tick)
            place = (tick - part.bars[bar].start) / (4 * part.division)
            # A change between two grid places is shown at the one before it.
            found[bar].append((Fraction(int(place * 16), 16), bpm))
            held = bpm
    return found
