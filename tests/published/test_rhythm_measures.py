"""Rhythm measures against published tables: five-onset timelines in sixteen, seven-onset timelines in twelve."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.analysis import rhythm
from grooveforge.analysis.rhythm import onsets_of
from grooveforge.core.groove import Groove
from grooveforge.errors import MusicError
from tests.laws.strategies import grooves

FIVE = {
    "Shiko": (0, 4, 6, 10, 12),
    "Son": (0, 3, 6, 10, 12),
    "Rumba": (0, 3, 7, 10, 12),
    "Soukous": (0, 3, 6, 10, 11),
    "Gahu": (0, 3, 6, 10, 14),
    "Bossa": (0, 3, 6, 10, 13),
}
"""G. Toussaint, "The Geometry of Musical Rhythm", 2013; sixteen steps."""

BRIDGES_2005 = 'Gómez, Melvin, Rappaport, Toussaint, "Mathematical measures of syncopation", BRIDGES 2005'
GEOMETRY = "Toussaint 2013, Fig. 17.13"
BRIDGES_2002 = 'Toussaint, "A mathematical analysis of African, Brazilian and Cuban clave rhythms", BRIDGES 2002'
ISMIR_2004 = 'Toussaint, "A comparison of rhythmic similarity measures", ISMIR 2004: the definition; values computed'
LHL = "Longuet-Higgins and Lee 1984: the definition; values computed by hand, not published"


@pytest.mark.parametrize(("name", "value"), list(zip(FIVE, (1, 2, 2, 3, 3, 3))))
def test_keith(name: str, value: int) -> None:
    """Keith's measure, count form (BRIDGES 2005, Fig. 8)."""
    assert rhythm.keith(FIVE[name], 16) == value, BRIDGES_2005


@pytest.mark.parametrize(("name", "value"), list(zip(FIVE, (0, 1, 2, 2, 1, 2))))
def test_off_beatness(name: str, value: int) -> None:
    """Off-beatness (BRIDGES 2005, Fig. 8)."""
    assert rhythm.off_beatness(FIVE[name], 16) == value, BRIDGES_2005


@pytest.mark.parametrize(("name", "value"), list(zip(FIVE, ("6/5", "14/5", "18/5", "18/5", "18/5", "4"))))
def test_note_to_beat(name: str, value: str) -> None:
    """The weighted note-to-beat distance, exact (BRIDGES 2005, Fig. 8)."""
    assert rhythm.note_to_beat(FIVE[name], 16, 4) == Fraction(value), BRIDGES_2005


@pytest.mark.parametrize(("name", "value"), list(zip(FIVE, (66.7, 40.5, 41.0, 70.5, 23.8, 14.3))))
def test_npvi(name: str, value: float) -> None:
    """nPVI to one decimal (Fig. 17.13)."""
    assert round(rhythm.npvi(FIVE[name], 16), 1) == value, GEOMETRY


@pytest.mark.parametrize(("name", "value"), list(zip(FIVE, (4, 5, 6, 7, 7, 4))))
def test_distinct_distances(name: str, value: int) -> None:
    """Distinct pairwise distances (Fig. 17.13)."""
    assert rhythm.distinct_distances(FIVE[name], 16) == value, GEOMETRY


@pytest.mark.parametrize(("name", "value"), list(zip(FIVE, (0, 1.41, 2.45, 2.00, 3.16, 2.00))))
def test_interval_vectors(name: str, value: float) -> None:
    """Euclidean distance of the interval vectors from Shiko's, to two decimals."""
    assert round(rhythm.interval_vector_distance(FIVE["Shiko"], FIVE[name], 16), 2) == value, BRIDGES_2002


@pytest.mark.parametrize(("name", "value"), list(zip(FIVE, (2, 4, 6, 6, 5, 6))))
def test_longuet_higgins_and_lee(name: str, value: int) -> None:
    """One bar alone."""
    assert rhythm.longuet_higgins_lee(FIVE[name]) == value, LHL


def test_longuet_higgins_and_lee_published() -> None:
    """10010110 in 2/4 gives 2, as published with a public toolkit of syncopation measures."""
    assert rhythm.longuet_higgins_lee(onsets_of("x--x-xx-"), (2, 2, 2)) == 2


