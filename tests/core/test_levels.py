"""Levels of one section's strokes: the table of bands and pulses, runs, steps, the peak, equal neighbours.

Bands: common practice. Where in its band a stroke stands: house rules of the table in `core.levels`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.core import levels
from grooveforge.core.arrange import Arrangement, arrange
from grooveforge.core.groove import Groove, Lane
from grooveforge.core.kit import ACCENT, GHOST, NORMAL, SURFACE_CODES, TAP
from grooveforge.core.levels import Shaped, apart, level_added, peak_of, run_sides, strong_pulse
from grooveforge.core.meter import Meter, parse_meter
from grooveforge.core.perform import perform
from grooveforge.core.song import FLAT_LEVELS, Entry, Level, Settings, Song
from tests import bars as lines

BANDS = {ACCENT: (105, 124), NORMAL: (85, 104), TAP: (60, 84), GHOST: (20, 45)}
"""Lowest and highest velocity by the flat level of the band (common practice)."""

NEUTRAL = Settings(groove="one", arrival=False)


def song(groove: Groove, *said: Settings, bars: int = 32, seed: int = 1) -> Arrangement:
    """A song of one part with a section for each of the settings."""
    form = [Entry("part", settings) for settings in said] or [Entry("part")]
    part = Settings(bars=bars).over(NEUTRAL)
    return arrange(Song("test", tuple(form), {"part": part}, {"one": groove}, meter=groove.meter, seed=seed))


def velocities(made: Arrangement, surface: str, section: int = 0) -> list[int]:
    """The velocities of a surface in one section, in the order of time."""
    played = perform(made)
    edges = [tick for tick, _ in played.markers] + [played.end]
    events = played.between(edges[section], edges[section + 1]).events
    found: list[int] = events.velocity[events.surface == SURFACE_CODES[surface]].tolist()
    return found


def one_band(level: int, lane: str, steps: Sequence[int] = (0, 6, 10)) -> Groove:
    """A bar in which one lane has strokes of one band; no three of them make a run."""
    fields = {lane: Lane.of(16, steps, level)}
    if lane == "hand":
        return Groove(Meter(4, 4), hand=fields["hand"], surface="ride")
    return Groove(Meter(4, 4)).with_lane(lane, fields[lane])


# -- the table ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("level", list(BANDS))
@pytest.mark.parametrize("lane", ["kick", "snare", "floor tom", "crash"])
def test_drums_keep_to_the_middle_of_their_band(level: int, lane: str) -> None:
    """5 to either side of the band's middle, and over a long section both ends are met."""
    found = velocities(song(one_band(level, lane), bars=200), lane)
    assert (min(found), max(found)) == (level - 5, level + 5)
    assert np.mean(found) == pytest.approx(level, abs=0.5)


@pytest.mark.parametrize(
    ("level", "strong", "weak"), [(ACCENT, 117, 111), (NORMAL, 100, 88), (TAP, 75, 69), (GHOST, 35, 29)]
)
def test_the_hand_has_a_pulse_in_every_band(level: int, strong: int, weak: int) -> None:
    """Strong and weak strokes 3 to either side of their middle; normal ones at 100 and 88."""
    found = velocities(song(one_band(level, "hand", range(0, 16, 2)), bars=100), "ride")
    assert (min(found[::2]), max(found[::2])) == (strong - 3, strong + 3)
    assert (min(found[1::2]), max(found[1::2])) == (weak - 3, weak + 3)


def test_a_colour_that_the_surface_lacks_is_an_accent_in_level_too() -> None:
    """An open stroke of a hand that stands on the china stands in the accent band (the table of colours)."""
    groove = lines.groove(hand="x-o-x-o-x-o-x-o-", surface="china")
    open_strokes = Lane(groove.hand.velocity, np.full(16, 5), groove.hand.offset) if groove.hand else None
    found = velocities(song(Groove(Meter(4, 4), hand=open_strokes, surface="china")), "china")
    assert min(found) >= 105


