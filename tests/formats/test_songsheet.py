"""The song sheet: every key read into the song, every fault told at once with key path and line."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grooveforge.core.figures import Fill, FillStroke, Insert, Stops
from grooveforge.core.groove import Groove
from grooveforge.core.kit import Kind
from grooveforge.core.meter import Meter
from grooveforge.core.song import Entry, Settings, Song, TempoRamp, TempoRatio
from grooveforge.errors import FormatError, GrooveForgeError, MusicError
from grooveforge.formats.keys import ENTRY, KEYS, PART, SONG, Key
from grooveforge.formats.songsheet import read_song
from grooveforge.formats.songsheet_fills import FillSource
from grooveforge.formats.tab import read_tab
from grooveforge.formats.toml_text import SHOWN_FAULTS
from tests.sheet_parts import PLAIN

SHEET = """\
title = "Ninth Ferry"
tempo = 132.5
meter = "4/4"
seed = 4

form = [
  "verse", "chorus", "verse",
  { part = "verse", bars = 4, tempo = "2/3" },
  { part = "chorus", name = "last chorus", feel = "half", timekeeper = "china", repeat = 2, fixed = "3-4" },
  "rest",
]

[defaults]
arrival = true

""" + PLAIN + """
[parts.verse]
groove = "plain"
bars = 8
timekeeper = "closed hi-hat"
tempo = { to = 98, over = 8 }

[parts.chorus]
groove = "plain"
feel = "full"
bars = 8
timekeeper = [{ bars = 6, on = "ride" }, { bars = 2, on = "china" }]
kick = "follow"
riff = "x--X--x-X-x-xxX-"
riff_grid = 8
play = ["kick", "snare"]
backbeats = "2 4&"

[parts.rest]
tacet = true
bars = 2
"""

SMALL = """\
form = ["a"]
[grooves.plain]
tab = "BD o---o---o---o---"
[parts.a]
groove = "plain"
bars = 4
"""


def nothing_else(name: str) -> Groove:
    raise FormatError(f"no groove is called {name!r}")


def read(text: str, library: Mapping[str, Groove] | None = None) -> Song:
    def find(name: str) -> Groove:
        return library[name] if library and name in library else nothing_else(name)

    return read_song(text, "file name", find)


def faults(text: str) -> list[tuple[str, str]]:
    with pytest.raises(FormatError) as caught:
        read(text)
    return [(fault.place, fault.message) for fault in caught.value.faults]


def places(text: str) -> list[str]:
    return [place for place, _ in faults(text)]


def with_part(lines: str) -> str:
    """A small sheet whose part holds more lines, the first of which is line 7."""
    return SMALL + lines


# -- what a sheet says ----------------------------------------------------------------------------------------


def test_the_song_has_its_own_keys() -> None:
    """Title, tempo (exactly as written), metre and seed are the song's."""
    song = read(SHEET)
    assert (song.title, song.tempo, song.meter, song.seed) == ("Ninth Ferry", Fraction(265, 2), Meter(4, 4), 4)


def test_a_sheet_that_says_little_has_the_defaults() -> None:
    """The title is the file's name, the tempo 120, the metre 4/4, the seed 1."""
    song = read(SMALL)
    assert (song.title, song.tempo, song.meter, song.seed) == ("file name", Fraction(120), Meter(4, 4), 1)
    assert song.grouping is None
    assert song.form == (Entry("a"),)
    assert song.defaults == Settings()


def test_the_form_lists_names_and_entries() -> None:
    """A plain name is a statement that changes nothing; an entry holds what it says over its part."""
    form = read(SHEET).form
    assert [entry.part for entry in form] == ["verse", "chorus", "verse", "verse", "chorus", "rest"]
    assert form[0] == Entry("verse")
    assert form[3].settings == Settings(bars=4, tempo=TempoRatio(Fraction(2, 3)))
    assert (form[4].name, form[4].repeat, form[4].fixed) == ("last chorus", 2, "3-4")
    assert form[4].settings == Settings(feel="half", timekeeper="china")