MATRIX = {
    "Shiko": (0, 1, 2, 2, 2, 3),
    "Son": (1, 0, 1, 1, 1, 2),
    "Soukous": (2, 1, 0, 2, 2, 3),
    "Rumba": (2, 1, 2, 0, 2, 3),
    "Bossa": (2, 1, 2, 2, 0, 1),
    "Gahu": (3, 2, 3, 3, 1, 0),
}


@pytest.mark.parametrize("one", MATRIX)
def test_swap_distance(one: str) -> None:
    """The matrix of swap distances."""
    assert tuple(rhythm.swap_distance(FIVE[one], FIVE[other]) for other in MATRIX) == MATRIX[one], ISMIR_2004


TWELVE = [
    ("Soli", "x.x.x.x.xx.x", "15/7", 1),
    ("Tambu", "x.x.x.xx.x.x", "15/7", 2),
    ("Bembe", "x.x.xx.x.x.x", "3", 3),
    ("Bembe-2", "xx.x.xx.x.x.", "15/7", 2),
    ("Yoruba", "x.x.xx.x.xx.", "3", 2),
    ("Tonada", "x.xx.xx.x.x.", "15/7", 1),
    ("Asaadua", "x.x.x.xx.xx.", "15/7", 1),
    ("Sorsonet", "xxx.x.x.x.x.", "3", 1),
    ("Bemba", "x.xx.x.x.xx.", "15/7", 2),
    ("Ashanti", "x.xx.x.xx.x.", "3", 2),
]


@pytest.mark.parametrize(("name", "line", "distance", "off"), TWELVE)
def test_twelve_steps(name: str, line: str, distance: str, off: int) -> None:
    """Seven onsets in twelve steps, a beat every three (BRIDGES 2005, Fig. 11)."""
    onsets = onsets_of(line)
    assert len(onsets) == 7, name
    assert rhythm.note_to_beat(onsets, 12, 3) == Fraction(distance), BRIDGES_2005
    assert rhythm.off_beatness(onsets, 12) == off, BRIDGES_2005


# -- laws and limits ---------------------------------------------------------------------------------------

ROWS = st.integers(1, 10).flatmap(
    lambda count: st.tuples(*[st.sets(st.integers(0, 31), min_size=count, max_size=count)] * 3)
)


@given(ROWS)
def test_the_swap_distance_is_a_metric(rows: tuple[set[int], set[int], set[int]]) -> None:
    """Zero for the same onsets alone, symmetric, and no way is shorter over a third."""
    a, b, c = rows
    assert (rhythm.swap_distance(a, b) == 0) == (a == b)
    assert rhythm.swap_distance(a, b) == rhythm.swap_distance(b, a)
    assert rhythm.swap_distance(a, c) <= rhythm.swap_distance(a, b) + rhythm.swap_distance(b, c)


@given(st.sets(st.integers(0, 15), min_size=1))
def test_ranges(onsets: set[int]) -> None:
    """Every measure stays in its range, and a rhythm on the beats alone is no syncopation."""
    assert 0 <= rhythm.keith(onsets, 16) <= len(onsets)
    assert 0 <= rhythm.npvi(onsets, 16) < 200
    assert sum(rhythm.durations(onsets, 16)) == 16
    assert sum(rhythm.distance_counts(onsets, 16)) == len(onsets) * (len(onsets) - 1) // 2
    on_beats = {4 * (at // 4) for at in onsets}
    assert rhythm.note_to_beat(on_beats, 16, 4) == 0 == rhythm.off_beatness(on_beats, 16)


@given(grooves(most_bars=1), grooves(most_bars=1))
def test_the_cost_of_an_ending(one: Groove, other: Groove) -> None:
    """Symmetric, and zero for a groove against itself; a ranking, so no more is a law."""
    assert rhythm.ending_cost(one, other) == rhythm.ending_cost(other, one)
    assert rhythm.ending_cost(one, one) == 0


def test_wrong_rhythms() -> None:
    """No onset, one outside the cycle, a beat that does not divide it, unequal counts: each says so."""
    for wrong in (lambda: rhythm.keith((), 16), lambda: rhythm.keith((16,), 16), lambda: rhythm.npvi((-1, 3), 16)):
        with pytest.raises(MusicError, match="onset"):
            wrong()
    with pytest.raises(MusicError, match="divide"):
        rhythm.note_to_beat((0, 3), 16, 3)
    with pytest.raises(MusicError, match="as many"):
        rhythm.swap_distance((0,), (0, 1))
