"""The bridges to mido, pretty_midi and numpy; both packages are readers that are not ours."""

from __future__ import annotations

import io
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import mido
import numpy as np
import pretty_midi
import pytest
from hypothesis import assume, given, settings

import grooveforge
from grooveforge.analysis.distance import distance
from grooveforge.core.arrange import arrange
from grooveforge.core.groove import Groove, Lane, empty
from grooveforge.core.hands import hand_of
from grooveforge.core.meter import Meter
from grooveforge.core.perform import perform
from grooveforge.core.song import Entry, Settings, Song
from grooveforge.errors import FormatError, UsageError
from grooveforge.formats.bridges import Playable, events, groove_from_pretty_midi, to_mido, to_pretty_midi
from grooveforge.formats.keymap import GM
from grooveforge.formats.tab import read_tab
from grooveforge.project.rendering import render
from grooveforge.project.sheets import Sheet, read_sheet
from tests.drumfiles import heard
from tests.laws.strategies import grooves

ROOT = Path(__file__).parent.parent.parent
SONGS = sorted((ROOT / "patterns/songs").glob("*.toml"))

PLAIN = "HH x-x-x-x-x-x-x-x-\nSN ----O-------O---\nBD o-----o-o-------\n"


def sheet(path: Path = SONGS[0]) -> Sheet:
    return read_sheet(str(path))


def song_of(groove: Groove) -> Song:
    """A song of one groove, flat and exactly in time."""
    part = Settings(groove="g", bars=groove.bars, meter=groove.meter, arrival=False)
    own = Settings(levels="flat")
    return Song("Quiet Foundry", (Entry("a"),), {"a": part}, {"g": groove}, meter=groove.meter, own=own)


def rows(song: Playable) -> list[tuple[int, ...]]:
    return [tuple(map(int, row)) for row in events(song).tolist()]


@pytest.mark.parametrize("path", SONGS, ids=lambda path: path.stem)
def test_events_are_what_mido_hears(path: Path) -> None:
    """Tick, note and velocity of the table are those that mido reads in the rendered file."""
    song = sheet(path)
    data = next(iter(render(song).files.values()))
    assert [row[:3] for row in rows(song)] == heard(data)


def test_the_table() -> None:
    """Four whole-number fields, by tick, then note, with lengths of at least a tick."""
    table = events(sheet())
    assert table.dtype.names == ("tick", "note", "velocity", "duration")
    assert all(table.dtype[name] == np.int64 for name in table.dtype.names or ())
    assert np.array_equal(np.lexsort((table["note"], table["tick"])), np.arange(len(table)))
    assert int(table["duration"].min()) >= 1


def test_every_stage_of_a_song() -> None:
    """Sheet, song, arrangement, performance and what `render` gives are the same table."""
    read = sheet()
    arrangement = arrange(read.song)
    stages: list[Playable] = [read.song, arrangement, perform(arrangement), render(read)]
    assert all(rows(stage) == rows(read) for stage in stages)


def test_mido_is_the_rendered_file() -> None:
    """Every message of every track is that of the rendered file, markers and names among them."""
    made = mido.MidiFile(file=io.BytesIO(next(iter(render(sheet()).files.values()))))
    bridged = to_mido(sheet())
    assert bridged.ticks_per_beat == made.ticks_per_beat
    assert [list(track) for track in bridged.tracks] == [list(track) for track in made.tracks]
    assert any(message.type == "marker" for message in bridged.tracks[0])


def test_pretty_midi_has_the_same_notes() -> None:
    """One drum instrument with every note of the table, at its tick."""
    made = to_pretty_midi(sheet())
    assert [instrument.is_drum for instrument in made.instruments] == [True]
    found = [(made.time_to_tick(note.start), note.pitch, note.velocity) for note in made.instruments[0].notes]
    assert sorted(found) == [row[:3] for row in rows(sheet())]


def test_a_key_map() -> None:
    """A kit without a china strikes its second crash; the number of notes stays."""
    song = sheet(ROOT / "patterns/songs/copper-weather.toml")
    kit = GM.lacking(["china"])
    plain, mapped = events(song), events(song, kit)
    chinas = int((plain["note"] == 52).sum())
    assert chinas > 0
    assert not (mapped["note"] == 52).any()
    assert int((mapped["note"] == 57).sum()) == int((plain["note"] == 57).sum()) + chinas
    assert {message.note for message in to_mido(song, kit).tracks[1] if message.type == "note_on"} == set(
        mapped["note"].tolist()
    )


def test_a_groove_and_back() -> None:
    """A groove as a pretty_midi object and back has its strokes, hand and length."""
    groove = read_tab(PLAIN).groove(Meter(4, 4), 16)
    back = groove_from_pretty_midi(to_pretty_midi(song_of(groove)))
    assert distance(groove, back) == 0.0
    assert (back.bars, back.meter, back.surface) == (1, Meter(4, 4), "closed hi-hat")