def test_parts_hold_their_settings() -> None:
    """Every key of a part becomes the setting of that name."""
    parts = read(SHEET).parts
    assert parts["verse"].tempo == TempoRamp(Fraction(98), 8)
    assert parts["chorus"] == Settings(
        groove="plain",
        feel="full",
        bars=8,
        timekeeper=((6, "ride"), (2, "china")),
        kick="follow",
        riff="x--X--x-X-x-xxX-",
        riff_grid=8,
        play=("kick", "snare"),
        backbeats=(Fraction(1, 4), Fraction(7, 8)),
    )
    assert parts["rest"] == Settings(tacet=True, bars=2)


def test_a_list_of_surfaces_is_kept_as_it_is() -> None:
    """A list shares the section in equal parts; other names of a surface become the one name."""
    song = read(with_part('timekeeper = ["hi-hat", "low floor tom"]'))
    assert song.parts["a"].timekeeper == ("closed hi-hat", "floor tom")


def test_grooves_are_found_in_the_sheet_first() -> None:
    """A groove of the sheet comes before one of the same name elsewhere, which is not even asked for."""
    song = read(SMALL, {"plain": read_tab("SN o---").groove(Meter(4, 4))})
    assert song.grooves["plain"].snare is None


def test_other_grooves_are_asked_for_by_name() -> None:
    """What the sheet does not hold comes from the function that finds grooves, once a name."""
    found = read_tab("SN o---").groove(Meter(4, 4))
    asked: list[str] = []

    def find(name: str) -> Groove:
        asked.append(name)
        return found

    song = read_song('form = ["a", "a"]\n[parts.a]\ngroove = "far away"\n[parts.b]\ngroove = "far away"', "x", find)
    assert song.grooves == {"far away": found}
    assert asked == ["far away"]


def test_a_fault_of_a_groove_file_keeps_its_own_file_and_place() -> None:
    """What is wrong inside another file is told of that file, not of the sheet."""

    def find(name: str) -> Groove:
        raise FormatError("wrong", file="far.toml", place="tab, line 2")

    with pytest.raises(FormatError) as caught:
        read_song('form = ["a"]\n[parts.a]\ngroove = "far"', "x", find)
    assert [(fault.file, fault.place) for fault in caught.value.faults] == [("far.toml", "tab, line 2")]


def test_a_fault_of_a_groove_file_is_told_once() -> None:
    """Two parts that name one wrong groove file give its faults once; a name that is not found, at each place."""
    text = SMALL + 'groove = "other"\n[parts.b]\ngroove = "other"\n'
    text = text.replace('groove = "plain"\n', "").replace('["a"]', '["a", "b"]')
    there = [("tab, line 2", "wrong")]

    def wrong(_: str) -> Groove:
        raise FormatError("wrong", file="other.toml", place="tab, line 2")

    def missing(_: str) -> Groove:
        raise FormatError("there is none")

    def told(find: Callable[[str], Groove]) -> list[tuple[str, str]]:
        with pytest.raises(FormatError) as caught:
            read_song(text, "song", find)
        return [(fault.place, fault.message) for fault in caught.value.faults]

    assert told(wrong) == there
    assert [message for _, message in told(missing)] == ["there is none"] * 2


# -- metres ---------------------------------------------------------------------------------------------------


def test_a_groove_of_the_sheet_has_the_songs_metre_and_grouping() -> None:
    """A groove that says no metre is in the song's, grouped as the song is."""
    text = "meter = '7/8'\ngrouping = [3, 2, 2]\nform = ['a']\n[grooves.g]\ntab = 'HH xxxxxxx'\n[parts.a]\ngroove = 'g'"
    song = read(text)
    assert song.meter == song.grooves["g"].meter == Meter(7, 8, (3, 2, 2))
    assert song.grouping == (3, 2, 2)


