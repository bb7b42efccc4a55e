"""The General MIDI Level 1 percussion key map (MMA, GM System Level 1), checked against another reader's table.

The numbers are compared; the other table's spellings ("Hi Mid Tom", "Bell") differ from ours.
"""

from __future__ import annotations

import pretty_midi
import pytest

from grooveforge.core.kit import SURFACES
from grooveforge.formats.keymap import GM, GM_NOTES

THEIR_NAMES = {
    "kick": ("Bass Drum 1", "Acoustic Bass Drum"),
    "snare": ("Acoustic Snare", "Electric Snare"),
    "side stick": ("Side Stick",),
    "hand clap": ("Hand Clap",),
    "closed hi-hat": ("Closed Hi Hat",),
    "open hi-hat": ("Open Hi Hat",),
    "pedal hi-hat": ("Pedal Hi Hat",),
    "ride": ("Ride Cymbal 1",),
    "ride bell": ("Ride Bell",),
    "second ride": ("Ride Cymbal 2",),
    "crash": ("Crash Cymbal 1",),
    "second crash": ("Crash Cymbal 2",),
    "china": ("Chinese Cymbal",),
    "splash": ("Splash Cymbal",),
    "cowbell": ("Cowbell",),
    "high tom": ("High Tom",),
    "hi-mid tom": ("Hi Mid Tom",),
    "low-mid tom": ("Low-Mid Tom", "Low Mid Tom"),
    "low tom": ("Low Tom",),
    "high floor tom": ("High Floor Tom",),
    "floor tom": ("Low Floor Tom",),
    "tambourine": ("Tambourine",),
    "vibraslap": ("Vibraslap",),
}
"""Our surface -> what the General MIDI table calls its notes, in the order in which we write and read them."""


def plain(name: str) -> str:
    """A name without its spelling: case, spaces and hyphens."""
    return "".join(letter for letter in name.lower() if letter.isalnum())


@pytest.mark.parametrize("surface", GM_NOTES)
def test_every_note_is_the_published_one(surface: str) -> None:
    """pretty_midi's drum map gives our note numbers the names of the published table."""
    allowed = {plain(name) for name in THEIR_NAMES[surface]}
    for note in GM_NOTES[surface]:
        assert plain(pretty_midi.note_number_to_drum_name(note)) in allowed
        assert GM.surface_of(note) == surface


def test_the_first_name_is_the_note_that_is_written() -> None:
    """Bass Drum 1 and Acoustic Snare are written, the other kick and snare are only read."""
    for surface in ("kick", "snare"):
        first = pretty_midi.note_number_to_drum_name(GM.note_of(surface))
        assert plain(first) == plain(THEIR_NAMES[surface][0])


def test_all_notes_of_a_drum_set_are_surfaces() -> None:
    """35 to 59, the part of the table that is a drum set, has no gap; 60 and up, hand percussion, is unknown."""
    assert not any(GM.surface_of(note).startswith("note ") for note in range(35, 60))
    assert all(GM.surface_of(note) == f"note {note}" for note in [*range(35), *range(60, 128)])


def test_only_the_half_open_hi_hat_is_missing() -> None:
    """GM has notes for a closed, a pedal and an open hi-hat only; half-open is written as open, 46."""
    missing = [row.name for row in SURFACES if row.name not in GM.notes]
    assert missing == ["half-open hi-hat"]
    assert GM.note_of("half-open hi-hat") == 46
