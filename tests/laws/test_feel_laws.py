"""The laws of the feels, over metres, grids and grooves (house rules unless a source is named)."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import lcm

import numpy as np
import pytest
from hypothesis import assume, given, reject
from hypothesis import strategies as st

from grooveforge.core.feel import FeelChange, set_feel
from grooveforge.core.groove import Groove, Lane
from grooveforge.core.kit import ACCENT, BACKBEAT_SURFACES, GHOST, NORMAL, Kind
from grooveforge.core.meter import Meter
from grooveforge.core.roles import read_feel
from grooveforge.errors import MusicError
from tests.bars import FOUR_FOUR, groove, sixteenths
from tests.laws.strategies import grids, grooves, kick_sets, lanes, meters, own_backbeats

PLAIN_FEELS = ("quarter", "half", "full", "double")
SPELLINGS: dict[str, tuple[str | None, ...]] = {
    "d-beat": (None, "v1", "v2", "v3"),
    "blast": (None, "alternating", "unison", "double-kick", "one-hand-roll"),
}
PER_BAR: dict[tuple[str, str | None], Fraction] = {
    ("quarter", None): Fraction(1, 2),
    ("half", None): Fraction(1),
    ("full", None): Fraction(2),
    ("double", None): Fraction(4),
    ("d-beat", "v1"): Fraction(4),
    ("d-beat", "v2"): Fraction(4),
    ("d-beat", "v3"): Fraction(4),
    ("blast", None): Fraction(8),
    ("blast", "alternating"): Fraction(8),
    ("blast", "unison"): Fraction(8),
    ("blast", "double-kick"): Fraction(8),
    ("blast", "one-hand-roll"): Fraction(16),
    ("blast", "triplet"): Fraction(12),
}
SKELETON = {"quarter": {0}, "half": {0}, "full": {0, 8}, "double": {0, 4, 8, 12}}
BACKBEATS = {"quarter": {16}, "half": {8}, "full": {4, 12}, "double": {2, 6, 10, 14}}
"""Sixteenths of a 4/4 bar, of two for quarter (encyclopaedia article "Half-time (music)")."""


@st.composite
def changes(draw: st.DrawFn, meter: Meter) -> FeelChange:
    """Any feel by name that the metre knows, with a spelling and a kick policy."""
    known = [*PLAIN_FEELS, "blast"] if meter.compound else [*PLAIN_FEELS, "d-beat", "blast"]
    feel = draw(st.sampled_from(known))
    spelling = draw(st.sampled_from(SPELLINGS.get(feel, (None,))))
    policy = draw(st.sampled_from(("adapt", "keep", "figure", "follow")))
    return FeelChange(feel, spelling, policy, has_riff=draw(st.booleans()), keep_hand=draw(st.booleans()))


def _backbeats(groove: Groove) -> list[Fraction]:
    return [groove.position(step) for _, step in read_feel(groove).backbeats]


def _same_loop(one: list[Fraction], length: Fraction, two: list[Fraction], other: Fraction) -> bool:
    """Whether two loops of positions are one when both run on to their common length."""
    both = Fraction(
        lcm(length.numerator * other.denominator, other.numerator * length.denominator),
        length.denominator * other.denominator,
    )

    def run(places: list[Fraction], whole: Fraction) -> list[Fraction]:
        return [turn * whole + place for turn in range(int(both / whole)) for place in places]

    return run(one, length) == run(two, other)


# -- how many backbeats ------------------------------------------------------------------------------------


@given(st.data())
@pytest.mark.parametrize(("feel", "spelling"), PER_BAR)
def test_backbeats_per_bar_in_four_four(feel: str, spelling: str | None, data: st.DataObject) -> None:
    """Exactly 1/2, 1, 2, 4, 8; a one-hand roll 16, a triplet blast 12 (whatever the groove was before)."""
    source = data.draw(grooves(meter=FOUR_FOUR))
    assume(read_feel(source).feel != feel)  # the feel that it has already changes nothing, be a stroke missing
    after = set_feel(source, FeelChange(feel, spelling))
    assert len(read_feel(after).backbeats) == after.bars * PER_BAR[feel, spelling]


@pytest.mark.parametrize(("feel", "spelling"), PER_BAR)
def test_snare_strokes_per_bar_in_four_four(feel: str, spelling: str | None) -> None:
    """A snare that plays backbeats alone plays just as many strokes as the feel has."""
    after = set_feel(groove("x-------x-------", "----x-------x---"), FeelChange(feel, spelling))
    assert len(after.lane_on("snare").struck) == after.bars * PER_BAR[feel, spelling]


# -- up and down the ladder --------------------------------------------------------------------------------


@given(st.data())
@pytest.mark.parametrize("feel", ["half", "full", "double", "d-beat", "blast"])
def test_down_and_up_gives_the_same_backbeats(feel: str, data: st.DataObject) -> None:
    """`/2` then `x2` leads to the same backbeats again, in every metre."""
    # Outside 4/4 a d-beat's snare is that of its 4/4 bar, and double's is the metre's own.
    source = data.draw(grooves(meter=FOUR_FOUR) if feel == "d-beat" else grooves())
    assume(read_feel(source).feel != feel)  # else a missing stroke would stay missing
    start = set_feel(source, FeelChange(feel))
    down = set_feel(start, FeelChange("/2"))
    again = set_feel(down, FeelChange("x2"))
    assert _same_loop(_backbeats(again), again.whole, _backbeats(start), start.whole)
    assert read_feel(again).feel == ("double" if feel == "d-beat" else feel)


@given(st.data())
@pytest.mark.parametrize("feel", ["quarter", "half", "full", "double"])
def test_up_and_down_gives_the_same_backbeats(feel: str, data: st.DataObject) -> None:
    """`x2` then `/2` leads to the same backbeats again, in every metre."""
    source = data.draw(grooves())
    assume(read_feel(source).feel != feel)  # else a missing stroke would stay missing
    start = set_feel(source, FeelChange(feel))
    again = set_feel(set_feel(start, FeelChange("x2")), FeelChange("/2"))
    assert _same_loop(_backbeats(again), again.whole, _backbeats(start), start.whole)


@st.composite
def own_grooves(draw: st.DrawFn) -> tuple[Groove, list[Fraction]]:
    """A groove at full time whose snare plays backbeats of its own, and where they stand."""
    meter = draw(meters())
    places = draw(own_backbeats(meter))
    unit = min(Fraction(1, 8), meter.unit)
    grid = int(1 / unit) * draw(st.sampled_from((1, 2)))
    assume((grid * meter.whole).denominator == 1)
    steps = meter.steps(grid)
    snare = Lane.of(steps, [int(place * grid) for place in places], ACCENT)
    kick = Lane.of(steps, [0])
    return Groove(meter, grid, kick=kick, snare=snare, feel="full", backbeats=places), list(places)


def _set_or_reject(source: Groove, change: FeelChange) -> Groove:
    """The groove at another feel; what leaves the finest grid is refused and says nothing here."""
    try:
        return set_feel(source, change)
    except MusicError as error:
        assert "grid" in str(error)
        reject()


@given(own_grooves(), st.sampled_from(["/2", "/4", "x2", "x4"]))
def test_own_backbeats_stretch_and_squeeze(drawn: tuple[Groove, list[Fraction]], relative: str) -> None:
    """Down the ladder own backbeats stand twice as far (and come half as often), up half as far and repeat."""
    source, places = drawn
    assume(not (relative == "x4" and source.meter.compound))  # there a blast is the triplet one, a figure
    scale = {"/2": Fraction(2), "/4": Fraction(4), "x2": Fraction(1, 2), "x4": Fraction(1, 4)}[relative]
    after = _set_or_reject(source, FeelChange(relative))
    moved = [place * scale for place in places]
    assert _same_loop(_backbeats(after), after.whole, moved, source.whole * scale)


@given(own_grooves(), st.sampled_from([("/2", "x2"), ("/4", "x4"), ("x2", "/2"), ("x4", "/4"), ("/4", "x2")]))
def test_own_backbeats_come_back(drawn: tuple[Groove, list[Fraction]], ways: tuple[str, str]) -> None:
    """Own backbeats moved along the ladder and back are where they were."""
    source, places = drawn
    assume(not ("x4" in ways[0] and source.meter.compound))  # there a blast is the triplet one, a figure
    there = _set_or_reject(source, FeelChange(ways[0]))
    back = _set_or_reject(there, FeelChange(ways[1]))
    scale = 2 if ways == ("/4", "x2") else 1
    moved = [place * scale for place in places]
    assert _same_loop(_backbeats(back), back.whole, moved, source.whole * scale)


def test_two_and_the_and_of_four_in_five_four() -> None:
    """Own backbeats 2 and 4& of 5/4 at half time: 3, and the bar after's 3 (A. Edgar, Modern Drummer: "2 and the
    & of 4" as full time)."""
    source = groove("x---x---x---x---x---", "----x---------x-----", meter=Meter(5, 4), feel="full")
    places = (Fraction(1, 4), Fraction(7, 8))
    half = set_feel(source, FeelChange("half", backbeats=places, backbeats_feel="full"))
    assert sixteenths(half, "snare") == [8, 28]
    assert half.bars == 2


