"""The notes of one voice of a bar as MusicXML 4.0 elements."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType
from xml.etree.ElementTree import Element

from grooveforge.core.kit import HI_HATS
from grooveforge.core.score import Hit, limbs_at
from grooveforge.core.spelling import Symbol
from grooveforge.formats.notation import FEET, HALF_OPEN, HANDS, OPEN, StaffPlace, midi_note, place_of
from grooveforge.formats.xml_text import node

TYPES: Mapping[Fraction, str] = MappingProxyType(
    {Fraction(2): "breve", Fraction(1): "whole", Fraction(1, 2): "half", Fraction(1, 4): "quarter"}
    | {Fraction(1, 8): "eighth", Fraction(1, 16): "16th", Fraction(1, 32): "32nd"}
    | {Fraction(1, 2**power): f"{2**power}th" for power in (6, 7, 8)}
    | {Fraction(1, 2**power): name for power, name in ((9, "512th"), (10, "1024th"))}
)
"""The names of note values in MusicXML 4.0."""

STEMS: Mapping[int, str] = MappingProxyType({HANDS: "up", FEET: "down"})

CLOSED_AGAIN = "closed again"
"""The mark of the first closed stroke after an open one."""

MARKS: Mapping[str, str] = MappingProxyType({OPEN: "open", HALF_OPEN: "half-muted", CLOSED_AGAIN: "stopped"})
"""The technical element of MusicXML 4.0 for each mark of a hi-hat."""

CHOKED = "staccatissimo"
"""The articulation of a choked cymbal (house rule); the key explains it."""

GRACE_TYPES = MappingProxyType({1: "eighth"})
"""One grace note is an eighth with a slash, more are sixteenths under a beam (common practice)."""


def part_id(surface: str) -> str:
    """The id of a surface's instrument."""
    return f"P1-I{midi_note(surface) + 1}-{surface.replace(' ', '-')}"