def test_a_groove_with_a_metre_has_that_metres_grouping() -> None:
    """A groove's own metre is grouped by default."""
    song = read("grouping = [1, 1, 2]\n" + SMALL.replace("o---o---o---o---", "o" * 20 + '"\nmeter = "5/4'))
    assert song.meter == Meter(4, 4, (1, 1, 2))
    assert song.grooves["plain"].meter == Meter(5, 4)


def test_a_part_in_another_metre_counts_its_own_beats() -> None:
    """Backbeats under [defaults] are numbers; in a part of another metre they are other places."""
    song = read(SMALL + 'meter = "4/8"\n[defaults]\nbackbeats = "2 4"')
    assert song.defaults.backbeats == (Fraction(1, 4), Fraction(3, 4))
    assert song.parts["a"].backbeats == (Fraction(1, 8), Fraction(3, 8))


def test_a_grouping_alone_goes_with_the_metre_in_force() -> None:
    """A part that says only a grouping regroups the song's metre."""
    song = read("meter = '7/8'\n" + SMALL.replace("o---o---o---o---", "o------") + "grouping = [3, 2, 2]")
    assert (song.parts["a"].meter, song.parts["a"].grouping) == (None, (3, 2, 2))


def test_a_grouping_of_another_metre_does_not_come_through() -> None:
    """An entry in 4/4 of a part grouped for 7/8 is grouped for 4/4."""
    text = "meter = '7/8'\n" + SMALL.replace("o---o---o---o---", "o------") + "grouping = [3, 2, 2]"
    entry = read(text.replace('["a"]', '["a", { part = "a", meter = "4/4" }]')).form[1]
    assert entry.settings.meter == Meter(4, 4)
    assert entry.settings.grouping == (1, 1, 1, 1)


# -- faults ---------------------------------------------------------------------------------------------------


def test_every_fault_of_a_sheet_comes_at_once_in_order() -> None:
    """Faults of the song, its form, grooves and parts are told together, from the top down."""
    text = """\
tempo = 500
colour = "red"
form = [
  "verse", "chrous",
  { part = "verse", feel = "haf", bars = "8" },
]
[grooves.odd]
tab = '''
HH x-x-x-x-
SN ----q---
'''
[parts.verse]
groove = "nowhere"
feel = 3
"""
    assert places(text) == [
        "tempo, line 1",
        "colour, line 2",
        "form.2, line 4",
        "form.3.feel, line 5",
        "form.3.bars, line 5",
        "grooves.odd.tab, line 10, column 5",
        "parts.verse.groove, line 13",
        "parts.verse.feel, line 14",
    ]


def test_a_syntax_fault_stands_alone_with_line_and_column() -> None:
    """What is no TOML is told with line and column, and nothing else is."""
    assert faults("tempo = 500\nform = [\n  = 3\n]") == [("line 3, column 3", "this is no TOML: invalid value")]


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ('bars = "8"', "a text stands where a whole number is needed"),
        ("bars = 8.0", "a number stands where a whole number is needed"),
        ("bars = true", "true or false stands where a whole number is needed"),
        ("bars = 1979-05-27", "a date or time stands where a whole number is needed"),
        ("bars = [8]", "a list stands where a whole number is needed"),
        ("feel = 2", "a whole number stands where a text is needed"),
        ("tacet = 1", "a whole number stands where true or false is needed"),
        ("tempo = nan", "no finite number stands where a number is needed"),
        ("tempo = inf", "no finite number stands where a number is needed"),
        ("tempo = 1e999999999", "no finite number stands where a number is needed"),
        ("tempo = true", "true or false stands where a number, a ratio or { to, over } is needed"),
        ('arrival = "loud"', "no such value"),
        ("riff = 5", "a whole number stands where a text is needed"),
        ("play = \"kick\"", "a text stands where a list of lanes is needed"),
    ],
)
def test_a_value_of_another_kind_is_told_in_plain_words(line: str, message: str) -> None:
    """A value of the wrong type says what stands there and what is needed."""
    key = line.split(" ")[0]
    text = with_part(line) if key != "bars" else SMALL.replace("bars = 4", line)
    assert (f"parts.a.{key}, line {6 if key == 'bars' else 7}", message) in faults(text)


