"""Changes files: what a table says, and every fault with its place."""

from __future__ import annotations

import pytest

from grooveforge.core.played_bar import Place
from grooveforge.errors import FormatError
from grooveforge.formats.changes_file import read_changes

GOOD = """\
# the drummer's
[bars.11]
at = "bar 7 of second verse 1"
meter = "4/4"
grid = 16
timekeeper = "closed hi-hat"
tab = '''
HH |x-x-x-x-x-x-x-x-|
SN |----O-------f---|
BD |o-------o-------|
'''
levels = { SN = [118, [24, 101]] }
late = { SN = [12, [-29, 0]] }
ticks = 480
"""


def test_a_table_is_read() -> None:
    """Levels, timing and grace strokes stand where they should; lines without numbers go by their marks."""
    (number, changed), = read_changes(GOOD).items()
    groove = changed.bar.groove
    assert (number, changed.place) == (11, Place("second verse", 1, 7))
    assert groove.surface == "closed hi-hat"
    snare = groove.snare
    assert snare is not None
    assert snare.velocity[[4, 12]].tolist() == [118, 101]
    assert snare.offset[[4, 12]].tolist() == [12 / 480, 0]
    (grace,) = changed.bar.graces
    assert (grace.surface, grace.step, float(480 * grace.late), grace.velocity) == ("snare", 12, -29, 24)
    assert groove.kick is not None and groove.kick.velocity[[0, 8]].tolist() == [94, 94]


def test_an_empty_file_has_no_bars() -> None:
    """Comments alone, or an empty table."""
    assert read_changes("# nothing yet\n") == read_changes("[bars]\n") == {}


FAULTS = {
    "no TOML": ("[bars.11]", "[bars.11", "line 2", "no TOML"),
    "an unknown key": ("ticks = 480", "tick = 480", "bars.11.tick, line 14", "ticks"),
    "an unknown table": ("# the drummer's", "[bar.4]", "bar", "[bars.11]"),
    "a bar 0": ("[bars.11]", "[bars.0]", "bars.0, line 2", "number"),
    "a bar that is none": ("[bars.11]", "[bars.x11]", "bars.x11, line 2"),
    "a place that is none": ("bar 7 of second verse 1", "second verse", "bars.11.at, line 3", "bar 7 of verse 1"),
    "no tab": ("tab = '''", "tub = '''", "bars.11.tub", "needs a tab"),
    "a wrong mark": ("SN |----O", "SN |----q", "bars.11.tab, line 9, column 5", "'q'"),
    "two bars": ("grid = 16", "grid = 8", "bars.11.tab", "8 columns", "16 columns"),
    "a metre of another length": ('meter = "4/4"', 'meter = "3/4"', "bars.11.tab", "12 columns"),
    "a hand that is not there": ('"closed hi-hat"', '"china"', "bars.11.timekeeper, line 6", "no stroke"),
    "a hand that is none": ('"closed hi-hat"', '"gong"', "bars.11.timekeeper, line 6", "gong"),
    "too few levels": ("[118, [24, 101]]", "[118]", "bars.11.levels.SN, line 12", "2 strokes", "1 numbers"),
    "a level out of range": ("[118, [24, 101]]", "[128, 101]", "bars.11.levels.SN.1, line 12", "128", "1 to 127"),
    "a level that is no number": ("[118, [24, 101]]", '["f", 101]', "bars.11.levels.SN.1, line 12", "'f'"),
    "a list for a plain stroke": ("[12, [-29, 0]]", "[[1, 2], [-29, 0]]", "bars.11.late.SN.1, line 13", "flam"),
    "graces with levels alone": ("[12, [-29, 0]]", "[12, 0]", "bars.11.late, line 13", "column 13"),
    "a line that is not there": ("levels = { SN", "levels = { T1", "bars.11.levels.T1, line 12", "no strokes"),
    "ticks that are none": ("ticks = 480", "ticks = 4", "bars.11.ticks, line 14", "24 to 32,767"),
}


@pytest.mark.parametrize("change", FAULTS.values(), ids=list(FAULTS))
def test_faults_have_their_place(change: tuple[str, ...]) -> None:
    """Key path, line, what was found and what may stand there."""
    old, new, *words = change
    assert GOOD.count(old) == 1
    with pytest.raises(FormatError) as error:
        read_changes(GOOD.replace(old, new))
    for word in words:
        assert word in str(error.value)


def test_all_faults_come_at_once() -> None:
    """Two bars, two faults."""
    text = GOOD.replace("ticks = 480", "ticks = 4") + GOOD.replace("[bars.11]", "[bars.12]").replace("O---", "q---")
    with pytest.raises(FormatError) as error:
        read_changes(text)
    assert [fault.path[:2] for fault in error.value.faults] == [("bars", "11"), ("bars", "12")]


@pytest.mark.parametrize("count", [101, 999, 1000, 5000])
def test_a_text_of_another_kind_has_a_hundred_faults_and_a_number(count: int) -> None:
    """However many keys are wrong, a hundred are told and the rest counted."""
    with pytest.raises(FormatError) as caught:
        read_changes("".join(f"key-{number} = 1\n" for number in range(count)))
    assert len(caught.value.faults) == 101
    assert caught.value.faults[0].place == "key-0, line 1"
    assert "more faults" in caught.value.faults[-1].message


def test_a_flam_without_numbers_has_the_usual_graces() -> None:
    """A table written by hand needs no ticks."""
    changed = read_changes("[bars.2]\ntab = '''\nSN f---\n'''\ngrid = 4\n")[2]
    assert changed.bar.graces == ()
    assert changed.place is None