@dataclass(frozen=True)
class Voice:
    """One voice of a bar.

    Parameters
    ----------
    number : HANDS or FEET. symbols : as spelt. hits : those of each place. marks : of some hits, by identity of
        place and surface. divisions : of a quarter note. sticking : whether it is printed.
    unnumbered : where tuplets begin whose number the other voice shows.
    """

    number: int
    symbols: Sequence[Symbol]
    hits: Mapping[Fraction, Sequence[Hit]]
    marks: Mapping[tuple[Fraction, str], str]
    divisions: int
    sticking: bool = False
    unnumbered: frozenset[Fraction] = frozenset()

    def elements(self) -> Iterator[Element]:
        """The notes and rests in order."""
        for symbol in self.symbols:
            if not symbol.note:
                yield self._rest(symbol)
                continue
            chord = self.hits[symbol.start]
            yield from self._graces(chord)
            for position, hit in enumerate(chord):
                yield self._note(symbol, hit, position)

    def _duration(self, symbol: Symbol) -> Element:
        return node("duration", int(4 * symbol.length * self.divisions))

    def _voice(self) -> Element:
        return node("voice", self.number)

    def _rest(self, symbol: Symbol) -> Element:
        if symbol.whole_bar:
            return node("note", node("rest", measure="yes"), self._duration(symbol), self._voice())
        timed = (self._duration(symbol), self._voice(), *_value(symbol))
        return node("note", node("rest"), *timed, self._notations(symbol))

    def _graces(self, chord: Sequence[Hit]) -> Iterator[Element]:
        """Grace notes before a chord; those of several surfaces sound together, the last ones last."""
        most = max(hit.graces for hit in chord)
        kind = GRACE_TYPES.get(most, "16th")
        for number in range(most, 0, -1):
            struck = [hit for hit in chord if hit.graces >= number]
            for position, hit in enumerate(struck):
                place = place_of(hit.surface)
                beams = _grace_beams(most, number) if position == 0 else ()
                yield node(
                    "note",
                    node("grace", slash="yes") if most == 1 else node("grace"),
                    node("chord") if position else None,
                    _unpitched(place),
                    node("instrument", id=part_id(hit.surface)),
                    self._voice(),
                    node("type", kind),
                    node("stem", STEMS[self.number]),
                    _head(place),
                    *beams,
                )

    def _note(self, symbol: Symbol, hit: Hit, position: int) -> Element:
        place = place_of(hit.surface)
        beams = enumerate(symbol.beams, 1) if position == 0 else ()
        return node(
            "note",
            node("chord") if position else None,
            _unpitched(place),
            self._duration(symbol),
            node("instrument", id=part_id(hit.surface)),
            self._voice(),
            *_value(symbol),
            node("stem", STEMS[self.number]),
            _head(place, hit.ghosted),
            *(node("beam", word, number=str(number)) for number, word in beams),
            self._hit_notations(symbol, hit, position),
            self._lyric(symbol) if position == 0 else None,
        )

    def _lyric(self, symbol: Symbol) -> Element | None:
        """The sticking under a chord; each voice has a line of its own."""
        letter = limbs_at(self.hits[symbol.start]) if self.sticking else ""
        if not letter:
            return None
        return node("lyric", node("syllabic", "single"), node("text", letter), number=str(self.number))

    def _hit_notations(self, symbol: Symbol, hit: Hit, position: int) -> Element | None:
        mark = self.marks.get((hit.place, hit.surface))
        articulations = [word for word, given in (("accent", hit.accented), (CHOKED, hit.choked)) if given]
        side = "above" if self.number == HANDS else "below"
        inside = []
        if mark is not None:
            inside.append(node("technical", node(MARKS[mark])))
        if articulations:
            inside.append(node("articulations", *(node(word, placement=side) for word in articulations)))
        return self._notations(symbol if position == 0 else None, inside)

    def _notations(self, symbol: Symbol | None, inside: Sequence[Element] = ()) -> Element | None:
        tuplets = []
        if symbol is not None and symbol.opens:
            shown = symbol.start not in self.unnumbered
            bracket = "yes" if symbol.bracket and shown else "no"
            number = "actual" if shown else "none"
            tuplets.append(node("tuplet", type="start", number="1", bracket=bracket, show_number=number))
        if symbol is not None and symbol.closes:
            tuplets.append(node("tuplet", type="stop", number="1"))
        return node("notations", *tuplets, *inside) if tuplets or inside else None


def _unpitched(place: StaffPlace) -> Element:
    return node("unpitched", node("display-step", place.step), node("display-octave", place.octave))


def _head(place: StaffPlace, ghost: bool = False) -> Element:
    return node("notehead", place.head, parentheses="yes") if ghost else node("notehead", place.head)


def _value(symbol: Symbol) -> Iterator[Element]:
    yield node("type", TYPES[symbol.value])
    for _ in range(symbol.dots):
        yield node("dot")
    if symbol.tuplet:
        actual, normal = symbol.tuplet
        yield node("time-modification", node("actual-notes", actual), node("normal-notes", normal))


def _grace_beams(most: int, number: int) -> Iterator[Element]:
    if most > 1:
        word = "begin" if number == most else "end" if number == 1 else "continue"
        yield from (node("beam", word, number=str(level)) for level in (1, 2))


def hat_marks(hits: Iterable[Hit], open_before: bool) -> tuple[dict[tuple[Fraction, str], str], bool]:
    """The marks over hi-hat strokes of a bar, and whether the last one leaves it open.

    Every open and half-open stroke has its sign; a closed one has + only where the one before it was open
    (house rule: without it an unmarked stroke is closed).
    """
    marks = {}
    for hit in hits:
        if hit.surface not in HI_HATS:
            continue
        mark = place_of(hit.surface).mark
        if mark or open_before:
            marks[hit.place, hit.surface] = mark or CLOSED_AGAIN
        open_before = bool(mark)
    return marks, open_before
