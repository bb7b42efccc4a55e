"""Every key of song sheets, groove files, key maps and profiles in one table: where it stands, what it holds.

The readers walk this table, and so do help and documentation.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from grooveforge.core import kick, timekeeper
from grooveforge.core.fit import FITS
from grooveforge.core.groove import COARSEST_GRID, FINEST_GRID
from grooveforge.core.profile import DEFAULT_PROFILE, HANDED, PROFILES
from grooveforge.core.riff import MODES
from grooveforge.core.song import FINALS, LEVELS, MOST_SECTION_BARS, MOST_SONG_BARS
from grooveforge.formats import key_values as v
from grooveforge.formats import toml_values as t
from grooveforge.formats.keymap import GM
from grooveforge.formats.toml_text import FaultList, Path, Table, nearest

CHANGED = "changed bar"
SONG, PART, ENTRY, GROOVE, FILL, KEY_MAP, PROFILE = "song", "part", "entry", "groove", "fill", "key map", "profile"

PLACES = {
    SONG: "the song",
    PART: "a part",
    ENTRY: "a form entry",
    GROOVE: "a groove",
    FILL: "a fill",
    KEY_MAP: "a key map",
    CHANGED: "a changed bar",
    PROFILE: "a profile",
}
"""Where keys may stand, as errors say it."""

BOTH = (PART, ENTRY)
ALL = (SONG, PART, ENTRY)
FILES = (GROOVE, FILL)
TABS = (GROOVE, FILL, CHANGED)


MOST_HINTS = 100
"""Faults of one text that are answered with the nearest name, which takes time to find."""


@dataclass(frozen=True)
class Key:
    """One key.

    Parameters
    ----------
    name : as it is written. places : where it may stand. read : its reader, of `key_values` or `toml_values`.
    values : what may stand behind it, in words. default : what holds without it, in words.
    meaning : one line.
    """

    name: str
    places: tuple[str, ...]
    read: t.Reader
    values: str
    default: str
    meaning: str


_GRID = f"{COARSEST_GRID} to {FINEST_GRID} steps to a whole note"
_SURFACES = 'a surface; a list in equal parts; a list of { bars = 6, on = "ride" }'
_FEELS = "quarter, half, full, double, d-beat, blast"

KEYS: tuple[Key, ...] = (
    Key("tab", TABS, t.text, "drum tab", "needed", "what is played, one line a voice"),
    Key("name", FILES, t.text, "text", "the file's name", "what it is called"),
    Key("kind", FILES, t.choice("groove", "fill"), "groove, fill", "groove", "whether it is a groove or a fill"),
    Key("length", (FILL,), v.length, '"1 beat" to "2 bars"', "needed", "how long the fill is"),
    Key("title", (SONG,), t.text, "text", "the file's name", "the song's title"),
    Key("tempo", (SONG,), v.song_tempo, "20-400", "120", "quarter notes a minute"),
    Key("tempo", BOTH, v.part_tempo, '20-400, "2/3", { to = 98, over = 8 }', "the song's", "tempo of the section"),
    Key("tempo", FILES, v.tempo_range, "[lowest, highest]", "none", "where it sits"),
    Key("meter", (*ALL, *TABS), v.meter, '"4/4", "7/8"', "4/4, or the song's", "the metre"),
    Key("grouping", (*ALL, *FILES), v.grouping, "[2, 2, 3]", "by the metre", "groups of the lower figure"),
    Key("grid", TABS, t.whole(COARSEST_GRID, FINEST_GRID), _GRID, "by the columns", "what one column is"),
    Key("seed", (SONG,), t.whole(0), "whole number from 0", "1", "every random choice follows from it"),
    Key("key_map", (SONG,), t.text, '"gm" or a file', "gm", "the kit's note numbers"),
    Key("profile", (SONG,), t.text, "learning, experienced, extreme, a file", "experienced", "the drummer's limits"),
    Key("profile", FILES, t.text, "learning, experienced, extreme, a file", "experienced", "who can play it"),
    Key("looseness", ALL, t.number(0, 15, "ms"), "ms, 0-15", "0", "standard deviation of timing"),
    Key("levels", ALL, t.choice(*LEVELS), "shaped, flat", "shaped", "how loud strokes are"),
    Key("swing", ALL, v.swing, '"1:1" to "3:1"', "1:1", "long to short half of the pulse"),
    Key("count_in", (SONG,), t.whole(0, 4), "0-4 bars", "0", "clicks before bar 1"),
    Key("final", (SONG,), t.choice(*FINALS), "bar, hit", "bar", "how the song ends"),
    Key("part", (ENTRY,), t.text, "a part's name", "needed", "which part is played"),
    Key("groove", BOTH, t.text, "a groove of the sheet or library, a file", "needed unless stops or tacet",
        "what is played"),
    Key("bars", BOTH, t.whole(1, MOST_SECTION_BARS), "1-2,000", "the groove's length", "length of the section"),
    Key("timekeeper", BOTH, v.hand, _SURFACES, "the groove's", "where the timekeeping hand stands"),
    Key("timekeeper", (GROOVE,), v.surface, "a surface", "the tab's", "what the timekeeping hand strikes"),
    Key("timekeeper", (CHANGED,), v.surface_or_none, 'a surface, "none"', "the tab's",
        "what the timekeeping hand strikes"),
    Key("subdivision", BOTH, t.choice(*timekeeper.SUBDIVISIONS), ", ".join(timekeeper.SUBDIVISIONS), "keep",
        "rate of the timekeeping hand"),
    Key("hi_hat_foot", BOTH, t.truth, "true, false", "false", "the foot closes the hi-hat on backbeats"),
    Key("feel", BOTH, v.any_feel, f"{_FEELS}; /2 /4 x2 x4", "the groove's", "where the snare sits"),
    Key("feel", (GROOVE,), v.feel, _FEELS, "detected", "where the snare sits"),
    Key("spelling", (*BOTH, GROOVE), v.spelling, "v1 v2 v3; alternating unison double-kick one-hand-roll triplet",
        "v1; alternating", "figure of a d-beat or blast"),
    Key("backbeats", (*BOTH, GROOVE), t.text, '"2 4&"', "the feel's", "own backbeats of each bar"),
    Key("kick", BOTH, t.choice(*kick.POLICIES), ", ".join(kick.POLICIES), "adapt", "what the kick does under a feel"),
    Key("riff", BOTH, v.riff, "a line of x X - or a MIDI file", "none", "the guitar's rhythm"),
    Key("riff_grid", BOTH, t.whole(COARSEST_GRID, FINEST_GRID), _GRID, "16", "what one mark of the riff is"),
    Key("riff_mode", BOTH, t.choice(*MODES), ", ".join(MODES), "all", "which attacks count"),
    Key("riff_restart", BOTH, t.truth, "true, false", "true", "whether the riff restarts with each section"),
    Key("riff_downbeat", BOTH, t.truth, "true, false", "false", "a kick on each 1 as well"),
    Key("ending", BOTH, v.ending, 'false, true, "1 beat", "2 beats", "1 bar"', "false", "last strokes that move"),
    Key("fill", BOTH, v.fill, 'false, "1 beat" to "2 bars", a fill', "false", "fill at the section's end"),
    Key("fill_every", BOTH, v.fill_every, "4, 8, 12, 16 bars", "the section's end", "how often a fill comes"),
    Key("arrival", BOTH, v.arrival, 'true, "soft", false', "true", "crash and kick on the section's 1"),
    Key("stops", BOTH, t.text, '"1.1 2.1 4.2&"', "none", "hits with silence between"),
    Key("choke", BOTH, t.truth, "true, false", "false", "whether stops are damped"),
    Key("tacet", BOTH, t.truth, "true, false", "false", "silence"),
    Key("play", BOTH, v.lanes, "list of timekeeper, snare, kick, other", "all", "which lanes play"),
    Key("level", BOTH, v.level, '"-2" to "+2", { from, to }', "0", "louder or softer"),
    Key("insert", BOTH, v.insert, "[{ before_bar = 5, beats = 2 }]", "none", "beats put between bars"),
    Key("fit", BOTH, t.choice(*FITS), "cut, run", "an error", "a groove of another metre"),
    Key("name", (ENTRY,), t.text, "text", "the part's name", "what this statement is called"),
    Key("repeat", (ENTRY,), t.whole(1, MOST_SONG_BARS), "whole number from 1", "1", "how often in a row"),
    Key("fixed", (ENTRY,), v.fixed, 'true, "9-12", ["kick"]', "false", "kept as it is by later changes"),
    Key("sticking", FILES, v.sticking, "a rudiment's name", "none", "which hand plays what"),
    Key("base", (KEY_MAP,), t.choice(GM.name), "gm", "nothing", "the map that this one starts from"),
    Key("lacks", (KEY_MAP,), v.kit_surfaces, "list of surfaces", "none", "what the kit does not have of the base"),
    Key("at", (CHANGED,), v.place, '"bar 7 of verse 1"', "the bar of its number", "where the bar belongs"),
    Key("levels", (CHANGED,), v.line_values(1, 127), "{ SN = [112, 115] }", "by the marks", "how loud each stroke is"),
    Key("late", (CHANGED,), v.line_values(-v.FURTHEST, v.FURTHEST), "{ SN = [3, -2] }", "0",
        "ticks that each stroke stands after its column"),
    Key("ticks", (CHANGED,), t.whole(24, 32_767), "24-32,767", "480", "ticks to a quarter note that late counts in"),
    Key("base", (PROFILE,), t.choice(*PROFILES), ", ".join(PROFILES), DEFAULT_PROFILE, "whose numbers hold otherwise"),
    Key("hand", (PROFILE,), v.rate, "strokes a second", "6.7", "what one hand can hold"),
    Key("feet", (PROFILE,), v.rate, "strokes a second", "13", "what both feet can hold together"),
    Key("handed", (PROFILE,), t.choice(*HANDED), ", ".join(HANDED), "right", "the hand that leads"),
    Key("open_handed", (PROFILE,), t.truth, "true, false", "false", "whether either hand may lead"),
    Key("double_pedal", (PROFILE,), t.truth, "true, false", "true", "whether both feet play the kick"),
    Key("comfort", (PROFILE,), v.rate, "share of a limit", "0.8", "what costs no effort"),
    Key("burst", (PROFILE,), t.whole(1, 16), "1-16 strokes", "4", "strokes that may be faster than the limit"),
    Key("burst_factor", (PROFILE,), v.rate, "times the limit", "1.5", "and by how much"),
    Key("about", (PROFILE,), t.free_text, "text", "none", "one line about the drummer"),
    Key("about", FILES, t.free_text, "text", "none", "one line about it"),
    Key("tags", FILES, v.texts, "list of texts", "none", "words to find it by"),
)  # fmt: skip


@lru_cache(maxsize=8)
def keys_at(place: str) -> dict[str, Key]:
    """The keys that may stand in a place, by name, in the table's order."""
    return {key.name: key for key in KEYS if place in key.places}


def read_keys(table: Table, place: str, faults: FaultList, path: Path, also: tuple[str, ...] = ()) -> Table:
    """The values of a table's keys; faults are collected and their keys left out.

    Parameters
    ----------
    place : one of `PLACES`. path : of the table. also : names of tables that stand there too.
    """
    known = keys_at(place)
    read: Table = {}
    for name, value in table.items():
        if name in also:
            continue
        key = known.get(name)
        if key is None:
            _unknown(name, place, faults, path, also)
            continue
        with faults.at(*path, name):
            read[name] = key.read(value)
    return read


def _unknown(name: str, place: str, faults: FaultList, path: Path, also: tuple[str, ...]) -> None:
    others = [PLACES[other] for other in PLACES if name in keys_at(other)]
    if others:
        message = f"the key {name} stands in {' and '.join(others)}, not in {PLACES[place]}"
        faults.add(message, (*path, name))
        return
    # A file that is none at all has thousands of them; nobody reads that many hints.
    near = nearest(name, [*keys_at(place), *also])[0] if len(faults) < MOST_HINTS else ""
    faults.add(f"{PLACES[place]} has no such key", (*path, name), found=t.shown(name), hint=near)
