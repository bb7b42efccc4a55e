"""What the tests of charts share: a MusicXML file read back without our code, and MIDI counted bar by bar."""

from __future__ import annotations

import importlib.util
import io
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any

import mido
from lxml import etree

from tests.read_back import of, strokes

ROOT = Path(__file__).parent.parent
SONGS = sorted((ROOT / "patterns" / "songs").glob("*.toml"))
GROOVES = sorted((ROOT / "patterns" / "grooves").glob("*.toml"))

Count = Counter[tuple[int, int]]
"""(bar, MIDI note) -> strokes"""


def _package(name: str) -> Path:
    found = importlib.util.find_spec(name)
    assert found is not None and found.origin is not None
    return Path(found.origin).parent


class _Local(etree.Resolver):  # type: ignore[misc]  # lxml says nothing of its types; a resolver must be its class
    """Finds the two schemas that MusicXML's names by address, in the package xmlschema."""

    def resolve(self, url: str, _public: str, context: Any) -> Any:
        for name, folder in (("xlink.xsd", "XLINK"), ("xml.xsd", "XML")):
            if url.endswith(name):
                return self.resolve_filename(str(_package("xmlschema") / "schemas" / folder / name), context)
        return None


@lru_cache(maxsize=1)
def schema() -> Any:
    """The W3C's MusicXML 4.0 schema (it comes with the package musicxml), without the network."""
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(_Local())
    file = _package("musicxml") / "generate_classes" / "musicxml_4_0.xsd"
    return etree.XMLSchema(etree.parse(str(file), parser))


def tree_of(data: bytes) -> Any:
    """The root of a MusicXML file."""
    return etree.fromstring(data, etree.XMLParser(load_dtd=False, no_network=True))


def assert_valid(data: bytes) -> None:
    """The file is valid MusicXML 4.0."""
    checker = schema()
    assert checker.validate(tree_of(data)), str(checker.error_log.last_error)


def chart_counts(data: bytes) -> Count:
    """Strokes by bar and note of a MusicXML file, grace notes counted."""
    root = tree_of(data)
    notes = {item.get("id"): int(item.findtext("midi-unpitched")) - 1 for item in root.iter("midi-instrument")}
    return Counter(
        (int(measure.get("number")), notes[instrument.get("id")])
        for measure in root.iter("measure")
        for instrument in measure.iter("instrument")
    )


@dataclass
class Bars:
    """The bar lines of a MIDI file, metre by metre."""

    file: mido.MidiFile

    def lines(self, end: int) -> Iterator[int]:
        """Tick of every bar line up to `end`."""
        changes = {0: (4, 4)}
        for tick, message in of(self.file, "time_signature"):
            changes[tick] = (message.numerator, message.denominator)
        at, figures = 0, (4, 4)
        while at <= end:
            figures = changes.get(at, figures)
            yield at
            at += 4 * self.file.ticks_per_beat * figures[0] // figures[1]


GRACE_SECONDS = 0.0405
"""A soft stroke this close before a louder one of its note is its grace stroke (a flam is 20-45 ms, and ours 30)."""


def midi_counts(data: bytes) -> Count:
    """Strokes by bar and note of a MIDI file, read by mido; a grace stroke counts in the bar of its stroke."""
    file = mido.MidiFile(file=io.BytesIO(data))
    struck = sorted(_strokes(file))
    lines = list(Bars(file).lines(max((tick for tick, *_ in struck), default=0)))
    counts: Count = Counter()
    for tick, note, velocity, seconds in struck:
        place = tick
        if velocity <= 45:
            for later, other, loud, when in struck:
                if other == note and tick < later and loud > 45 and when - seconds <= 2 * GRACE_SECONDS:
                    place = later
                    break
        counts[sum(line <= place for line in lines), note] += 1
    return counts


def _strokes(file: mido.MidiFile) -> Iterator[tuple[int, int, int, float]]:
    """(tick, note, velocity, seconds) of every note-on; seconds at the tempo that holds, from no fixed start."""
    tempos = {0: 500_000, **{tick: message.tempo for tick, message in of(file, "set_tempo")}}
    for tick, note, velocity in strokes(file):
        yield tick, note, velocity, _seconds(tempos, tick, file.ticks_per_beat)


def _seconds(tempos: dict[int, int], tick: int, division: int) -> float:
    total = 0.0
    changes = sorted(at for at in tempos if at <= tick)
    for at, after in zip(changes, [*changes[1:], tick]):
        total += (after - at) * tempos[at] / 1e6 / division
    return total


@dataclass(frozen=True)
class Filled:
    """One voice of a measure: how long its notes and rests are together, and how many notes start where."""

    length: Fraction
    starts: tuple[Fraction, ...]


def voices(measure: Any, divisions: int) -> dict[str, Filled]:
    """The voices of a measure element, lengths in whole notes."""
    found: dict[str, tuple[Fraction, list[Fraction]]] = {}
    for note in measure.iter("note"):
        if note.find("grace") is not None or note.find("chord") is not None:
            continue
        voice = note.findtext("voice")
        length, starts = found.get(voice, (Fraction(0), []))
        if note.find("rest") is None:
            starts.append(length)
        found[voice] = length + Fraction(int(note.findtext("duration")), 4 * divisions), starts
    return {voice: Filled(length, tuple(starts)) for voice, (length, starts) in found.items()}
