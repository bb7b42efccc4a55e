"""The form of a drum MIDI file: its bars cut at markers, and inside a section where metre or tempo changes.

A marker names the section from the nearest bar line on. House rules: bars before the first marker are a
"lead-in"; what follows a change of metre inside "verse" is a part of its own, "verse b"; a tempo that changes
from bar to bar is no section.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby, pairwise

import numpy as np

from grooveforge.core.groove import Groove
from grooveforge.core.kit import SURFACE_CODES
from grooveforge.core.kit import surface as surface_row
from grooveforge.core.meter import Meter
from grooveforge.core.song import FASTEST, MOST_SECTION_BARS, MOST_SONG_BARS, SLOWEST
from grooveforge.core.tempo import microseconds
from grooveforge.errors import FormatError
from grooveforge.formats.drum_part import DrumPart, plain_bpm
from grooveforge.formats.drums_groove import DRUM_FAMILIES, Run, grooves_of, place_part
from grooveforge.formats.drums_read import read_drums
from grooveforge.formats.keymap import GM, KeyMap
from grooveforge.formats.quantise import Placement
from grooveforge.formats.smf import SmfFile

LEAD_IN, WHOLE, UNNAMED = "lead-in", "drums", "section"

LETTERS = "bcdefghijklmnopqrstuvwxyz"

LEAST_TEMPO_BARS = 2
"""A tempo that holds for fewer bars is on its way to another one."""

FAR_INSIDE = 0.25
"""Quarter notes: a marker further from every bar line than this stands inside a bar."""


@dataclass(frozen=True)
class Piece:
    """Bars of one name and metre; `groove` is None where they rest.

    `ramp` is the tempo that they come to, and over how many quarter notes; None where `bpm` holds.
    """

    name: str
    first_bar: int
    bars: int
    meter: Meter
    bpm: float
    groove: Groove | None
    ramp: tuple[float, int] | None = None


def sections_of(
    file: SmfFile, channel: int | None = None, key_map: KeyMap = GM
) -> tuple[tuple[Piece, ...], tuple[str, ...]]:
    """The pieces that a file's drums are made of, in order, and what there is to say about them.

    Raises
    ------
    FormatError
        When the file has no drums, or is too long for a song sheet.
    """
    part = read_drums(file, channel, key_map)
    if not len(part):
        raise FormatError("the file has no drums to make a sheet from")
    if len(part.bars) > MOST_SONG_BARS:
        raise FormatError(f"the file has {len(part.bars):,} bars", allowed=f"a song of at most {MOST_SONG_BARS:,}")
    said = list(part.warnings)
    placement = place_part(part)
    runs = grooves_of(part, placement)
    names = _names(file, part, said)
    pieces: list[Piece] = []
    tempos: dict[str, float] = {}
    for name, first, end in names:
        letters = iter(LETTERS)
        for number, (low, high) in enumerate(_cuts(part, first, end, said)):
            own = name if not number else f"{name} {next(letters, number + 1)}"
            piece = _piece(part, runs, own, low, high)
            # A return's ramp begins at its part's tempo, so it can be written only where the two are one.
            from_parts_tempo = tempos.setdefault(own, piece.bpm) == piece.bpm
            pieces.append(piece if from_parts_tempo else replace(piece, ramp=None))
    said += _lost(part, placement, runs)
    said += _tempo_words(part, pieces)
    return tuple(pieces), tuple(said)


def _piece(part: DrumPart, runs: tuple[Run, ...], name: str, first: int, end: int) -> Piece:
    run = [run for run in runs if run.first_bar <= first][-1]
    groove = run.groove.slice(first - run.first_bar, end - run.first_bar)
    struck = any(True for _ in groove.voices)
    bar = part.bars[first]
    bpm = _in_range(bar.bpm)
    return Piece(name, first, end - first, bar.meter, bpm, groove if struck else None, _ramp(part, first, end))


def _in_range(bpm: float) -> float:
    return min(max(bpm, float(SLOWEST)), float(FASTEST))


# -- names -----------------------------------------------------------------------------------------------


def _names(file: SmfFile, part: DrumPart, said: list[str]) -> list[tuple[str, int, int]]:
    """(name, first bar, bar behind the last) of every section, bars counted from 0."""
    found: dict[int, str] = {}
    for (_, text), (bar, off) in zip(file.markers, _nearest_bars(part, [tick for tick, _ in file.markers])):
        name = _clean(text)
        if bar >= len(part.bars):
            said.append(f"the marker {name!r} stands where the music ends: left out")
        elif bar in found:
            said.append(f"bar {bar + 1} has the markers {found[bar]!r} and {name!r}: the first one names the section")
        else:
            if off > FAR_INSIDE * part.division:
                said.append(f"the marker {name!r} stands inside a bar: its section begins with bar {bar + 1}")
            found[bar] = name
    if not found:
        return [(WHOLE, 0, len(part.bars))]
    if 0 not in found:
        taken = {name.casefold() for name in found.values()}
        found[0] = LEAD_IN if LEAD_IN not in taken else f"{LEAD_IN} before"
    starts = sorted(found)
    return [(found[bar], bar, end) for bar, end in zip(starts, [*starts[1:], len(part.bars)])]


def _clean(text: str) -> str:
    """A marker's text in one line, without signs that do not print."""
    return " ".join(re.sub(r"[^\S ]|[\x00-\x1f\x7f-\x9f]", " ", text).split()) or UNNAMED


