"""Recounting a song sheet: the keys that change so that every stroke sounds when it did.

What makes a section's strokes (groove, feel, rate of the hand) is written out as a groove of the sheet with
its note values doubled or halved; numbers of bars and of tempo change along. Form, names, surfaces, arrivals
and comments stay as they are.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

from grooveforge.core import kick
from grooveforge.core.arrange import bars_of, section_loop
from grooveforge.core.differences import plain_value
from grooveforge.core.recount import FACTORS, recount_groove
from grooveforge.core.song import Entry, Settings, Song
from grooveforge.errors import GrooveForgeError, MusicError
from grooveforge.formats.groovefile import GrooveFile, groove_table
from grooveforge.formats.recount_keys import (
    BAKED,
    bar_range,
    equal_parts,
    faster,
    own_keys,
    riff_grid,
    said_in,
    same_hand,
    section_bars,
    section_tempo,
    times,
)
from grooveforge.formats.sheetedit import DELETE, Changes
from grooveforge.formats.toml_text import Path

STROKES = (*BAKED, "groove", "kick", "riff", "riff_grid", "riff_restart", "riff_downbeat", "meter", "grouping", "tacet")
"""Keys that give a section other strokes than its part has."""

WORDS: Mapping[str, str] = {"x2": "doubled", "/2": "halved"}


def recount_song(song: Song, factor: str) -> Changes:
    """The changes of a sheet that recount the whole song: values, or DELETE, by key path.

    Parts that the form does not name stay as they are; see `unused_parts`.

    Raises
    ------
    MusicError
        When a section cannot be recounted exactly: a ramp of tempo, or an odd number of bars to halve.
    """
    by = FACTORS[factor]
    taken = {*song.parts, *song.grooves}
    changes: Changes = {("tempo",): plain_value(faster(song.tempo, by, ("tempo",)))}
    changes |= own_keys(("defaults",), song.defaults, by, lambda key: ("defaults", key))
    for part in dict.fromkeys(entry.part for entry in song.form):
        settings = song.plain_settings_of(part)
        bars = section_bars(song, Entry(part))
        place: Path = ("parts", part)
        said = said_in(song, Entry(part), place)
        changes |= own_keys(place, song.parts[part], by, said)
        entries = [entry for entry in song.form if entry.part == part]
        if bars is not None and settings.bars is None and any(_bars_of_part(song, entry) for entry in entries):
            changes[(*place, "bars")] = times(bars, by, said("groove"))
        if bars is not None and any(same_hand(song, entry) for entry in entries):
            changes |= equal_parts(settings, bars, by, place, said)
        if not all(_own_strokes(song, entry) for entry in entries):
            name = _free_name(f"{part} {WORDS[factor]}", taken)
            changes |= _written_out(song, Entry(part), place, name, by)
    for index, entry in enumerate(song.form):
        name = _free_name(f"{entry.name or entry.part} {index + 1} {WORDS[factor]}", taken)
        by_bars = ("parts", entry.part, "timekeeper") in changes
        changes |= _entry_changes(song, index, by, name, by_bars)
    return changes


def _entry_changes(song: Song, index: int, by: Fraction, name: str, by_bars: bool) -> Changes:
    """What a recount of the whole song changes in one form entry.

    Parameters
    ----------
    name : of its groove, where it needs one of its own. by_bars : whether its part's surfaces are by bars now.
    """
    entry = song.form[index]
    place: Path = ("form", index)
    said = said_in(song, entry, place)
    settings = song.settings_of(entry)
    given = entry.settings.given()
    changes = own_keys(place, entry.settings, by, said)
    if settings.bars is None and not _bars_of_part(song, entry):
        changes[(*place, "bars")] = times(bars_of(song, settings), by, said("groove"))
    if not same_hand(song, entry):
        anew = by_bars and "timekeeper" not in given
        changes |= equal_parts(settings, bars_of(song, settings), by, place, said, anew)
    if _own_strokes(song, entry):
        changes |= _written_out(song, entry, place, name, by)
    if isinstance(entry.fixed, str):
        changes[(*place, "fixed")] = bar_range(entry.fixed, by)
    return changes


def _own_strokes(song: Song, entry: Entry) -> bool:
    """Whether an entry plays other strokes than its part; where the hand stands decides about the foot's."""
    given = entry.settings.given()
    foot = song.settings_of(entry).hi_hat_foot
    return any(key in given for key in STROKES) or bool(foot and "timekeeper" in given)


