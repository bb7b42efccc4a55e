"""The laws of the timekeeping hand: where it stands, how fast it goes, and what it leaves alone."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from grooveforge.core.feel import FeelChange, set_feel
from grooveforge.core.groove import FINEST_GRID, Groove, Lane
from grooveforge.core.kit import ACCENT, NORMAL, Kind, sounding
from grooveforge.core.meter import Meter, parse_meter
from grooveforge.core.timekeeper import SUBDIVISIONS, add_hi_hat_foot, set_subdivision, surface_spans
from grooveforge.errors import MusicError
from tests.bars import FOUR_FOUR, groove, line_of, sixteenths
from tests.laws.strategies import HANDS, grooves, lanes

SLOW = Fraction(1, 2)
"""Strokes further apart than a half note have a rest between them (house rule)."""


@st.composite
def with_hand(draw: st.DrawFn, meter: Meter | None = None, softest: int = 1) -> Groove:
    """A groove whose hand plays, on a grid that can be doubled twice."""
    source = draw(grooves(meter=meter))
    assume(4 * source.grid <= FINEST_GRID)
    hand = draw(lanes(source.steps, softest=softest))
    assume(not hand.silent)
    return replace(source, hand=hand, surface=draw(st.sampled_from(HANDS)))


# -- moving the hand ---------------------------------------------------------------------------------------


@given(with_hand(), st.sampled_from(HANDS))
def test_moving_the_hand_leaves_every_array_as_it_is(source: Groove, surface: str) -> None:
    """Kick, snare and the hand's own levels, kinds and offsets are equal arrays before and after."""
    moved = source.move_hand(surface)
    assert moved.surface == surface
    pairs = ((moved.kick, source.kick), (moved.snare, source.snare), (moved.hand, source.hand))
    for after, before in pairs:
        assert (after is None) == (before is None)
        if after is not None and before is not None:
            assert np.array_equal(after.velocity, before.velocity)
            assert np.array_equal(after.kind, before.kind)
            assert np.array_equal(after.offset, before.offset)
    assert replace(moved, surface=source.surface) == source


@given(with_hand(), st.sampled_from(HANDS))
def test_there_and_back_is_the_identity(source: Groove, surface: str) -> None:
    """Moved to any surface and back the groove is the same value: stroke kinds stay in it."""
    assert source.move_hand(surface).move_hand(source.surface or "") == source


@given(grooves())
def test_moving_no_hand_changes_nothing(source: Groove) -> None:
    """A groove without a timekeeping hand stays as it is."""
    bare = replace(source, hand=None)
    assert bare.move_hand("ride") == bare


@pytest.mark.parametrize("surface", ["kick", "snare", "side stick", "hand clap", "vibraslap", "gong"])
def test_the_hand_cannot_stand_everywhere(surface: str) -> None:
    """Kick, snare and unknown surfaces are refused, and the error lists those that keep time."""
    with pytest.raises(MusicError, match="ride bell"):
        groove(hand="x-x-x-x-x-x-x-x-").move_hand(surface)


COLOURS = [
    ("closed hi-hat", Kind.OPEN, "open hi-hat", False),
    ("closed hi-hat", Kind.BELL, "open hi-hat", False),
    ("half-open hi-hat", Kind.OPEN, "open hi-hat", False),
    ("ride", Kind.OPEN, "ride bell", False),
    ("ride", Kind.BELL, "ride bell", False),
    ("crash", Kind.OPEN, "crash", True),
    ("crash", Kind.BELL, "crash", True),
    ("china", Kind.OPEN, "china", True),
    ("floor tom", Kind.BELL, "floor tom", True),
    ("cowbell", Kind.OPEN, "cowbell", True),
    ("closed hi-hat", Kind.PLAIN, "closed hi-hat", False),
    ("ride", Kind.ACCENT, "ride", False),
]


