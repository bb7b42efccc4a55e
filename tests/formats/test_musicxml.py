"""The MusicXML of small songs, element by element; valid against the W3C's schema."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from grooveforge.core.score import Score
from grooveforge.formats.musicxml import musicxml
from grooveforge.project.charting import chart, read_source
from tests.charts import SONGS, assert_valid, tree_of
from tests.sheet_parts import PLAIN

HEAD = 'title = "Tin Kite"\ntempo = 120\nform = {form}\n[defaults]\narrival = false\n'
VERSE = PLAIN + """[parts.verse]
groove = "plain"
bars = 4
"""


def score(text: str) -> Score:
    return read_source(text.encode(), "kite.toml").score


def xml(text: str, sticking: bool = False) -> Any:
    """The tree of a sheet's chart, checked against the schema."""
    data = musicxml(score(text), sticking)
    assert_valid(data)
    return tree_of(data)


def groove_xml(tab: str, **keys: object) -> Any:
    """The tree of a groove file's chart."""
    lines = "".join(f"{name} = {value!r}\n" for name, value in keys.items())
    return xml(f"tab = '''\n{tab}\n'''\n{lines}")


def measures(root: Any) -> dict[int, Any]:
    return {int(measure.get("number")): measure for measure in root.iter("measure")}


def notes(measure: Any, instrument: str) -> list[Any]:
    """The notes of one surface."""
    tail = instrument.replace(" ", "-")
    return [
        note
        for note in measure.iter("note")
        if note.find("instrument") is not None and note.find("instrument").get("id").endswith(f"-{tail}")
    ]


@pytest.mark.parametrize("path", SONGS, ids=lambda path: path.stem)
def test_demo_songs_are_valid(path: Path) -> None:
    """Every demo song, sticking shown, is valid MusicXML 4.0, and the same bytes every time."""
    data = chart(str(path), "musicxml", sticking=True)
    assert isinstance(data, bytes)
    assert_valid(data)
    assert data == chart(str(path), "musicxml", sticking=True)


def test_instruments_are_general_midi() -> None:
    """Channel 10, and `midi-unpitched` is the note plus one (W3C MusicXML 4.0): the snare 39, the kick 37."""
    root = groove_xml("SN o---\nBD --o-")
    found = {
        item.get("id").split("-", 2)[2]: (item.findtext("midi-channel"), item.findtext("midi-unpitched"))
        for item in root.iter("midi-instrument")
    }
    assert found == {"kick": ("10", "37"), "snare": ("10", "39")}
    assert root.findtext(".//clef/sign") == "percussion"


def test_two_voices() -> None:
    """Hands in voice 1 with stems up, feet in voice 2 with stems down; a voice without strokes is left out."""
    root = groove_xml("HH x-x-|----\nBD ----|o-o-\nHf --x-|----")
    first, second = measures(root).values()
    assert {(n.findtext("voice"), n.findtext("stem")) for n in notes(first, "closed hi-hat")} == {("1", "up")}
    assert {(n.findtext("voice"), n.findtext("stem")) for n in notes(first, "pedal hi-hat")} == {("2", "down")}
    assert {n.findtext("voice") for n in second.iter("note")} == {"2"}


def test_measure_repeat_marks_bars_that_stay_written_out() -> None:
    """Bars 2-4 are as bar 1: the mark starts at 2, every stroke is there, and no bar line repeats."""
    root = xml(HEAD.format(form='["verse"]') + VERSE)
    marks = {n: [m.get("type") for m in bar.iter("measure-repeat")] for n, bar in measures(root).items()}
    assert marks == {1: [], 2: ["start"], 3: [], 4: []}
    assert len({len(list(bar.iter("note"))) for bar in measures(root).values()}) == 1
    assert not list(root.iter("repeat"))


def test_a_repeat_stops_where_another_bar_begins() -> None:
    """A section's first bar is never shown as a repeat, though it is played the same."""
    root = xml(HEAD.format(form='["verse", "verse"]') + VERSE)
    marks = {n: [m.get("type") for m in bar.iter("measure-repeat")] for n, bar in measures(root).items()}
    assert [n for n, kinds in marks.items() if kinds == ["start"]] == [2, 6]
    assert [n for n, kinds in marks.items() if kinds == ["stop"]] == [5]


def test_flams_and_drags_are_grace_notes() -> None:
    """A flam has one small note with a slash, a drag two under a beam; each is a note of the surface."""
    root = groove_xml("SN --f---d-")
    snares = notes(measures(root)[1], "snare")
    graces = [note.find("grace") is not None for note in snares]
    assert graces == [True, False, True, True, False]
    assert snares[0].find("grace").get("slash") == "yes"
    assert [beam.text for beam in snares[2].iter("beam")] == ["begin", "begin"]
    assert snares[0].find("duration") is None


def test_a_grace_before_the_song_is_left_out() -> None:
    """On the song's first stroke nothing can come before, in the MIDI file and here."""
    root = groove_xml("SN f---f---")
    assert [note.find("grace") is not None for note in notes(measures(root)[1], "snare")] == [False, True, False]


def test_levels() -> None:
    """A ghost note's head is in brackets, an accent has its mark, a soft cymbal has none."""
    root = groove_xml("HH xgX-\nSN g-O-")
    ghost, accent = notes(measures(root)[1], "snare")
    assert ghost.find("notehead").get("parentheses") == "yes"
    assert ghost.find(".//accent") is None and accent.find(".//accent") is not None
    soft = notes(measures(root)[1], "closed hi-hat")[1]
    assert soft.find("notehead").get("parentheses") is None


