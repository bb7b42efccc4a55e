"""What may stand behind the keys of song sheets and groove files: the readers of musical values.

A reader takes a TOML value and gives the value of our own; what is wrong raises a FormatError or MusicError
whose path goes on from the key.
"""

from __future__ import annotations

import re
from fractions import Fraction

from grooveforge.core import feel_table
from grooveforge.core.groove import LANES
from grooveforge.core.kit import timekeeping_surface
from grooveforge.core.meter import MOST_BEATS, Meter, parse_meter
from grooveforge.core.riff import typed_riff
from grooveforge.core.song import FASTEST, MOST_SECTION_BARS, SLOWEST, TempoRamp, TempoRatio
from grooveforge.errors import FormatError
from grooveforge.formats.toml_text import OddNumber
from grooveforge.formats.toml_values import (
    Reader,
    choice,
    each,
    either,
    free_text,
    items,
    not_yet,
    number,
    shown,
    table,
    text,
    truth,
    whole,
)

_RATIO = re.compile(r"\s*(\d{1,4})\s*/\s*(\d{1,4})\s*", re.ASCII)
_SWING = re.compile(r"\s*(\d{1,4}(?:\.\d{1,4})?)\s*:\s*(\d{1,4}(?:\.\d{1,4})?)\s*", re.ASCII)
_BARS = re.compile(r"(\d{1,5})(?:-(\d{1,5}))?", re.ASCII)
_LENGTH = re.compile(r"(\d{1,2}) (beat|bar)s?", re.ASCII)
_FILE_SIGNS = re.compile(r"[./\\]")

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
    """A typed riff, kept as the line it is; a file is not there yet."""
    line = text(value)
    is_line = not line.strip("xX-| \t\n")
    if not is_line and (line.lower().endswith((".mid", ".midi")) or _FILE_SIGNS.search(line)):
        raise not_yet("a riff from a file")
    typed_riff(line)
    return line


def arrival(value: object) -> object:
    if value == "soft" and isinstance(value, str):
        raise not_yet('arrival = "soft"')
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

# -- what later versions play -----------------------------------------------------------------------------

LENGTHS = ("1 beat", "2 beats", "1 bar")
ending = either((bool, truth), (str, choice(*LENGTHS)), wanted="true, false or a length")


def _no(value: object) -> bool:
    if value is not False:
        allowed = 'false, "1 beat", "2 beats", "1 bar", "2 bars"'
        raise FormatError("true does not say how long the fill is", allowed=allowed)
    return False


fill = either((bool, _no), (str, text), wanted="false, a length or a fill's name")


def fill_every(value: object) -> int:
    bars = whole(4, 16)(value)
    if bars % 4:
        raise FormatError("no such distance", found=str(bars), allowed="4, 8, 12, 16 bars")
    return bars


def swing(value: object) -> Fraction:
    found = _SWING.fullmatch(free_text(value))
    if found is None or not Fraction(found[2]) or not 1 <= Fraction(found[1]) / Fraction(found[2]) <= 3:
        raise FormatError("no such swing", found=shown(value), allowed='"1:1" to "3:1", long to short')
    return Fraction(found[1]) / Fraction(found[2])


_one_level = choice("-2", "-1", "0", "+1", "+2")
level = either(
    (str, _one_level),
    (dict, lambda value: table(value, {"from": _one_level, "to": _one_level})),
    wanted='"-2" to "+2" or { from, to }',
)


def insert(value: object) -> tuple[object, ...]:
    row: dict[str, Reader] = {"before_bar": whole(1, MOST_SECTION_BARS), "beats": whole(1, MOST_BEATS)}
    return each(items(value, "a list of { before_bar, beats }"), lambda item: tuple(table(item, row).values()))


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