# -- strong and weak ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("meter", "grid", "hand", "strong"),
    [
        ("4/4", 16, "x-x-x-x-x-x-x-x-", {0, 4, 8, 12}),  # eighths: the beats
        ("4/4", 16, "xxxxxxxxxxxxxxxx", {0, 4, 8, 12}),  # sixteenths: the beats
        ("4/4", 16, "x---x---x---x---", {0, 8}),  # quarters: 1 and 3
        ("4/4", 16, "----x-------x---", {4, 12}),  # 2 and 4 alone are no weaker than each other
        ("4/4", 16, "--x---x---x---x-", {2, 6, 10, 14}),  # off-beats alone carry the pulse
        ("4/4", 16, "--xx--xx--xx--xx", {2, 6, 10, 14}),  # the eighth is stronger than the sixteenth
        ("4/4", 12, "xxxxxxxxxxxx", {0, 3, 6, 9}),  # triplets
        ("3/4", 8, "x-x-x-", {0}),  # quarters in three
        ("5/4", 4, "xxxxx", {0, 3}),  # 3+2
        ("6/8", 8, "xxxxxx", {0, 3}),  # dotted quarters are the beats
        ("12/8", 8, "x--x--x--x--", {0, 6}),
        ("7/8", 8, "xxxxxxx", {0, 2, 4}),  # groups 2+2+3
    ],
)  # fmt: skip
def test_strong_pulse(meter: str, grid: int, hand: str, strong: set[int]) -> None:
    """What is strong follows from the metre and from what the hand plays in the bar."""
    groove = lines.groove(hand=hand, meter=parse_meter(meter), grid=grid)
    found = velocities(song(groove, bars=6), "closed hi-hat")
    struck = [step for step, mark in enumerate(hand) if mark != "-"]
    assert {step for step, level in zip(struck * 6, found) if level >= 97} == strong
    assert all((level >= 97) == (step in strong) for step, level in zip(struck * 6, found))


def test_the_pulse_is_read_bar_by_bar() -> None:
    """A bar of quarters beside a bar of eighths has its own strong beats."""
    assert strong_pulse(np.array([0, 0, 1, 1, 1]), np.array([-2, 0, 0, 1, 0], np.int8)).tolist() == [
        True, False, True, False, True,
    ]  # fmt: skip


# -- runs ---------------------------------------------------------------------------------------------


def sides(steps: Sequence[int], longest: int = 2, bar: int = 16) -> str:
    """The sides as text: R leading, L other, - in no run."""
    place = np.array(steps)
    return "".join({1: "R", -1: "L", 0: "-"}[int(side)] for side in run_sides(place, place % bar, longest))


@pytest.mark.parametrize(
    ("steps", "expected"),
    [
        (range(8), "RLRLRLRL"),
        ((0, 2, 4, 6), "RLRL"),  # eighths are a run too
        ((0, 4, 8, 12), "----"),  # quarters are none
        ((0, 1), "--"),  # two are none
        ((0, 1, 3, 6), "----"),
        ((0, 2, 3, 4, 6, 7, 8), "-RLRRLR"),  # the gallop's bursts begin on an eighth
        ((1, 2, 3), "LRL"),  # from the second sixteenth the other side starts
        ((14, 15, 16, 17), "RLRL"),  # over the bar line
        ((0, 2, 4, 5, 6, 7), "RLRLRL"),  # from eighths into sixteenths without a break
        ((), ""),
    ],
)
def test_sides_of_a_run(steps: Sequence[int], expected: str) -> None:
    """Three or more at one equal distance of an eighth or less alternate."""
    assert sides(steps) == expected