@pytest.mark.parametrize(("surface", "kind", "struck", "accented"), COLOURS)
def test_open_is_bell_is_accent(surface: str, kind: Kind, struck: str, accented: bool) -> None:
    """On the way out an open stroke on a hi-hat is the bell of a ride, and an accent where there is neither."""
    assert sounding(surface, kind, NORMAL) == (struck, ACCENT if accented else NORMAL)


# -- how fast ----------------------------------------------------------------------------------------------


@given(with_hand(), st.sampled_from(SUBDIVISIONS))
def test_the_rate_of_the_hand_leaves_all_else_alone(source: Groove, subdivision: str) -> None:
    """Kick, snare, further lanes, surface, metre and bars are as before."""
    after = set_subdivision(source, subdivision)
    same = source.regrid(after.grid)
    assert replace(after, hand=None) == replace(same, hand=None)
    assert after.surface == source.surface or after.hand is None


@given(with_hand())
def test_keep_changes_nothing(source: Groove) -> None:
    """The default keeps the hand's rate."""
    assert set_subdivision(source, "keep") == source


@given(grooves(), st.sampled_from(SUBDIVISIONS))
def test_a_subdivision_makes_no_hand(source: Groove, subdivision: str) -> None:
    """A groove without a timekeeping hand stays without one."""
    bare = replace(source, hand=None)
    assert set_subdivision(bare, subdivision) == bare


def _loop(lane: Lane, grid: int) -> list[tuple[Fraction, int, int]]:
    """Strokes of a lane as (whole notes, level, kind)."""
    return [(Fraction(step, grid), int(lane.velocity[step]), int(lane.kind[step])) for step in lane.struck.tolist()]


@given(with_hand(softest=2))
def test_doubling_keeps_every_stroke_and_puts_a_weaker_one_half_way(source: Groove) -> None:
    """Nothing is dropped; half-way to the next stroke comes one softer than both; a rest stays a rest."""
    after = set_subdivision(source, "x2")
    assert source.hand is not None
    assert after.hand is not None
    old, new = _loop(source.hand, source.grid), _loop(after.hand, after.grid)
    expected = {}
    for (place, level, _), (following, other, _) in zip(old, [*old[1:], old[0]]):
        gap = (following - place) % source.whole or source.whole
        if gap <= SLOW:
            expected[(place + gap / 2) % source.whole] = min(level, other)
    assert [stroke for stroke in new if stroke[0] not in expected] == old
    added = {place: level for place, level, _ in new if place in expected}
    assert set(added) == set(expected)
    assert all(added[place] < expected[place] for place in added)


@given(with_hand(softest=2))
def test_halving_undoes_doubling(source: Groove) -> None:
    """Doubled and halved the hand is as it was, whatever its rhythm."""
    doubled = set_subdivision(source, "x2")
    assume(doubled != source)
    assert set_subdivision(doubled, "/2").regrid(source.grid) == source


def test_a_soft_stroke_between_two_rests_outlives_halving() -> None:
    """A lone stroke half-way between two others, each more than half a bar off, was not put there by doubling."""
    hand = Lane(np.array([100, 90, 100, 0, 0, 90, 0, 0], np.uint8), np.zeros(8, np.uint8), np.zeros(8))
    source = Groove(FOUR_FOUR, 4, 2, hand=hand, surface="closed hi-hat")
    assert set_subdivision(set_subdivision(source, "x2"), "/2").regrid(4) == source


@given(with_hand())
def test_halving_adds_nothing_and_leaves_something(source: Groove) -> None:
    """Every stroke that stays is one of the hand's own, as it was."""
    after = set_subdivision(source, "/2")
    assert after.hand is not None
    assert source.hand is not None
    assert set(_loop(after.hand, after.grid)) <= set(_loop(source.hand, source.grid))


