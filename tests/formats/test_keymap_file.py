"""Key maps as text: what a file says, every fault of it at once, and both ways."""

from __future__ import annotations

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.core.kit import SURFACES
from grooveforge.errors import FormatError, GrooveForgeError
from grooveforge.formats.keymap import FALLBACKS, GM, NOTES, KeyMap
from grooveforge.formats.keymap_file import LONGEST, print_key_map, read_key_map
from grooveforge.formats.toml_text import SHOWN_FAULTS

NAMES = [row.name for row in SURFACES]

WHOLE = """\
base = "gm"
lacks = ["china", "splash"]

[notes]
"half-open hi-hat" = 60
snare = [40, 38]

[fallbacks]
china = "ride bell"
"""


def faults(text: str) -> list[tuple[str, str]]:
    """Place and message of every fault of a text."""
    with pytest.raises(FormatError) as caught:
        read_key_map(text, "kit")
    return [(fault.place, fault.message) for fault in caught.value.faults]


# -- what a file says -----------------------------------------------------------------------------------------


def test_a_map_starts_from_nothing() -> None:
    """What is not listed the kit does not have."""
    kit = read_key_map("[notes]\nkick = 24\nsnare = [26, 27]\n", "shed")
    assert kit.name == "shed"
    assert dict(kit.notes) == {"kick": (24,), "snare": (26, 27)}
    assert [name for name, _ in kit.missing] == [name for name in NAMES if name not in ("kick", "snare")]


def test_a_base_is_changed_by_what_the_file_says() -> None:
    """Taken away, put in, put elsewhere; all else is General MIDI's."""
    kit = read_key_map(WHOLE, "kit")
    assert (kit.note_of("half-open hi-hat"), kit.notes["snare"]) == (60, (40, 38))
    assert (kit.used_for("china"), kit.used_for("splash")) == ("ride bell", "crash")
    same = set(GM.notes) - {"china", "splash", "snare"}
    assert {name: kit.notes[name] for name in same} == {name: GM.notes[name] for name in same}
    assert not {"china", "splash"} & set(kit.notes)


def test_the_first_note_is_written_and_all_are_read() -> None:
    """Two notes for one surface."""
    kit = read_key_map(WHOLE, "kit")
    assert kit.note_of("snare") == 40
    assert (kit.surface_of(38), kit.surface_of(40)) == ("snare", "snare")


def test_what_the_file_lists_is_read_before_its_base() -> None:
    """A note that the file gives to another surface is no longer the base's."""
    kit = read_key_map('base = "gm"\n[notes]\n"half-open hi-hat" = 35\n', "kit")
    assert (kit.surface_of(35), kit.surface_of(36)) == ("half-open hi-hat", "kick")
    shared = read_key_map('base = "gm"\n[notes]\n"ride bell" = 51\n', "kit")
    assert shared.surface_of(51) == "ride bell"
    assert shared.remarks == ("the key map 'kit' writes ride bell and ride as one note, 51",)


def test_other_names_of_surfaces() -> None:
    """The names that a sheet may use, stand here too."""
    kit = read_key_map('[notes]\nhi-hat = 42\n"low floor tom" = 41\n[fallbacks]\nride = "hi-hat"\n', "kit")
    assert set(kit.notes) == {"closed hi-hat", "floor tom"}
    assert kit.used_for("second ride") == "closed hi-hat"


def test_notes_written_twice_in_a_list_are_one() -> None:
    """And an empty list of what is lacking takes nothing away."""
    assert read_key_map('base = "gm"\nlacks = []\n[notes]\nkick = [36, 36]\n', "kit").notes["kick"] == (36,)


# -- faults -----------------------------------------------------------------------------------------------------

CIRCLES = """\
[notes]
kick = 36
[fallbacks]
crash = "china"
china = "crash"
cowbell = "tambourine"
tambourine = "cowbell"
"""


def test_every_fault_at_once() -> None:
    """Each with key path and line."""
    text = """\
base = "rock"
colour = 3
lacks = ["gong"]
[notes]
kick = 128
snar = 38
snare = [38, "a", -1]
ride = []
crash = true
[fallbacks]
splash = "gong"
china = 4
"""
    out = "the number is out of range"
    nowhere = "no such surface in a key map"
    assert faults(text) == [
        ("base, line 1", "no such value"),
        ("colour, line 2", "a key map has no such key"),
        ("lacks.1, line 3", nowhere),
        ("notes.kick, line 5", out),
        ("notes.snar, line 6", nowhere),
        ("notes.snare.2, line 7", "a text stands where a whole number is needed"),
        ("notes.ride, line 8", "the list is empty"),
        ("notes.crash, line 9", "true or false stands where a whole number is needed"),
        ("fallbacks.splash, line 11", nowhere),
        ("fallbacks.china, line 12", "a whole number stands where a text is needed"),
    ]


def test_a_wrong_name_is_answered_with_the_nearest() -> None:
    """What was found, what is allowed, what to try."""
    with pytest.raises(FormatError) as caught:
        read_key_map("[notes]\nsnar = 38\n", "kit")
    (fault,) = caught.value.faults
    assert (fault.found, fault.hint) == ("'snar'", "snare")
    assert all(name in fault.allowed for name in NAMES)


