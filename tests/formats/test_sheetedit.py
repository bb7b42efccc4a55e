"""Writing keys back into a sheet: what changes is what was asked for, and every other line stays."""

from __future__ import annotations

import tomllib
from copy import deepcopy
from typing import Any

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.errors import FormatError, UsageError
from grooveforge.formats.sheetedit import DELETE, set_keys
from grooveforge.formats.toml_text import Path

SHEET = '''\
# A song about a lighthouse that walks.
title = "Walking Light"            # the working title
tempo  =  132

# the order of things
form = [
  "verse", "chorus",               # twice
  { part = "chorus", name = "last chorus", feel = "half" },   # wide
  "verse",
]

[defaults]
arrival = true

[grooves.plain]
tab = """
HH x-x-x-x-x-x-x-x-
BD o-------o-------
"""

# The verse is quiet.
[parts.verse]
groove = "plain"   # the one above
bars = 8

# The chorus is not.
[parts.chorus]
groove = "plain"
timekeeper = [
  "ride",       # first half
  "crash",
]
'''


def kept(before: str, after: str) -> bool:
    """Whether every line of `before` stands in `after`, in the same order."""
    lines = iter(after.splitlines())
    return all(line in lines for line in before.splitlines())


def without(text: str, *lines: str) -> str:
    """The text without the lines that hold one of the pieces."""
    return "".join(line for line in text.splitlines(keepends=True) if not any(piece in line for piece in lines))


def test_a_changed_value_leaves_its_comment() -> None:
    """Only the value between the sign and the comment is new."""
    after = set_keys(SHEET, {("title",): "Standing Light", ("parts", "verse", "groove"): "other"})
    assert 'title = "Standing Light"            # the working title\n' in after
    assert 'groove = "other"   # the one above\n' in after
    assert kept(without(SHEET, "Walking Light", "the one above"), after)


def test_a_new_key_stands_below_the_last_of_its_table() -> None:
    """A key goes above the comment of the next table, not below it."""
    after = set_keys(SHEET, {("parts", "verse", "feel"): "half"})
    assert 'bars = 8\nfeel = "half"\n\n# The chorus is not.\n' in after
    assert kept(SHEET, after)


def test_a_new_key_of_the_song_stands_above_the_form() -> None:
    """The song's own keys stay together at the top."""
    after = set_keys(SHEET, {("seed",): 7})
    assert "tempo  =  132\nseed = 7\n\n# the order of things\nform = [" in after
    assert kept(SHEET, after)


def test_a_part_name_in_the_form_becomes_an_entry() -> None:
    """A key set on a plain form entry makes it an inline table in the same place."""
    after = set_keys(SHEET, {("form", 1, "feel"): "double", ("form", 3, "bars"): 4})
    assert '  "verse", { part = "chorus", feel = "double" },               # twice\n' in after
    assert '  { part = "verse", bars = 4 },\n' in after
    assert kept(without(SHEET, "# twice", '  "verse",\n'), after)


def test_an_entry_of_the_form_gets_one_more_key() -> None:
    """A key set on an inline table stands behind its last one."""
    after = set_keys(SHEET, {("form", 2, "bars"): 12, ("form", 2, "feel"): "quarter"})
    line = '  { part = "chorus", name = "last chorus", feel = "quarter", bars = 12 },   # wide\n'
    assert line in after


def test_a_new_groove_stands_behind_the_last_groove() -> None:
    """A missing table is added with a quoted name and its tab as a literal of several lines."""
    after = set_keys(SHEET, {("grooves", "verse x2", "tab"): "HH xxxx\nBD o---\n", ("grooves", "verse x2", "grid"): 4})
    assert "\"\"\"\n\n[grooves.\"verse x2\"]\ntab = '''\nHH xxxx\nBD o---\n'''\ngrid = 4\n\n# The verse" in after
    assert kept(SHEET, after)


def test_a_whole_part_can_be_added() -> None:
    """A table set below parts gets a header of its own."""
    after = set_keys(SHEET, {("parts", "bridge"): {"groove": "plain", "timekeeper": [{"bars": 2, "on": "ride"}]}})
    assert after.endswith('\n[parts.bridge]\ngroove = "plain"\ntimekeeper = [{ bars = 2, on = "ride" }]\n')
    assert kept(SHEET, after)


def test_a_key_can_be_deleted() -> None:
    """The line of a deleted key goes, and nothing else."""
    assert set_keys(SHEET, {("parts", "verse", "bars"): DELETE}) == SHEET.replace("bars = 8\n", "")
    assert set_keys(SHEET, {("form", 2, "name"): DELETE}) == SHEET.replace('name = "last chorus", ', "")
    assert set_keys(SHEET, {("form", 2, "feel"): DELETE}) == SHEET.replace(', feel = "half"', "")
    assert set_keys(SHEET, {("form", 3): DELETE}) == SHEET.replace('  "verse",\n', "")
    assert set_keys(SHEET, {("form", 0): DELETE}) == SHEET.replace('"verse", "chorus"', '"chorus"')


def test_the_comment_of_a_deleted_key_stays() -> None:
    """What the writer said about it is not ours to delete."""
    after = set_keys(SHEET, {("title",): DELETE, ("parts", "verse", "groove"): DELETE})
    assert after.startswith("# A song about a lighthouse that walks.\n# the working title\ntempo  =  132\n")
    assert "[parts.verse]\n# the one above\nbars = 8\n" in after
    after = set_keys(SHEET, {("form", 2): DELETE})
    assert '# twice\n  # wide\n  "verse",\n]' in after