OFF_THE_END = [
    ("quarter", "/2"), ("quarter", "/4"), ("half", "/4"), ("double", "x4"), ("blast", "x2"), ("d-beat", "x4"),
]  # fmt: skip


@pytest.mark.parametrize(("feel", "relative"), OFF_THE_END)
def test_off_the_ladder_s_ends_is_an_error(feel: str, relative: str) -> None:
    """There is nothing below quarter or above blast."""
    start = set_feel(groove("x-------x-------", "----x-------x---"), FeelChange(feel))
    with pytest.raises(MusicError, match="ladder"):
        set_feel(start, FeelChange(relative))


# -- what changes nothing ----------------------------------------------------------------------------------


@given(st.data())
def test_a_feel_set_twice_changes_nothing_the_second_time(data: st.DataObject) -> None:
    """In every metre, for every feel, spelling and kick policy."""
    source = data.draw(grooves())
    change = data.draw(changes(source.meter))
    once = set_feel(source, change)
    assert set_feel(once, change) == once


@given(st.data())
def test_own_backbeats_set_twice_change_nothing_the_second_time(data: st.DataObject) -> None:
    """Backbeats given beside the feel, too."""
    source = data.draw(grooves())
    feel = data.draw(st.sampled_from(PLAIN_FEELS))
    change = FeelChange(feel, backbeats=data.draw(own_backbeats(source.meter)), backbeats_feel="full")
    once = _set_or_reject(source, change)
    assert set_feel(once, change) == once


