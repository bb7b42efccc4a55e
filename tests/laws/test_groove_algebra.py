"""The algebra of grooves: empty, overlay, then, repeat, slice, rotate, regrid, mask, and equality."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, replace
from fractions import Fraction
from math import lcm
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from grooveforge.core.groove import FINEST_GRID, Groove, Lane, empty
from grooveforge.core.kit import Kind
from grooveforge.core.meter import Meter
from grooveforge.errors import MusicError
from tests.laws.strategies import grids_of, grooves, own_backbeats


def _pair_of_grooves() -> st.SearchStrategy[tuple[Groove, Groove]]:
    return grooves().flatmap(
        lambda first: st.tuples(st.just(first), grooves(meter=first.meter, grid=first.grid, bars=first.bars))
    )


@given(grooves())
def test_overlay_with_empty_is_the_identity(groove: Groove) -> None:
    """A groove of rests laid over a groove, or under it, leaves it as it is."""
    nothing = empty(groove.meter, groove.grid, groove.bars)
    assert groove.overlay(nothing) == groove
    assert nothing.overlay(groove) == groove


@given(_pair_of_grooves())
def test_overlay_keeps_every_stroke_of_the_upper_groove(pair: tuple[Groove, Groove]) -> None:
    """Where both strike the overlay has the upper groove's stroke, elsewhere the lower one's."""
    lower, upper = pair
    both = lower.overlay(upper)
    for name in ("kick", "snare"):
        over, under, joined = upper.lane_on(name), lower.lane_on(name), both.lane_on(name)
        expected = [high or low for high, low in zip(over.velocity.tolist(), under.velocity.tolist())]
        assert joined.velocity.tolist() == expected


@given(_pair_of_grooves())
def test_overlay_of_itself_is_the_identity(pair: tuple[Groove, Groove]) -> None:
    """Laying a groove over itself changes nothing."""
    assert pair[0].overlay(pair[0]) == pair[0]


@given(st.data())
def test_slice_then_join_gives_the_original(data: st.DataObject) -> None:
    """Cut at any bar line and joined again a groove is the same."""
    groove = data.draw(grooves(most_bars=4))
    assume(groove.bars > 1)
    cut = data.draw(st.integers(1, groove.bars - 1))
    assert groove.slice(0, cut).then(groove.slice(cut, groove.bars)) == groove


@given(st.data())
def test_slice_then_join_keeps_own_backbeats(data: st.DataObject) -> None:
    """Own backbeats are cut and joined with the bars."""
    groove = data.draw(grooves(bars=3))
    bar = data.draw(own_backbeats(groove.meter))
    groove = replace(groove, backbeats=tuple(groove.meter.whole * 2 + place for place in bar))
    assert groove.slice(0, 2).then(groove.slice(2, 3)) == groove


@given(_pair_of_grooves())
def test_then_plays_the_first_and_after_it_the_second(pair: tuple[Groove, Groove]) -> None:
    """Sliced out again, both halves have their own kick and snare."""
    first, second = pair
    joined = first.then(second)
    assert joined.bars == first.bars + second.bars
    for name in ("kick", "snare"):
        assert joined.slice(0, first.bars).lane_on(name) == first.lane_on(name)
        assert joined.slice(first.bars, joined.bars).lane_on(name) == second.lane_on(name)


@given(grooves())
def test_rotation_by_the_length_is_the_identity(groove: Groove) -> None:
    """A loop begun its whole length later is the same loop."""
    assert groove.rotate(groove.steps) == groove
    assert groove.rotate(-groove.steps) == groove


@given(grooves(), st.integers(-100, 100), st.integers(-100, 100))
def test_rotations_add_up(groove: Groove, one: int, two: int) -> None:
    """Rotating twice is rotating by the sum; there and back is the identity."""
    assert groove.rotate(one).rotate(two) == groove.rotate(one + two)
    assert groove.rotate(one).rotate(-one) == groove


@given(st.data())
def test_regrid_there_and_back_is_the_identity(data: st.DataObject) -> None:
    """A finer grid and back again is the same groove, offsets and kinds too."""
    groove = data.draw(grooves())
    factor = data.draw(st.integers(1, FINEST_GRID // groove.grid))
    finer = groove.regrid(groove.grid * factor)
    assert finer.grid == groove.grid * factor
    assert finer.regrid(groove.grid) == groove


@given(st.data())
def test_regrid_is_exact_or_refused(data: st.DataObject) -> None:
    """Another grid keeps every stroke at its place in whole notes, or is an error when one has no step there."""
    groove = data.draw(grooves())
    grid = data.draw(st.sampled_from(grids_of(groove.meter)))
    places = [[Fraction(step, groove.grid) for step in lane.struck.tolist()] for _, lane in groove.voices]
    if any((place * grid).denominator != 1 for lane in places for place in lane):
        with pytest.raises(MusicError):
            groove.regrid(grid)
        return
    other = groove.regrid(grid)
    assert [[Fraction(step, grid) for step in lane.struck.tolist()] for _, lane in other.voices] == places


@pytest.mark.parametrize("grid", [0, 3, 97, 192, -16])
def test_grids_outside_4_to_96_are_refused(grid: int) -> None:
    """A grid has 4 to 96 steps to a whole note."""
    with pytest.raises(MusicError):
        empty(Meter(4, 4), grid)
    with pytest.raises(MusicError):
        empty(Meter(4, 4), 16).regrid(grid)


def test_a_grid_that_does_not_divide_the_bar_is_refused() -> None:
    """Seven eighths have no twelve equal steps to a whole note."""
    with pytest.raises(MusicError):
        empty(Meter(7, 8), 12)


@given(grooves(), st.integers(1, 4))
def test_repeat_is_then_with_itself(groove: Groove, times: int) -> None:
    """Repeating n times is joining the groove to itself n - 1 times."""
    joined = groove
    for _ in range(times - 1):
        joined = joined.then(groove)
    assert groove.repeat(times) == joined
    assert groove * times == joined


@given(grooves(), st.integers(1, 4), st.integers(0, 3))
def test_a_slice_of_a_repeat_is_the_groove(groove: Groove, times: int, turn: int) -> None:
    """Every turn of a repeated groove is the groove."""
    turn %= times
    assert groove.repeat(times).slice(turn * groove.bars, (turn + 1) * groove.bars) == groove


@given(grooves(most_bars=3), st.integers(1, 7))
def test_a_loop_is_cut_at_its_end_never_stretched(groove: Groove, bars: int) -> None:
    """A section that is no whole number of cycles holds the first bars of one more cycle."""
    turns = -(-bars // groove.bars)
    assert groove.bars_of(bars) == groove.repeat(turns).slice(0, bars)


@given(grooves())
def test_masks_of_all_lanes_overlay_back_to_the_original(groove: Groove) -> None:
    """Kick, snare, timekeeper and other lanes laid over one another give the groove again."""
    parts = [groove.mask([name]) for name in ("kick", "snare", "timekeeper", "other")]
    joined = parts[0]
    for part in parts[1:]:
        joined = joined.overlay(part)
    assert joined == groove


@given(st.data())
def test_masks_of_all_steps_overlay_back_to_the_original(data: st.DataObject) -> None:
    """A groove cut at any step into two masks is their overlay."""
    groove = data.draw(grooves())
    cut = data.draw(st.integers(0, groove.steps))
    early, late = groove.mask(steps=slice(0, cut)), groove.mask(steps=slice(cut, None))
    assert early.overlay(late) == groove


@given(grooves())
def test_a_mask_has_only_its_lanes(groove: Groove) -> None:
    """What is not named rests."""
    only = groove.mask(["kick"])
    assert only.kick == groove.kick
    assert (only.snare, only.hand, only.surface, only.others) == (None, None, None, ())


@given(grooves())
def test_arrays_are_read_only(groove: Groove) -> None:
    """No array of a groove can be written to."""
    for _, lane in groove.voices:
        for array in (lane.velocity, lane.kind, lane.offset):
            with pytest.raises(ValueError, match="read-only"):
                array[0] = 1


def test_a_lane_does_not_follow_the_array_that_it_was_made_from() -> None:
    """Values are copied at birth: writing into the source, or through a read-only view of it, changes nothing."""
    source = np.array([100, 0, 0, 0], np.uint8)
    view = source.view()
    view.flags.writeable = False
    one, two = (Lane(array, np.zeros(4, np.uint8), np.zeros(4)) for array in (source, view))
    source[1] = 90
    assert one.velocity.tolist() == two.velocity.tolist() == [100, 0, 0, 0]


def test_fields_cannot_be_set() -> None:
    """Grooves and lanes are frozen."""
    groove = Groove(Meter(4, 4), kick=Lane.of(16, [0]))
    with pytest.raises(FrozenInstanceError):
        groove.__setattr__("bars", 2)
    with pytest.raises(FrozenInstanceError):
        groove.lane_on("kick").__setattr__("velocity", None)


@given(grooves())
def test_equal_music_is_equal_has_one_hash_and_one_repr(groove: Groove) -> None:
    """A groove built again from copies of its arrays is equal, with the same hash and repr."""

    def again(lane: Lane | None) -> Lane | None:
        return lane and Lane(lane.velocity.copy(), lane.kind.copy(), lane.offset.copy())

    others: Any = {name: again(lane) or lane for name, lane in reversed(groove.others)}
    twin = replace(
        groove, kick=again(groove.kick), snare=again(groove.snare), hand=again(groove.hand), others=others
    )
    assert twin == groove
    assert hash(twin) == hash(groove)
    assert repr(twin) == repr(groove)


@given(_pair_of_grooves())
def test_unequal_music_is_unequal_and_reads_unequal(pair: tuple[Groove, Groove]) -> None:
    """Two grooves are equal exactly when they read equal."""
    first, second = pair
    assert (first == second) == (repr(first) == repr(second))


def test_level_kind_and_offset_count_as_music() -> None:
    """A stroke that differs in level, kind or offset is another stroke, and shows it."""
    plain = Lane.of(4, [0], 94)
    others = [Lane.of(4, [0], 95), Lane.of(4, [0], 94, Kind.ACCENT), Lane(plain.velocity, plain.kind, np.full(4, 0.01))]
    assert all(other != plain for other in others)
    assert len({repr(lane) for lane in (plain, *others)}) == 4


def test_kind_and_offset_under_a_rest_are_no_music() -> None:
    """What stands under a rest is dropped at birth."""
    kinds, offsets = np.full(4, Kind.FLAM, np.uint8), np.full(4, 0.5)
    marked = Lane(np.zeros(4, np.uint8), kinds, offsets)
    assert marked == Lane.rests(4)
    assert hash(marked) == hash(Lane.rests(4))


@given(grooves())
def test_a_lane_of_rests_equals_none(groove: Groove) -> None:
    """A groove with a lane of rests is the groove without that lane."""
    rests = Lane.rests(groove.steps)
    bare = Groove(groove.meter, groove.grid, groove.bars)
    silent = replace(bare, kick=rests, snare=rests, hand=rests, surface="ride", others=(("crash", rests),))
    assert silent == bare
    assert hash(silent) == hash(bare)


def test_further_lanes_have_one_order_and_full_names() -> None:
    """Lists, mappings and aliases of surfaces become one tuple in the kit's order."""
    one, two = Lane.of(16, [0]), Lane.of(16, [8])
    listed = Groove(Meter(4, 4), others=(("floor tom", one), ("crash", two)))
    by_name: Any = {"crash": two, "low floor tom": one}
    mapped = Groove(Meter(4, 4), others=by_name)
    assert listed == mapped
    assert [name for name, _ in listed.others] == ["crash", "floor tom"]


