"""Recount: tempo and note values change together, every stroke sounds when it did, and undo takes it back.

House rule of the song sheet; what sounds when is read from the rendered MIDI by pretty_midi.
"""

from __future__ import annotations

import io
import re
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pretty_midi
import pytest
from hypothesis import given, reject, settings
from hypothesis import strategies as st

from grooveforge import files
from grooveforge.core.arrange import Arrangement, statements
from grooveforge.core.song import FLAT_LEVELS
from grooveforge.errors import FileError, GrooveForgeError, UsageError
from grooveforge.project.library import SONGS, library, library_files
from grooveforge.project.recounting import recount
from grooveforge.project.rendering import render
from grooveforge.project.sheets import Sheet, arranged, sheet_from

DEMO_SONGS = library_files(SONGS)
FACTORS = ("x2", "/2")
OTHER = {"x2": "/2", "/2": "x2"}

NOT_EXACT = {
    ("the-slow-lock", "x2"): "a tempo that moves",
    ("the-slow-lock", "/2"): "a tempo that moves",
    ("tin-observatory", "/2"): "5 bars cannot be halved",
}
"""Demo songs that no recount of the whole song gives exactly: ramps of tempo, five bars to halve."""

GROOVES = """
[grooves.plain]
tab = '''
HH x-x-x-x-x-x-x-x-
SN ----O-------O---
BD o-------o-o-----
'''

[grooves.flams]
tab = '''
Rd x-x-x-x-x-x-x-x-x-x-x-x-x-x-x-x-
SN ----f-------d-------f-g-----O---
BD o--o--o-o-------o-o---o-o---o---
'''
"""

SHEET = f"""\
# The ferry runs at night.
tempo = 65   # slow
form = [
  "verse",                          # twice
  "verse",
  {{ part = "verse", name = "last verse", bars = 8, feel = "half" }},
]
{GROOVES}
# All of it.
[parts.verse]
groove = "plain"
bars = 4
"""