@given(st.data())
def test_the_feel_that_a_groove_has_changes_nothing(data: st.DataObject) -> None:
    """Named, left out or with its own spelling: the groove is the same value."""
    drawn = data.draw(grooves(meter=FOUR_FOUR) | grooves())
    assert set_feel(drawn, FeelChange()) == drawn
    source = set_feel(drawn, FeelChange(data.draw(st.sampled_from(PLAIN_FEELS))))
    source = data.draw(st.sampled_from([source, replace(source, feel=None)]))
    reading = read_feel(source)
    assume(reading.feel is not None)
    assert set_feel(source, FeelChange(reading.feel)) == source
    assert set_feel(source, FeelChange(reading.feel, reading.spelling)) == source


def test_a_detected_feel_changes_nothing() -> None:
    """A bar with ghosts and running kicks that plays full time without saying so is left alone by "full"."""
    source = groove("x-xxx-xxx-xxx-xx", "--g-X--g-g--X--g", "x-x-x-x-x-x-x-x-")
    assert set_feel(source, FeelChange("full")) == source


@pytest.mark.parametrize(("feel", "one", "two"), [("d-beat", "v1", "v2"), ("blast", "alternating", "unison")])
def test_another_spelling_is_another_feel(feel: str, one: str, two: str) -> None:
    """Setting another spelling of the feel changes the groove."""
    start = set_feel(groove("x-------x-------", "----x-------x---"), FeelChange(feel, one))
    other = set_feel(start, FeelChange(feel, two))
    assert (other.kick, other.snare) != (start.kick, start.snare)
    assert read_feel(other).spelling == two


# -- what stays --------------------------------------------------------------------------------------------