@pytest.mark.parametrize(
    ("line", "place"),
    [
        ("tempo = 19", "tempo"),
        ("tempo = 401", "tempo"),
        ('tempo = "2/0"', "tempo"),
        ('tempo = "fast"', "tempo"),
        ("tempo = { to = 98 }", "tempo"),
        ("tempo = { to = 98, over = 0 }", "tempo.over"),
        ("tempo = { to = 98, over = 1.5 }", "tempo.over"),
        ("tempo = { to = 500, over = 4 }", "tempo.to"),
        ("tempo = { to = 98, over = 4, from = 3 }", "tempo.from"),
        ('meter = "4/5"', "meter"),
        ('meter = "four"', "meter"),
        ("grouping = [2, 3]", "grouping"),
        ("grouping = []", "grouping"),
        ('timekeeper = "kick"', "timekeeper"),
        ("timekeeper = []", "timekeeper"),
        ('timekeeper = ["ride", "kick"]', "timekeeper.2"),
        ('timekeeper = ["ride", { bars = 2, on = "china" }]', "timekeeper.2"),
        ('timekeeper = [{ bars = 0, on = "ride" }]', "timekeeper.1.bars"),
        ('timekeeper = [{ bars = 5, on = "ride" }]', "timekeeper"),
        ('subdivision = "1/7"', "subdivision"),
        ('feel = "fast"', "feel"),
        ('spelling = "v4"', "spelling"),
        ('feel = "full"\nspelling = "v1"', "spelling"),
        ('backbeats = "5"', "backbeats"),
        ('kick = "stomp"', "kick"),
        ('kick = "follow"', "kick"),
        ('riff = "x-y-"', "riff"),
        ('riff = "----"', "riff"),
        ("riff_grid = 3", "riff_grid"),
        ('play = ["kick", "voice"]', "play.2"),
        ("play = []", "play"),
        ('groove = ""', "groove"),
    ],
)
def test_a_wrong_value_is_a_fault_of_its_key(line: str, place: str) -> None:
    """Each wrong value is the one fault of the sheet, at its key."""
    text = SMALL.replace('groove = "plain"\n', "") + line if line.startswith("groove") else with_part(line)
    found = places(text)
    assert [where.split(", line")[0] for where in found] == [f"parts.a.{place}"]


@pytest.mark.parametrize("bars", [0, 2001, -1])
def test_a_section_has_1_to_2000_bars(bars: int) -> None:
    """bars outside 1 to 2,000 is a fault; both ends are allowed."""
    assert places(SMALL.replace("bars = 4", f"bars = {bars}")) == ["parts.a.bars, line 6"]
    assert read(SMALL.replace("bars = 4", "bars = 2000")).parts["a"].bars == 2000


def test_a_song_has_at_most_10000_bars_with_its_repeats() -> None:
    """The length counts repeats, and is checked before anything is built."""
    entry = '{ part = "a", bars = 2000, repeat = %d }'
    assert read(SMALL.replace('"a"', entry % 5, 1)).form[0].repeat == 5
    assert faults(SMALL.replace('["a"]', f"[{entry % 5}, 'a']")) == [("form, line 1", "the song has 10,004 bars")]
    assert faults(SMALL.replace('["a"]', '[{ part = "a", bars = 2000, repeat = 10000 }]'))[0][1] == (
        "the song has 20,000,000 bars"
    )


def test_bars_default_to_the_grooves_length() -> None:
    """Without bars a section is as long as its groove, and the song's length counts that."""
    text = SMALL.replace("bars = 4\n", "").replace('["a"]', '[{ part = "a", repeat = 10000 }, "a"]')
    assert faults(text) == [("form, line 1", "the song has 10,001 bars")]


