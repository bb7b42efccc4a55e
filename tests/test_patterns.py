"""The shipped patterns: every groove, fill and demo song is read, printed back, rendered and found by its name."""

from __future__ import annotations

import io
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import mido
import pytest

from grooveforge.core.feel_table import FEELS, pattern
from grooveforge.core.kit import GRACE_STROKES
from grooveforge.core.profile import EXPERIENCED
from grooveforge.core.roles import read_feel
from grooveforge.core.song import TempoRamp, TempoRatio
from grooveforge.formats.groovefile import GrooveFile, print_groove_file, read_fill_file, read_groove_file
from grooveforge.formats.tab import read_tab, tab_of
from grooveforge.formats.tab_rows import Tab
from grooveforge.formats.toml_text import value_text
from grooveforge.project.checking import check_input
from grooveforge.project.library import (
    FILLS,
    GROOVES,
    SONGS,
    file_name_of,
    groove_file,
    library,
    library_files,
    library_groove,
)
from grooveforge.project.rendering import render
from grooveforge.project.sheets import read_sheet, sheet_from
from tests.read_back import strokes

GROOVE_FILES, FILL_FILES, SONG_FILES = (library_files(folder) for folder in (GROOVES, FILLS, SONGS))

every_groove = pytest.mark.parametrize("path", GROOVE_FILES, ids=lambda path: path.stem)
every_fill = pytest.mark.parametrize("path", FILL_FILES, ids=lambda path: path.stem)
every_song = pytest.mark.parametrize("path", SONG_FILES, ids=lambda path: path.stem)

TABLE_FEELS = [path for path in GROOVE_FILES if groove_file(path).feel and not groove_file(path).backbeats]
"""Grooves that name a feel and no backbeats of their own."""


def midi_of(text: str) -> mido.MidiFile:
    made = render(sheet_from(text.encode(), "demo.toml"))
    return mido.MidiFile(file=io.BytesIO(made.files["demo.mid"]))


def note_ticks(file: mido.MidiFile) -> Counter[int]:
    """How many notes begin on each tick."""
    return Counter(tick for tick, _, _ in strokes(file))


def plays(tab: Tab, grid: int, meter: str, grouping: tuple[int, ...]) -> None:
    """Fails where a song of this tab alone does not strike its columns, all of them and nothing else.

    A column is 4 / grid quarters. Grace strokes of flams and drags stand before theirs; the one before the
    first tick of a song is left out.
    """
    keys = f"tab = {value_text(str(tab))}\nmeter = '{meter}'\ngrouping = {list(grouping)}\ngrid = {grid}\n"
    part = "[parts.a]\ngroove = 'one'\narrival = false\n"
    file = midi_of(f"meter = '{meter}'\ngrouping = {list(grouping)}\nform = ['a']\n[grooves.one]\n{keys}{part}")
    struck = Counter(Fraction(4 * column * file.ticks_per_beat, grid) for column, _, _ in tab.strokes())
    graces = sum(GRACE_STROKES.get(stroke.kind, 0) for column, _, stroke in tab.strokes() if column)
    notes = note_ticks(file)
    assert {tick: notes[int(tick)] for tick in struck} == dict(struck)
    assert sum(notes.values()) == sum(struck.values()) + graces


# -- the library as a whole -----------------------------------------------------------------------------------


def test_there_is_enough_to_choose_from() -> None:
    """At least 60 grooves, 30 fills and four demo songs (house rule)."""
    assert len(GROOVE_FILES) >= 60
    assert len(FILL_FILES) >= 30
    assert len(SONG_FILES) >= 4


def test_the_source_tree_has_the_patterns_beside_the_package() -> None:
    """Without an installed package they are found in the folder patterns of the source tree."""
    assert library().name == "patterns"
    assert {path.name for path in library().iterdir() if path.is_dir()} == {GROOVES, FILLS, SONGS}


@pytest.mark.parametrize("paths", [GROOVE_FILES, FILL_FILES], ids=["grooves", "fills"])
def test_names_are_unique(paths: list[Path]) -> None:
    """No two grooves and no two fills share a name, and the file is called as the name is."""
    names = [read_name(path) for path in paths]
    assert len(set(names)) == len(names)
    assert [file_name_of(name) for name in names] == [path.stem for path in paths]