@given(st.data())
def test_bars_metre_surface_and_other_lanes_are_untouched(data: st.DataObject) -> None:
    """The groove is repeated to a whole cycle of the new feel and no more; nothing else but kick, snare and the
    hand's rate changes."""
    source = data.draw(grooves())
    after = set_feel(source, data.draw(changes(source.meter)))
    assert after.meter == source.meter
    assert after.bars % source.bars == 0
    assert after.surface == source.surface
    same = source.bars_of(after.bars).regrid(after.grid)
    still = [name for name in dict((*after.others, *same.others)) if name not in BACKBEAT_SURFACES]
    assert [after.lane_on(name) for name in still] == [same.lane_on(name) for name in still]


@given(st.data())
@pytest.mark.parametrize("feel", PLAIN_FEELS)
def test_double_and_slower_leave_the_timekeeper_as_it_is(feel: str, data: st.DataObject) -> None:
    """Every stroke, kind, level and offset of the hand stays."""
    source = data.draw(grooves())
    after = set_feel(source, FeelChange(feel))
    assert after.hand == source.bars_of(after.bars).regrid(after.grid).hand


@given(st.data())
@pytest.mark.parametrize("feel", ["d-beat", "blast"])
def test_keep_hand_leaves_the_timekeeper_as_it_is(feel: str, data: st.DataObject) -> None:
    """When a subdivision is given the feel brings none."""
    source = data.draw(grooves())
    assume(not (source.meter.compound and feel == "d-beat"))
    after = set_feel(source, FeelChange(feel, keep_hand=True))
    assert after.hand == source.bars_of(after.bars).regrid(after.grid).hand


RATES: list[tuple[str, str, list[int] | list[Fraction]]] = [
    ("d-beat", "v1", list(range(0, 16, 2))),
    ("d-beat", "v2", list(range(0, 16, 2))),
    ("d-beat", "v3", [0, 3, 5, 8, 11, 13]),
    ("blast", "alternating", list(range(0, 16, 2))),
    ("blast", "unison", list(range(0, 16, 2))),
    ("blast", "double-kick", list(range(0, 16, 2))),
    ("blast", "one-hand-roll", list(range(0, 16, 2))),
    ("blast", "triplet", [Fraction(4 * index, 3) for index in range(12)]),
]


@given(st.data())
@pytest.mark.parametrize(("feel", "spelling", "rate"), RATES)
def test_d_beat_and_blast_bring_the_rate_of_their_hand(
    feel: str, spelling: str, rate: list[Fraction], data: st.DataObject
) -> None:
    """Hand lines of the encyclopaedia articles "D-beat" and "Blast beat"; the surface stays."""
    source = data.draw(grooves(meter=FOUR_FOUR, bars=1))
    assume(source.hand is not None and read_feel(source).feel != feel)
    after = set_feel(source, FeelChange(feel, spelling))
    assert sixteenths(after, "hand") == rate


@given(st.data())
@pytest.mark.parametrize("feel", ["d-beat", "blast"])
def test_no_hand_stays_no_hand(feel: str, data: st.DataObject) -> None:
    """A feel gives a groove the kick and snare lanes it lacks, never a timekeeping hand."""
    source = data.draw(grooves(meter=FOUR_FOUR)).mask(["kick", "snare"])
    assume(read_feel(source).feel != feel)  # the feel that it has already changes nothing
    after = set_feel(source, FeelChange(feel))
    assert after.hand is None
    assert after.kick is not None
    assert after.snare is not None


# -- the snare ---------------------------------------------------------------------------------------------


@st.composite
def full_time_bars(draw: st.DrawFn) -> Groove:
    """One 4/4 bar of full time in sixteenths with ghosts and normal strokes round the backbeats, which stand
    on 4 and 12, and any kicks."""
    free = [step for step in range(16) if step not in (4, 12)]
    ghosts = draw(st.sets(st.sampled_from(free), max_size=4))
    # Normal strokes an eighth apart from all others are no roll.
    normals = draw(st.sets(st.sampled_from((0, 2, 6, 8, 10, 14)), max_size=2)) - ghosts
    snare = Lane.of(16, [4, 12], ACCENT, Kind.ACCENT)
    snare = snare.put(sorted(ghosts), GHOST, Kind.GHOST).put(sorted(normals), NORMAL, Kind.PLAIN)
    kick = Lane.of(16, sorted(draw(kick_sets(16))))
    return Groove(FOUR_FOUR, 16, 1, kick=kick, snare=snare, feel="full")