@pytest.mark.parametrize("name", ["gong", "note 200", ""])
def test_a_surface_that_no_kit_has_is_an_error(name: str) -> None:
    """Unknown surfaces are refused with the names that are known."""
    with pytest.raises(MusicError):
        Groove(Meter(4, 4), others=((name, Lane.of(16, [0])),))


@pytest.mark.parametrize("bars", [0, -1])
def test_a_groove_is_at_least_one_bar_long(bars: int) -> None:
    """No groove has no bars."""
    with pytest.raises(MusicError):
        Groove(Meter(4, 4), bars=bars)


@pytest.mark.parametrize("velocity", [-1, 128, 300])
def test_a_velocity_is_0_to_127(velocity: int) -> None:
    """A level that MIDI does not have is refused, not wrapped round."""
    with pytest.raises(MusicError):
        Lane(np.array([velocity]), np.zeros(1, np.uint8), np.zeros(1))


def test_arrays_of_unequal_length_make_no_lane() -> None:
    """Velocity, kind and offset have one shape."""
    for shapes in ((4, 3, 4), (4, 4, 3), (3, 4, 4)):
        with pytest.raises(MusicError):
            Lane(np.zeros(shapes[0], np.uint8), np.zeros(shapes[1], np.uint8), np.zeros(shapes[2]))


@given(st.data())
def test_fit_grid_gives_every_position_a_step(data: st.DataObject) -> None:
    """The fitted grid has a step at each wanted place and keeps every stroke."""
    groove = data.draw(grooves())
    wanted = [Fraction(data.draw(st.integers(0, 20)), data.draw(st.sampled_from((4, 8, 12, 16)))) for _ in range(3)]
    assume(lcm(groove.grid, *(place.denominator for place in wanted)) <= FINEST_GRID)
    fitted = groove.fit_grid(wanted)
    assert all((place * fitted.grid).denominator == 1 for place in wanted)
    assert fitted.regrid(groove.grid) == groove
