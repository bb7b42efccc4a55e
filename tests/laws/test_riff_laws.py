"""The laws of the kick that follows the riff: precision and recall of 1, cycles that run on over the bar line."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from grooveforge.core.groove import FINEST_GRID, Groove
from grooveforge.core.kit import ACCENT, NORMAL, Kind
from grooveforge.core.meter import Meter
from grooveforge.core.riff import attack_places, follow, typed_riff
from grooveforge.core.song import Riff
from grooveforge.errors import MusicError
from tests.bars import groove, sixteenths
from tests.laws.strategies import grooves


@st.composite
def riffs(draw: st.DrawFn) -> Riff:
    """A riff of any length on a grid of sixteenths, eighths or triplets."""
    line = draw(st.text(alphabet="xX-", min_size=1, max_size=20))
    assume(set(line) & set("xX"))
    return typed_riff(line, draw(st.sampled_from((8, 12, 16, 24))))


def _attacks(riff: Riff, start: Fraction, length: Fraction) -> dict[Fraction, bool]:
    """Attacks of the running riff in a stretch, found step by step: place in whole notes -> accented."""
    found = {}
    first, last = start * riff.grid, (start + length) * riff.grid
    for step in range(int(first) - 1, int(last) + 1):
        if first <= step < last and step % riff.length in riff.attacks:
            found[Fraction(step, riff.grid) - start] = step % riff.length in riff.accents
    return found


def _kicks(of: Groove) -> set[Fraction]:
    return {of.position(step) for step in of.lane_on("kick").struck.tolist()}


@given(grooves(), riffs(), st.integers(0, 60))
def test_kicks_are_exactly_the_attacks(source: Groove, riff: Riff, begun: int) -> None:
    """Precision and recall are 1, wherever in the riff's own time the bars begin."""
    start = Fraction(begun, 8)
    chosen = set(_attacks(riff, start, source.whole))
    kicks = _kicks(follow(source, riff, start))
    hits = len(kicks & chosen)
    assert hits == len(kicks)  # precision 1
    assert hits == len(chosen)  # recall 1


@given(grooves(), riffs())
def test_hands_stay_in_the_metre(source: Groove, riff: Riff) -> None:
    """Every lane but the kick's is as it was."""
    after = follow(source, riff)
    assert replace(after, kick=None) == replace(source, kick=None).regrid(after.grid)


@given(grooves(), riffs())
def test_louder_attacks_are_accents(source: Groove, riff: Riff) -> None:
    """X is an accent of the kick, x a normal stroke."""
    after = follow(source, riff)
    lane = after.lane_on("kick")
    for place, accented in _attacks(riff, Fraction(0), source.whole).items():
        step = after.step(place)
        assert int(lane.velocity[step]) == (ACCENT if accented else NORMAL)
        assert int(lane.kind[step]) == (Kind.ACCENT if accented else Kind.PLAIN)


@given(grooves(), riffs(), st.integers(0, 60))
def test_downbeats_are_added_and_nothing_else(source: Groove, riff: Riff, begun: int) -> None:
    """With `riff_downbeat` each bar's 1 has a kick too; the attacks stay as they were."""
    start = Fraction(begun, 8)
    plain, more = follow(source, riff, start), follow(source, riff, start, downbeats=True)
    lines = {bar * source.meter.whole for bar in range(source.bars)}
    assert _kicks(more) == _kicks(plain) | lines


@given(riffs(), st.integers(0, 40), st.integers(1, 40), st.integers(1, 40))
def test_a_cycle_runs_on(riff: Riff, begun: int, first: int, second: int) -> None:
    """Two stretches one after the other have the attacks of the whole stretch."""
    start, one, two = (Fraction(value, 8) for value in (begun, first, second))
    early, late = attack_places(riff, start, one), attack_places(riff, start + one, two)
    joined = [*early, *((place + one, accent) for place, accent in late)]
    assert joined == attack_places(riff, start, one + two)


@given(riffs(), st.integers(0, 40), st.integers(0, 5))
def test_a_cycle_comes_again_after_its_length(riff: Riff, begun: int, turns: int) -> None:
    """Begun whole cycles later the attacks are the same."""
    start = Fraction(begun, 8)
    assert attack_places(riff, start, Fraction(2)) == attack_places(riff, start + turns * riff.whole, Fraction(2))


def test_a_riff_of_seven_sixteenths_under_four_four_drifts_over_the_bar_line() -> None:
    """x--x--- under two bars: attacks every seven sixteenths, the second bar begins inside the cycle."""
    two_bars = groove("x" + 31 * "-", hand=16 * "x-")
    after = follow(two_bars, typed_riff("x--x---"))
    assert sixteenths(after, "kick") == [0, 3, 7, 10, 14, 17, 21, 24, 28, 31]


def test_a_riff_of_seven_sixteenths_meets_the_bar_line_after_seven_bars() -> None:
    """Seven bars of sixteen steps are sixteen cycles of seven: bar 8 is bar 1 again."""
    seven = groove("x" + 111 * "-").repeat(2)
    after = follow(seven, typed_riff("x--x---"))
    assert after.slice(0, 7) == after.slice(7, 14)
    assert after.slice(1, 2) != after.slice(0, 1)


def test_spaces_and_bar_lines_in_a_riff_are_free() -> None:
    """They are there for the eye."""
    assert typed_riff("x--X | --x- ") == typed_riff("x--X--x-")


def test_a_riff_knows_its_attacks_and_accents() -> None:
    """Steps of the line from 0; X is louder."""
    assert typed_riff("x--X--x-") == Riff(8, 16, (0, 3, 6), (3,))


@pytest.mark.parametrize("line", ["", "----", "x--y", "x.x.", "| |", "0101"])
def test_what_is_no_riff_is_an_error(line: str) -> None:
    """An empty line, one of rests, another mark."""
    with pytest.raises(MusicError):
        typed_riff(line)


def test_a_riff_off_the_finest_grid_is_an_error() -> None:
    """Attacks on a grid of 7 do not fit beside sixteenths on 96 steps to a whole note."""
    source = groove("x---------------", hand="xx--------------")
    with pytest.raises(MusicError, match="riff"):
        follow(source, typed_riff("xxxxxxx", grid=7))


def test_old_kicks_do_not_stand_in_the_riff_s_way() -> None:
    """The kicks that the riff replaces need no place on the new grid."""
    thirty_seconds = groove("xx" + 30 * "-", grid=32)
    after = follow(thirty_seconds, typed_riff("xxxxx", grid=20))
    assert _kicks(after) == {Fraction(step, 20) for step in range(20)}
    assert after.grid <= FINEST_GRID


def test_the_metre_is_the_groove_s() -> None:
    """A riff of four beats under 7/8 leaves bars of 7/8."""
    after = follow(groove("x-------------", meter=Meter(7, 8)), typed_riff("x---x---x---x---"))
    assert after.meter == Meter(7, 8)
    assert sixteenths(after, "kick") == [0, 4, 8, 12]
