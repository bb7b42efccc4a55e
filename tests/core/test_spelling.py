"""How rhythms are spelt: examples that a drummer's method book would write the same, and laws for any rhythm."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.core.meter import Meter
from grooveforge.core.spelling import Symbol, beats_of, spell
from tests.laws.strategies import meters

FOUR = Meter(4, 4)


def said(symbol: Symbol) -> str:
    """ "8." a dotted eighth, "16r" a rest, "8/3" a triplet eighth."""
    rest = "" if symbol.note else "r"
    tuplet = f"/{symbol.tuplet[0]}" if symbol.tuplet else ""
    return f"{(1 / symbol.value).limit_denominator(2000)}{'.' * symbol.dots}{tuplet}{rest}"


def spelling(meter: Meter, grid: int, steps: list[int]) -> str:
    return " ".join(said(symbol) for symbol in spell(meter, [Fraction(step, grid) for step in steps]))


@pytest.mark.parametrize(
    ("meter", "grid", "steps", "expected"),
    [
        (FOUR, 4, [0, 1, 2, 3], "4 4 4 4"),
        (FOUR, 4, [0], "4 4r 2r"),
        (FOUR, 4, [2], "2r 4 4r"),
        (FOUR, 8, list(range(8)), "8 8 8 8 8 8 8 8"),
        (FOUR, 16, [0, 3, 6, 8, 10, 13], "8. 16 8r 8 8 8 16r 8."),  # a kick that rolls into the backbeats
        (FOUR, 16, [1, 2, 7, 12, 13], "16r 16 8 8r 16r 16 4r 16 8."),
        (FOUR, 32, [1], "32r 16. 8r 4r 2r"),  # no longer than three times its distance from the beat
        (FOUR, 12, [0, 2, 3, 5, 6, 8, 9, 11], "4/3 8/3 4/3 8/3 4/3 8/3 4/3 8/3"),  # a shuffle
        (FOUR, 12, [1, 3, 4, 5], "8/3r 4/3 8/3 8/3 8/3 2r"),
        (FOUR, 24, [0, 1, 2, 3, 4, 5, 6], "16/6 16/6 16/6 16/6 16/6 16/6 4 2r"),
        (FOUR, 24, [0, 1, 2, 3], "16/3 16/3 16/3 8 4r 2r"),
        (Meter(6, 8), 8, [0, 2, 3, 5], "4 8 4 8"),
        (Meter(6, 8), 8, [3], "4.r 4."),
        (Meter(12, 8), 8, [0, 6], "4. 4.r 4. 4.r"),
        (Meter(7, 8), 8, list(range(7)), "8 8 8 8 8 8 8"),
        (Meter(7, 8), 8, [4], "4r 4r 4."),
        (Meter(3, 4), 4, [0], "4 4r 4r"),
        (Meter(2, 2), 4, [2], "2r 4 4r"),
        (FOUR, 20, [0, 1, 2, 3, 4, 5], "16/5 16/5 16/5 16/5 16/5 4 2r"),
        (FOUR, 28, [0, 1, 2, 3, 4, 5, 6], "16/7 16/7 16/7 16/7 16/7 16/7 16/7 4r 2r"),
    ],
)  # fmt: skip
def test_rhythms(meter: Meter, grid: int, steps: list[int], expected: str) -> None:
    """Values, dots, rests and tuplets (common practice of engraving)."""
    assert spelling(meter, grid, steps) == expected


def test_an_empty_bar_is_one_rest() -> None:
    """A bar of rest is a whole-bar rest in any metre."""
    (rest,) = spell(Meter(7, 8), ())
    assert (rest.whole_bar, rest.note, rest.length) == (True, False, Fraction(7, 8))


@pytest.mark.parametrize(
    ("meter", "grid", "steps", "expected"),
    [
        (FOUR, 8, [0, 1, 2, 3], "b e b e"),
        (FOUR, 16, [0, 1, 2, 3], "bb cc cc ee"),
        (FOUR, 16, [0, 2, 3], "b cb ee"),  # a gallop
        (FOUR, 16, [0, 1, 2], "bb ce e"),  # a reverse gallop
        (FOUR, 16, [0, 3], "b e<"),
        (FOUR, 16, [0, 1], "b> e"),
        (FOUR, 16, [0, 1, 3], "b> c e<"),
        (Meter(7, 8), 8, list(range(7)), "b e b e b c e"),
        (Meter(6, 8), 8, list(range(6)), "b c e b c e"),
        (FOUR, 32, list(range(8)), "bbb ccc ccc cee cbb ccc ccc eee"),
    ],
)  # fmt: skip
def test_beams(meter: Meter, grid: int, steps: list[int], expected: str) -> None:
    """Beams go by the beat; a lone short note has a hook."""
    letters = {"begin": "b", "continue": "c", "end": "e", "forward hook": ">", "backward hook": "<"}
    symbols = spell(meter, [Fraction(step, grid) for step in steps])
    found = [" ".join("".join(letters[word] for word in symbol.beams) for symbol in symbols if symbol.beams)]
    assert found == [expected]


@st.composite
def rhythms(draw: st.DrawFn) -> tuple[Meter, list[Fraction]]:
    """A metre, and strokes on any grid of 4 to 96 steps that divides its bar."""
    meter = draw(meters())
    grids = [grid for grid in range(4, 97) if (grid * meter.whole).denominator == 1]
    grid = draw(st.sampled_from(grids))
    steps = draw(st.sets(st.integers(0, meter.steps(grid) - 1), max_size=24))
    return meter, sorted(Fraction(step, grid) for step in steps)


@given(rhythms())
def test_every_rhythm_fills_its_bar(rhythm: tuple[Meter, list[Fraction]]) -> None:
    """Symbols follow one another from bar line to bar line, and the notes are the strokes, no more and no fewer."""
    meter, places = rhythm
    at = Fraction(0)
    for symbol in (symbols := spell(meter, places)):
        assert symbol.start == at
        at += symbol.length
    assert at == meter.whole
    assert [symbol.start for symbol in symbols if symbol.note] == places


@given(rhythms())
def test_written_and_sounding_lengths_agree(rhythm: tuple[Meter, list[Fraction]]) -> None:
    """A symbol sounds as long as its value, dots and tuplet say; no note reaches over the end of its beat."""
    meter, places = rhythm
    ends = [start + length for start, length in beats_of(meter)]
    for symbol in spell(meter, places):
        if symbol.whole_bar:
            continue
        written = symbol.value * (2 - Fraction(1, 2**symbol.dots))
        actual, normal = symbol.tuplet or (1, 1)
        assert written * normal / actual == symbol.length
        if symbol.note:
            assert symbol.start + symbol.length <= min(end for end in ends if end > symbol.start)


@given(rhythms())
def test_tuplets_are_whole(rhythm: tuple[Meter, list[Fraction]]) -> None:
    """Every tuplet opens and closes, and lasts a plain value: its notes make up the time that they stand in."""
    meter, places = rhythm
    inside: list[Symbol] = []
    for symbol in spell(meter, places):
        if symbol.opens:
            assert not inside
        if symbol.tuplet:
            assert symbol.opens or inside
            inside.append(symbol)
        if symbol.closes:
            length = sum((row.length for row in inside), Fraction(0))
            assert length.numerator == 1 and length.denominator & (length.denominator - 1) == 0
            inside = []
    assert not inside


@given(rhythms())
def test_beams_begin_and_end(rhythm: tuple[Meter, list[Fraction]]) -> None:
    """On each level a beam that begins ends, and never later than its beat."""
    meter, places = rhythm
    begun: dict[int, Fraction] = {}
    ends = [start + length for start, length in beats_of(meter)]
    for symbol in spell(meter, places):
        for level, word in enumerate(symbol.beams):
            if word == "begin":
                assert level not in begun
                begun[level] = min(end for end in ends if end > symbol.start)
            elif word in ("continue", "end"):
                assert symbol.start < begun[level]
                if word == "end":
                    del begun[level]
    assert not begun