def test_hi_hat_marks() -> None:
    """o on open, half-open by its own sign, + on the first closed stroke after either."""
    root = groove_xml("HH xoxxhhx-")
    technical = {
        index: [mark.tag for mark in note.iterfind(".//technical/*")]
        for index, note in enumerate(n for n in measures(root)[1].iter("note") if n.find("rest") is None)
    }
    marked = {1: ["open"], 2: ["stopped"], 4: ["half-muted"], 5: ["half-muted"], 6: ["stopped"]}
    assert technical == {0: [], 3: [], **marked}


def test_stops_are_choked() -> None:
    """Stops say so above the staff, and a choked crash has its wedge."""
    root = xml(HEAD.format(form='["bolts"]') + '[parts.bolts]\nbars = 1\nstops = "1.1 1.3"\nchoke = true\n')
    assert [words.text for words in root.iter("words")] == ["stops"]
    wedges = [note.find(".//staccatissimo") for note in notes(measures(root)[1], "crash")]
    assert len(wedges) == 2
    assert None not in wedges


def test_tacet_bars_rest() -> None:
    """A tacet section says tacet, and each of its bars is one rest."""
    root = xml(HEAD.format(form='["verse", { part = "verse", tacet = true }]') + VERSE)
    bars = measures(root)
    assert [words.text for words in bars[5].iter("words")] == ["tacet"]
    for number in (5, 6, 7, 8):
        (rest,) = bars[number].iter("note")
        assert rest.find("rest").get("measure") == "yes"


def tempos(bar: Any) -> list[tuple[str | None, list[str]]]:
    """(tempo that sounds, numbers that are printed) of each change."""
    return [
        (sound.get("tempo"), [item.text for item in sound.getparent().iter("per-minute")])
        for sound in bar.iter("sound")
    ]


def test_tempo_and_ramps() -> None:
    """A change is printed where it stands; a ramp says where it goes at its first beat, and sounds on every beat."""
    sheet = HEAD.format(form='["verse", { part = "verse", tempo = { to = 100, over = 4 } }, "verse"]') + VERSE
    bars = measures(xml(sheet))
    assert tempos(bars[1]) == [("120", ["120"])]
    assert [sound for sound, _ in tempos(bars[5])] == ["120", "115", "110", "105"]
    assert tempos(bars[5])[0][1] == ["120"]
    divisions = int(bars[1].findtext(".//divisions"))
    assert [int(item.text) for item in bars[5].iter("offset")] == [divisions, 2 * divisions, 3 * divisions]
    assert tempos(bars[6]) == [("100", ["100"])]
    assert [words.text for words in bars[5].iter("words")] == ["rit. to 100"]
    assert tempos(bars[9]) == [("120", ["120"])]


def test_metres_and_their_groups() -> None:
    """A metre is said where it changes; one of unequal groups says them."""
    sheet = HEAD.format(form='["verse", "odd", "verse"]') + VERSE
    sheet += '[parts.odd]\ngroove = "seven-eight drive"\nmeter = "7/8"\nbars = 2\n'
    bars = measures(xml(sheet))
    found = {n: f"{t.findtext('beats')}/{t.findtext('beat-type')}" for n, b in bars.items() for t in b.iter("time")}
    assert found == {1: "4/4", 5: "7/8", 7: "4/4"}
    assert [words.text for words in bars[5].iter("words")] == ["2+2+3"]
    assert [words.text for words in bars[7].iter("words")] == []


def test_sections_are_rehearsal_marks() -> None:
    """Each section's name stands at its first bar; a double bar line comes before it, a final one at the end."""
    bars = measures(xml(HEAD.format(form='["verse", { part = "verse", name = "lantern & kite <2>" }]') + VERSE))
    marks = {n: mark.text for n, bar in bars.items() for mark in bar.iter("rehearsal")}
    assert marks == {1: "verse", 5: "lantern & kite <2>"}
    lines = {n: line.text for n, bar in bars.items() for line in bar.iter("bar-style")}
    assert lines == {4: "light-light", 8: "light-heavy"}


def test_swing_is_said() -> None:
    """Swung eighths are written straight, with a word at the section where they begin and end."""
    sheet = HEAD.format(form='["verse", { part = "verse", swing = "2:1" }, "verse"]') + VERSE
    bars = measures(xml(sheet))
    said = {n: [words.text for words in bar.iter("words")] for n, bar in bars.items() if list(bar.iter("words"))}
    assert said == {5: ["swing 2:1"], 9: ["straight"]}
    assert not list(bars[5].iter("tuplet"))


def test_sticking_is_printed_on_request() -> None:
    """R and L of the check as lyrics, B for both hands at once; none without the option."""
    text = "tab = '''\nSN oooooooooooooooo\nCC x---------------\n'''\ntempo = [160, 160]\n"
    source = read_source(text.encode(), "roll.toml")
    root = tree_of(musicxml(source.stuck().score, sticking=True))
    letters = [item.text for item in root.iterfind(".//lyric/text")]
    assert letters[0] == "B" and set(letters[1:]) == {"R", "L"} and len(letters) == 16
    assert not list(tree_of(musicxml(source.score)).iter("lyric"))


def test_unknown_notes_keep_their_number() -> None:
    """A note that the key map does not know has its number as name and sound."""
    root = groove_xml("61 x-x-\nBD o---")
    names = [item.text for item in root.iter("instrument-name")]
    assert names == ["kick", "note 61"]
    assert "62" in [item.text for item in root.iter("midi-unpitched")]


def test_titles_with_characters_that_xml_has_not() -> None:
    """They are left out; the file stays valid."""
    root = xml('title = "Tin\\u0007 Kite"\ntempo = 120\nform = ["verse"]\n' + VERSE)
    assert root.findtext(".//work-title") == "Tin Kite"