HALVES = [
    ("4/4", "xxxxxxxxxxxxxxxx", [0, 2, 4, 6, 8, 10, 12, 14]),
    ("4/4", "x-x-x-x-x-x-x-x-", [0, 4, 8, 12]),
    ("4/4", "x---x---x---x---", [0, 8]),
    ("4/4", "xxxx-xxxxxxx-xxx", [0, 2, 6, 8, 10, 14]),
    ("12/8", "x-x-x-x-x-x-x-x-x-x-x-x-", [0, 6, 12, 18]),
    ("7/8", "x-x-x-x-x-x-x-", [0, 4, 8]),
    ("3/4", "x-x-x-x-x-x-", [0, 4, 8]),
]


@pytest.mark.parametrize(("text", "line", "strong"), HALVES)
def test_halving_keeps_the_strong_strokes(text: str, line: str, strong: list[int]) -> None:
    """The strokes of the finest metrical level go."""
    after = set_subdivision(groove(hand=line, meter=parse_meter(text)), "/2")
    assert sixteenths(after, "hand") == strong


COUNTS = [
    ("4/4", "1/4", 4), ("4/4", "1/8", 8), ("4/4", "1/16", 16), ("4/4", "1/8T", 12), ("4/4", "offbeat 1/8", 4),
    ("3/4", "1/4", 3), ("3/4", "1/8", 6), ("3/4", "1/16", 12), ("3/4", "1/8T", 9), ("3/4", "offbeat 1/8", 3),
    ("12/8", "1/8", 12), ("12/8", "1/16", 24), ("5/4", "offbeat 1/8", 5), ("5/4", "1/8T", 15),
    ("7/8", "1/4", 4), ("7/8", "1/8", 7), ("7/8", "1/16", 14), ("7/8", "offbeat 1/8", 3),
]  # fmt: skip


@pytest.mark.parametrize(("text", "subdivision", "count"), COUNTS)
def test_every_pulse_gives_its_count(text: str, subdivision: str, count: int) -> None:
    """Strokes a bar, begun anew at each bar line."""
    meter = parse_meter(text)
    steps = meter.steps(16)
    after = set_subdivision(groove(hand=line_of([0], 2 * steps), meter=meter), subdivision)
    for bar in (0, 1):
        assert len(sixteenths(after.slice(bar, bar + 1), "hand")) == count


PLACES: list[tuple[str, list[Fraction] | list[int]]] = [
    ("1/4", [0, 4, 8, 12]),
    ("1/8", list(range(0, 16, 2))),
    ("1/16", list(range(16))),
    ("1/8T", [Fraction(4 * index, 3) for index in range(12)]),
    ("offbeat 1/8", [2, 6, 10, 14]),
]


@given(st.data())
@pytest.mark.parametrize(("subdivision", "places"), PLACES)
def test_every_pulse_stands_at_its_places(subdivision: str, places: list[Fraction], data: st.DataObject) -> None:
    """Whatever the hand played before, in sixteenths of a 4/4 bar."""
    source = data.draw(with_hand(meter=FOUR_FOUR))
    after = set_subdivision(source, subdivision)
    assert sixteenths(after, "hand") == [16 * bar + place for bar in range(after.bars) for place in places]


@given(with_hand(), st.sampled_from(["1/4", "1/8", "1/16", "1/8T", "offbeat 1/8", "1/16 two hands"]))
def test_a_pulse_set_twice_changes_nothing_the_second_time(source: Groove, subdivision: str) -> None:
    """A rate that the hand has already is no change."""
    once = set_subdivision(source, subdivision)
    assert set_subdivision(once, subdivision) == once


@given(with_hand())
def test_strokes_on_the_new_pulse_keep_level_and_kind(source: Groove) -> None:
    """An accent on the beat stays that accent in eighths."""
    after = set_subdivision(source, "1/8")
    assert source.hand is not None
    assert after.hand is not None
    bar = source.meter.whole
    kept = [stroke for stroke in _loop(source.hand, source.grid) if (stroke[0] % bar * 8).denominator == 1]
    assert set(kept) <= set(_loop(after.hand, after.grid))


