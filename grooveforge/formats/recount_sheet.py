"""Recounting a song sheet: the keys that change so that every stroke sounds when it did.

What makes a section's strokes (groove, feel, rate of the hand) is written out as a groove of the sheet with
its note values doubled or halved; numbers of bars and of tempo change along. Form, names, surfaces, arrivals
and comments stay as they are.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from grooveforge.core import kick
from grooveforge.core.arrange import DEFAULT_RIFF_GRID, bars_of, section_loop
from grooveforge.core.differences import plain_value
from grooveforge.core.recount import FACTORS, recount_groove
from grooveforge.core.song import Entry, Settings, Song, TempoRamp
from grooveforge.core.tempo import resolve
from grooveforge.core.timekeeper import surface_spans
from grooveforge.errors import MusicError
from grooveforge.formats.groovefile import GrooveFile, groove_table
from grooveforge.formats.sheetedit import DELETE, Changes

BAKED = ("feel", "spelling", "backbeats", "subdivision", "hi_hat_foot")
"""Keys whose work is written out in the new groove."""

STROKES = (*BAKED, "groove", "kick", "riff", "riff_grid", "riff_restart", "riff_downbeat", "meter", "grouping")
"""Keys that give a section other strokes than its part has."""

Path = tuple[str | int, ...]
WORDS: Mapping[str, str] = {"x2": "doubled", "/2": "halved"}


def recount_song(song: Song, factor: str) -> Changes:
    """The changes of a sheet that recount the whole song: values, or DELETE, by key path.

    Raises
    ------
    MusicError
        When a section cannot be recounted exactly: a ramp of tempo, or an odd number of bars to halve.
    """
    by = FACTORS[factor]
    changes: Changes = {("tempo",): plain_value(song.tempo * by)}
    changes |= _own_keys(("defaults",), song.defaults, by, None)
    for part in dict.fromkeys(entry.part for entry in song.form):
        settings = song.plain_settings_of(part)
        bars = _bars(song, Entry(part))
        place: Path = ("parts", part)
        changes |= _own_keys(place, song.parts[part], by, bars)
        if bars is not None:
            changes[(*place, "bars")] = _times(bars, by, place)
        changes |= _written_out(song, Entry(part), settings, place, f"{part} {WORDS[factor]}", by)
    for index, entry in enumerate(song.form):
        place = ("form", index)
        changes |= _own_keys(place, entry.settings, by, _bars(song, entry))
        if any(key in entry.settings.given() for key in STROKES):
            name = f"{entry.name or entry.part} {index + 1} {WORDS[factor]}"
            changes |= _written_out(song, entry, song.settings_of(entry), place, name, by)
        if isinstance(entry.fixed, str):
            changes[(*place, "fixed")] = _bar_range(entry.fixed, by)
    return changes


def recount_section(song: Song, index: int, factor: str) -> Changes:
    """The changes that recount the section of one form entry alone: it becomes a part of its own."""
    by = FACTORS[factor]
    entry = song.form[index]
    if entry.repeat != 1:
        raise MusicError(
            f"{entry.name or entry.part} is repeated {entry.repeat} times in one entry of the form",
            hint="write its statements out as entries of their own",
            path=("form", index, "repeat"),
        )
    name = _free_name(f"{entry.name or entry.part} {WORDS[factor]}", song)
    settings = song.settings_of(entry)
    place: Path = ("parts", name)
    bars = bars_of(song, settings)
    layers = (song.defaults.tempo, song.parts[entry.part].tempo, entry.settings.tempo)
    changes: Changes = {(*place, key): plain_value(value) for key, value in settings.given().items() if key not in BAKED}
    changes |= _own_keys(place, settings, by, bars)
    if not isinstance(settings.tempo, TempoRamp):
        changes[(*place, "tempo")] = plain_value(resolve(song.tempo, layers, Fraction(1))[0][1] * by)
    changes[(*place, "bars")] = _times(bars, by, ("form", index))
    changes |= _written_out(song, entry, settings, place, name, by)
    gone = [path for path, value in changes.items() if path[:2] == place and value is DELETE]
    for path in gone:
        del changes[path]
    changes |= _against_defaults(song.defaults, changes, place)
    item: dict[str, object] = {"part": name, "name": entry.name or entry.part}
    if entry.fixed is not False:
        item["fixed"] = _bar_range(entry.fixed, by) if isinstance(entry.fixed, str) else plain_value(entry.fixed)
    changes[("form", index)] = item
    return changes


NEUTRAL: Mapping[str, object] = {"subdivision": "keep", "hi_hat_foot": False, "kick": kick.ADAPT}


def _against_defaults(defaults: Settings, changes: Changes, place: Path) -> Changes:
    """Keys that keep [defaults] from working on the written-out groove a second time."""
    given = defaults.given()
    if "feel" in given or "backbeats" in given:
        raise MusicError(
            "a feel under [defaults] would change the recounted section again",
            hint="move it into the parts, then recount",
            path=("defaults", "feel"),
        )
    return {(*place, key): value for key, value in NEUTRAL.items() if key in given and (*place, key) not in changes}


def _bars(song: Song, entry: Entry) -> int | None:
    """Bars of an entry's section, None for a part that only its entries give a length."""
    settings = song.settings_of(entry)
    return None if settings.bars is None and settings.groove is None else bars_of(song, settings)