def test_an_unknown_key_names_the_nearest() -> None:
    """A slip of the pen is answered with the key that was meant."""
    with pytest.raises(FormatError) as caught:
        read(with_part('timekeper = "ride"'))
    fault = caught.value.faults[0]
    assert (fault.place, fault.message, fault.hint) == (
        "parts.a.timekeper, line 7",
        "a part has no such key",
        "timekeeper",
    )


def test_a_key_of_another_place_is_told_so() -> None:
    """A key that stands elsewhere says where."""
    assert faults(with_part("seed = 3")) == [("parts.a.seed, line 7", "the key seed stands in the song, not in a part")]


def test_a_form_entry_that_is_no_part_names_the_parts() -> None:
    """The parts of the sheet are listed, the nearest first."""
    with pytest.raises(FormatError) as caught:
        read(SHEET.replace('"verse", "chorus", "verse"', '"verse", "chrous", "verse"'))
    fault = caught.value.faults[0]
    assert (fault.place, fault.hint) == ("form.2, line 7", "chorus")
    assert fault.allowed.split(", ")[0] == "chorus"
    assert set(fault.allowed.split(", ")) == {"chorus", "verse", "rest"}


@pytest.mark.parametrize(
    ("form", "message"),
    [
        ("", "a song needs a form"),
        ("form = []", "the form is empty"),
        ('form = "a"', "a text stands where a list of part names is needed"),
        ("form = [1]", "a whole number stands where a part's name or an entry { part = ... } is needed"),
        ("form = [{ bars = 2 }]", "a form entry needs a key part"),
        ('form = [{ part = "a", repeat = 0 }]', "the number is out of range"),
        ('form = [{ part = "a", fixed = "4-2" }]', "bars are written first-last"),
        ('form = [{ part = "a", fixed = ["drums"] }]', "no such value"),
    ],
)
def test_a_form_that_is_none_is_refused(form: str, message: str) -> None:
    """The form is a list with at least one part's name or entry."""
    assert message in [found for _, found in faults(SMALL.replace('form = ["a"]', form))]


def test_a_part_needs_a_groove_unless_it_is_silent() -> None:
    """Without a groove a part is a fault; tacet needs none, but bars."""
    assert places('form = ["a"]\n[parts.a]\nbars = 4') == ["parts.a, line 2"]
    assert read('form = ["a"]\n[parts.a]\nbars = 4\ntacet = true').parts["a"].tacet is True
    assert faults('form = ["a"]\n[parts.a]\ntacet = true') == [
        ("parts.a, line 2", "a part without a groove needs a number of bars")
    ]


def test_an_entry_or_the_defaults_may_bring_what_a_part_lacks() -> None:
    """Groove and riff may come from any layer."""
    text = """\
form = [{ part = "a", groove = "g", riff = "x---" }]
[defaults]
kick = "follow"
[grooves.g]
tab = "HH x---x---x---x---"
[parts.a]
bars = 2
"""
    assert read(text).settings_of(Entry("a")).kick == "follow"


def test_a_relative_feel_must_not_leave_the_ladder() -> None:
    """/4 from half time leads off the ladder's slow end."""
    text = SMALL.replace('["a"]', '[{ part = "a", feel = "/4" }]') + 'feel = "half"'
    assert faults(text) == [("form.1.feel, line 1", "the relative feel /4 leads off the ladder from half")]


def test_a_fill_is_no_groove() -> None:
    """A table of grooves holds no fills."""
    text = SMALL.replace("[parts.a]", 'kind = "fill"\nlength = "1 bar"\n[parts.a]')
    assert faults(text) == [("grooves.plain.kind, line 4", "a fill stands where a groove is needed")]


def test_a_sheet_full_of_faults_lists_only_the_first() -> None:
    """The list of faults stays of bearable length and says how many there are; with a thousand reading ends."""
    found = faults(SMALL.replace('["a"]', "[" + "'x', " * 999 + "]"))
    assert len(found) == SHOWN_FAULTS + 1
    assert found[-1] == ("", "and 899 more faults")
    assert faults(SMALL.replace('["a"]', "[" + "'x', " * 5000 + "]"))[-1] == ("", "and at least 900 more faults")