def read_name(path: Path) -> str:
    read = read_fill_file if path in FILL_FILES else read_groove_file
    name = read(path.read_text()).name
    assert name is not None
    return name


def test_no_groove_is_there_twice() -> None:
    """Each groove differs from every other in what it plays."""
    seen: dict[object, str] = {}
    for path in GROOVE_FILES:
        groove = groove_file(path).groove
        assert seen.setdefault((groove.meter, groove.surface, tab_of(groove)), path.stem) == path.stem


def test_every_feel_has_its_grooves() -> None:
    """The library goes over the whole ladder of feels."""
    assert {read_feel(groove_file(path).groove).feel for path in GROOVE_FILES} >= set(FEELS)


def test_the_metres_of_the_library() -> None:
    """Grooves in 4/4, 3/4, 6/8, 12/8, 5/4 and 7/8 at the least."""
    assert {str(groove_file(path).meter) for path in GROOVE_FILES} >= {"4/4", "3/4", "6/8", "12/8", "5/4", "7/8"}


@pytest.mark.parametrize("tag", ["shuffle", "double kick", "breakdown", "build"])
def test_kinds_of_groove_that_a_writer_looks_for(tag: str) -> None:
    """Shuffles, double-kick figures, breakdowns and builds are there and carry the tag."""
    assert sum(tag in groove_file(path).tags for path in GROOVE_FILES) >= 2


def test_fills_from_one_beat_to_two_bars() -> None:
    """Short and long fills are there."""
    lengths = {read_fill_file(path.read_text()).length for path in FILL_FILES}
    assert lengths >= {"1 beat", "2 beats", "1 bar", "2 bars"}


# -- grooves --------------------------------------------------------------------------------------------------


@every_groove
def test_a_groove_is_printed_back_to_the_same_value(path: Path) -> None:
    """Reading a groove file, printing it and reading that gives the same value."""
    file = read_groove_file(path.read_text())
    assert read_groove_file(print_groove_file(file)) == file


@every_groove
def test_a_groove_is_printed_back_to_the_same_tab(path: Path) -> None:
    """The tab printed from the groove's strokes is the tab of the file."""
    file = groove_file(path)
    written = str(file.tab)
    again = tab_of(file.groove, bar_lines=bool(file.tab.bars))
    assert again == written


@every_groove
def test_a_groove_is_rendered(path: Path) -> None:
    """Every stroke of the tab is a note of the MIDI file on its own tick, and there are no others."""
    file = groove_file(path)
    plays(file.tab, file.groove.grid, str(file.meter), file.meter.grouping)


@every_groove
def test_a_groove_is_found_by_its_name(path: Path) -> None:
    """A song sheet that names the groove plays this one."""
    file = groove_file(path)
    assert file.name is not None
    assert library_groove(file.name) == file
    text = f"meter = '{file.meter}'\nform = ['a']\n[parts.a]\ngroove = '{file.name}'\n"
    assert sheet_from(text.encode(), "demo.toml").song.grooves[file.name] == file.groove


@pytest.mark.parametrize("path", TABLE_FEELS, ids=lambda path: path.stem)
def test_the_declared_feel_is_the_one_that_is_detected(path: Path) -> None:
    """With table backbeats the strokes alone tell the feel; the spelling too, or one that strikes the same."""
    file = groove_file(path)
    assert file.feel is not None
    found = read_feel(replace(file.groove, feel=None, spelling=None))
    assert found.feel == file.feel
    if file.spelling is not None:
        assert pattern(file.meter, file.feel, found.spelling) == pattern(file.meter, file.feel, file.spelling)


@every_groove
def test_a_groove_says_what_it_is_for(path: Path) -> None:
    """Every groove says where its tempo sits, what it is and words to find it by."""
    file = groove_file(path)
    assert file.tempo is not None and file.about and file.tags


# -- fills ----------------------------------------------------------------------------------------------------


@every_fill
def test_a_fill_is_printed_back_to_the_same_value(path: Path) -> None:
    """Reading a fill file, printing it and reading that gives the same value and the same tab."""
    file = read_fill_file(path.read_text())
    again = read_fill_file(print_groove_file(file))
    assert again == file
    assert str(again.tab) == str(file.tab)


