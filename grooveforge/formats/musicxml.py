"""A score as MusicXML 4.0 (W3C Community Group, June 2021): one percussion part in two voices.

Every bar is written out; one that is played as the bar before it is marked with `measure-repeat`, which says how
it may be shown and not what is played. Measure numbers are the song's bar numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from math import lcm
from xml.etree.ElementTree import Element, indent, tostring

from grooveforge.core.groove import KICK
from grooveforge.core.meter import GROUPS, ODD, Meter
from grooveforge.core.score import Hit, Score, ScoreBar
from grooveforge.core.spelling import Symbol, spell
from grooveforge.formats.musicxml_notes import Voice, hat_marks, part_id
from grooveforge.formats.notation import FEET, HANDS, key_of, midi_note, place_of
from grooveforge.formats.tempo_marks import TempoMark, short_number, tempo_marks
from grooveforge.formats.xml_text import node

VERSION = "4.0"
HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
PART = "P1"
LONGEST_NAME = 28
"""Characters of a rehearsal mark; longer ones run into the next (house rule)."""

Spelt = dict[int, tuple[Symbol, ...]]
"""Voice -> its symbols; a voice without strokes is left out where the other has some."""


def musicxml(score: Score, sticking: bool = False) -> bytes:
    """The score as a MusicXML file.

    Parameters
    ----------
    sticking : whether R and L stand under the staff, as lyrics: the hands', and the feet's where both play the kick.
    """
    tree = score_element(score, sticking)
    indent(tree, " ")
    return (HEAD + DOCTYPE + tostring(tree, encoding="unicode") + "\n").encode()


def score_element(score: Score, sticking: bool = False) -> Element:
    """The root element."""
    software = node("encoding", node("software", "GrooveForge"))
    return node(
        "score-partwise",
        node("work", node("work-title", score.title)),
        node("identification", software),
        _key_credit(score),
        node("part-list", _score_part(score)),
        node("part", *_measures(score, sticking), id=PART),
        version=VERSION,
    )


def _key_credit(score: Score) -> Element | None:
    """The key of the surfaces used, for the foot of page 1."""
    words = "; ".join(f"{name}: {where}" for name, where in key_of(score.surfaces))
    if not words:
        return None
    return node("credit", node("credit-type", "key"), node("credit-words", words, font_size="8"), page="1")


def _score_part(score: Score) -> Element:
    surfaces = score.surfaces
    instruments = [node("score-instrument", node("instrument-name", name), id=part_id(name)) for name in surfaces]
    sounds = [
        node(
            "midi-instrument",
            node("midi-channel", 10),
            node("midi-unpitched", midi_note(name) + 1),
            id=part_id(name),
        )
        for name in surfaces
    ]
    return node("score-part", node("part-name", "Drums"), *instruments, *sounds, id=PART)


# -- bars ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class BarLook:
    """What a bar shows beside its strokes.

    Parameters
    ----------
    new_meter, repeat_starts, repeat_stops : whether it says so. line : the bar line at its end.
    """

    tempos: Sequence[TempoMark] = ()
    new_meter: bool = False
    repeat_starts: bool = False
    repeat_stops: bool = False
    line: str = ""
    first: bool = False


def looks(score: Score) -> Iterator[tuple[ScoreBar, BarLook]]:
    """Every bar with what it shows."""
    tempos = tempo_marks(score)
    bars = score.bars
    repeated = [False, *(now.repeats(before) for before, now in pairwise(bars)), False]
    for index, bar in enumerate(bars):
        after = bars[index + 1] if index + 1 < len(bars) else None
        line = "light-heavy" if after is None else "light-light" if after.section is not None else ""
        yield (
            bar,
            BarLook(
                tempos.get(bar.number, ()),
                index == 0 or _figures(bar.meter) != _figures(bars[index - 1].meter),
                repeated[index] and not repeated[index - 1],
                index > 0 and repeated[index - 1] and not repeated[index],
                line,
                index == 0,
            ),
        )


def _figures(meter: Meter) -> tuple[int, int, tuple[int, ...]]:
    return meter.upper, meter.lower, meter.grouping


def spelt(bar: ScoreBar) -> Spelt:
    """The symbols of the voices of a bar."""
    voices: Spelt = {}
    for number in (HANDS, FEET):
        places = tuple(hit.place for hit in bar.hits if place_of(hit.surface).voice == number)
        if places:
            voices[number] = _spelt(bar.meter, places)
    return voices or {HANDS: spell(bar.meter, ())}


@lru_cache(maxsize=4096)
def _spelt(meter: Meter, places: tuple[Fraction, ...]) -> tuple[Symbol, ...]:
    return spell(meter, places)


def divisions_of(score: Score) -> int:
    """Divisions of a quarter that hold every length."""
    lengths = {symbol.length for bar in score.bars for symbols in spelt(bar).values() for symbol in symbols}
    places = {place for bar in score.bars for place, _ in bar.tempos}
    return lcm(1, *((4 * length).denominator for length in lengths | places))


def _measures(score: Score, sticking: bool) -> Iterator[Element]:
    divisions = divisions_of(score)
    was_open = False
    for bar, look in looks(score):
        marks, was_open = hat_marks(bar.hits, was_open and bar.section is None)
        yield node(
            "measure",
            node("print", new_system="yes") if bar.section is not None and not look.first else None,
            *_attributes(bar, look, divisions),
            *_above(bar, look, divisions),
            *_voices(bar, marks, divisions, sticking),
            node("barline", node("bar-style", look.line), location="right") if look.line else None,
            number=str(bar.number),
        )


def _attributes(bar: ScoreBar, look: BarLook, divisions: int) -> Iterator[Element]:
    inside: list[Element] = []
    if look.first:
        inside.append(node("divisions", divisions))
    if look.new_meter:
        figures = (node("beats", bar.meter.upper), node("beat-type", bar.meter.lower))
        inside.append(node("time", *figures))
    if look.first:
        inside.append(node("clef", node("sign", "percussion")))
    if look.repeat_starts or look.repeat_stops:
        kind = "start" if look.repeat_starts else "stop"
        text = 1 if look.repeat_starts else None
        inside.append(node("measure-style", node("measure-repeat", text, type=kind)))
    if inside:
        yield node("attributes", *inside)


def _above(bar: ScoreBar, look: BarLook, divisions: int) -> Iterator[Element]:
    """Rehearsal mark, tempo and words."""
    if bar.section is not None:
        yield _direction([node("rehearsal", bar.section[:LONGEST_NAME])])
    for mark in look.tempos:
        offset = int(4 * mark.place * divisions)
        sound = node("sound", tempo=f"{float(mark.bpm):.6f}".rstrip("0").rstrip("."))
        if not mark.shown:
            sound.append(node("offset", offset))
            yield sound
            continue
        number = node("metronome", node("beat-unit", "quarter"), node("per-minute", short_number(mark.bpm)))
        yield _direction([number], offset, sound)
        if mark.words:
            yield _direction([node("words", mark.words, font_style="italic")], offset)
    words = list(bar.words)
    if look.new_meter and bar.meter.kind in (GROUPS, ODD) and len(bar.meter.grouping) > 1:
        words.append("+".join(map(str, bar.meter.grouping)))
    if words:
        yield _direction([node("words", ", ".join(words), font_style="italic")])


def _direction(types: Sequence[Element], offset: int = 0, sound: Element | None = None) -> Element:
    shown = [node("direction-type", item) for item in types]
    return node("direction", *shown, node("offset", offset) if offset else None, sound, placement="above")


def _voices(
    bar: ScoreBar, marks: dict[tuple[Fraction, str], str], divisions: int, sticking: bool
) -> Iterator[Element]:
    """Both voices; where hands and feet play the same tuplet its number stands over the hands alone."""
    at: dict[int, dict[Fraction, list[Hit]]] = {HANDS: {}, FEET: {}}
    for hit in sorted(bar.hits, key=lambda hit: place_of(hit.surface).height):
        at[place_of(hit.surface).voice].setdefault(hit.place, []).append(hit)
    above: frozenset[tuple[object, ...]] = frozenset()
    for position, (number, symbols) in enumerate(spelt(bar).items()):
        tuplets = {(symbol.start, symbol.tuplet) for symbol in symbols if symbol.opens}
        same = frozenset(start for start, tuplet in tuplets if (start, tuplet) in above)
        above = frozenset(tuplets)
        if position:
            yield node("backup", node("duration", int(bar.meter.quarters * divisions)))
        shown = sticking and (number == HANDS or both_feet(bar.hits))
        yield from Voice(number, symbols, at[number], marks, divisions, shown, same).elements()


def both_feet(hits: Iterable[Hit]) -> bool:
    """Whether both feet play the kick: only then is it worth saying which."""
    return len({hit.sticking for hit in hits if hit.surface == KICK} - {""}) > 1