Write = Callable[[str], Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Writes a sheet's text to disk."""

    def at(text: str) -> Path:
        path = tmp_path / "song.toml"
        path.write_bytes(text.encode())
        for riff in (library() / SONGS).glob("*.mid"):
            shutil.copy(riff, tmp_path)
        return path

    return at


def without_fills(text: str) -> str:
    """A sheet without what a recount refuses to carry along or keeps one of: fills, endings, stops, a final hit."""
    text = re.sub('(?m)^stops = "[^"]*"', "tacet = true", text)
    keys = "|".join(("fill", "fill_every", "ending", "insert", "final"))
    value = r'(?:"[^"]*"|true|false|\d+|\[[^\]]*\])'
    text = re.sub(rf"(?m)^(?:{keys}) = {value}.*\n", "", text)
    return re.sub(rf", (?:{keys}) = {value}", "", text)


def sheet(path: Path) -> Sheet:
    return sheet_from(path.read_bytes(), str(path))


def arrangement(path: Path) -> Arrangement:
    return arranged(sheet(path))


def heard(path: Path) -> list[tuple[int, int, float]]:
    """(note, velocity, second) of every stroke of the song rendered at flat levels, by note, then time."""
    read = sheet(path)
    flat = replace(read.song, own=replace(read.song.own, levels=FLAT_LEVELS))
    made = render(replace(read, song=flat))
    song = pretty_midi.PrettyMIDI(io.BytesIO(made.files["song.mid"]))
    notes = [note for instrument in song.instruments for note in instrument.notes]
    return sorted((note.pitch, note.velocity, round(float(note.start), 9)) for note in notes)


def sounds_alike(before: list[tuple[int, int, float]], after: list[tuple[int, int, float]]) -> None:
    """Fails where a stroke is missing, louder, or more than 3 ms away.

    A MIDI file rounds grace strokes to ticks and tempi to microseconds, which adds up over a song.
    """
    assert [row[:2] for row in before] == [row[:2] for row in after]
    apart = np.abs(np.array([row[2] for row in before]) - np.array([row[2] for row in after]))
    assert float(apart.max(initial=0)) < 0.003


def section_name(song: Sheet, index: int) -> str:
    """How --section names a form entry: with its number where several share the name."""
    names = {at: entry.name or entry.part for at, entry, _ in statements(song.song)}
    same = [at for at in names if names[at] == names[index]]
    return names[index] + (f" {same.index(index) + 1}" if len(same) > 1 else "")


def refused(path: Path, factor: str, section: str | None = None) -> str:
    """The message of a recount that is refused; fails where it touches the file."""
    before = path.read_bytes()
    with pytest.raises(GrooveForgeError) as caught:
        recount(str(path), factor, section)
    assert path.read_bytes() == before
    return str(caught.value)


# -- the demo songs -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("factor", FACTORS)
@pytest.mark.parametrize("source", DEMO_SONGS, ids=lambda path: path.stem)
def test_a_demo_song_sounds_as_before(source: Path, factor: str, write: Write) -> None:
    """Every stroke of the whole song sounds when it did, as loud as it did, over twice or half the bars."""
    path = write(without_fills(source.read_text()))
    if (source.stem, factor) in NOT_EXACT:
        assert NOT_EXACT[source.stem, factor] in refused(path, factor)
        return
    before, bars = heard(path), arrangement(path).bars
    recount(str(path), factor)
    sounds_alike(before, heard(path))
    assert arrangement(path).bars == (2 * bars if factor == "x2" else bars // 2)


@pytest.mark.parametrize("factor", FACTORS)
@pytest.mark.parametrize("source", DEMO_SONGS, ids=lambda path: path.stem)
def test_every_section_of_a_demo_song(source: Path, factor: str, write: Write) -> None:
    """One section alone can be recounted: the others keep their bars, and undo gives the file back."""
    text = without_fills(source.read_text())
    song = sheet(write(text))
    lengths = [section.bars for section in arranged(song).sections]
    done = 0
    for index in range(len(song.song.form)):
        path = write(text)
        name = section_name(song, index)
        if any(step[0] for step in arranged(song).sections[index].tempo):
            assert "a tempo that moves" in refused(path, factor, name)
            continue
        if (source.stem, name, factor) == ("tin-observatory", "orbit", "/2"):
            assert "5 bars cannot be halved" in refused(path, factor, name)
            continue
        before = heard(path)
        recount(str(path), factor, name)
        sounds_alike(before, heard(path))
        now = [section.bars for section in arrangement(path).sections]
        wanted = 2 * lengths[index] if factor == "x2" else lengths[index] // 2
        assert now == [*lengths[:index], wanted, *lengths[index + 1 :]]
        files.undo(path)
        assert path.read_bytes() == text.encode()
        done += 1
    assert done >= 7


@pytest.mark.parametrize(
    "line",
    ['fill = "1 bar"', "ending = true", "insert = [{ before_bar = 2, beats = 2 }]", 'swing = "2:1"', 'stops = "1.1"'],
)
def test_what_is_counted_in_beats_is_refused(line: str, write: Write) -> None:
    """Fills, endings, stops, inserted beats and swing would be others in other note values."""
    message = refused(write(f"{SHEET}{line}\n"), "x2")
    assert f"parts.verse.{line.split()[0]}" in message
    assert "counted in beats" in message


# -- what changes and what stays ------------------------------------------------------------------------------


def test_full_time_at_65_is_half_time_at_130(write: Write) -> None:
    """The same strokes counted twice as fast are half time (encyclopaedia article "Half-time (music)")."""
    path = write(SHEET)
    assert [section.feel for section in arrangement(path).sections] == ["full", "full", "half"]
    recount(str(path), "x2")
    after = arrangement(path)
    assert [section.feel for section in after.sections] == ["half", "half", "quarter"]
    assert [float(section.tempo[0][1]) for section in after.sections] == [130, 130, 130]
    assert [section.bars for section in after.sections] == [8, 8, 16]


def test_form_names_and_comments_stay(write: Write) -> None:
    """Section names and every comment are as they were."""
    before = SHEET + "subdivision = '1/4'   # slow hands\nkick = 'keep'  # as it is\n"
    path = write(before)
    names = [section.name for section in arrangement(path).sections]
    recount(str(path), "x2")
    assert [section.name for section in arrangement(path).sections] == names
    assert re.findall("#.*", path.read_text()) == re.findall("#.*", before)


def test_undo_gives_the_file_back_byte_for_byte(write: Write) -> None:
    """One undo takes back one recount; then there is none left."""
    path = write(SHEET)
    recount(str(path), "x2")
    once = path.read_bytes()
    recount(str(path), "/2")
    files.undo(path)
    assert path.read_bytes() == once
    files.undo(path)
    assert path.read_bytes() == SHEET.encode()
    with pytest.raises(FileError, match="no change to take back"):
        files.undo(path)


def test_there_and_back_sounds_the_same(write: Write) -> None:
    """Doubled and halved again, tempo and bars are the old ones."""
    path = write(SHEET.replace('groove = "plain"', 'groove = "flams"'))
    before, bars = heard(path), arrangement(path).bars
    recount(str(path), "x2")
    recount(str(path), "/2")
    assert heard(path) == before
    assert arrangement(path).bars == bars


def test_the_same_name_is_taken_once(write: Write) -> None:
    """A second recount writes grooves of new names and leaves the first ones alone."""
    path = write(SHEET.replace("tempo = 65", "tempo = 100"))
    recount(str(path), "/2")
    first = sheet(path).song.grooves["verse halved"]
    recount(str(path), "/2")
    again = sheet(path).song
    assert again.grooves["verse halved"] == first
    assert again.parts["verse"].groove == "verse halved 2"


def test_byte_order_mark_and_line_ends_stay(write: Write) -> None:
    """A file with carriage returns and a byte order mark keeps both."""
    path = write("\ufeff" + SHEET.replace("\n", "\r\n"))
    recount(str(path), "x2")
    data = path.read_bytes()
    assert data.startswith("\ufeff# The ferry".encode())
    assert data.count(b"\n") == data.count(b"\r\n")


def test_the_report_says_what_was_done(write: Write) -> None:
    """Bars before and after, how to take it back, and which parts were left alone."""
    path = write(SHEET + '[parts.spare]\ngroove = "plain"\n')
    spare = sheet(path).song.parts["spare"]
    lines = recount(str(path), "x2")
    assert "the whole song recounted x2, 16 bars are now 32" in lines[0]
    assert f"grooveforge undo {path}" in lines[1]
    assert lines[2] == "not in the form, so left as they are: spare"
    assert sheet(path).song.parts["spare"] == spare


# -- settings that a recount must carry along ------------------------------------------------------------------

CARRIED = {
    "equal parts of an odd number of bars": ('"a"', 'bars = 5\ntimekeeper = ["ride", "china"]'),
    "an entry of other length shares the part's surfaces": (
        '"a", { part = "a", bars = 4 }, { part = "a", bars = 3 }',
        'bars = 5\ntimekeeper = ["ride", "china"]',
    ),
    "surfaces by bars": (
        '"a", { part = "a", bars = 12 }',
        'bars = 8\ntimekeeper = [{ bars = 6, on = "ride" }, { bars = 2, on = "china" }]',
    ),
    "an entry with a groove of another length": ('"a", { part = "a", groove = "flams" }', ""),
    "a hi-hat foot and a hand that moves": (
        '"a", { part = "a", timekeeper = "closed hi-hat" }',
        'bars = 2\nhi_hat_foot = true\ntimekeeper = "ride"',
    ),
    "an entry that plays what its part keeps silent": ('"a", { part = "a", tacet = false }', "bars = 2\ntacet = true"),
    "a kick policy over another": (
        '"a", { part = "a", feel = "double", kick = "keep" }',
        'bars = 2\nkick = "follow"\nriff = "x--X--x-"',
    ),
    "a policy that only the entries can follow": (
        '{ part = "a", kick = "follow", riff = "X-x-" }',
        'bars = 2\ngroove = "kicks"\nkick = "figure"',
    ),
    "a rate with taps on a china": ('"a"', 'bars = 2\ngroove = "china"\nsubdivision = "x2"'),
    "lanes left out": ('"a"', 'bars = 2\nplay = ["kick", "snare"]\narrival = false'),
    "own backbeats": ('"a"', 'bars = 2\nfeel = "full"\nbackbeats = "2 4&"'),
    "a riff of its own grid": ('"a"', 'bars = 2\nkick = "follow"\nriff = "x--X--"\nriff_grid = 24'),
    "a ratio of tempo": ('"a", { part = "a", tempo = "2/3" }', 'bars = 2\ntempo = "7/6"'),
    "a number of tempo": ('"a", { part = "a", tempo = 77.7 }', "bars = 2\ntempo = 93"),
    "bars that are kept": ('{ part = "a", fixed = "2-3" }', "bars = 4"),
    "repeats": ('{ part = "a", repeat = 3 }', "bars = 1"),
}

MORE = "[grooves.kicks]\ntab = 'BD o-o-o-o-o---o---'\n[grooves.china]\ntab = 'CC c---c---c---c---'\n"


@pytest.mark.parametrize("what", CARRIED)
def test_what_a_recount_carries_along(what: str, write: Write) -> None:
    """Whatever shapes a section, the doubled song sounds as before, and so does the one halved again."""
    form, keys = CARRIED[what]
    groove = "" if "groove" in keys else 'groove = "plain"\n'
    path = write(f"tempo = 90\nform = [{form}]\n{GROOVES}{MORE}[parts.a]\n{groove}{keys}\n")
    before = heard(path)
    assert before
    for factor in FACTORS:
        recount(str(path), factor)
        sounds_alike(before, heard(path))


def test_keys_under_defaults_are_carried_along(write: Write) -> None:
    """What [defaults] says holds in the recounted song as well."""
    keys = 'bars = 5\nfeel = "half"\nsubdivision = "1/4"\ntimekeeper = ["ride", "china"]\nkick = "keep"\ntempo = 80'
    text = f'form = ["a", {{ part = "a", bars = 8 }}]\n[defaults]\n{keys}\n{GROOVES}[parts.a]\ngroove = "plain"\n'
    path = write(text)
    before = heard(path)
    recount(str(path), "x2")
    sounds_alike(before, heard(path))


def test_a_groove_of_another_metre_than_the_song(write: Write) -> None:
    """In a song in 7/8 a groove in 4/4 says so when it is written out."""
    seven = "[grooves.seven]\ntab = 'HH x-x-x-x-x-x-x-'\n"
    four = "[grooves.four]\nmeter = '4/4'\ntab = 'HH x-x-x-x-x-x-x-x-'\n"
    parts = "[parts.a]\ngroove = 'seven'\nbars = 2\n[parts.b]\ngroove = 'four'\nmeter = '4/4'\nbars = 2\n"
    path = write(f"meter = '7/8'\nform = ['a', 'b']\n{seven}{four}{parts}")
    before = heard(path)
    recount(str(path), "x2")
    sounds_alike(before, heard(path))
    assert [str(section.meter) for section in arrangement(path).sections] == ["7/8", "4/4"]


def test_flams_at_a_slow_tempo(write: Write) -> None:
    """Grace strokes stand 30 ms before theirs at any tempo; whole ticks do not make a recount fail."""
    path = write(SHEET.replace("tempo = 65", "tempo = 60").replace('groove = "plain"', 'groove = "flams"'))
    before = heard(path)
    recount(str(path), "x2")
    sounds_alike(before, heard(path))


def test_a_long_song_at_an_uneven_tempo(write: Write) -> None:
    """A tempo that a MIDI file rounds to microseconds does not make a long song fail."""
    path = write(SHEET.replace("tempo = 65", "tempo = 61.3").replace("bars = 4\n", "bars = 900\n"))
    recount(str(path), "x2")
    assert arrangement(path).bars == 2 * (900 + 900 + 8)


def test_a_tempo_without_a_decimal_fraction_becomes_a_ratio(write: Write) -> None:
    """Two thirds of 65, doubled, is four thirds of it: no rounded number is written."""
    path = write(SHEET.replace('feel = "half" }', 'tempo = "2/3" }'))
    recount(str(path), "x2", "last verse")
    assert 'tempo = "4/3"' in path.read_text()


def test_bars_that_are_kept_are_counted_anew(write: Write) -> None:
    """Bars 3-4 of 4 are bars 5-8 of 8 and bar 2 of 2; bars 2-3 touch both halves."""
    for kept, factor, wanted in [("3-4", "x2", "5-8"), ("3-4", "/2", "2-2"), ("2-3", "/2", "1-2"), ("4", "x2", "7-8")]:
        entry = f'{{ part = "verse", fixed = "{kept}" }},'
        path = write(SHEET.replace('"verse",                          # twice', entry))
        recount(str(path), factor)
        assert sheet(path).song.form[0].fixed == wanted


# -- what cannot be recounted ---------------------------------------------------------------------------------

REFUSED = {
    "bars = 3": ("/2", None, "parts.verse.bars, line 26: 3 bars cannot be halved"),
    "bars = 1200": ("x2", None, "parts.verse.bars, line 26: the section would have 2,400 bars"),
    "bars = 4\ntempo = 250": ("x2", None, "parts.verse.tempo, line 27: a tempo is out of range (found 500)"),
    "bars = 4\ntempo = { to = 90, over = 4 }": ("/2", None, "parts.verse.tempo, line 27: a tempo that moves"),
    'bars = 4\nriff = "x-"\nriff_grid = 5': ("x2", None, "parts.verse.riff_grid, line 28: the riff would need 2.5"),
    'bars = 4\nriff = "x-"\nkick = "follow"\nriff_downbeat = true': ("x2", None, "riff_downbeat puts a kick"),
    "bars = 4\n[defaults]\nfeel = 'half'": ("x2", "verse 1", "defaults.feel, line 28: a key feel under [defaults]"),
}


@pytest.mark.parametrize("keys", REFUSED)
def test_a_recount_that_is_not_exact_is_refused(keys: str, write: Write) -> None:
    """Nothing is rounded: the sheet stays as it is, and the error names the line of the sheet that is in the way."""
    factor, section, message = REFUSED[keys]
    assert message in refused(write(SHEET.replace("bars = 4", keys)), factor, section)


def test_a_repeated_section_is_not_recounted_alone(write: Write) -> None:
    """One entry that stands for several sections has no single one."""
    path = write(SHEET.replace('name = "last verse"', 'name = "last verse", repeat = 2'))
    assert "form.3.repeat, line 6: last verse is repeated 2 times" in refused(path, "x2", "last verse")


def test_a_song_that_would_be_too_long_is_refused(write: Write) -> None:
    """The limit of 10,000 bars holds for the recounted song; its fault is no fault of the sheet on disk."""
    entry = '{ part = "verse", repeat = 1500 },'
    path = write(SHEET.replace('"verse",                          # twice', entry))
    assert "recounted, the sheet would be wrong, so nothing was changed: the song has" in refused(path, "x2")


def test_an_unknown_section_lists_those_there_are(write: Write) -> None:
    """The error names the song's sections."""
    assert "allowed: verse, last verse" in refused(write(SHEET), "x2", "chorus")


def test_standard_input_cannot_be_changed_in_place() -> None:
    """A recount needs a file."""
    with pytest.raises(UsageError, match="must be a file"):
        recount("-", "x2")


# -- any song -------------------------------------------------------------------------------------------------

SURFACES = st.sampled_from(["ride", "crash", "china", "closed hi-hat", "floor tom"]).map(repr)
PART_KEYS = {
    "groove": st.sampled_from(["'plain'", "'flams'", "'d-beat v1'", "'triplet gallop'", "'breakdown'"]),
    "bars": st.integers(1, 4).map(str),
    "feel": st.sampled_from(["'half'", "'full'", "'double'", "'d-beat'", "'blast'"]),
    "timekeeper": SURFACES | st.lists(SURFACES, min_size=1, max_size=3).map(lambda names: f"[{', '.join(names)}]"),
    "subdivision": st.sampled_from(["'x2'", "'/2'", "'1/4'", "'1/16'", "'1/16 two hands'"]),
    "kick": st.sampled_from(["'keep'", "'figure'", "'adapt'"]),
    "arrival": st.sampled_from(["true", "false"]),
    "tacet": st.sampled_from(["true", "false"]),
    "tempo": st.sampled_from(["100", "'2/3'", "133.7"]),
}
KEYS = st.fixed_dictionaries({}, optional=PART_KEYS)


@settings(max_examples=40)
@given(a=KEYS, b=KEYS, form=st.lists(st.tuples(st.sampled_from("ab"), KEYS), min_size=1, max_size=3))
def test_any_song_can_be_doubled_and_halved_again(
    tmp_path_factory: pytest.TempPathFactory,
    a: dict[str, str],
    b: dict[str, str],
    form: list[tuple[str, dict[str, str]]],
) -> None:
    """A song whose tempi stand still can be doubled, and the doubled one halved; it sounds the same both times."""
    entries = [
        ", ".join(f"{key} = {value}" for key, value in {"part": f"'{name}'", **keys}.items()) for name, keys in form
    ]
    parts = [
        f"[parts.{name}]\n" + "".join(f"{key} = {value}\n" for key, value in {"groove": "'plain'", **keys}.items())
        for name, keys in (("a", a), ("b", b))
    ]
    listed = ", ".join(f"{{ {entry} }}" for entry in entries)
    path = tmp_path_factory.mktemp("any") / "song.toml"
    path.write_text(f"form = [{listed}]\n{GROOVES}{''.join(parts)}")
    try:
        before = heard(path)
    except GrooveForgeError:
        reject()  # such a song cannot be played at all
    for factor in FACTORS:
        recount(str(path), factor)
        sounds_alike(before, heard(path))