@given(full_time_bars(), st.sampled_from(["quarter", "half"]))
def test_ghosts_and_normal_strokes_stay_at_full_time_and_slower(source: Groove, feel: str) -> None:
    """Strokes that are no backbeats stay as they are; one on a new backbeat becomes the backbeat; the old
    backbeats go."""
    after = set_feel(source, FeelChange(feel))
    lane, before = after.lane_on("snare"), source.bars_of(after.bars).lane_on("snare")
    for step in range(after.steps):
        if step in BACKBEATS[feel]:
            assert (lane.velocity[step], lane.kind[step]) == (ACCENT, Kind.ACCENT)
        elif step % 16 in (4, 12):
            assert lane.velocity[step] == 0
        else:
            assert (lane.velocity[step], lane.kind[step]) == (before.velocity[step], before.kind[step])


@given(full_time_bars(), st.sampled_from([("double", None), ("d-beat", "v1"), ("blast", "alternating")]))
def test_double_d_beat_and_blast_drop_ghosts_and_normal_strokes(
    source: Groove, wanted: tuple[str, str | None]
) -> None:
    """The snare plays the backbeats and nothing else."""
    after = set_feel(source, FeelChange(*wanted))
    expected = BACKBEATS["double"] if wanted[0] != "blast" else set(range(1, 16, 2))
    assert set(sixteenths(after, "snare")) == expected


@pytest.mark.parametrize("surface", ["side stick", "hand clap"])
def test_a_backbeat_on_another_surface_stays_on_it(surface: str) -> None:
    """Side stick and hand clap play backbeats too and go on playing them."""
    clap = Lane.of(16, [4, 12], ACCENT, Kind.ACCENT)
    after = set_feel(groove("x-------x-------", others=((surface, clap),)), FeelChange("half"))
    assert sixteenths(after, surface) == [8]
    assert after.snare is None


@pytest.mark.parametrize("mark", ["f", "d"])
@pytest.mark.parametrize("feel", ["quarter", "half", "double", "d-beat", "blast"])
def test_a_flam_or_drag_on_a_backbeat_becomes_the_new_backbeats_kind(mark: str, feel: str) -> None:
    """Where the second of two backbeats is a flam all new ones are."""
    after = set_feel(groove("x-------x-------", f"----x-------{mark}---"), FeelChange(feel))
    lane = after.lane_on("snare")
    kind = {"f": Kind.FLAM, "d": Kind.DRAG}[mark]
    assert set(lane.kind[lane.struck].tolist()) == {kind}


def test_a_flam_that_is_no_backbeat_stays_where_it_is() -> None:
    """Only the kind of the backbeats goes over."""
    lane = set_feel(groove("x-------x-------", "----x-----f-x---", feel="full"), FeelChange("half")).lane_on("snare")
    assert (lane.kind[8], lane.kind[10]) == (Kind.PLAIN, Kind.FLAM)


def test_new_backbeats_are_of_the_first_backbeat_s_kind() -> None:
    """Without flam or drag the first backbeat's kind and level go over."""
    lane = set_feel(groove("x-------x-------", "----x-------X---"), FeelChange("half")).lane_on("snare")
    assert (lane.kind[8], lane.velocity[8]) == (Kind.PLAIN, NORMAL)


def test_without_backbeats_the_new_ones_are_accents() -> None:
    """A groove without a snare gets accents on the backbeats."""
    lane = set_feel(groove("x-------x-------"), FeelChange("full")).lane_on("snare")
    assert lane.struck.tolist() == [4, 12]
    assert set(lane.kind[lane.struck].tolist()) == {Kind.ACCENT}


# -- the kick ----------------------------------------------------------------------------------------------


def _in_runs(kicks: set[int], length: int, longest: int) -> set[int]:
    """Kicks in a run, found by looking at every three neighbours of the loop."""
    struck = sorted(kicks)
    if len(struck) < 2:
        return set()
    loop = [step + turn * length for turn in (-2, -1, 0, 1, 2) for step in struck]
    found = set()
    for first, second, third in zip(loop, loop[1:], loop[2:]):
        if second - first == third - second <= longest:
            found |= {first % length, second % length, third % length}
    return found