@pytest.mark.parametrize(("feel", "hats"), [("half", 15), ("full", 14), ("double", 12)])
def test_two_handed_sixteenths_leave_the_surface_on_the_backbeats(feel: str, hats: int) -> None:
    """14 hat strokes and 2 snares a bar in full time (published lessons)."""
    source = set_feel(groove("x-------x-------", "----x-------x---", "x-x-x-x-x-x-x-x-"), FeelChange(feel))
    after = set_subdivision(source, "1/16 two hands")
    hand, snare = set(sixteenths(after, "hand")), set(sixteenths(after, "snare"))
    assert len(hand) == hats
    assert not hand & snare
    assert hand | snare == set(range(16))


def test_no_such_subdivision_is_an_error() -> None:
    """The error lists the subdivisions."""
    with pytest.raises(MusicError, match="two hands"):
        set_subdivision(groove(hand="x-x-x-x-x-x-x-x-"), "1/5")


# -- sharing a section -------------------------------------------------------------------------------------


@given(st.lists(st.sampled_from(HANDS), min_size=1, max_size=6), st.integers(1, 40))
def test_a_list_of_surfaces_shares_the_section_in_equal_parts(surfaces: list[str], bars: int) -> None:
    """Part i of k begins at bar floor(i * n / k)."""
    spans = surface_spans(surfaces, bars)
    played = [name for count, name in spans for _ in range(count)]
    parts = len(surfaces)
    assert len(played) == bars
    for bar, name in enumerate(played):
        assert name == surfaces[max(part for part in range(parts) if part * bars // parts <= bar)]


def test_surfaces_by_bars_hold_to_the_end() -> None:
    """The last surface of a list by bars holds for the rest of the section."""
    assert surface_spans(((4, "closed hi-hat"), (2, "ride")), 12) == ((4, "closed hi-hat"), (8, "ride"))


def test_too_many_bars_are_an_error() -> None:
    """A list by bars cannot ask for more than the section has."""
    with pytest.raises(MusicError):
        surface_spans(((4, "closed hi-hat"), (5, "ride")), 8)


# -- the foot on the hi-hat --------------------------------------------------------------------------------


@pytest.mark.parametrize("surface", ["ride", "ride bell", "crash", "china", "floor tom", "cowbell"])
def test_the_foot_closes_the_hi_hat_on_the_backbeats(surface: str) -> None:
    """While the hand is elsewhere and the kicks leave one foot free."""
    source = groove("x-------x-------", "----x-------x---", "x-x-x-x-x-x-x-x-", surface=surface)
    assert sixteenths(add_hi_hat_foot(source), "pedal hi-hat") == [4, 12]


@pytest.mark.parametrize("surface", ["closed hi-hat", "half-open hi-hat", "open hi-hat", "pedal hi-hat"])
def test_no_foot_while_the_hand_is_on_the_hi_hat(surface: str) -> None:
    """The foot holds it already."""
    source = groove("x-------x-------", "----x-------x---", "x-x-x-x-x-x-x-x-", surface=surface)
    assert add_hi_hat_foot(source) == source


def test_no_foot_where_both_feet_kick() -> None:
    """Running sixteenths keep both feet; a backbeat outside the run has its foot."""
    source = groove("xxxxxxxx--------", "----x-------x---", "x-x-x-x-x-x-x-x-", surface="ride")
    assert sixteenths(add_hi_hat_foot(source), "pedal hi-hat") == [12]


@given(with_hand())
def test_the_foot_changes_no_other_lane(source: Groove) -> None:
    """Only the pedal's lane is new, and it plays on backbeats alone."""
    after = add_hi_hat_foot(source)
    silent = Lane.rests(source.steps)
    assert after.with_lane("pedal hi-hat", silent) == source.with_lane("pedal hi-hat", silent)
    assert set(source.lane_on("pedal hi-hat").struck) <= set(after.lane_on("pedal hi-hat").struck)
