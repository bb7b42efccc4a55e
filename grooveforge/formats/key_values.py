"""What may stand behind the keys of song sheets and groove files: the readers of musical values.

A reader takes a TOML value and gives the value of our own; what is wrong raises a FormatError or MusicError
whose path goes on from the key.
"""

from __future__ import annotations

import re
from fractions import Fraction

from grooveforge.core import feel_table
from grooveforge.core.arrival import SOFT
from grooveforge.core.figures import FULL_ENDING, LENGTHS, Insert
from grooveforge.core.groove import LANES
from grooveforge.core.kit import timekeeping_surface
from grooveforge.core.meter import MOST_BEATS, Meter, parse_meter
from grooveforge.core.played_bar import Place
from grooveforge.core.riff import is_riff_file, typed_riff
from grooveforge.core.rudiments import RUDIMENTS
from grooveforge.core.song import FASTEST, MOST_SECTION_BARS, SLOWEST, Level, Swing, TempoRamp, TempoRatio
from grooveforge.errors import FormatError
from grooveforge.formats.keymap import known_surface
from grooveforge.formats.tab_groove import NO_HAND
from grooveforge.formats.toml_text import OddNumber, nearest
from grooveforge.formats.toml_values import (
    Reader,
    choice,
    deeper,
    each,
    either,
    free_text,
    items,
    number,
    shown,
    table,
    text,
    truth,
    whole,
    wrong_kind,
)

_RATIO = re.compile(r"\s*(\d{1,4})\s*/\s*(\d{1,4})\s*", re.ASCII)
_SWING = re.compile(r"\s*(\d{1,4}(?:\.\d{1,4})?)\s*:\s*(\d{1,4}(?:\.\d{1,4})?)\s*", re.ASCII)
_BARS = re.compile(r"(\d{1,5})(?:-(\d{1,5}))?", re.ASCII)
_LENGTH = re.compile(r"(\d{1,2}) (beat|bar)s?", re.ASCII)

LARGEST = 10**9
"""Numbers beyond this are a slip of the pen wherever they stand."""

song_tempo = number(SLOWEST, FASTEST, "quarter notes a minute")


def _tempo_ratio(value: object) -> TempoRatio:
    found = _RATIO.fullmatch(str(value))
    if found is None or not int(found[1]) or not int(found[2]):
        raise FormatError("a tempo as a text is a ratio", found=shown(value), hint='"2/3" or "4/3"')
    return TempoRatio(Fraction(int(found[1]), int(found[2])))


def _tempo_ramp(value: object) -> TempoRamp:
    read = table(value, {"to": song_tempo, "over": whole(1, 100_000)})
    to, over = read["to"], read["over"]
    return TempoRamp(Fraction(str(to)), int(str(over)))


part_tempo = either(
    (int, song_tempo),
    (Fraction, song_tempo),
    (OddNumber, song_tempo),
    (str, _tempo_ratio),
    (dict, _tempo_ramp),
    wanted="a number, a ratio or { to, over }",
)


def tempo_range(value: object) -> tuple[object, ...]:
    """A groove's own tempi: the lowest and the highest, in quarter notes a minute."""
    pair = items(value, "a list of two tempi")
    if len(pair) != 2:
        raise FormatError("two tempi are needed, the lowest and the highest", found=f"{len(pair)}", hint="[120, 170]")
    low, high = each(pair, song_tempo)
    if Fraction(str(low)) > Fraction(str(high)):
        raise FormatError("the lower tempo stands first", hint=f"[{shown(pair[1])}, {shown(pair[0])}]")
    return low, high


def meter(value: object) -> Meter:
    return parse_meter(text(value))


def grouping(value: object) -> tuple[object, ...]:
    return each(items(value, "a list of whole numbers"), whole(1, MOST_BEATS))


def surface(value: object) -> str:
    return timekeeping_surface(free_text(value))


def kit_surface(value: object) -> str:
    """A surface of the kit by its full name, whether or not the hand may stand on it."""
    return known_surface(text(value))


def kit_surfaces(value: object) -> tuple[object, ...]:
    return () if value == [] else each(items(value, "a list of surfaces"), kit_surface)


def _bars_on(value: object) -> tuple[object, object]:
    read = table(value, {"bars": whole(1, MOST_SECTION_BARS), "on": surface})
    return read["bars"], read["on"]


def _surfaces(value: object) -> tuple[object, ...]:
    listed = items(value, "a list")
    tables = isinstance(listed[0], dict)
    return each(listed, _bars_on if tables else surface)


hand = either((str, surface), (list, _surfaces), wanted="a surface or a list of surfaces")

feel = choice(*feel_table.FEELS)
any_feel = choice(*feel_table.FEELS, *feel_table.RELATIVE)
spelling = choice(*(name for names in feel_table.SPELLINGS.values() for name in names))


def riff(value: object) -> str:
    """A typed riff or the name of a MIDI file, kept as it is written."""
    said = text(value)
    if not is_riff_file(said):
        typed_riff(said)
    return said


def rate(value: object) -> float:
    """A number of a profile; whether a drummer can have it the profile says."""
    if isinstance(value, bool) or not isinstance(value, (int, Fraction)):
        raise wrong_kind(value, "a number")
    if not -LARGEST <= value <= LARGEST:
        raise FormatError("the number is out of range", found=shown(value))
    return float(value)


def sticking(value: object) -> str:
    """The name of a rudiment."""
    said = text(value)
    if said not in RUDIMENTS:
        raise FormatError("no rudiment is called that", found=shown(value), allowed=", ".join(RUDIMENTS),
                          hint=nearest(said, RUDIMENTS)[0])  # fmt: skip
    return said


