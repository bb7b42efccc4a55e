"""The keys of a sheet that a recount changes: numbers of bars and tempo, grids, surfaces by bars."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from math import ceil

from grooveforge.core import kick
from grooveforge.core.arrange import DEFAULT_RIFF_GRID, bars_of
from grooveforge.core.differences import plain_value
from grooveforge.core.groove import COARSEST_GRID, FINEST_GRID
from grooveforge.core.song import MOST_SECTION_BARS, Entry, HandOn, Settings, Song, Swing, TempoRamp
from grooveforge.core.tempo import check_tempo, resolve
from grooveforge.core.timekeeper import surface_spans
from grooveforge.errors import MusicError
from grooveforge.formats.sheetedit import DELETE, Changes
from grooveforge.formats.toml_text import Path

BAKED = ("feel", "spelling", "backbeats", "subdivision", "hi_hat_foot")
"""Keys whose work is written out in the new groove."""

IN_BEATS = ("fill", "ending", "stops", "insert", "swing")
"""Keys that a recount cannot carry along exactly."""

STRAIGHT_SWING = Swing(Fraction(1))

Said = Callable[[str], Path]
"""Where the sheet says a key, for errors."""


def said_in(song: Song, entry: Entry, place: Path) -> Said:
    """Where a key that holds in an entry's section is said; where nothing says it, the entry itself."""

    def path(key: str) -> Path:
        if key in entry.settings.given():
            return (*place, key)
        if key in song.parts[entry.part].given():
            return ("parts", entry.part, key)
        return ("defaults", key) if key in song.defaults.given() else place

    return path


# -- numbers ------------------------------------------------------------------------------------------


def section_bars(song: Song, entry: Entry) -> int | None:
    """Bars of an entry's section, None for a part that only its entries give a length."""
    settings = song.settings_of(entry)
    return None if settings.bars is None and settings.groove is None else bars_of(song, settings)


def own_keys(place: Path, settings: Settings, by: Fraction, said: Said) -> Changes:
    """What changes of the keys that stand in one table of the sheet."""
    _check_chosen(settings, said)
    changes: Changes = {(*place, key): DELETE for key in BAKED if key in settings.given()}
    if isinstance(settings.tempo, TempoRamp):
        raise MusicError(
            "a tempo that moves steps once a quarter note, so its strokes would sound at other times",
            hint="a recount of other sections with --section, or a tempo that stays",
            path=said("tempo"),
        )
    if isinstance(settings.tempo, Fraction):
        changes[(*place, "tempo")] = plain_value(faster(settings.tempo, by, said("tempo")))
    if settings.bars is not None:
        changes[(*place, "bars")] = times(settings.bars, by, said("bars"))
    if settings.kick in (kick.KEEP, kick.FIGURE):
        changes[(*place, "kick")] = kick.ADAPT  # deleted, the policy of a layer below would hold
    if settings.riff_grid is not None:
        changes[(*place, "riff_grid")] = riff_grid(settings, by, said("riff_grid"))
    pairs = _pairs(settings)
    if pairs:
        changes[(*place, "timekeeper")] = _scaled(pairs, by, said("timekeeper"))
    return changes


def _check_chosen(settings: Settings, said: Said) -> None:
    """Fails on keys that are counted in beats or bars of the sheet and would choose or place other strokes."""
    for key in IN_BEATS:
        value = getattr(settings, key)
        if value and value != STRAIGHT_SWING:
            raise MusicError(
                f"what {key} plays is counted in beats of the sheet, so after a recount it would be something else",
                hint=f"the sheet without {key}, recounted, then {key} as you want it there",
                path=said(key),
            )


def faster(bpm: Fraction, by: Fraction, path: Path) -> Fraction:
    try:
        return check_tempo(bpm * by)
    except MusicError as error:
        raise MusicError(replace(fault, path=path) for fault in error.faults) from error


def section_tempo(song: Song, entry: Entry, by: Fraction, path: Path) -> object:
    """The recounted tempo of a section: a number, or a ratio where no decimal fraction is exactly it."""
    layers = (song.defaults.tempo, song.parts[entry.part].tempo, entry.settings.tempo)
    below = resolve(song.tempo, layers[:1], Fraction(1))[0][1]
    bpm = faster(resolve(song.tempo, layers, Fraction(1))[0][1], by, path)
    ratio = bpm / below
    exact = Fraction(repr(plain_value(bpm))) == bpm
    short = max(ratio.numerator, ratio.denominator) < 10_000
    return plain_value(bpm) if exact or not short else f"{ratio.numerator}/{ratio.denominator}"


def times(bars: int, by: Fraction, path: Path) -> int:
    count = bars * by
    if count.denominator != 1:
        raise MusicError(f"{bars} bars cannot be halved to whole bars", hint="an even number of bars", path=path)
    if count > MOST_SECTION_BARS:
        message = f"the section would have {int(count):,} bars"
        raise MusicError(message, allowed=f"at most {MOST_SECTION_BARS:,}", path=path)
    return int(count)


def riff_grid(settings: Settings, by: Fraction, path: Path) -> int:
    grid = (settings.riff_grid or DEFAULT_RIFF_GRID) / by
    if grid.denominator != 1 or not COARSEST_GRID <= grid <= FINEST_GRID:
        message = f"the riff would need {float(grid):g} steps to a whole note"
        raise MusicError(message, allowed=f"{COARSEST_GRID} to {FINEST_GRID}", path=path)
    return int(grid)


def bar_range(text: str, by: Fraction) -> str:
    """Bars kept as they are, to whole bars outwards."""
    first, _, last = text.partition("-")
    start = int((int(first) - 1) * by) + 1
    return f"{start}-{ceil(int(last or first) * by)}"


# -- surfaces by bars -----------------------------------------------------------------------------------


def _pairs(settings: Settings) -> HandOn:
    """The timekeeper's list of bars and surfaces, empty where it says something else."""
    listed = settings.timekeeper if isinstance(settings.timekeeper, tuple) else ()
    return tuple((item[0], item[1]) for item in listed if not isinstance(item, str))


def _scaled(spans: HandOn, by: Fraction, path: Path) -> list[object]:
    """Spans in recounted bars; the last one holds to the section's end, so its own number may be rounded."""
    *first, (count, last) = spans
    counts = [(times(bars, by, path), on) for bars, on in first]
    return [{"bars": bars, "on": on} for bars, on in [*counts, (max(1, int(count * by)), last)]]


def same_hand(song: Song, entry: Entry) -> bool:
    """Whether an entry shares out its surfaces just as its part does."""
    return entry.settings.timekeeper is None and section_bars(song, entry) == section_bars(song, Entry(entry.part))


def equal_parts(
    settings: Settings, bars: int, by: Fraction, place: Path, said: Said, anew: bool = False
) -> Changes:
    """A list in equal parts written out by bars, where equal parts of the new bars would be others.

    Parameters
    ----------
    anew : write the list even where equal parts do, as the part below holds it by bars now.
    """
    names = settings.timekeeper
    if not isinstance(names, tuple) or _pairs(settings):
        return {}
    spans = surface_spans(names, bars)
    wanted = [(bars * by, on) for bars, on in spans]
    if wanted == [(Fraction(count), on) for count, on in surface_spans(names, int(bars * by))]:
        return {(*place, "timekeeper"): list(names)} if anew else {}
    path = said("timekeeper")
    return {(*place, "timekeeper"): [{"bars": times(count, by, path), "on": on} for count, on in spans]}