@pytest.mark.parametrize("text", ["[" + "a." * 99 + "a]", "x = { " + '"a" . ' * 99 + "a = 1 }", "a." * 99 + "a = 1"])
def test_a_key_of_a_hundred_parts_is_told_before_it_is_read(text: str) -> None:
    """In a header, in an inline table, in a pair; a comment or a text with as many points is none."""
    assert faults(f"# one\n{text}\n{SMALL}") == [("line 2", "a key has too many parts")]
    assert read(SMALL + "# " + "a." * 99 + "\n").form


# -- the drummer ------------------------------------------------------------------------------------------------


def test_a_sheet_names_its_drummer() -> None:
    """The profile is one of those shipped, experienced where the sheet says none."""
    assert read(SMALL).profile == "experienced"
    assert read(f'profile = "extreme"\n{SMALL}').profile == "extreme"


def test_an_unknown_drummer_is_a_fault_beside_others() -> None:
    """A profile that is not found stands with its line among the sheet's other faults."""
    found = faults('profile = "expert"\n' + with_part('feel = "odd"'))
    assert ("profile, line 1", "no profile is called that") in found
    assert len(found) == 2


# -- endings, fills, stops, inserted beats ------------------------------------------------------------------------


def setting(line: str) -> object:
    """What a part with one more line says for the line's key."""
    return getattr(read(with_part(line)).parts["a"], line.split()[0])


@pytest.mark.parametrize(
    ("line", "value"),
    [
        ("ending = true", "2 beats"),
        ("ending = false", False),
        ('ending = "1 bar"', "1 bar"),
        ("fill = false", False),
        ('fill = "2 bars"', "2 bars"),
        ('fill = "1 bar"\nfill_every = 8', "1 bar"),
        ('arrival = "soft"', "soft"),
        ('stops = "2.1 1.2&"', Stops("2.1 1.2&", (Fraction(3, 8), Fraction(1)))),
        ("choke = true", True),
        ("insert = [{ before_bar = 2, beats = 3 }]", (Insert(2, 3),)),
        ('fit = "run"', "run"),
    ],
)
def test_how_sections_end_and_begin(line: str, value: object) -> None:
    """Each key becomes a setting of the part; true is the usual ending."""
    assert setting(line) == value


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ('ending = "2 bars"', "no such value"),
        ("fill = true", "true does not say how long the fill is"),
        ('fill = "3 beats"', "a fill is not so long"),
        ("fill_every = 6", "no such distance"),
        ("fill_every = 8", "fill_every needs a fill to come so often"),
        ('arrival = "loud"', "no such value"),
        ('stops = "1.5"', "a bar of 4/4 has no such beat"),
        ('stops = "1"', "a stop is written bar.beat"),
        ("insert = []", "the list is empty"),
        ("insert = [{ before_bar = 2 }]", "the table needs a key beats"),
        ('fit = "stretch"', "no such value"),
        ('fill = "no such fill"', "no fill is at hand here"),
    ],
)
def test_faults_of_how_sections_end_and_begin(line: str, message: str) -> None:
    """Each wrong value is told at its key."""
    place, said = faults(with_part(line))[0]
    assert place.startswith(f"parts.a.{line.split()[0]}")
    assert said == message


def test_a_final_hit() -> None:
    """The song may end with a hit."""
    assert read(f'final = "hit"\n{SMALL}').final == "hit"
    assert read(SMALL).final == "bar"


def test_stops_of_a_part_in_another_metre_are_other_places() -> None:
    """The same text in an entry's metre: beats count its lower figure."""
    text = with_part('stops = "2.1"').replace('["a"]', '[{ part = "a", meter = "3/4" }]')
    song = read(text)
    assert song.settings_of(song.form[0]).stops == Stops("2.1", (Fraction(3, 4),))


