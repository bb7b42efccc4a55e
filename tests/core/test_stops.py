"""Stops: kick and crash on the hits, silence between (common practice)."""

from __future__ import annotations

from fractions import Fraction

import pytest

from grooveforge.core.arrange import arrange
from grooveforge.core.figures import Stops
from grooveforge.core.kit import Kind
from grooveforge.core.meter import Meter
from grooveforge.core.stops import stops_groove, struck_steps
from grooveforge.errors import MusicError
from grooveforge.formats.beats import parse_stops
from grooveforge.project.sheets import arranged, sheet_from, song_from
from tests.bars import FOUR_FOUR


def stops(text: str, meter: Meter = FOUR_FOUR) -> Stops:
    return Stops(text, parse_stops(text, meter))


def test_kick_and_crash_on_each_and_nothing_else() -> None:
    """Whole notes 0 and 9/8 (2.1&) of two bars: two strokes each."""
    bar = stops_groove(FOUR_FOUR, 2, stops("1.1 2.1&"))
    assert {name: [bar.position(step) for step in lane.struck] for name, lane in bar.voices} == {
        "kick": [Fraction(0), Fraction(9, 8)],
        "crash": [Fraction(0), Fraction(9, 8)],
    }
    assert struck_steps(bar) == (0, 18)


def test_a_choke_damps_the_crash_alone() -> None:
    bar = stops_groove(FOUR_FOUR, 1, stops("1.1 1.3"), choke=True)
    assert set(bar.lane_on("crash").kind[bar.lane_on("crash").struck].tolist()) == {Kind.CHOKE}
    assert set(bar.lane_on("kick").kind[bar.lane_on("kick").struck].tolist()) == {Kind.ACCENT}


def test_the_lanes_that_play() -> None:
    """The crash is the timekeeping hand's."""
    for lanes, struck in (({"kick"}, ["kick"]), ({"timekeeper"}, ["crash"]), ({"snare"}, [])):
        bar = stops_groove(FOUR_FOUR, 1, stops("1.1"), lanes=frozenset(lanes))
        assert [name for name, _ in bar.voices] == struck


@pytest.mark.parametrize(("meter", "text", "place"), [
    (Meter(7, 8), "2.7", Fraction(13, 8)),  # eighths are counted
    (Meter(12, 8), "1.12", Fraction(11, 8)),
    (Meter(3, 4), "2.3a", Fraction(3, 4) + Fraction(1, 2) + Fraction(3, 16)),
    (Meter(5, 16), "1.5", Fraction(1, 4)),
    (Meter(3, 32), "1.3", Fraction(1, 16)),
])  # fmt: skip
def test_beats_count_the_lower_figure(meter: Meter, text: str, place: Fraction) -> None:
    bar = stops_groove(meter, 2, stops(text, meter))
    assert [bar.position(step) for step in bar.lane_on("kick").struck] == [place]


def test_a_stop_behind_the_section_is_a_fault_with_its_place() -> None:
    with pytest.raises(MusicError, match="bar 3 of a section of 2"):
        stops_groove(FOUR_FOUR, 2, stops("3.1"))
    text = 'form = ["a"]\n[parts.a]\nbars = 2\nstops = "3.1"\n'
    with pytest.raises(MusicError, match=r"x.toml: parts.a.stops, line 4: a stop stands in bar 3"):
        arranged(sheet_from(text.encode(), "x.toml"))


def test_a_part_with_stops_needs_no_groove_and_none_plays() -> None:
    """Fills and endings under [defaults] stay out of it: silence between the hits."""
    text = """
form = ["a", "b"]
[defaults]
groove = "plain"
fill = "1 bar"
ending = true
[grooves.plain]
tab = "BD o---o---o---o---"
[parts.a]
bars = 4
stops = "1.1 4.4"
[parts.b]
bars = 4
"""
    song = arrange(song_from(text, "x.toml"))
    first = song.sections[0]
    assert first.feel is None
    assert sum(len(lane.struck) for span in first.spans for _, lane in span.groove.voices) == 4
    assert first.spans[0].tight == (0, 60)
