"""Beat numbers as musicians say them: "2 4&" for backbeats, "1.1 4.2&" for stops.

Numbers count the lower figure of the metre from 1: quarters in 4/4, eighths in 7/8 and 12/8. After quarters &
is the eighth behind the beat, e and a are the sixteenths round it (common practice).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from fractions import Fraction
from types import MappingProxyType

from grooveforge.core.meter import Meter
from grooveforge.errors import MusicError

PARTS: Mapping[str, Fraction] = MappingProxyType(
    {"": Fraction(0), "e": Fraction(1, 16), "&": Fraction(1, 8), "a": Fraction(3, 16)}
)
"""What stands after a number, and how far behind it that is in whole notes."""

_BEAT = re.compile(r"([0-9]{1,3})([e&a]?)", re.ASCII)
_STOP = re.compile(r"([0-9]{1,4})\.([0-9]{1,3}[e&a]?)", re.ASCII)
_MOST = 4096


def beat_place(word: str, meter: Meter) -> Fraction:
    """The place of one beat number, in whole notes from the bar line.

    Raises
    ------
    MusicError
        When it is no beat of the metre.
    """
    found = _BEAT.fullmatch(word)
    if found is None:
        raise MusicError("a beat is a number, in quarters with e, & or a", found=_quoted(word), hint='"2 4&"')
    number, part = int(found[1]), found[2]
    if not 1 <= number <= meter.upper:
        allowed = f"1 to {meter.upper} (the lower figure counts)"
        raise MusicError(f"a bar of {meter} has no such beat", found=_quoted(word), allowed=allowed)
    if part and meter.lower != 4:
        raise MusicError(f"{part} stands after quarters only, not in {meter}", found=_quoted(word))
    return (number - 1) * meter.unit + PARTS[part]


def parse_beats(text: str, meter: Meter) -> tuple[Fraction, ...]:
    """The places of "2 4&" in whole notes from the bar line, rising.

    Raises
    ------
    MusicError
        When the text names no beat, a beat that the metre has not, or one beat twice.
    """
    return _rising(text, [beat_place(word, meter) for word in _words(text)])


def parse_stops(text: str, meter: Meter) -> tuple[Fraction, ...]:
    """The places of "1.1 2.1 4.2&" (bar.beat, from 1) in whole notes from the part's start, rising.

    Raises
    ------
    MusicError
        When a place is none in this metre, or stands twice.
    """
    places = []
    for word in _words(text):
        found = _STOP.fullmatch(word)
        if found is None or int(found[1]) < 1:
            raise MusicError("a stop is written bar.beat", found=_quoted(word), hint='"1.1 4.2&"')
        places.append((int(found[1]) - 1) * meter.whole + beat_place(found[2], meter))
    return _rising(text, places)


def _words(text: str) -> list[str]:
    words = text.split()
    if not words:
        raise MusicError("at least one beat is needed", hint='"2 4"')
    if len(words) > _MOST:
        raise MusicError(f"{len(words)} beats are too many", allowed=f"at most {_MOST}")
    return words


def _rising(text: str, places: list[Fraction]) -> tuple[Fraction, ...]:
    if len(set(places)) < len(places):
        raise MusicError("a beat stands twice", found=_quoted(text))
    return tuple(sorted(places))


def _quoted(text: str) -> str:
    return repr(text if len(text) <= 40 else text[:37] + "...")


def beat_text(places: Iterable[Fraction], meter: Meter) -> str:
    """The text of places inside one bar: the inverse of `parse_beats`.

    Raises
    ------
    MusicError
        When a place has no such name (a triplet; a sixteenth between eighths of 7/8).
    """
    return " ".join(_beat_word(place, meter) for place in places)


def stops_text(places: Iterable[Fraction], meter: Meter) -> str:
    """The text of places counted from a part's start: the inverse of `parse_stops`."""
    return " ".join(f"{place // meter.whole + 1}.{_beat_word(place % meter.whole, meter)}" for place in places)


def _beat_word(place: Fraction, meter: Meter) -> str:
    number, rest = divmod(place, meter.unit)
    part = next((letter for letter, by in PARTS.items() if by == rest), None)
    if not 0 <= number < meter.upper or part is None or (part and meter.lower != 4):
        raise MusicError(f"{place} of a whole note has no beat number in {meter}")
    return f"{number + 1}{part}"