@pytest.mark.parametrize(
    ("text", "place", "message"),
    [
        ("", "", "the kit has no surface with a note"),
        ("[notes]\n[fallbacks]\n", "", "the kit has no surface with a note"),
        ('lacks = ["china"]\n[notes]\nkick = 36\n', "lacks, line 1", "lacks takes away from a base"),
        (
            'base = "gm"\nlacks = ["kick"]\n[notes]\nkick = 36\n',
            "lacks, line 2",
            "the kit lacks kick and has notes for it",
        ),
        ("notes = 3\n", "notes, line 1", "a whole number stands where a table is needed"),
        ('base = "gm"\nfallbacks = []\n', "fallbacks, line 2", "a list stands where a table is needed"),
        (
            '[notes]\n"hi-hat" = 42\n"closed hi-hat" = 44\n',
            'notes."closed hi-hat", line 3',
            "closed hi-hat stands here twice",
        ),
        ('[notes]\n"note 61" = 61\n', 'notes."note 61", line 2', "no such surface in a key map"),
        ("[notes]\nkick = 36\nkick = 35\n", "line 3, column 10", "this is no TOML"),
        ("[notes]\nkick = 36.0\n", "notes.kick, line 2", "a number stands where a whole number is needed"),
        ("tempo = 120\n[notes]\nkick = 36\n", "tempo, line 1", "the key tempo stands in the song"),
    ],
)
def test_single_faults(text: str, place: str, message: str) -> None:
    """Each is found where it stands, and is the only one."""
    ((found_at, found),) = faults(text)
    assert message in found
    assert found_at == place


def test_every_circle_of_fallbacks_is_told_once() -> None:
    """Two circles of two are two faults."""
    assert faults(CIRCLES) == [
        ("fallbacks.crash, line 4", "the fallbacks run in a circle"),
        ("fallbacks.cowbell, line 6", "the fallbacks run in a circle"),
    ]


def test_a_circle_through_what_the_kit_has_is_none() -> None:
    """Nobody walks it."""
    assert read_key_map(CIRCLES.replace("kick = 36", "kick = 36\ncrash = 49\ntambourine = 54"), "kit").notes


def test_a_file_full_of_faults_lists_only_the_first() -> None:
    """And says how many there are."""
    found = faults("".join(f"key{number} = 1\n" for number in range(5 * SHOWN_FAULTS)))
    assert len(found) == SHOWN_FAULTS + 1
    assert found[-1] == ("", f"and {4 * SHOWN_FAULTS} more faults")


def test_a_text_that_is_too_long_for_a_key_map() -> None:
    """It is not even parsed."""
    ((place, message),) = faults("[notes]\nkick = 36\n" + "#" * LONGEST)
    assert (place, message) == ("", "this is too long for a key map")


# -- both ways ------------------------------------------------------------------------------------------------


@st.composite
def key_maps(draw: st.DrawFn) -> KeyMap:
    """Any map; its own fallbacks lead to surfaces that it has, so that they run in no circle."""
    rows = st.lists(st.integers(0, NOTES - 1), min_size=1, max_size=4, unique=True).map(tuple)
    notes = draw(st.dictionaries(st.sampled_from(NAMES), rows, min_size=1))
    return KeyMap("kit", notes, draw(st.dictionaries(st.sampled_from(NAMES), st.sampled_from(sorted(notes)))))


@given(key_maps())
def test_a_printed_map_reads_as_the_same(kit: KeyMap) -> None:
    """Equal values, and every note is read as the same surface."""
    read = read_key_map(print_key_map(kit), "kit")
    assert read == kit
    assert read.note_to_code.tolist() == kit.note_to_code.tolist()


def test_general_midi_printed_is_general_midi() -> None:
    """The commented file to start from changes nothing; another TOML reader finds the same."""
    text = print_key_map(GM)
    assert read_key_map(text, "gm") == GM
    table = tomlkit.parse(text).unwrap()
    assert table["notes"]["kick"] == [36, 35]
    assert table["fallbacks"] == dict(FALLBACKS)
    assert '# "half-open hi-hat" =    # the kit has none: open hi-hat is struck' in text


# -- any text ---------------------------------------------------------------------------------------------------

PIECES = st.sampled_from(
    """[notes] [fallbacks] base lacks = "gm" [ ] { } 36 -1 1e999 nan , 2026-01-01 ''' kick "china" crash
    "half-open_hi-hat" "note_61" true # . [[notes]]""".replace("_", "\x00").split()
).map(lambda piece: piece.replace("\x00", " ")) | st.just("\n")


@given(st.one_of(st.text(max_size=80), st.lists(PIECES, max_size=30).map(" ".join), st.lists(PIECES).map("".join)))
def test_any_text_gives_a_map_or_our_errors(text: str) -> None:
    """Nothing else comes out."""
    try:
        kit = read_key_map(text, "kit")
    except GrooveForgeError as error:
        assert str(error)
    else:
        assert kit.notes


VALUES = st.recursive(
    st.one_of(st.integers(-2, 200), st.booleans(), st.text(max_size=5), st.sampled_from(NAMES), st.floats()),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=5), inner, max_size=3)),
    max_leaves=6,
)
ROWS = st.dictionaries(st.one_of(st.sampled_from(NAMES), st.text(max_size=5)), VALUES, max_size=5)


@given(
    st.fixed_dictionaries(
        {}, optional={"base": st.one_of(st.just("gm"), VALUES), "lacks": VALUES, "notes": ROWS, "fallbacks": ROWS}
    )
)
def test_any_table_gives_a_map_or_faults_with_places(table: dict[str, object]) -> None:
    """Tables that TOML can hold, with values of every kind; each fault but one says where it is."""
    try:
        kit = read_key_map(tomlkit.dumps(table), "kit")
    except GrooveForgeError as error:
        assert all(fault.place or "no surface" in fault.message for fault in error.faults)
    else:
        assert kit.notes
