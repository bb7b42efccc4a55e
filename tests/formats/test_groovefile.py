"""Groove and fill files: their keys, their faults, and that a printed file reads back as the same value."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.core.groove import Groove, Lane
from grooveforge.core.meter import Meter
from grooveforge.core.timekeeper import set_subdivision
from grooveforge.errors import FormatError
from grooveforge.formats.fillfile import FillFile, length_in
from grooveforge.formats.groovefile import (
    GrooveFile,
    groove_table,
    print_groove_file,
    read_fill_file,
    read_groove_file,
    read_pattern_file,
)
from grooveforge.formats.tab import read_tab
from tests.laws.strategies import grooves

GALLOP = """\
tab = '''
HH x-x-x-x-x-x-x-x-
SN ----O-------O---
BD o-ooo-ooo-ooo-oo
'''
name = "gallop"
meter = "4/4"
grid = 16
feel = "full"
backbeats = "2 4"
timekeeper = "closed hi-hat"
tempo = [120, 170.5]
profile = "experienced"
sticking = "single paradiddle"
about = "sixteenth gallop under palm-muted guitars"
tags = ["thrash", "double kick"]
"""

FILL = """\
tab = '''
SN Oooo----
T1 ----oooo
'''
name = "down"
kind = "fill"
length = "2 beats"
tempo = [80, 180]
"""


def faults(text: str) -> list[tuple[str, str]]:
    with pytest.raises(FormatError) as caught:
        read_pattern_file(text)
    return [(fault.place, fault.message) for fault in caught.value.faults]


def test_every_key_of_a_groove_file_is_read() -> None:
    """The file of the format's description gives each value where it belongs."""
    file = read_groove_file(GALLOP)
    assert (file.name, file.meter, file.grid, file.feel) == ("gallop", Meter(4, 4), 16, "full")
    assert file.backbeats == (Fraction(1, 4), Fraction(3, 4))
    assert (file.timekeeper, file.tempo) == ("closed hi-hat", (Fraction(120), Fraction(341, 2)))
    assert (file.profile, file.sticking) == ("experienced", "single paradiddle")
    assert (file.about, file.tags) == ("sixteenth gallop under palm-muted guitars", ("thrash", "double kick"))
    assert file.groove.lane_on("kick").struck.tolist() == [0, 2, 3, 4, 6, 7, 8, 10, 11, 12, 14, 15]


def test_only_the_tab_is_needed() -> None:
    """A file with a tab alone is a groove in 4/4 that leaves the rest to its strokes."""
    file = read_groove_file("tab = '''\nBD o---o---o---o---\n'''")
    assert file == GrooveFile(read_tab("BD o---o---o---o---"))
    assert (file.groove.hand, file.groove.snare, file.groove.feel) == (None, None, None)


def test_backbeats_hold_in_every_bar_of_the_groove() -> None:
    """"3 7" in two bars of 7/8 are four backbeats."""
    tab = "HH |x-x-x-x|x-x-x-x|\nSN |--O---O|--O---O|"
    file = read_groove_file(f"tab = '''\n{tab}\n'''\nmeter = \"7/8\"\nbackbeats = \"3 7\"")
    assert file.groove.backbeats == tuple(Fraction(count, 8) for count in (2, 6, 9, 13))


def test_a_grouping_goes_with_the_metre() -> None:
    """grouping sets the groups of the file's metre."""
    file = read_groove_file("tab = 'HH xxxxxxx'\nmeter = '7/8'\ngrouping = [3, 2, 2]")
    assert file.groove.meter == Meter(7, 8, (3, 2, 2))


def test_keys_are_printed_in_the_order_of_the_format() -> None:
    """A printed file has the tab first, then the keys as the description lists them."""
    printed = print_groove_file(read_groove_file(GALLOP))
    without_legend = "".join(line for line in printed.splitlines(keepends=True) if not line.startswith("#"))
    assert without_legend == GALLOP


def test_a_printed_file_carries_its_legend() -> None:
    """The tab of a printed file explains its marks."""
    assert "# BD kick: o stroke\n" in print_groove_file(read_groove_file(GALLOP))


@pytest.mark.parametrize("text", [GALLOP, FILL])
def test_a_printed_file_reads_back_as_the_same_value(text: str) -> None:
    """read(print(x)) == x, for grooves and fills."""
    file = read_pattern_file(text)
    assert read_pattern_file(print_groove_file(file)) == file


@given(st.text(min_size=1).filter(lambda text: text.strip()), st.lists(st.text(min_size=1)))
def test_any_name_and_tags_survive_printing(name: str, tags: list[str]) -> None:
    """Quotes, line ends and signs of any script in a name come back."""
    kept = tuple(tag for tag in tags if tag.strip())
    file = GrooveFile(read_tab("BD o---"), name=name, tags=kept)
    assert read_groove_file(print_groove_file(file)) == file


@given(grooves())
def test_a_file_of_any_groove_reads_back(made: Groove) -> None:
    """The file that writes a groove comes back as it is, and writes the same groove again."""
    file = GrooveFile.of(made, "made")
    assert read_groove_file(print_groove_file(file)) == file
    assert GrooveFile.of(file.groove, "made") == file


def test_a_file_of_a_groove_keeps_its_hand() -> None:
    """Where the busiest line is not the hand's the file says which surface is."""
    others = (("china", Lane.of(16, [2, 6, 10])),)
    made = Groove(Meter(4, 4), 16, 1, hand=Lane.of(16, [0, 8]), surface="ride", others=others)
    file = GrooveFile.of(made)
    assert file.timekeeper == "ride"
    assert file.groove == made


