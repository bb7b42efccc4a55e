"""Finding the line of a key path in a TOML text, and naming places in errors."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.errors import Fault
from grooveforge.formats.locate import path_text, place_faults
from grooveforge.formats.toml_scan import scan, scan_for
from grooveforge.formats.toml_text import Path

SHEET = '''\
# a comment with [brackets] and = signs
title = "a [table] = { }"  # "quoted"
form = [
  "verse",   # the first, with a comma
  { part = "chorus", feel = "half", timekeeper = [{ bars = 6, on = "ride" }] },

  "last]",
]
dotted.key.deep = 1

[grooves.plain]
tab = """
HH x-x-
SN --o-
"""
[grooves."verse x2"]
tab = \'\'\'HH x-'x-\'\'\'
about = "two \\"quotes\\" and a ] bracket"

  [ parts . verse ]
bars = 8

[[list]]
a = 1
[[list]]
a = 2
[list.sub]
b = 3
'''


def line_of(text: str, path: Path) -> int | None:
    """The line of a key path, or of what is nearest above it."""
    scanned = scan(text)
    spot = scanned.nearest(path)
    return None if spot is None else scanned.line(spot.start)


def place_text(text: str, path: Path) -> str:
    """The place of a fault at a key path."""
    return place_faults(text, [Fault("wrong", path=path)])[0].place


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("title",), 2),
        (("form",), 3),
        (("form", 0), 4),
        (("form", 1), 5),
        (("form", 1, "feel"), 5),
        (("form", 1, "timekeeper", 0, "on"), 5),
        (("form", 2), 7),
        (("dotted",), 9),
        (("dotted", "key", "deep"), 9),
        (("grooves", "plain"), 11),
        (("grooves", "plain", "tab"), 12),
        (("grooves", "verse x2"), 16),
        (("grooves", "verse x2", "tab"), 17),
        (("grooves", "verse x2", "about"), 18),
        (("parts", "verse"), 20),
        (("parts", "verse", "bars"), 21),
        (("list", 0, "a"), 24),
        (("list", 1, "a"), 26),
        (("list", 1, "sub", "b"), 28),
    ],
)
def test_every_key_has_its_line(path: Path, line: int) -> None:
    """Plain keys, list items, inline tables, dotted keys, headers, quoted names and lists of tables are found."""
    assert line_of(SHEET, path) == line


def test_a_missing_key_has_the_line_of_its_table() -> None:
    """What is not there is placed at what is nearest above it; where nothing is, there is no line."""
    assert line_of(SHEET, ("parts", "verse", "groove")) == 20
    assert line_of(SHEET, ("form", 7)) == 3
    assert line_of(SHEET, ("seed",)) is None


def test_a_path_reads_as_it_is_written_in_the_sheet() -> None:
    """Names with spaces are quoted; list items are counted from 1."""
    assert path_text(("parts", "chorus", "feel")) == "parts.chorus.feel"
    assert path_text(("grooves", "verse x2", "tab")) == 'grooves."verse x2".tab'
    assert path_text(("form", 2, "feel")) == "form.3.feel"


def test_a_place_is_path_and_line() -> None:
    """The place of a fault is its key path, then the line."""
    assert place_text(SHEET, ("parts", "verse", "bars")) == "parts.verse.bars, line 21"
    assert place_text(SHEET, ("seed",)) == "seed"


def test_a_line_inside_a_tab_becomes_a_line_of_the_file() -> None:
    """A fault on the tab's second line, third column, is placed on the file's line 14."""
    fault = Fault("wrong", place="line 2, column 3", path=("grooves", "plain", "tab"))
    assert place_faults(SHEET, [fault])[0].place == "grooves.plain.tab, line 14, column 3"


def test_a_fault_of_another_file_keeps_its_place() -> None:
    """A groove file that the sheet names says itself where it is wrong."""
    fault = Fault("wrong", file="other.toml", place="tab, line 2", path=("parts", "verse", "groove"))
    assert place_faults(SHEET, [fault]) == [fault]


def test_faults_come_in_the_order_of_the_text() -> None:
    """Whatever finds them first, faults are listed from the top of the file down."""
    faults = [Fault("late", path=("parts", "verse", "bars")), Fault("early", path=("title",))]
    assert [fault.message for fault in place_faults(SHEET, faults)] == ["early", "late"]


def _paths(value: object, path: Path = ()) -> list[Path]:
    if isinstance(value, dict):
        return [path, *(deep for key, item in value.items() for deep in _paths(item, (*path, key)))]
    if isinstance(value, list):
        return [path, *(deep for index, item in enumerate(value) for deep in _paths(item, (*path, index)))]
    return [path]


def test_the_scanner_sees_what_the_standard_library_sees() -> None:
    """Every key path of the parsed table is found, and no other."""
    seen = {path for path in _paths(tomllib.loads(SHEET)) if path}
    implicit = {("parts",), ("grooves",)}  # tables that only the headers below them make
    assert set(scan(SHEET).spots) == seen - implicit


@given(st.lists(st.sampled_from(sorted(scan(SHEET).spots, key=str)), min_size=1))
def test_a_scan_for_some_paths_gives_the_places_that_a_whole_one_gives(paths: list[Path]) -> None:
    """It only ends earlier; a path that is not there makes it whole."""
    whole, part = scan(SHEET).spots, scan_for(SHEET, paths).spots
    assert {path: part[path] for path in paths} == {path: whole[path] for path in paths}
    assert part.items() <= whole.items()
    assert scan_for(SHEET, [*paths, ("seed",)]).spots == whole


@given(st.text(max_size=100) | st.text("[]{}\"'=.,#\n ab1", max_size=60))
def test_any_text_can_be_scanned(text: str) -> None:
    """A text that is no TOML gives the places before its fault, never an error."""
    assert line_of(text, ("a",)) is None or "a" in text