@given(st.data())
@pytest.mark.parametrize(
    ("old", "new"),
    [(old, new) for old in ("half", "full", "double") for new in ("quarter", "half", "full", "double") if old != new],
)
def test_adapt_moves_the_skeleton_and_keeps_the_riff(old: str, new: str, data: st.DataObject) -> None:
    """Kicks on the old skeleton and in no run go, the new skeleton comes, all others stay but those that would
    come under a new backbeat in a groove that has none there."""
    kicks = set(data.draw(kick_sets(16)))
    snare = Lane.of(16, sorted(BACKBEATS[old]), ACCENT, Kind.ACCENT)
    source = Groove(FOUR_FOUR, 16, 1, kick=Lane.of(16, sorted(kicks)), snare=snare, feel=old)
    after = set_feel(source, FeelChange(new))
    riff = kicks - (SKELETON[old] - _in_runs(kicks, 16, longest=2))
    riff = {step + 16 * bar for step in riff for bar in range(after.bars)}
    if not kicks & BACKBEATS[old]:
        riff -= BACKBEATS[new]
    assert set(after.lane_on("kick").struck.tolist()) == riff | SKELETON[new]


@given(st.data())
def test_keep_changes_not_one_kick(data: st.DataObject) -> None:
    """In every metre and for every feel the kick lane is the same."""
    source = data.draw(grooves())
    after = set_feel(source, replace(data.draw(changes(source.meter)), kick="keep"))
    assert after.kick == source.bars_of(after.bars).regrid(after.grid).kick


@given(st.data())
@pytest.mark.parametrize("feel", PLAIN_FEELS)
def test_figure_leaves_the_skeleton_only(feel: str, data: st.DataObject) -> None:
    """Whatever the groove was before."""
    after = set_feel(data.draw(grooves(meter=FOUR_FOUR)), FeelChange(feel, kick="figure"))
    cycle = 2 if feel == "quarter" else 1
    expected = [16 * bar + step for bar in range(0, after.bars, cycle) for step in sorted(SKELETON[feel])]
    assert sixteenths(after, "kick") == expected


@given(st.data())
def test_the_same_kick_policies_give_the_same_snare(data: st.DataObject) -> None:
    """Feel and kick are independent choices: the snare and the hand do not depend on the kick policy."""
    source = data.draw(grooves())
    change = data.draw(changes(source.meter))
    one, two = (set_feel(source, replace(change, kick=policy)) for policy in ("adapt", "keep"))
    assert [one.lane_on(name) for name in BACKBEAT_SURFACES] == [two.lane_on(name) for name in BACKBEAT_SURFACES]
    assert one.hand == two.hand


# -- no feel at all ----------------------------------------------------------------------------------------


@given(grooves(with_snare=False))
def test_a_groove_without_backbeats_has_no_feel(source: Groove) -> None:
    """Nothing that could play a backbeat: feel null, no backbeats."""
    reading = read_feel(source)
    assert (reading.feel, reading.backbeats) == (None, ())


@given(grooves(with_snare=False), st.sampled_from(PLAIN_FEELS))
def test_every_kick_of_a_groove_without_a_feel_is_a_riff_kick(source: Groove, feel: str) -> None:
    """A set feel adds its skeleton and takes no kick away."""
    after = set_feel(source, FeelChange(feel))
    kept = source.bars_of(after.bars).regrid(after.grid).lane_on("kick")
    lane = after.lane_on("kick")
    assert np.array_equal(lane.velocity[kept.struck], kept.velocity[kept.struck])
    assert 0 in lane.struck.tolist()
    assert after.snare is not None


@pytest.mark.parametrize("relative", ["/2", "x2"])
def test_a_relative_feel_needs_a_feel(relative: str) -> None:
    """There is nothing to halve without a backbeat, and the error says so."""
    with pytest.raises(MusicError, match="backbeat"):
        set_feel(groove("x-------x-------"), FeelChange(relative))


@given(lanes(16, any_kind=False), grids(FOUR_FOUR))
def test_ghosts_alone_are_no_backbeats(lane: Lane, grid: int) -> None:
    """A snare that plays ghosts only has no feel."""
    del grid
    ghosts = Lane(np.minimum(lane.velocity, 45).astype(np.uint8), lane.kind, lane.offset)
    assert read_feel(Groove(FOUR_FOUR, snare=ghosts, feel="full")).feel is None