def test_a_fill_by_name_is_looked_for_and_one_by_length_needs_the_library() -> None:
    """The source of fills is asked for the name once, and for all fills only where a length stands."""
    fill = Fill("roll", (Fraction(1, 4),), (FillStroke(Fraction(0), "snare", 94, Kind.PLAIN),))
    source = FillSource(lambda name: replace(fill, name=name), lambda: (fill,))
    by_name = read_song(with_part('fill = "mine"'), "x", nothing_else, fills=source)
    assert (dict(by_name.fills), by_name.fill_pool) == ({"mine": replace(fill, name="mine")}, ())
    by_length = read_song(with_part('fill = "1 beat"'), "x", nothing_else, fills=source)
    assert (dict(by_length.fills), by_length.fill_pool) == ({}, (fill,))


# -- any text ---------------------------------------------------------------------------------------------------


def survives(text: str) -> None:
    try:
        song = read(text)
    except (FormatError, MusicError) as error:
        assert error.faults
        return
    assert song.form


@given(st.text(max_size=300))
def test_any_text_is_a_song_or_a_format_error(text: str) -> None:
    """No text makes the reader fail in another way."""
    survives(text)


@settings(max_examples=300)
@given(st.data())
def test_a_sheet_with_slips_is_a_song_or_a_format_error(data: st.DataObject) -> None:
    """Pieces cut out, doubled or replaced in a good sheet give a song or an error that names faults."""
    text = SHEET
    pieces = [*'"[]{}=,\n.', "0", "-1", "1e400", "nan", "true", "'''", "[parts.verse]", "form = ", "1979-05-27", "é"]
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(text)))
        end = data.draw(st.integers(start, min(len(text), start + 30)))
        text = text[:start] + data.draw(st.sampled_from([*pieces, "", text[start:end] * 2])) + text[end:]
    survives(text)


VALUES = st.recursive(
    st.sampled_from(["true", "0", "-7", "8", "1.5", "inf", "nan", "99999999999999999999", "07:32:00"])
    | st.sampled_from(['"half"', '"ride"', '""', '"x"', '"2/3"', '"1.1"', '"4/4"', '"\\u0000"', "'''\nHH x---\n'''"]),
    lambda inner: st.lists(inner, max_size=3).map(lambda items: f"[{', '.join(items)}]")
    | st.dictionaries(st.sampled_from(["to", "over", "bars", "on", "part"]), inner, max_size=3).map(
        lambda table: "{ " + ", ".join(f"{key} = {value}" for key, value in table.items()) + " }"
    ),
    max_leaves=6,
)


@settings(max_examples=300)
@given(st.sampled_from([row for row in KEYS if {SONG, PART, ENTRY} & set(row.places)]), VALUES)
def test_any_value_behind_any_key_is_read_or_a_fault(row: Key, value: str) -> None:
    """Every key takes every value of TOML without failing in another way."""
    survives(f"{row.name} = {value}\n{SMALL}")
    survives(with_part(f"{row.name} = {value}"))
    survives(SMALL.replace('["a"]', f'[{{ part = "a", {row.name} = {value} }}]'))


@pytest.mark.parametrize(
    "text",
    [
        "form = " + "[" * 5000,
        "form = " + "[" * 400 + "]" * 400,
        "a = " + "{a = " * 3000,
        "seed = " + "9" * 5000,
        "tempo = 1" + "0" * 5000 + ".5",
        "tempo = 0." + "1" * 5000,
        "form = [" + "'x', " * 5000 + "]",
        "x" * 100_000,
        "\x00",
        "form = ['a']\nparts = 3\ngrooves = 'x'\ndefaults = []",
        "[parts.a.b.c.d]\nx = 1",
    ],
)
def test_deep_huge_and_strange_texts_are_format_errors(text: str) -> None:
    """Deep nesting, endless numbers and tables of the wrong kind end in a FormatError."""
    with pytest.raises(GrooveForgeError):
        read(text)
