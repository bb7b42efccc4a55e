"""Where each surface stands on the staff, and what its notehead is: one table.

N. Weinberg, "Guidelines for Drumset Notation", Percussive Notes, June 1994, with the positions of china, crash,
hi-hat, ride, toms, snare, kick and pedal as encoded by a public engraver's style. Rows with `ours` are house
rules: the guidelines have no place for them. Positions vary between publishers, so a key is always printed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from grooveforge.core.kit import UNKNOWN_PREFIX
from grooveforge.formats.keymap import GM

HANDS, FEET = 1, 2
"""The two voices: hands with stems up, feet with stems down (the guidelines' two-voice form)."""


@dataclass(frozen=True)
class StaffPlace:
    """A row of the table.

    Parameters
    ----------
    step, octave : as displayed with a treble clef's names. head : MusicXML 4.0's notehead value.
    mark : "open", "half-open" or empty. voice : HANDS or FEET. ours : whether the row is a house rule.
    """

    step: str
    octave: int
    head: str = "normal"
    mark: str = ""
    voice: int = HANDS
    ours: bool = False

    @property
    def height(self) -> int:
        """Steps of the scale above C0; higher on the staff is more."""
        return "CDEFGAB".index(self.step) + 7 * self.octave


OPEN, HALF_OPEN = "open", "half-open"

PLACES: Mapping[str, StaffPlace] = MappingProxyType(
    {
        "kick": StaffPlace("F", 4, voice=FEET),
        "snare": StaffPlace("C", 5),
        "side stick": StaffPlace("C", 5, "x"),
        "hand clap": StaffPlace("C", 5, "circle-x", ours=True),
        "closed hi-hat": StaffPlace("G", 5, "x"),
        "half-open hi-hat": StaffPlace("G", 5, "x", HALF_OPEN, ours=True),
        "open hi-hat": StaffPlace("G", 5, "x", OPEN),
        "pedal hi-hat": StaffPlace("D", 4, "x", voice=FEET),
        "ride": StaffPlace("F", 5, "x"),
        "ride bell": StaffPlace("F", 5, "diamond"),
        "second ride": StaffPlace("F", 5, "circle-x", ours=True),
        "crash": StaffPlace("A", 5, "x"),
        "second crash": StaffPlace("A", 5, "circle-x", ours=True),
        "china": StaffPlace("B", 5, "x"),
        "splash": StaffPlace("A", 5, "diamond", ours=True),
        "cowbell": StaffPlace("E", 5, "triangle", ours=True),
        "high tom": StaffPlace("F", 5),
        "hi-mid tom": StaffPlace("E", 5),
        "low-mid tom": StaffPlace("D", 5),
        "low tom": StaffPlace("B", 4),
        "high floor tom": StaffPlace("A", 4),
        "floor tom": StaffPlace("G", 4),
        "tambourine": StaffPlace("E", 5, "diamond", ours=True),
        "vibraslap": StaffPlace("E", 5, "x", ours=True),
    }
)
"""Surface -> its place."""

UNKNOWN_PLACE = StaffPlace("C", 6, "x", ours=True)
"""Where notes stand that the key map does not know; the key names them."""

def place_of(surface: str) -> StaffPlace:
    """The place of a surface; every unknown note has the same one."""
    return PLACES.get(surface, UNKNOWN_PLACE)


def midi_note(surface: str) -> int:
    """The General MIDI note that a surface is written with."""
    if surface.startswith(UNKNOWN_PREFIX):
        return int(surface.removeprefix(UNKNOWN_PREFIX))
    return GM.note_of(surface)


def staff_words(place: StaffPlace) -> str:
    """Where a place is, in words: "x above the staff"."""
    from_bottom = place.height - StaffPlace("E", 4).height
    heads = {"normal": "round head", "circle-x": "x in a circle"}
    mark = {OPEN: ", o above", HALF_OPEN: ", (o) above"}.get(place.mark, "")
    if from_bottom < 0:
        where = "below the staff"
    elif from_bottom > 9:
        where = "on a line above the staff" if from_bottom % 2 == 0 else "above a line above the staff"
    elif from_bottom == 9:
        where = "just above the staff"
    else:
        number = ("first", "second", "third", "fourth", "fifth")[from_bottom // 2]
        where = f"on the {number} line" if from_bottom % 2 == 0 else f"in the {number} space"
    return f"{heads.get(place.head, place.head)} {where}{mark}"


def key_of(surfaces: tuple[str, ...]) -> list[tuple[str, str]]:
    """The key: each surface with its place in words, from the top of the staff down."""
    rows = sorted(surfaces, key=lambda name: (-place_of(name).height, place_of(name).head, place_of(name).mark))
    return [(name, staff_words(place_of(name))) for name in rows]
