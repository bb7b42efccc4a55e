"""Laws of arranged songs: how sections end and begin touches nothing else (house rules of the song sheet)."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grooveforge.core.arrange import Section, arrange
from grooveforge.core.ending import Endings, Tail, moves, with_sixteenths
from grooveforge.core.figures import Insert, last_beats
from grooveforge.core.groove import Groove, Lane
from grooveforge.core.meter import Meter
from grooveforge.core.perform import perform, seconds_at
from grooveforge.core.song import FLAT_LEVELS, Entry, Settings, Song
from grooveforge.formats.midi import song_midi
from grooveforge.project.library import library_fills
from tests.laws.strategies import grooves
from tests.read_back import spans

LENGTHS = ("1 beat", "2 beats", "1 bar")

Stroke = tuple[Fraction, str]


def strokes(section: Section, own: bool | None = None) -> set[Stroke]:
    """(whole notes from the section's start, surface) of every stroke."""
    return {
        (start + span.groove.position(int(step)), name)
        for start, span in section.placed_spans
        if own is None or span.own is own
        for name, lane in span.groove.voices
        for step in lane.struck
    }


@st.composite
def songs(draw: st.DrawFn, ending: str | None = None, fill: str | None = None) -> Song:
    """A song of three statements of one part and one of another, over any groove."""
    groove = draw(grooves(most_bars=2))
    grooves_of = {"a": groove, "b": draw(grooves(meter=groove.meter, most_bars=2))}
    parts = {
        "verse": Settings(groove="a", bars=draw(st.integers(2, 5)), ending=ending, fill=fill),
        "chorus": Settings(groove="b", bars=draw(st.integers(2, 5))),
    }
    form = (Entry("verse"), Entry("chorus"), Entry("verse"), Entry("verse"))
    return Song(
        "Any", form, parts, grooves_of, meter=groove.meter, seed=draw(st.integers(0, 5)),
        own=Settings(levels=FLAT_LEVELS), fill_pool=library_fills(),
    )  # fmt: skip


def with_verse(song: Song, more: Settings) -> Song:
    """The song with more keys in its verse."""
    return replace(song, parts={**song.parts, "verse": more.over(song.parts["verse"])})


def arranged_sections(song: Song) -> tuple[Section, ...]:
    return arrange(song).sections


@settings(deadline=None)
@given(songs(), st.sampled_from(LENGTHS))
def test_an_ending_moves_strokes_inside_itself_alone(song: Song, length: str) -> None:
    """Outside the last beats every stroke is as it was; counts per surface stay; at most two strokes move."""
    before, after = arranged_sections(song), arranged_sections(with_verse(song, Settings(ending=length)))
    for plain, ended in zip(before, after, strict=True):
        one, two = strokes(plain), strokes(ended)
        beats = last_beats(length, [plain.meter] * plain.bars)
        edge = plain.bars * plain.meter.whole - sum(beats)
        assert {row for row in one if row[0] < edge} == {row for row in two if row[0] < edge}
        assert Counter(name for _, name in one) == Counter(name for _, name in two)
        assert len(two - one) <= 2
        assert all(place < plain.bars * plain.meter.whole for place, _ in two)
    assert strokes(before[0]) == strokes(after[0])


@settings(deadline=None)
@given(grooves(bars=1), st.integers(0, 3))
def test_endings_are_pairwise_different(groove: Groove, seed: int) -> None:
    """As many statements as the tail has endings, each unlike all others (one moved stroke is enough)."""
    tail = Tail(groove, groove.meter.beat_lengths[-1:])
    endings = Endings(seed)
    most = min(sum(len(tier) for tier in moves(with_sixteenths(tail))), 12)
    heard = [frozenset(_struck(endings.ending("a", number, tail))) for number in range(1, most + 2)]
    assert len(set(heard)) == len(heard)


def _struck(groove: Groove) -> set[Stroke]:
    return {(groove.position(int(step)), name) for name, lane in groove.voices for step in lane.struck}


@settings(deadline=None)
@given(songs(), st.sampled_from((*LENGTHS, "2 bars")))
def test_a_fill_replaces_what_stands_in_it_alone(song: Song, length: str) -> None:
    """Before the fill every stroke is as it was; inside no stroke of the hand; nothing reaches the next section."""
    before = arranged_sections(song)
    after = arranged_sections(with_verse(song, Settings(fill=length)))
    for number, (plain, filled) in enumerate(zip(before, after, strict=True)):
        end = plain.bars * plain.meter.whole
        edge = end - sum(last_beats(length, [plain.meter] * plain.bars))
        one, two = strokes(plain), strokes(filled)
        if plain.part == "chorus" or number == len(before) - 1:
            assert one == two
            continue
        arrival = {row for row in two if row[0] == 0}
        assert {row for row in one if row[0] < edge} - arrival == {row for row in two if row[0] < edge} - arrival
        for start, span in filled.placed_spans:
            hand = span.groove.hand
            assert hand is None or all(start + span.groove.position(int(step)) < edge for step in hand.struck)
        instants = sorted({place for place, _ in two if edge <= place})
        assert len(instants) >= 2 * len(last_beats(length, [plain.meter] * plain.bars))
        assert instants[-1] < end


@settings(deadline=None)
@given(songs(), st.integers(1, 6), st.integers(1, 7))
def test_inserted_beats_only_move_what_comes_after(song: Song, before_bar: int, beats: int) -> None:
    """Without the inserted bar the section's own bars play as they did, and the section is so many beats longer."""
    bars = song.parts["verse"].bars or 1
    insert = (Insert(min(before_bar, bars + 1), beats),)
    after = arranged_sections(with_verse(song, Settings(insert=insert, arrival=False)))
    before = arranged_sections(with_verse(song, Settings(arrival=False)))
    length = Fraction(beats, 4)
    edge = (insert[0].before_bar - 1) * before[0].meter.whole
    for plain, longer in zip(before, after, strict=True):
        if plain.part == "chorus":
            assert strokes(plain) == strokes(longer)
            continue
        assert longer.quarters == plain.quarters + beats
        assert longer.bars == plain.bars + 1
        moved = {(place if place < edge else place + length, name) for place, name in strokes(plain)}
        assert strokes(longer, own=True) == moved


@settings(deadline=None)
@given(songs(ending="2 beats", fill="1 beat"), st.integers(0, 2))
def test_a_section_s_choices_do_not_look_at_its_place_in_the_form(song: Song, at: int) -> None:
    """Another part put anywhere into the form leaves every ending as it was."""
    song = with_verse(song, Settings(fill=False))
    longer = replace(song, form=(*song.form[:at], Entry("chorus"), *song.form[at:]))
    before, after = arranged_sections(song), arranged_sections(longer)
    verses = [[strokes(section) for section in made if section.part == "verse"] for made in (before, after)]
    assert verses[0] == verses[1]


@settings(deadline=None, max_examples=60)
@given(songs(ending="1 bar", fill="1 beat"), st.sampled_from([20, 133, 400]))
def test_notes_of_any_song(song: Song, bpm: int) -> None:
    """No two notes of one pitch on a tick or over each other; a sixteenth, or to the next onset, at any tempo."""
    performance = perform(arrange(replace(song, tempo=Fraction(bpm), final="hit")))
    written = song_midi(performance, "Any")
    notes = spans(written.data)
    assert len({row[:2] for row in notes}) == len(notes)
    sixteenth = performance.division // 4
    starts: dict[int, list[int]] = {}
    for tick, note, _ in notes:
        starts.setdefault(note, []).append(tick)
    for tick, note, length in notes:
        following = [later for later in starts[note] if later > tick]
        gap = min(following, default=performance.end + sixteenth) - tick
        assert length == min(sixteenth, gap) or length == min(2 * sixteenth, gap)  # choked strokes: an eighth
        seconds = float(np.diff(seconds_at(performance, np.array([tick, tick + length])))[0])
        assert seconds >= 0.020 or length == gap


@pytest.mark.parametrize("bpm", [20, 400])
def test_note_lengths_at_the_ends_of_the_range(bpm: int) -> None:
    """A sixteenth lasts 750 ms at 20 and 37.5 ms at 400, so every note of sixteenths is over 20 ms."""
    meter = Meter(4, 4)
    groove = Groove(meter, 16, 1, kick=_all(16), hand=_all(16), surface="ride")
    settings_ = Settings(groove="a", bars=4, fill="1 bar", arrival=True)
    song = Song("Ends", (Entry("a"), Entry("a")), {"a": settings_}, {"a": groove}, Fraction(bpm), meter)
    written = song_midi(perform(arrange(replace(song, fill_pool=library_fills(), final="hit"))), "Ends")
    assert not written.warnings
    assert {length for _, _, length in spans(written.data)} == {120}


def _all(steps: int) -> Lane:
    return Lane.of(steps, range(steps))


@settings(deadline=None)
@given(songs())
def test_lanes_that_are_kept_silent_stay_so(song: Song) -> None:
    """An arrival, ending or fill plays no lane that `play` leaves out: here the kick alone."""
    made = arranged_sections(with_verse(song, Settings(play=("kick",), ending="1 bar", fill="1 bar")))
    assert {name for section in made if section.part == "verse" for _, name in strokes(section)} <= {"kick"}
