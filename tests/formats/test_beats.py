"""Beat numbers: "2 4&" for backbeats, "1.1 4.2&" for stops, and back."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.core.meter import Meter
from grooveforge.errors import MusicError
from grooveforge.formats.beats import beat_text, parse_beats, parse_stops, stops_text

FOUR, SEVEN = Meter(4, 4), Meter(7, 8)


@pytest.mark.parametrize(
    ("text", "meter", "eighths"),
    [
        ("2 4", FOUR, (2, 6)),
        ("2 4&", FOUR, (2, 7)),
        ("1& 2& 3& 4&", FOUR, (1, 3, 5, 7)),
        ("3 7", SEVEN, (2, 6)),
        ("4 10", Meter(12, 8), (3, 9)),
        ("2", Meter(3, 2), (4,)),
        ("4 2", FOUR, (2, 6)),
    ],
)
def test_numbers_count_the_lower_figure(text: str, meter: Meter, eighths: tuple[int, ...]) -> None:
    """Quarters in 4/4, eighths in 7/8 and 12/8, halves in 3/2; & is the eighth after; the order is free."""
    assert parse_beats(text, meter) == tuple(Fraction(count, 8) for count in eighths)


def test_e_and_a_are_the_sixteenths_round_the_and() -> None:
    """1e 1& 1a fill the quarter in sixteenths (common practice)."""
    assert parse_beats("1 1e 1& 1a", FOUR) == tuple(Fraction(step, 16) for step in range(4))


@pytest.mark.parametrize("text", ["", "0", "5", "2 2", "2+", "two", "3&", "1.1", "9" * 50, "²"])
def test_what_is_no_beat_is_refused(text: str) -> None:
    """No beat, beats outside the bar, the same one twice, other signs, & in a metre over 8."""
    with pytest.raises(MusicError):
        parse_beats(text, SEVEN if text == "3&" else FOUR)


def test_stops_are_bar_and_beat() -> None:
    """2.2& is the & of beat 2 in bar 2, in whole notes from the part's start."""
    assert parse_stops("1.1 2.2&", FOUR) == (Fraction(0), Fraction(11, 8))
    assert parse_stops("1.1 2.3", SEVEN) == (Fraction(0), Fraction(9, 8))


@pytest.mark.parametrize("text", ["", "1", "0.1", "1.5", "1.1 1.1", "1.1.1", "a.b"])
def test_what_is_no_stop_is_refused(text: str) -> None:
    """A stop needs a bar from 1 and a beat that the bar has."""
    with pytest.raises(MusicError):
        parse_stops(text, FOUR)


@given(st.sets(st.integers(0, 15), min_size=1))
def test_beats_of_four_four_come_back_from_their_text(steps: set[int]) -> None:
    """Every sixteenth of 4/4 has a name that reads back as its place."""
    places = tuple(Fraction(step, 16) for step in sorted(steps))
    assert parse_beats(beat_text(places, FOUR), FOUR) == places


@given(st.sets(st.integers(0, 69), min_size=1))
def test_stops_of_seven_eight_come_back_from_their_text(eighths: set[int]) -> None:
    """Every eighth of ten bars of 7/8 has a name that reads back as its place."""
    places = tuple(Fraction(count, 8) for count in sorted(eighths))
    assert parse_stops(stops_text(places, SEVEN), SEVEN) == places


def test_a_triplet_has_no_beat_number() -> None:
    """A place that no number names is refused, never rounded."""
    with pytest.raises(MusicError, match="no beat number"):
        beat_text([Fraction(1, 12)], FOUR)


@given(st.text(max_size=30))
def test_any_text_is_beats_or_a_music_error(text: str) -> None:
    """No text makes the reader fail in another way."""
    for meter in (FOUR, SEVEN):
        for parse in (parse_beats, parse_stops):
            try:
                parse(text, meter)
            except MusicError:
                continue