def _bars_of_part(song: Song, entry: Entry) -> bool:
    """Whether an entry says neither a length of its own nor a groove of another length than its part's."""
    return entry.settings.bars is None and section_bars(song, entry) == section_bars(song, Entry(entry.part))


def unused_parts(song: Song) -> list[str]:
    """Parts that the form does not name; a recount of the song leaves them as they are."""
    used = {entry.part for entry in song.form}
    return [part for part in song.parts if part not in used]


def recount_section(song: Song, index: int, factor: str) -> Changes:
    """The changes that recount the section of one form entry alone: it becomes a part of its own.

    Raises
    ------
    MusicError
        As `recount_song`, and when the entry is repeated or [defaults] would work on the new part.
    """
    by = FACTORS[factor]
    entry = song.form[index]
    if entry.repeat != 1:
        raise MusicError(
            f"{entry.name or entry.part} is repeated {entry.repeat} times in one entry of the form",
            hint="write its statements out as entries of their own",
            path=("form", index, "repeat"),
        )
    name = _free_name(f"{entry.name or entry.part} {WORDS[factor]}", {*song.parts, *song.grooves})
    settings = song.settings_of(entry)
    place: Path = ("parts", name)
    said = said_in(song, entry, ("form", index))
    bars = bars_of(song, settings)
    changes: Changes = {
        (*place, key): plain_value(value) for key, value in settings.given().items() if key not in BAKED
    }
    changes |= own_keys(place, settings, by, said)
    changes[(*place, "tempo")] = section_tempo(song, entry, by, said("tempo"))
    changes[(*place, "bars")] = times(bars, by, said("bars"))
    changes |= equal_parts(settings, bars, by, place, said)
    changes |= _written_out(song, entry, place, name, by)
    gone = [path for path, value in changes.items() if path[:2] == place and value is DELETE]
    for path in gone:
        del changes[path]
    changes |= _against_defaults(song.defaults, changes, place)
    item: dict[str, object] = {"part": name, "name": entry.name or entry.part}
    if entry.fixed is not False:
        item["fixed"] = bar_range(entry.fixed, by) if isinstance(entry.fixed, str) else plain_value(entry.fixed)
    changes[("form", index)] = item
    return changes


NEUTRAL: Mapping[str, object] = {"subdivision": "keep", "hi_hat_foot": False, "kick": kick.ADAPT}


def _against_defaults(defaults: Settings, changes: Changes, place: Path) -> Changes:
    """Keys that keep [defaults] from working on the written-out groove a second time."""
    given = defaults.given()
    again = next((key for key in ("feel", "backbeats") if key in given), None)
    if again is not None:
        raise MusicError(
            f"a key {again} under [defaults] would change the recounted section again",
            hint="move it into the parts, then recount",
            path=("defaults", again),
        )
    return {(*place, key): value for key, value in NEUTRAL.items() if key in given and (*place, key) not in changes}


def _written_out(song: Song, entry: Entry, place: Path, name: str, by: Fraction) -> Changes:
    """The section's loop as a groove of the sheet with other note values, and the keys that name it."""
    settings = song.settings_of(entry)
    if settings.groove is None or settings.tacet:
        return {}
    said = said_in(song, entry, place)
    if settings.riff_downbeat and settings.kick == kick.FOLLOW:
        raise MusicError(
            "riff_downbeat puts a kick on each bar's 1, and a recount changes the bars",
            hint="the attacks in the riff itself",
            path=said("riff_downbeat"),
        )
    try:
        file = GrooveFile.of(recount_groove(section_loop(song, entry), by))
    except GrooveForgeError as error:
        path = said("groove")
        raise MusicError(fault if fault.path else replace(fault, path=path) for fault in error.faults) from error
    table = groove_table(file)
    if file.meter != song.meter:
        table |= {"meter": str(file.meter), "grouping": list(file.meter.grouping)}
    changes: Changes = {(*place, "groove"): name}
    changes |= {("grooves", name, key): value for key, value in table.items()}
    if settings.riff is not None:
        changes[(*place, "riff_grid")] = riff_grid(settings, by, said("riff_grid"))
    return changes


def _free_name(name: str, taken: set[str]) -> str:
    """A name that no part or groove has yet; it is taken from now on."""
    free, number = name, 2
    while free in taken:
        free, number = f"{name} {number}", number + 1
    taken.add(free)
    return free
