"""The staff places against published sources.

N. Weinberg, "Guidelines for Drumset Notation", Percussive Notes, June 1994, as encoded by a public engraver's
style; the numbers of `midi-unpitched` and channel 10: W3C MusicXML 4.0 and General MIDI Level 1. Rows from memory of
neither: second crash and the like are house rules and stand in their own test.
"""

from __future__ import annotations

import pytest

from grooveforge.core.kit import SURFACES
from grooveforge.formats.notation import FEET, HANDS, PLACES, place_of, staff_words

GUIDELINES = {
    "china": ("B5", "x"),
    "crash": ("A5", "x"),
    "closed hi-hat": ("G5", "x"),
    "open hi-hat": ("G5", "x"),
    "ride": ("F5", "x"),
    "ride bell": ("F5", "diamond"),
    "high tom": ("F5", "normal"),
    "hi-mid tom": ("E5", "normal"),
    "low-mid tom": ("D5", "normal"),
    "low tom": ("B4", "normal"),
    "snare": ("C5", "normal"),
    "side stick": ("C5", "x"),
    "high floor tom": ("A4", "normal"),
    "floor tom": ("G4", "normal"),
    "kick": ("F4", "normal"),
    "pedal hi-hat": ("D4", "x"),
}

OURS = {
    "second crash": ("A5", "circle-x"),
    "splash": ("A5", "diamond"),
    "second ride": ("F5", "circle-x"),
    "cowbell": ("E5", "triangle"),
    "half-open hi-hat": ("G5", "x"),
}
"""House rules."""

WORDS = {
    "china": "x above a line above the staff",
    "crash": "x on a line above the staff",
    "closed hi-hat": "x just above the staff",
    "ride bell": "diamond on the fifth line",
    "snare": "round head in the third space",
    "kick": "round head in the first space",
    "pedal hi-hat": "x below the staff",
    "half-open hi-hat": "x just above the staff, (o) above",
}
"""A staff of five lines, counted from the lowest, E4 (common practice, the treble clef's names)."""


@pytest.mark.parametrize("name", GUIDELINES)
def test_places_are_the_published_ones(name: str) -> None:
    place = place_of(name)
    assert (f"{place.step}{place.octave}", place.head) == GUIDELINES[name]
    assert not place.ours


@pytest.mark.parametrize("name", OURS)
def test_our_own_places(name: str) -> None:
    """They collide with no published one: another place, head or mark."""
    place = place_of(name)
    assert (f"{place.step}{place.octave}", place.head) == OURS[name]
    assert place.ours


def test_every_surface_has_a_place_of_its_own() -> None:
    """No two surfaces look alike on the staff."""
    assert set(PLACES) == {row.name for row in SURFACES}
    seen = [(place.step, place.octave, place.head, place.mark) for place in PLACES.values()]
    assert len(set(seen)) == len(seen)


def test_feet_are_the_lower_voice() -> None:
    """Hands stem up, feet stem down (the guidelines)."""
    assert {name for name, place in PLACES.items() if place.voice == FEET} == {"kick", "pedal hi-hat"}
    assert {place.voice for place in PLACES.values()} == {HANDS, FEET}


@pytest.mark.parametrize("name", WORDS)
def test_words_say_where(name: str) -> None:
    assert staff_words(place_of(name)) == WORDS[name]
