"""The key of a score: every surface and sign that it uses, each as one note with its name under it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from xml.etree.ElementTree import tostring

from grooveforge.core.kit import ACCENT, GHOST, NORMAL, Kind
from grooveforge.core.meter import Meter
from grooveforge.core.score import Hit, Score, ScoreBar
from grooveforge.formats.engrave import PageSize, for_verovio, rendered
from grooveforge.formats.musicxml import score_element
from grooveforge.formats.notation import key_of, place_of
from grooveforge.formats.xml_text import node

QUARTER = Meter(1, 4)
PLACE = Fraction(0)


@dataclass(frozen=True)
class Sign:
    """A sign that is no surface: its name, what it looks like, and a stroke that shows it."""

    name: str
    words: str
    hit: Hit


SIGNS = (
    Sign("accent", "> beside the note", Hit(PLACE, "snare", Kind.ACCENT, ACCENT)),
    Sign("ghost note", "head in brackets", Hit(PLACE, "snare", Kind.GHOST, GHOST)),
    Sign("flam", "one small note before", Hit(PLACE, "snare", Kind.FLAM, NORMAL, 1)),
    Sign("drag", "two small notes before", Hit(PLACE, "snare", Kind.DRAG, NORMAL, 2)),
    Sign("choked", "a wedge: stop the cymbal at once", Hit(PLACE, "crash", Kind.CHOKE, NORMAL)),
)
"""The signs of a stroke; that a wedge is a choke is a house rule, the rest is common practice."""


def used_signs(score: Score) -> list[Sign]:
    """The signs that a score has."""
    hits = {hit for bar in score.bars for hit in bar.hits}
    found = {
        "accent": any(hit.accented for hit in hits),
        "ghost note": any(hit.ghosted for hit in hits),
        "flam": any(hit.graces == 1 for hit in hits),
        "drag": any(hit.graces > 1 for hit in hits),
        "choked": any(hit.choked for hit in hits),
    }
    return [sign for sign in SIGNS if found[sign.name]]


CLOSED_AGAIN = ("closed again", "+ above the first closed stroke after an open one")

CELL = PageSize(340)
"""A picture of one stroke: clef and note."""


STICKING = ("R, L, B", "right, left, both hands; a second line is the feet")


def key_cells(score: Score, sticking: bool = False) -> Iterator[tuple[str, str, str]]:
    """Every surface and sign of a score as (name, what it looks like in words, picture), top of the staff first."""
    for name, words in key_of(score.surfaces):
        yield name, words, _picture(Hit(PLACE, name, Kind.PLAIN, NORMAL))
    for sign in used_signs(score):
        yield sign.name, sign.words, _picture(sign.hit)
    if any(place_of(name).mark for name in score.surfaces):
        closed = Hit(PLACE, "closed hi-hat", Kind.PLAIN, NORMAL)
        yield (*CLOSED_AGAIN, _picture(closed, after_open=True))
    if sticking:
        yield (*STICKING, "")


def _picture(hit: Hit, after_open: bool = False) -> str:
    """One stroke as SVG."""
    tree = score_element(Score("", (ScoreBar(1, QUARTER, (hit,)),)))
    if after_open:
        note = next(tree.iter("note"))
        note.append(node("notations", node("technical", node("stopped"))))
    for_verovio(tree)
    for measure in tree.iter("measure"):
        for attributes in measure.findall("attributes"):
            for time in attributes.findall("time"):  # a key is no music: no metre and no bar line
                attributes.remove(time)
        for line in measure.findall("barline"):
            measure.remove(line)
        measure.append(node("barline", node("bar-style", "none"), location="right"))
    return rendered(tostring(tree, encoding="unicode"), CELL)[0]