def arrival(value: object) -> object:
    if value == SOFT and isinstance(value, str):
        return SOFT
    if isinstance(value, str):
        raise FormatError("no such value", found=shown(value), allowed='true, "soft", false')
    return truth(value)


def lanes(value: object) -> tuple[object, ...]:
    return each(items(value, "a list of lanes"), choice(*LANES))


def _bar_range(value: object) -> str:
    found = _BARS.fullmatch(free_text(value))
    if found is None or not 1 <= int(found[1]) <= int(found[2] or found[1]):
        raise FormatError("bars are written first-last", found=shown(value), hint='"9-12"')
    return str(value)


fixed = either((bool, truth), (str, _bar_range), (list, lanes), wanted='true, bars such as "9-12" or a list of lanes')

# -- endings, fills, inserted beats -------------------------------------------------------------------------


def _usual_ending(value: object) -> object:
    return FULL_ENDING if truth(value) else False


ending = either((bool, _usual_ending), (str, choice(*LENGTHS[:-1])), wanted="true, false or a length")


def _no(value: object) -> bool:
    if value is not False:
        raise FormatError("true does not say how long the fill is", allowed=f"false, {_FILL_LENGTHS}")
    return False


def _fill(value: object) -> str:
    said = text(value)
    if _LENGTH.fullmatch(said) and said not in LENGTHS:
        raise FormatError("a fill is not so long", found=shown(value), allowed=f"{_FILL_LENGTHS} or a fill's name")
    return said


_FILL_LENGTHS = ", ".join(f'"{length}"' for length in LENGTHS)
fill = either((bool, _no), (str, _fill), wanted="false, a length or a fill's name")


FILL_EVERY = (4, 8, 12, 16)
"""Bars from one fill to the next."""


def fill_every(value: object) -> int:
    bars = whole(FILL_EVERY[0], FILL_EVERY[-1])(value)
    if bars not in FILL_EVERY:
        raise FormatError("no such distance", found=str(bars), allowed=f"{', '.join(map(str, FILL_EVERY))} bars")
    return bars


def swing(value: object) -> Swing:
    found = _SWING.fullmatch(free_text(value))
    if found is None or not Fraction(found[2]) or not 1 <= Fraction(found[1]) / Fraction(found[2]) <= 3:
        raise FormatError("no such swing", found=shown(value), allowed='"1:1" to "3:1", long to short')
    return Swing(Fraction(found[1]) / Fraction(found[2]))


LEVEL_STEPS = ("-2", "-1", "0", "+1", "+2")
_one_level = choice(*LEVEL_STEPS)


def _steady(value: object) -> Level:
    step = int(_one_level(value))
    return Level(step, step)


def _moving(value: object) -> Level:
    read = table(value, {"from": _one_level, "to": _one_level})
    return Level(int(str(read["from"])), int(str(read["to"])))


level = either((str, _steady), (dict, _moving), wanted='"-2" to "+2" or { from, to }')


def insert(value: object) -> tuple[object, ...]:
    row: dict[str, Reader] = {"before_bar": whole(1, MOST_SECTION_BARS + 1), "beats": whole(1, MOST_BEATS)}

    def read(item: object) -> Insert:
        found = table(item, row)
        return Insert(int(str(found["before_bar"])), int(str(found["beats"])))

    return each(items(value, "a list of { before_bar, beats }"), read)


# -- groove files -----------------------------------------------------------------------------------------


def texts(value: object) -> tuple[object, ...]:
    if value == [] and isinstance(value, list):
        return ()
    return each(items(value, "a list of texts"), text)


def length(value: object) -> str:
    """A length as it is written: "2 beats", "1 bar"."""
    found = _LENGTH.fullmatch(free_text(value))
    if found is None or not int(found[1]) or (found[2] == "bar" and int(found[1]) > 2):
        raise FormatError("no such length", found=shown(value), allowed='"1 beat" to "2 bars"')
    return str(value)


# -- changed bars -----------------------------------------------------------------------------------------

FURTHEST = 1_000_000
"""Ticks that a stroke may stand off its column."""

_PLACE = re.compile(r"bar (\d{1,5}) of (.{1,200}) (\d{1,5})", re.ASCII)


def surface_or_none(value: object) -> str:
    return NO_HAND if value == NO_HAND and isinstance(value, str) else surface(value)


def place(value: object) -> Place:
    """Where a bar stands in the form: "bar 7 of verse 1"."""
    found = _PLACE.fullmatch(free_text(value))
    if found is None:
        raise FormatError("this names no bar of a section", found=shown(value), hint='"bar 7 of verse 1"')
    return Place(found[2], int(found[3]), int(found[1]))


def line_values(low: int, high: int) -> Reader:
    """A table of a tab's lines, for each stroke of a line a number; for a flam or drag a list of all its strokes."""
    one = whole(low, high)

    def several(value: object) -> tuple[object, ...]:
        return each(items(value, "a list of whole numbers"), one)

    one_or_several = either((int, one), (list, several), wanted="a whole number")

    def line(value: object) -> tuple[object, ...]:
        return each(items(value, "a list of whole numbers"), one_or_several)

    def read(value: object) -> dict[str, object]:
        if not isinstance(value, dict):
            raise wrong_kind(value, "a table of the tab's lines")
        found: dict[str, object] = {}
        for label, numbers in value.items():
            try:
                found[str(label)] = line(numbers)
            except FormatError as error:
                raise deeper(error, str(label)) from error
        return found

    return read