def _own_keys(place: Path, settings: Settings, by: Fraction, bars: int | None) -> Changes:
    """What changes of the keys that stand in one table of the sheet; `bars` is the section's length there."""
    changes: Changes = {(*place, key): DELETE for key in BAKED if key in settings.given()}
    if isinstance(settings.tempo, TempoRamp):
        raise MusicError(
            "a tempo that moves steps once a quarter note, so its strokes would sound at other times",
            hint="a recount of other sections with --section, or a tempo that stays",
            path=(*place, "tempo"),
        )
    if isinstance(settings.tempo, Fraction):
        changes[(*place, "tempo")] = plain_value(settings.tempo * by)
    if settings.bars is not None:
        changes[(*place, "bars")] = _times(settings.bars, by, place)
    if settings.kick in (kick.KEEP, kick.FIGURE):
        changes[(*place, "kick")] = DELETE
    if settings.riff_grid is not None:
        changes[(*place, "riff_grid")] = _riff_grid(settings, by)
    if isinstance(settings.timekeeper, tuple) and bars is not None:
        spans = surface_spans(settings.timekeeper, bars)
        changes[(*place, "timekeeper")] = [{"bars": _times(n, by, place), "on": on} for n, on in spans]
    return changes


def _written_out(song: Song, entry: Entry, settings: Settings, place: Path, name: str, by: Fraction) -> Changes:
    """The section's loop as a groove of the sheet with other note values, and the keys that name it."""
    if settings.groove is None or settings.tacet:
        return {}
    if settings.riff_downbeat and settings.kick == kick.FOLLOW:
        raise MusicError(
            "riff_downbeat puts a kick on each bar's 1, and a recount changes the bars",
            hint="the attacks in the riff itself",
            path=(*place, "riff_downbeat"),
        )
    file = GrooveFile.of(recount_groove(section_loop(song, entry), by))
    changes: Changes = {(*place, "groove"): name}
    changes |= {("grooves", name, key): value for key, value in groove_table(file).items()}
    if settings.riff is not None:
        changes[(*place, "riff_grid")] = _riff_grid(settings, by)
    return changes


def _riff_grid(settings: Settings, by: Fraction) -> int:
    grid = (settings.riff_grid or DEFAULT_RIFF_GRID) / by
    if grid.denominator != 1 or not 4 <= grid <= 96:
        raise MusicError(f"the riff would need {float(grid):g} steps to a whole note", allowed="4 to 96")
    return int(grid)


def _times(bars: int, by: Fraction, place: Path) -> int:
    count = bars * by
    if count.denominator != 1:
        raise MusicError(
            f"{bars} bars cannot be halved to whole bars", hint="an even number of bars", path=(*place, "bars")
        )
    return int(count)


def _bar_range(text: str, by: Fraction) -> str:
    first, _, last = text.partition("-")
    start = (int(first) - 1) * by + 1
    end = int(last or first) * by
    return f"{int(start)}-{max(int(end), int(start))}"


def _free_name(name: str, song: Song) -> str:
    free, number = name, 2
    while free in song.parts or free in song.grooves:
        free, number = f"{name} {number}", number + 1
    return free