def plainly(lane: Lane) -> Lane:
    """The lane with plain strokes exactly in time."""
    return Lane(lane.velocity, np.zeros(len(lane), np.uint8), np.zeros(len(lane)))


def hands(song: Song) -> set[tuple[int, tuple[str, ...]]]:
    """(tick, hand) of every note; open and closed hi-hat are one hand."""
    return {(row[0], hand_of(GM.surface_of(row[1]))) for row in rows(song)}


@settings(max_examples=15)
@given(grooves(Meter(7, 8), 16))
def test_any_groove_and_back(drawn: Groove) -> None:
    """Onsets and surfaces of any plain groove come back; of two surfaces of one hand on a step one is kept."""
    groove = empty(drawn.meter, drawn.grid, drawn.bars)
    for name, lane in drawn.voices:
        groove = groove.with_lane(name, plainly(lane))
    assume(any(True for _ in groove.voices))
    song = song_of(groove)
    back = song_of(groove_from_pretty_midi(to_pretty_midi(song)))
    assert {row[:2] for row in rows(back)} <= {row[:2] for row in rows(song)}
    assert hands(back) == hands(song)


def made_by_hand(notes: list[tuple[float, int]], is_drum: bool = True) -> pretty_midi.PrettyMIDI:
    made = pretty_midi.PrettyMIDI(initial_tempo=120)
    instrument = pretty_midi.Instrument(0, is_drum=is_drum, name="kit" if not is_drum else "")
    instrument.notes = [pretty_midi.Note(90, pitch, start, start + 0.1) for start, pitch in notes]
    made.instruments.append(instrument)
    return made


def test_a_pretty_midi_object_made_by_hand() -> None:
    """Seconds become steps: at 120 a minute a quarter is half a second."""
    groove = groove_from_pretty_midi(made_by_hand([(0, 36), (0.5, 38), (1.0, 36), (1.75, 38), (2.25, 36)]))
    assert groove.bars == 2
    assert [float(4 * groove.position(step)) for step in groove.lane_on("kick").struck] == [0, 2, 4.5]
    assert [float(4 * groove.position(step)) for step in groove.lane_on("snare").struck] == [1, 3.5]


def test_the_last_bar_is_that_of_the_last_note() -> None:
    """A note that ends on the bar line opens no further bar."""
    made = made_by_hand([(0, 36), (1.75, 38)])
    made.instruments[0].notes[-1].end = 2.0
    assert groove_from_pretty_midi(made).bars == 1


def test_a_kit_that_is_not_marked_as_drums() -> None:
    """Where no instrument is drums the one named so is taken."""
    assert groove_from_pretty_midi(made_by_hand([(0, 36), (0.5, 38)], is_drum=False)).lane_on("kick").struck.size == 1


def test_two_metres_are_no_groove() -> None:
    """An object of two metres is refused with both."""
    made = made_by_hand([(0, 36), (4.0, 36)])
    made.time_signature_changes = [pretty_midi.TimeSignature(4, 4, 0.0), pretty_midi.TimeSignature(3, 4, 2.0)]
    with pytest.raises(FormatError, match="one metre"):
        groove_from_pretty_midi(made)


def test_nothing_to_read() -> None:
    """No drums, and no pretty_midi object at all, are said in our own errors."""
    with pytest.raises(FormatError, match="no drums"):
        groove_from_pretty_midi(pretty_midi.PrettyMIDI())
    others: tuple[Any, ...] = ("drums.mid", None, 3)
    for wrong in others:
        with pytest.raises(UsageError, match="pretty_midi object"):
            groove_from_pretty_midi(wrong)
        with pytest.raises(UsageError, match="no song stands here"):
            events(wrong)


def test_the_example_of_the_readme(monkeypatch: pytest.MonkeyPatch) -> None:
    """The README's Python runs as it stands, and its names hold what its comments say."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    code = re.findall(r"^```python\n(.*?)^```$", text, re.DOTALL | re.MULTILINE)[0]
    monkeypatch.chdir(ROOT)
    names: dict[str, object] = {}
    exec(compile(code, "README.md", "exec"), names)
    table = names["table"]
    assert isinstance(table, np.ndarray)
    assert table.dtype.names == ("tick", "note", "velocity", "duration")
    snares, groove = names["snares"], names["groove"]
    assert isinstance(snares, np.ndarray)
    assert 0 < len(snares) < len(table)
    assert names["ticks_per_quarter"] == 480
    assert isinstance(groove, Groove)
    assert groove.bars == 79
    assert isinstance(names["how_far"], float)
    assert 0.2 < names["how_far"] < 0.5


def test_the_bridges_stand_at_the_top_and_load_late() -> None:
    """`grooveforge.events` needs neither mido nor pretty_midi, and each bridge is a public name."""
    assert {"events", "to_mido", "to_pretty_midi", "groove_from_pretty_midi"} <= set(grooveforge.__all__)
    code = (
        "import sys, grooveforge as g; g.events(g.read_sheet(sys.argv[1])); "
        "print([n for n in ('mido', 'pretty_midi') if n in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code, str(SONGS[0])], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
