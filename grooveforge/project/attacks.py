"""The attacks of a song's riffs, followed by the kick or not: when each is, which stand out, which are muted."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from grooveforge.core.perform import Performance, seconds_at, section_ticks
from grooveforge.core.riff import DEFAULT_RIFF_GRID, at_grid, attack_places, typed_riff
from grooveforge.core.section import Arrangement, Section
from grooveforge.core.song import Riff, Song

Attack = tuple[float, bool, bool]
"""Second of the song, whether it stands out, whether it is muted."""


def riff_attacks(song: Song, arrangement: Arrangement, performance: Performance) -> list[list[Attack] | None]:
    """The attacks under each section, by time; None where it has no riff.

    All attacks sound, whichever of them the kick follows. Plain attacks are taken as palm-muted, accented ones as
    open (common practice of riff-driven songs; neither a typed line nor a MIDI file says so itself).
    """
    running: dict[tuple[str, int], Fraction] = {}
    found: list[list[Attack] | None] = []
    for section, (start, _) in zip(arrangement.sections, section_ticks(arrangement, performance.division)):
        riff = _riff(song, section)
        if riff is None:
            found.append(None)
            continue
        name = (section.settings.riff or "", section.settings.riff_grid or DEFAULT_RIFF_GRID)
        length = Fraction(section.own_bars) * section.meter.whole
        begun = running.get(name, Fraction(0)) if section.settings.riff_restart is False else Fraction(0)
        running[name] = begun + length
        places = attack_places(riff, begun, length)
        ticks = [start + round(4 * at * performance.division) for at in _with_waits(section, places)]
        times = seconds_at(performance, np.array(ticks, np.int64)).tolist()
        found.append([(time, accent, not accent) for time, (_, accent) in zip(times, places)])
    return found


def _riff(song: Song, section: Section) -> Riff | None:
    said = section.settings
    if said.riff is None or said.tacet:
        return None
    grid = said.riff_grid or DEFAULT_RIFF_GRID
    played = song.riffs.get(said.riff)
    return typed_riff(said.riff, grid) if played is None else at_grid(played, grid)


def _with_waits(section: Section, places: list[tuple[Fraction, bool]]) -> list[Fraction]:
    """Places of the riff's own time as places of the section: it waits in inserted bars."""
    moved = []
    starts: list[tuple[Fraction, Fraction]] = []  # (the riff's time, the section's) at the start of each own span
    own = Fraction(0)
    for begin, span in section.placed_spans:
        if span.own:
            starts.append((own, begin))
            own += span.groove.whole
    row = 0
    for place, _ in places:
        while row + 1 < len(starts) and starts[row + 1][0] <= place:
            row += 1
        moved.append(starts[row][1] + place - starts[row][0] if starts else place)
    return moved