@pytest.mark.parametrize("surface", ["china", "open hi-hat", "ride bell", "splash", "ride"])
def test_a_file_keeps_the_levels_of_a_doubled_hand(surface: str) -> None:
    """Doubling puts weaker strokes between; through a file they stay weaker, so that halving finds them again."""
    plain = read_groove_file("tab = 'HH x---x---x---x---'").groove.move_hand(surface)
    doubled = set_subdivision(plain, "x2")
    again = read_groove_file(print_groove_file(GrooveFile.of(doubled))).groove
    assert again == doubled
    assert set_subdivision(again, "/2") == set_subdivision(doubled, "/2")


def test_a_groove_as_a_table_reads_back() -> None:
    """The plain values of `groove_table`, printed as TOML, are the same groove."""
    file = read_groove_file(GALLOP)
    table = groove_table(file)
    assert set(table) <= set(tomllib.loads(GALLOP))
    assert str(table["tab"]) == str(file.tab)


# -- fills ------------------------------------------------------------------------------------------------


def test_a_fill_is_exactly_as_long_as_it_says() -> None:
    """Eight columns over two beats are sixteenths; each stroke has its place from the fill's start."""
    fill = read_fill_file(FILL)
    assert (fill.whole, fill.steps_to_whole) == (Fraction(1, 2), 16)
    assert [(place, stroke.surface) for place, stroke in fill.strokes][:1] == [(Fraction(0), "snare")]
    assert fill.strokes[-1][0] == Fraction(7, 16)


@pytest.mark.parametrize(
    ("length", "meter", "whole"),
    [
        ("1 beat", Meter(4, 4), Fraction(1, 4)),
        ("2 beats", Meter(12, 8), Fraction(3, 4)),
        ("1 beat", Meter(7, 8), Fraction(3, 8)),
        ("2 beats", Meter(7, 8), Fraction(5, 8)),
        ("1 bar", Meter(7, 8), Fraction(7, 8)),
        ("2 bars", Meter(3, 4), Fraction(3, 2)),
    ],
)
def test_a_length_counts_the_beats_of_the_metre(length: str, meter: Meter, whole: Fraction) -> None:
    """Quarters, dotted quarters in compound time, the last groups of a bar in metres of unequal groups."""
    assert length_in(length, meter) == whole


def test_a_fill_that_does_not_fill_its_length_is_refused() -> None:
    """Seven columns of sixteenths are no two beats."""
    text = "tab = 'SN ooooooo'\nkind = 'fill'\nlength = '2 beats'\ngrid = 16"
    assert faults(text) == [("tab, line 1", "the tab has 7 columns, and 2 beats on a grid of 16 has 8")]


def test_a_fill_needs_a_length() -> None:
    """A fill file without a length is a fault of the file."""
    assert faults("tab = 'SN oooo'\nkind = 'fill'") == [("", 'a fill needs a key length, such as "2 beats"')]


def test_a_fill_has_no_feel() -> None:
    """Keys of a groove do not stand in a fill."""
    assert faults(FILL + 'feel = "full"')[0][0] == "feel, line 9"


def test_fill_and_groove_are_not_mistaken_for_one_another() -> None:
    """Asking for a groove where a fill stands is an error, and the other way round."""
    with pytest.raises(FormatError, match="a fill stands where a groove is needed"):
        read_groove_file(FILL)
    with pytest.raises(FormatError, match="a groove stands where a fill is needed"):
        read_fill_file(GALLOP)
    assert isinstance(read_pattern_file(FILL), FillFile)


# -- faults -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "place"),
    [
        ('feel = "/2"', "feel"),
        ('feel = "fast"', "feel"),
        ('timekeeper = "china"', "timekeeper"),
        ('timekeeper = ["ride"]', "timekeeper"),
        ("grid = 3", "grid"),
        ("grid = 100", "grid"),
        ("grid = 32", "grid"),
        ("grid = 16.0", "grid"),
        ('meter = "4/5"', "meter"),
        ("grouping = [3, 3]", "grouping"),
        ('backbeats = "5"', "backbeats"),
        ('feel = "full"\nspelling = "v1"', "spelling"),
        ("tempo = 120", "tempo"),
        ("tempo = [170, 120]", "tempo"),
        ("tempo = [120, 900]", "tempo.2"),
        ('tags = ["a", 3]', "tags.2"),
        ('groove = "x"', "groove"),
    ],
)
def test_a_wrong_value_is_a_fault_of_its_key(line: str, place: str) -> None:
    """Each wrong value is told with its key and the line, and is the only fault."""
    found = faults(f"tab = 'HH x-x-x-x-x-x-x-x-'\n{line}")
    assert [where.split(", line")[0] for where, _ in found] == [place]
    assert all("line" in where for where, _ in found)


def test_all_faults_of_a_file_come_at_once() -> None:
    """A wrong mark of the tab and a wrong tempo are told together, with the lines of the file."""
    found = faults("tab = '''\nHH x-q-\n'''\ntempo = 7\ncolour = 1")
    assert [place for place, _ in found] == ["tab, line 2, column 3", "tempo, line 4", "colour, line 5"]


def test_a_file_without_a_tab_is_refused() -> None:
    """The tab is the one key that is needed."""
    assert faults("name = 'nothing'") == [("", "a groove needs a key tab")]


def test_a_replaced_groove_file_is_checked_again() -> None:
    """A value that was changed in code is held to the same rules."""
    with pytest.raises(FormatError):
        replace(read_groove_file(GALLOP), grid=32)
