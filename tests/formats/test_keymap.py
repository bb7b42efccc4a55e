"""Key maps: both ways, what stands in for what a kit lacks, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.core.kit import SURFACE_CODES, SURFACES, band_of
from grooveforge.errors import FormatError
from grooveforge.formats.keymap import FALLBACKS, GM, ONE_BAND_SOFTER, KeyMap, Replacement

SMALL = KeyMap("small", {"kick": (36,), "snare": (38,), "closed hi-hat": (42,), "crash": (49,)})


def codes(*surfaces: str) -> list[int]:
    return [SURFACE_CODES[surface] for surface in surfaces]


@pytest.mark.parametrize("surface", GM.notes)
def test_a_note_written_is_read_as_its_surface(surface: str) -> None:
    """There and back for every surface that GM tells apart."""
    assert GM.surface_of(GM.note_of(surface)) == surface


def test_half_open_comes_back_as_open() -> None:
    """GM has one note for both; the report says so."""
    notes, _, replaced = GM.apply(codes("half-open hi-hat", "open hi-hat", "half-open hi-hat"), [90, 90, 90])
    assert notes.tolist() == [46, 46, 46]
    assert GM.surface_of(46) == "open hi-hat"
    assert replaced == (Replacement("half-open hi-hat", "open hi-hat", 2),)
    assert str(replaced[0]) == "the kit has no half-open hi-hat: open hi-hat instead (2 times)"
    assert replaced[0].facts() == {"surface": "half-open hi-hat", "used": "open hi-hat", "count": 2}


def test_floor_tom_is_the_low_one() -> None:
    """Common practice: "floor tom" is the low floor tom, note 41, under both names."""
    assert (GM.note_of("floor tom"), GM.note_of("low floor tom"), GM.note_of("high floor tom")) == (41, 41, 43)


def test_unknown_notes_keep_their_number() -> None:
    """ "note 61" is written as 61 by every map."""
    assert GM.surface_of(61) == "note 61"
    assert SMALL.note_of("note 61") == 61
    assert SMALL.apply(codes("note 61", "note 0"), [1, 2])[0].tolist() == [61, 0]


@pytest.mark.parametrize(
    ("lacks", "surface", "used"),
    [
        ((), "china", "china"),
        (("china",), "china", "second crash"),
        (("china", "second crash"), "china", "crash"),
        (("second crash",), "second crash", "crash"),
        (("ride bell",), "ride bell", "ride"),
        (("second ride",), "second ride", "ride"),
        (("splash",), "splash", "crash"),
        ((), "half-open hi-hat", "open hi-hat"),
    ],
)
def test_the_chain_of_fallbacks(lacks: tuple[str, ...], surface: str, used: str) -> None:
    """House rule: china, second crash, crash; bell and second ride to the ride; splash to the crash."""
    kit = GM.lacking(lacks) if lacks else GM
    assert kit.used_for(surface) == used
    assert kit.note_of(surface) == GM.notes[used][0]


def test_a_splash_on_a_crash_is_one_band_softer() -> None:
    """A splash is small: accent becomes normal, normal a tap; other replacements keep their level."""
    kit = GM.lacking(["splash", "china", "second crash"])
    notes, velocities, replaced = kit.apply(codes("splash", "splash", "china"), [114, 94, 114])
    assert notes.tolist() == [49, 49, 49]
    assert velocities.tolist() == [94, 72, 114]
    assert [(row.surface, row.count) for row in replaced] == [("china", 1), ("splash", 2)]


@pytest.mark.parametrize("velocity", range(1, 128))
def test_softer_is_one_band_lower(velocity: int) -> None:
    """Every velocity lands in the band below its own; the lowest band stays."""
    lower = {"accent": "normal", "normal": "tap", "tap": "ghost", "ghost": "ghost"}
    assert band_of(int(ONE_BAND_SOFTER[velocity])).name == lower[band_of(velocity).name]


@given(st.lists(st.tuples(st.sampled_from([row.name for row in SURFACES]), st.integers(1, 127)), max_size=40))
def test_mapping_never_changes_the_number_of_strokes(strokes: list[tuple[str, int]]) -> None:
    """And what is replaced is counted once for each stroke."""
    kit = GM.lacking(["china", "splash", "ride bell", "second crash"])
    surfaces = [SURFACE_CODES[name] for name, _ in strokes]
    notes, velocities, replaced = kit.apply(surfaces, [velocity for _, velocity in strokes])
    assert len(notes) == len(velocities) == len(strokes)
    gone = [name for name, _ in strokes if name not in kit.notes]
    assert {row.surface: row.count for row in replaced} == {name: gone.count(name) for name in gone}
    assert not np.any(notes < 0)


def test_a_surface_without_note_or_fallback_is_refused() -> None:
    """The error names the surface and a line that would help."""
    with pytest.raises(FormatError, match=r"no note for cowbell.*\n.*fallbacks"):
        SMALL.apply(codes("kick", "cowbell"), [90, 90])


def test_own_fallbacks_come_first() -> None:
    """A map's own fallbacks overrule the built-in ones, and may send anything anywhere."""
    own = {"cowbell": "china", "china": "closed hi-hat"}
    kit = KeyMap("own", {"kick": (36,), "crash": (49,), "closed hi-hat": (42,)}, own)
    assert (kit.used_for("cowbell"), kit.used_for("china"), kit.used_for("splash")) == (
        "closed hi-hat",
        "closed hi-hat",
        "crash",
    )
    assert set(FALLBACKS) <= set(kit.fallbacks)


def test_fallbacks_in_a_circle_are_refused() -> None:
    """At birth, before anything is written."""
    with pytest.raises(FormatError, match="cowbell -> tambourine -> cowbell"):
        KeyMap("round", {"kick": (36,)}, {"cowbell": "tambourine", "tambourine": "cowbell"})


@pytest.mark.parametrize(
    "notes", [{"gong": (30,)}, {"kick": (128,)}, {"kick": (-1,)}, {"kick": ()}, {"note 61": (61,)}], ids=str
)
def test_impossible_maps_are_refused(notes: dict[str, tuple[int, ...]]) -> None:
    """A surface no kit has, a note no file has."""
    with pytest.raises(FormatError):
        KeyMap("wrong", notes)


def test_two_surfaces_on_one_note_are_told() -> None:
    """Such a map is allowed, says so, and reads the note as the surface named first."""
    kit = KeyMap("shared", {"kick": (36,), "crash": (49,), "china": (49, 52), "second crash": (57,)})
    assert kit.shared == ((49, ("crash", "china")),)
    assert (kit.surface_of(49), kit.surface_of(52)) == ("crash", "china")
    assert GM.shared == ()


def test_maps_are_values() -> None:
    """Equal maps are equal and hash alike; a taken-away surface makes another map."""
    assert KeyMap("gm", dict(GM.notes)) == GM
    assert hash(KeyMap("gm", dict(GM.notes))) == hash(GM)
    assert GM.lacking(["china"]) != GM