def test_a_table_can_be_deleted() -> None:
    """A table goes with its keys and the blank lines below; the next one's comment stays."""
    after = set_keys(SHEET, {("parts", "verse"): DELETE})
    assert "# The verse is quiet.\n# The chorus is not.\n[parts.chorus]\n" in after


def test_deleting_what_is_not_there_changes_nothing() -> None:
    """A key, table or entry that is missing needs no deleting."""
    changes: dict[Path, object] = {("seed",): DELETE, ("parts", "outro", "bars"): DELETE, ("form", 9): DELETE}
    assert set_keys(SHEET, changes) == SHEET


def test_a_value_of_several_lines_is_replaced_whole() -> None:
    """A list over several lines is a value like any other."""
    after = set_keys(SHEET, {("parts", "chorus", "timekeeper"): "china"})
    assert after.endswith('[parts.chorus]\ngroove = "plain"\ntimekeeper = "china"\n')


def test_windows_line_ends_stay() -> None:
    """A sheet with carriage returns gets new lines of its own kind."""
    after = set_keys(SHEET.replace("\n", "\r\n"), {("grooves", "new", "tab"): "HH x-\nBD o-\n"})
    assert "\n" not in after.replace("\r\n", "")


def test_dotted_keys_and_inline_tables_are_written_as_they_stand() -> None:
    """A part made by dotted keys or in one line gets its new key the same way."""
    text = 'form = ["a"]\nparts.a.bars = 4\ngrooves = { x = { tab = "BD o---" } }\n'
    after = set_keys(text, {("parts", "a", "feel"): "half", ("grooves", "x", "grid"): 4, ("grooves", "y", "grid"): 8})
    assert after == (
        'form = ["a"]\nparts.a.bars = 4\nparts.a.feel = "half"\n'
        'grooves = { x = { tab = "BD o---", grid = 4 }, y = { grid = 8 } }\n'
    )


def test_a_sheet_without_a_last_line_end_gets_one() -> None:
    """A key put behind the last line stands on a line of its own."""
    assert set_keys("[parts.a]\nbars = 4", {("parts", "a", "feel"): "half"}) == '[parts.a]\nbars = 4\nfeel = "half"\n'


@pytest.mark.parametrize("path", [("title", "x"), ("form", 9, "bars"), ("form", "x"), ("parts", "verse", "bars", "x")])
def test_a_path_through_no_table_is_refused(path: Path) -> None:
    """A text, a number or a missing entry has no keys."""
    with pytest.raises(UsageError):
        set_keys(SHEET, {path: 1})


def test_a_value_that_toml_has_not_is_refused() -> None:
    """Nothing that could not be read back is written."""
    with pytest.raises(FormatError):
        set_keys(SHEET, {("seed",): None})


def test_a_text_that_is_no_toml_is_refused() -> None:
    """Only a sheet that parses is changed."""
    with pytest.raises(FormatError, match="no TOML"):
        set_keys("form = [", {("seed",): 1})


PATHS: tuple[Path, ...] = (
    *((name,) for name in ("title", "tempo", "seed")),
    *(("form", index, key) for index in range(4) for key in ("feel", "bars", "name")),
    *(("parts", name, key) for name in ("verse", "chorus", "new one") for key in ("bars", "groove", "riff")),
    *(("grooves", name, key) for name in ("plain", "verse x2") for key in ("tab", "grid")),
    ("defaults", "arrival"),
    ("defaults", "kick"),
)
VALUES = (
    st.integers(-5, 999)
    | st.booleans()
    | st.text(max_size=12)
    | st.sampled_from(["HH x-\nBD o-\n", "'''\n", "it's\n"])
    | st.lists(st.text(max_size=4), max_size=3)
    | st.just({"to": 98, "over": 8})
    | st.just(DELETE)
)


def _expected(table: dict[Any, Any], changes: dict[Path, object]) -> dict[Any, Any]:
    """What the sheet should hold, by changing the parsed table."""
    table = deepcopy(table)
    for path, value in changes.items():
        *outer, key = path
        if path[0] == "form":
            entry = table["form"][path[1]]
            if isinstance(entry, str) and value is not DELETE:
                table["form"][path[1]] = entry = {"part": entry}
            node = entry if isinstance(entry, dict) else {}
        else:
            node = table
            for word in outer:
                node = node.setdefault(word, {}) if value is not DELETE else node.get(word, {})
        if value is DELETE:
            node.pop(key, None)
        else:
            node[key] = value
    return table


@given(st.dictionaries(st.sampled_from(PATHS), VALUES, max_size=6))
def test_the_sheet_holds_what_was_set_and_keeps_its_comments(changes: dict[Path, object]) -> None:
    """The parsed sheet is the old one with the changes; every line that no change names is there byte for byte."""
    after = set_keys(SHEET, changes)
    assert tomllib.loads(after) == _expected(tomllib.loads(SHEET), changes)
    tomlkit.parse(after)  # a second reader takes it as well
    touched: dict[str, tuple[str, ...]] = {"title": ("title =",), "tempo": ("tempo  =",), "form": ("verse", "chorus")}
    touched["parts"] = ("bars =", "groove =")
    pieces = [piece for path in changes for piece in touched.get(str(path[0]), ())]
    pieces += ["arrival ="] if ("defaults", "arrival") in changes else []
    pieces += ["tab =", "HH", "BD", '"""'] if ("grooves", "plain", "tab") in changes else []
    assert kept(without(SHEET, *pieces), after)


@given(st.sampled_from(PATHS), VALUES.filter(lambda value: value is not DELETE))
def test_setting_the_same_value_twice_changes_nothing_more(path: Path, value: object) -> None:
    """The second time the text stays as it is."""
    once = set_keys(SHEET, {path: value})
    assert set_keys(once, {path: value}) == once