def _nearest_bars(part: DrumPart, ticks: Sequence[int]) -> list[tuple[int, float]]:
    """For each tick the bar, from 0, whose line is nearest to it (of two the earlier), and how far it is in ticks."""
    lines = part.bar_starts()
    after = np.clip(np.searchsorted(lines, ticks), 1, len(lines) - 1)
    back, on = np.abs(ticks - lines[after - 1]), np.abs(lines[after] - ticks)
    bars = np.where(on < back, after, after - 1)
    return list(zip(bars.tolist(), np.minimum(back, on).tolist()))


# -- cuts ------------------------------------------------------------------------------------------------


def _cuts(part: DrumPart, first: int, end: int, said: list[str]) -> Iterator[tuple[int, int]]:
    """A section cut where its metre changes, where another tempo begins to hold, and where it is too long."""
    edges = {first, end, *range(first, end, MOST_SECTION_BARS)}
    one_ramp = _ramp(part, first, end) is not None
    runs = [list(group) for _, group in groupby(range(first, end), key=lambda bar: part.bars[bar].bpm)]
    if not one_ramp and all(len(run) >= LEAST_TEMPO_BARS for run in runs):
        edges |= {run[0] for run in runs}
    edges |= {bar for bar in range(first + 1, end) if part.bars[bar].meter != part.bars[bar - 1].meter}
    places = sorted(edges)
    if len(places) > 2:
        listed = ", ".join(str(bar + 1) for bar in places[1:-1][:6]) + (" ..." if len(places) > 8 else "")
        said.append(f"the section of bars {first + 1}-{end} is cut at bar {listed}: metre or tempo change there")
    yield from pairwise(places)


def _ramp(part: DrumPart, first: int, end: int) -> tuple[float, int] | None:
    """The ramp of a section whose tempo changes with every quarter note from its first on, as a sheet writes it."""
    lines = part.bar_starts()
    low, high = np.searchsorted(part.tempos.tick, (lines[first] + 0.5, lines[end] - 0.5))
    ticks, found = part.tempos.tick[low:high].tolist(), part.tempos.microseconds[low:high].tolist()
    over = len(ticks)
    if not over or [round(lines[first]) + part.division * (k + 1) for k in range(over)] != ticks:
        return None
    start, last = Fraction(str(part.bars[first].bpm)), Fraction(str(plain_bpm(found[-1])))
    steps = [start + (last - start) * Fraction(k + 1, over) for k in range(over)]
    allowed = all(SLOWEST <= bpm <= FASTEST for bpm in (start, last))
    return (float(last), over) if allowed and [microseconds(bpm) for bpm in steps] == found else None


# -- what is lost ----------------------------------------------------------------------------------------


def _lost(part: DrumPart, placement: Placement, runs: tuple[Run, ...]) -> Iterator[str]:
    """What a sheet cannot hold: strokes that share a step, and grace strokes on surfaces without a mark for them."""
    written = sum(int(lane.struck.size) for run in runs for _, lane in run.groove.voices)
    close = int((~placement.is_grace).sum()) - written
    if close:
        yield f"{close} strokes share a step of the grid with another of their surface: left out"
    drums = np.isin(part.surfaces, [code for name, code in SURFACE_CODES.items() if _is_drum(name)])
    graces = int((placement.is_grace & ~drums).sum())
    if graces:
        yield f"{graces} grace strokes on cymbals have no mark in a tab: left out"


def _is_drum(name: str) -> bool:
    return surface_row(name).family in DRUM_FAMILIES


def _tempo_words(part: DrumPart, pieces: list[Piece]) -> Iterator[str]:
    """A line for tempi that the sheet does not have: out of range, or changing inside a piece."""
    flat = [piece for piece in pieces if piece.ramp is None]
    bars = [(piece, bar) for piece in flat for bar in range(piece.first_bar, piece.first_bar + piece.bars)]
    others = [bar + 1 for piece, bar in bars if part.bars[bar].bpm != piece.bpm]
    if others:
        yield f"the sheet has another tempo than the file in {len(others)} bars, the first is bar {others[0]}"
    kept = {bar for _, bar in bars}
    ticks = part.tempos.tick.tolist()
    off = [tick for tick, (_, away) in zip(ticks, _nearest_bars(part, ticks)) if away > 0.5]
    inside = [tick for tick in off if part.bar_at(tick) - 1 in kept]
    if inside:
        yield (
            f"{len(inside)} tempo changes stand inside a bar, the first in bar {part.bar_at(inside[0])}: "
            "a section of the sheet keeps the tempo of its first bar"
        )