@every_fill
def test_a_fill_is_rendered(path: Path) -> None:
    """As the only bar of a song every stroke of the fill is a note on its own tick."""
    file = read_fill_file(path.read_text())
    eighths = file.whole * 8
    assert eighths.denominator == 1
    plays(file.tab, file.steps_to_whole, f"{eighths}/8", (int(eighths),))


# -- a drummer tries them -------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", [*GROOVE_FILES, *FILL_FILES, *SONG_FILES], ids=lambda path: path.stem)
def test_the_drummer_in_force_can_play_it(path: Path) -> None:
    """No finding for the profile that the file names, else an experienced drummer; grooves and fills at the upper end
    of their tempo, grooves as loops, fills between a beat and a crash."""
    found = check_input(str(path))
    assert found.checked.findings == ()


def test_extreme_material_says_so() -> None:
    """What an experienced drummer cannot play at its upper end names another profile; beside it only the one-handed
    roll does, which two hands in turn could play."""
    beyond = {path.stem for path in GROOVE_FILES if check_input(str(path), EXPERIENCED).checked.findings}
    tagged = {path.stem for path in GROOVE_FILES if groove_file(path).profile not in (None, "experienced")}
    assert tagged - beyond == {"one-hand-roll-blast"}
    assert beyond < tagged


# -- demo songs -----------------------------------------------------------------------------------------------


@every_song
def test_a_demo_song_is_rendered(path: Path) -> None:
    """The MIDI file ends on the bar line after the last bar and every section has strokes."""
    made = render(read_sheet(str(path)))
    file = mido.MidiFile(file=io.BytesIO(made.files[f"{path.stem}.mid"]))
    quarters = sum((section.quarters for section in made.arrangement.sections), Fraction(0))
    ends = {sum(message.time for message in track) for track in file.tracks}
    assert max(ends) == quarters * file.ticks_per_beat
    ticks = sorted(note_ticks(file))
    start = Fraction(0)
    for section in made.arrangement.sections:
        end = start + section.quarters * file.ticks_per_beat
        assert any(start <= tick < end for tick in ticks), section.name
        start = end


@every_song
def test_a_demo_song_has_a_form_with_differences(path: Path) -> None:
    """At least five parts, and returns that differ from their part."""
    made = render(read_sheet(str(path))).arrangement
    assert len({section.part for section in made.sections}) >= 5
    assert any(section.differences for section in made.sections)


def test_one_demo_song_is_in_an_odd_metre() -> None:
    """Most sections of one song are in 7/8."""
    sections = render(read_sheet(str(song("orchard-of-glass-bees")))).arrangement.sections
    assert sum(str(section.meter) == "7/8" for section in sections) > len(sections) / 2


def test_one_demo_song_changes_its_tempo() -> None:
    """One song has a number, a ratio and a ramp of tempo."""
    read = read_sheet(str(song("the-slow-lock"))).song
    said = [row.tempo for row in (*read.parts.values(), *(entry.settings for entry in read.form))]
    assert {type(tempo) for tempo in said} >= {Fraction, TempoRatio, TempoRamp}


def test_one_demo_song_changes_feel_in_its_last_chorus() -> None:
    """The last chorus is half time where the ones before were full."""
    sections = render(read_sheet(str(song("copper-weather")))).arrangement.sections
    choruses = [section for section in sections if section.part == "chorus"]
    assert [section.feel for section in choruses] == ["full"] * (len(choruses) - 1) + ["half"]


def test_one_demo_song_is_built_from_riffs() -> None:
    """Every part of one song follows a riff of its own with the kick."""
    read = read_sheet(str(song("tin-observatory"))).song
    holds = [read.plain_settings_of(part) for part in read.parts]
    assert all(settings.kick == "follow" for settings in holds)
    assert len({settings.riff for settings in holds}) == len(holds)


def song(stem: str) -> Path:
    return next(path for path in SONG_FILES if path.stem == stem)


# -- what is in a file ----------------------------------------------------------------------------------------


def test_a_groove_of_the_library_is_a_value() -> None:
    """The gallop of the library is the one that its tab writes."""
    tab = "HH x-x-x-x-x-x-x-x-\nSN ----O-------O---\nBD o-ooo-ooo-ooo-oo\n"
    file = library_groove("gallop")
    assert isinstance(file, GrooveFile)
    assert file.tab == read_tab(tab)