@given(st.sets(st.integers(0, 63), min_size=3))
def test_sides_against_counting(struck: set[int]) -> None:
    """Members of a run, found stroke by stroke: both neighbours of an equal gap of at most 2, and that stroke."""
    steps = sorted(struck)
    member: set[int] = set()
    for one, two, three in zip(steps, steps[1:], steps[2:]):
        if two - one == three - two <= 2:
            member |= {one, two, three}
    found = sides(steps)
    assert {step for step, side in zip(steps, found) if side != "-"} == member
    for one, two, three in zip(range(len(steps)), steps[1:], steps[2:]):
        if two - steps[one] == three - two <= 2:
            assert found[one] != found[one + 1] != found[one + 2]


@pytest.mark.parametrize("said", [Level(-2, -2), Level(0, 0), Level(1, 1), Level(2, 2)])
@pytest.mark.parametrize("lane", ["kick", "snare", "hand"])
def test_the_leading_side_of_each_pair_is_4_louder(lane: str, said: Level) -> None:
    """Exactly 4 between the two strokes of a pair, at every level, inside the same range as other strokes."""
    groove = one_band(NORMAL, lane, range(16))
    name = "ride" if lane == "hand" else lane
    found = velocities(song(groove, Settings(level=said)), name)
    lead, other = found[::2], found[1::2]
    differences = {a - b for a, b in zip(lead, other)}
    if lane != "hand":
        assert differences == {4}
        assert said != Level(0, 0) or (min(found), max(found)) == (89, 99)
    else:
        # On the beats the pulse comes on top; between them both strokes are weak.
        assert {a - b for a, b in zip(lead[1::2], other[1::2])} == {4}


# -- steps, the peak ------------------------------------------------------------------------------------


@pytest.mark.parametrize("step", [-2, -1, 0, 1, 2])
@pytest.mark.parametrize("level", list(BANDS))
def test_a_step_is_6_inside_the_band(level: int, step: int) -> None:
    """The middle of the strokes moves by 6 a step as far as its band goes."""
    found = velocities(song(one_band(level, "snare"), Settings(level=Level(step, step)), bars=300), "snare")
    low, high = BANDS[level]
    wanted = min(max(level + 6 * step, low), high)
    assert low <= min(found) and max(found) <= high
    room = min(wanted - low, high - wanted)
    # A middle that stands at least 5 from both edges is met; nearer to one, what strays over is folded back.
    assert np.mean(found) == pytest.approx(wanted, abs=0.4 if room >= 5 else 2.5)


def test_steps_of_a_crescendo() -> None:
    """From the first to the second level, evenly, 6 a step; a decrescendo is its mirror."""
    ticks = np.arange(0, 101, 25)
    assert level_added((-1, 1), ticks, 100).tolist() == [-6, -3, 0, 3, 6]
    assert level_added((1, -1), ticks, 100).tolist() == [6, 3, 0, -3, -6]
    assert level_added((2, 2), ticks, 100).tolist() == [12] * 5


@pytest.mark.parametrize(("start", "end"), [(-2, 2), (2, -2)])
def test_a_crescendo_rises_from_quarter_to_quarter(start: int, end: int) -> None:
    """Ghosts, normal strokes and accents each grow (or fall) all through the section."""
    for level in (ACCENT, NORMAL, GHOST):
        found = velocities(song(one_band(level, "snare"), Settings(level=Level(start, end)), bars=64), "snare")
        means = [float(np.mean(part)) for part in np.array_split(found, 4)]
        if start > end:
            means.reverse()
        assert means == sorted(means)
        assert means[-1] - means[0] > 5


@pytest.mark.parametrize(
    ("tops", "peak"),
    [
        ([0, 0, 0], None),  # no section is lower
        ([1], None),
        ([0, 1, 0, 1, 0], 3),  # the last of the highest
        ([-1, 0, 0], 2),
        ([0, 2, None, 1], 1),  # one that rests or is flat has no part in it
        ([None, None], None),
        ([], None),
    ],
)
def test_peak_of(tops: list[int | None], peak: int | None) -> None:
    assert peak_of(tops) == peak


