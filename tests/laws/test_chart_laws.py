"""Laws of charts: no stroke is lost or made up, every bar is full, every bar stands on the road map once."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.analysis.playability import groove_performance
from grooveforge.core.arrange import arrange
from grooveforge.core.groove import Groove
from grooveforge.core.kit import SURFACE_CODES, SURFACE_NAMES
from grooveforge.core.perform import perform
from grooveforge.core.score import song_score
from grooveforge.core.song import FLAT_LEVELS, Entry, Settings, Song
from grooveforge.formats.groovefile import read_groove_file
from grooveforge.formats.midi import song_midi
from grooveforge.formats.musicxml import musicxml
from grooveforge.formats.notation import midi_note
from grooveforge.formats.roadmap import road_map, road_rows
from grooveforge.project.charting import chart
from grooveforge.project.rendering import render
from grooveforge.project.sheets import read_sheet
from tests.charts import GROOVES, SONGS, assert_valid, chart_counts, midi_counts, tree_of, voices
from tests.laws.strategies import METERS, grooves


@pytest.mark.parametrize("path", SONGS, ids=lambda path: path.stem)
def test_a_song_has_the_strokes_of_its_midi(path: Path) -> None:
    """Per surface and bar, grace notes counted; the MIDI file is counted by mido."""
    made = render(read_sheet(str(path)))
    counted = midi_counts(next(iter(made.files.values())))
    data = chart(str(path), "musicxml")
    assert isinstance(data, bytes)
    assert chart_counts(data) == counted
    assert sum(counted.values()) == len(made.performance)


@pytest.mark.parametrize("path", GROOVES, ids=lambda path: path.stem)
def test_a_groove_has_the_strokes_of_its_midi(path: Path) -> None:
    """Every groove of the library: the same strokes per surface and bar as the MIDI file of it, and valid."""
    file = read_groove_file(path.read_text(encoding="utf-8"))
    bpm = float(sum(file.tempo) / 2) if file.tempo else 120.0
    written = song_midi(groove_performance(file.groove, bpm, 1), "groove")
    data = chart(str(path), "musicxml")
    assert isinstance(data, bytes)
    assert chart_counts(data) == midi_counts(written.data)
    assert_valid(data)


@st.composite
def any_grooves(draw: st.DrawFn) -> Groove:
    """A groove on any grid of 4 to 96 steps."""
    meter = draw(st.sampled_from(METERS))
    grid = draw(st.sampled_from([grid for grid in range(4, 97) if (grid * meter.whole).denominator == 1]))
    return draw(grooves(meter=meter, grid=grid, most_bars=2))


@given(any_grooves())
def test_any_groove_is_charted_whole(groove: Groove) -> None:
    """The voices of each bar are full to the tick, and every stroke that sounds stands in its bar."""
    settings = Settings(groove="a", bars=groove.bars, meter=groove.meter, arrival=False, levels=FLAT_LEVELS)
    arrangement = arrange(Song("Any", (Entry("a"),), {"a": settings}, {"a": groove}, meter=groove.meter))
    performance = perform(arrangement)
    data = musicxml(song_score(arrangement, performance))
    root = tree_of(data)
    divisions = int(root.findtext(".//divisions"))
    measures = list(root.iter("measure"))
    assert [measure.get("number") for measure in measures] == [str(n) for n in range(1, groove.bars + 1)]
    for measure in measures:
        for voice in voices(measure, divisions).values():
            assert voice.length == groove.meter.whole
    assert sum(chart_counts(data).values()) == len(performance)
    names = {item.get("id"): item.findtext("instrument-name") for item in root.iter("score-instrument")}
    charted = Counter(names[item.get("id")] for item in root.iter("instrument"))
    assert charted == Counter(SURFACE_NAMES[code] for code in performance.events.surface.tolist())


# -- the road map ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", SONGS, ids=lambda path: path.stem)
def test_each_bar_stands_on_the_road_map_once(path: Path) -> None:
    """The bars of the lines, read from the text, are the song's bars in order, no one twice."""
    arrangement = arrange(read_sheet(str(path)).song)
    found: list[int] = []
    for line in road_map(arrangement).splitlines()[3:]:
        numbers = re.match(r"\s*(\d+)(?:-(\d+))?  ", line)
        if numbers:
            found += range(int(numbers[1]), int(numbers[2] or numbers[1]) + 1)
    assert found == list(range(1, arrangement.bars + 1))


@given(st.lists(st.tuples(st.sampled_from("abc"), st.integers(1, 9), st.booleans()), min_size=1, max_size=12))
def test_any_form_is_covered_once(form: list[tuple[str, int, bool]]) -> None:
    """Sections of any length, some tacet: the rows follow one another from bar 1 to the last, and tacet says so."""
    groove = read_groove_file(GROOVES[0].read_text(encoding="utf-8")).groove
    parts = {name: Settings(groove="g", bars=2) for name in "abc"}
    entries = tuple(Entry(name, Settings(bars=bars, tacet=silent or None)) for name, bars, silent in form)
    arrangement = arrange(Song("Any", entries, parts, {"g": groove}, meter=groove.meter))
    rows = road_rows(arrangement)
    assert [row.first for row in rows] == [1, *(row.last + 1 for row in rows[:-1])]
    assert rows[-1].last == arrangement.bars == sum(bars for _, bars, _ in form)
    assert [row.feel == "tacet" for row in rows] == [silent for *_, silent in form]


def test_every_surface_has_a_place_and_a_note() -> None:
    """All surfaces, unknown notes too, have a General MIDI note to count them by."""
    assert all(0 <= midi_note(name) < 128 for name in SURFACE_CODES)