def test_only_the_peak_goes_over_124() -> None:
    """Of three loud sections the last has accents of 125-127; none goes on to 128."""
    steps = [Settings(level=Level(step, step)) for step in (2, 0, 2, -1)]
    made = song(one_band(ACCENT, "snare"), *steps, bars=100)
    tops = [max(velocities(made, "snare", section)) for section in range(4)]
    assert tops[2] == 127
    assert tops[0] == 124 and max(tops[1], tops[3]) <= 124


def test_a_song_of_one_level_has_no_peak() -> None:
    """Nothing goes over 124 where no section is softer."""
    made = song(one_band(ACCENT, "snare"), *[Settings(level=Level(2, 2))] * 2, bars=100)
    assert max(velocities(made, "snare", 1)) == 124


def test_flat_sections_have_no_levels() -> None:
    """Flat levels are those of the bands alone, whatever the section's level; they are no peak either."""
    loud = Settings(level=Level(2, 2), levels=FLAT_LEVELS)
    made = song(lines.groove(snare="g-x-X-d-f---g---"), Settings(), loud, bars=8)
    assert set(velocities(made, "snare", 1)) == {114, 94, 32}
    assert max(velocities(made, "snare", 0)) <= 124


# -- equal neighbours -------------------------------------------------------------------------------------


@given(st.lists(st.tuples(st.integers(0, 2), st.integers(100, 102)), max_size=40), st.data())
def test_apart(strokes: list[tuple[int, int]], data: st.DataObject) -> None:
    """No three equal neighbours, unequal ends, a change of 1 at most and only towards where it may go."""
    rows = sorted(strokes, key=lambda row: row[0])
    surface = np.array([code for code, _ in rows], np.int64)
    velocity = np.array([level for _, level in rows], np.int16)
    toward = np.array([data.draw(st.sampled_from([-1, 1])) for _ in rows], np.int16)
    found = apart(surface, Shaped(velocity, toward)).astype(int)
    assert set((found - velocity).tolist()) <= {0, 1, -1}
    assert all(new in (old, old + by) for new, old, by in zip(found, velocity, toward))
    for code in set(surface.tolist()):
        line = found[surface == code].tolist()
        assert not any(a == b == c for a, b, c in zip(line, line[1:], line[2:]))
        if len(line) > 1:
            assert line[0] != line[1] and line[-1] != line[-2]


def test_apart_leaves_unequal_strokes_alone() -> None:
    levels_in = np.array([90, 91, 91, 92], np.int16)
    assert apart(np.zeros(4, np.int64), Shaped(levels_in, np.ones(4, np.int16))).tolist() == [90, 91, 91, 92]


# -- chance ---------------------------------------------------------------------------------------------


def test_a_stroke_s_level_does_not_hang_on_the_others() -> None:
    """Another kick in the bar, or another hand, leaves the snare's levels as they are."""
    plain = lines.groove("x-------x-------", "----X--g----X-g-", "x-x-x-x-x-x-x-x-")
    other = lines.groove("x--x----x-x-----", "----X--g----X-g-", "xxxxx-x-xxx-x-x-")
    assert velocities(song(plain), "snare") == velocities(song(other), "snare")


def test_levels_hang_on_seed_and_statement() -> None:
    """Two statements of a part are touched differently, and so are two seeds; the same seed is the same."""
    groove = lines.groove(snare="x---x---x---x---")
    first = song(groove, Settings(), Settings())
    assert velocities(first, "snare", 0) != velocities(first, "snare", 1)
    assert velocities(song(groove, seed=2), "snare") != velocities(song(groove, seed=1), "snare")
    assert velocities(song(groove), "snare") == velocities(song(groove), "snare")


def test_strays_are_even_handed() -> None:
    """Over all draws a stroke strays as far up as down, most often not at all, never over its spread."""
    for spread in (1, 3, 5):
        strays = levels._STRAY[spread]
        assert (int(strays.min()), int(strays.max())) == (-spread, spread)
        assert abs(float(strays.mean())) < 0.05
        counts = np.bincount(strays + spread)
        assert counts.argmax() == spread
