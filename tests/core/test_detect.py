"""Detection: which feel a bar has, which hand keeps time, at which rate (house rules).

Bars are lines of sixteenths unless a grid is named. F1 is the harmonic mean of precision and recall.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from grooveforge.core.detect import BarFeel, bar_feels, candidates, vote
from grooveforge.core.detect_hand import subdivision_of, timekeeper_of
from grooveforge.core.feel_table import pattern
from grooveforge.core.groove import Groove, Lane
from grooveforge.core.kit import ACCENT, Kind
from grooveforge.core.meter import Meter, parse_meter
from grooveforge.core.roles import read_feel
from grooveforge.errors import MusicError
from tests.bars import FOUR_FOUR, groove, line_of

FULL_BAR = ("x-------x-------", "----x-------x---")


def _feels(of: Groove) -> list[str | None]:
    return [bar.feel for bar in bar_feels(of)]


# -- every feel in its own words ---------------------------------------------------------------------------

TEXTS = ["4/4", "3/4", "6/8", "12/8", "5/4", "7/4", "5/8", "7/8", "11/8", "9/8", "6/4"]
SPELLED = [
    ("quarter", None), ("half", None), ("full", None), ("double", None), ("d-beat", "v1"), ("d-beat", "v2"),
    ("d-beat", "v3"), ("blast", "alternating"), ("blast", "unison"), ("blast", "double-kick"),
    ("blast", "one-hand-roll"),
]  # fmt: skip


@pytest.mark.parametrize(("feel", "spelling"), SPELLED)
@pytest.mark.parametrize("text", TEXTS)
def test_a_bar_that_plays_a_feel_of_the_table_has_that_feel(text: str, feel: str, spelling: str | None) -> None:
    """Kick and snare of any feel and spelling, in any metre, are read as it."""
    meter = parse_meter(text)
    if feel == "d-beat" and meter.compound:
        with pytest.raises(MusicError):
            pattern(meter, feel, spelling)
        return
    cycle = pattern(meter, feel, spelling)
    source = Groove(meter, 48, cycle.bars)
    kick, snare = ([source.step(place) for place in places] for places in (cycle.kicks, cycle.backbeats))
    source = source.with_lane("kick", Lane.of(source.steps, kick)).with_lane("snare", Lane.of(source.steps, snare))
    assert set(bar_feels(source)) == {BarFeel(feel, spelling)}


# -- F1 ----------------------------------------------------------------------------------------------------

SCORES = [
    # 4/4, snare strokes, feel: F1 by hand against the backbeats named
    ([4, 12], "full"),  # 2 of 2: 1.0
    ([4], "full"),  # 1 met of 1 + 2: 0.67
    ([4, 12, 15], "full"),  # 2 met of 3 + 2: 0.8
    ([4, 7, 10, 12], "full"),  # 2 met of 4 + 2: 0.67
    ([0, 4, 7, 10, 12], None),  # 2 met of 5 + 2: 0.57, under the least
    ([2, 6, 10], "double"),  # 3 met of 3 + 4: 0.86
    ([2, 10], "double"),  # 2 met of 2 + 4: 0.67
    ([8], "half"),
    ([8, 14], "half"),  # 1 met of 2 + 1: 0.67
    ([3, 8, 14], None),  # 1 met of 3 + 1: 0.5
    ([0, 6], None),  # half-way to nothing
    ([], None),
]


@pytest.mark.parametrize(("snare", "feel"), SCORES)
def test_the_best_f1_decides_and_under_three_fifths_is_no_feel(snare: list[int], feel: str | None) -> None:
    """Each feel scores F1 of the snare against its backbeats; a best score under 0.6 is a fill or a stop."""
    assert _feels(groove("x" + 15 * "-", line_of(snare))) == [feel]


def test_exactly_three_fifths_is_a_feel() -> None:
    """3 met of 6 + 4 is 0.6 of double time; 3 met of 7 + 4 is not."""
    assert _feels(groove("x---x---x---x---", line_of([2, 3, 6, 7, 9, 10]))) == ["double"]
    assert _feels(groove("x---x---x---x---", line_of([2, 3, 6, 7, 9, 10, 13]))) == [None]


@pytest.mark.parametrize("late", [1, -1])
def test_a_stroke_within_half_a_sixteenth_is_the_backbeat(late: int) -> None:
    """A snare a 32nd early or late is still that backbeat, and is listed at its own place."""
    source = groove(line_of([0, 16], 32), line_of([8 + late, 24 + late], 32), grid=32)
    assert _feels(source) == ["full"]
    assert [step for _, step in read_feel(source).backbeats] == [8 + late, 24 + late]


def test_a_stroke_further_away_is_not() -> None:
    """A snare a sixteenth late is beside every backbeat of full time."""
    assert _feels(groove("x-------x-------", line_of([5, 13]))) != ["full"]


def test_a_downbeat_struck_early_belongs_to_its_bar() -> None:
    """Quarter time whose backbeat comes a 32nd before the bar line."""
    source = groove(line_of([0], 64), line_of([31], 64), grid=32)
    assert _feels(source) == ["quarter", "quarter"]


# -- which strokes count -----------------------------------------------------------------------------------


def test_ghosts_do_not_count() -> None:
    """Strokes of the ghost band, by kind or by level, are no backbeats."""
    marked = groove("x-------x-------", "--g-X-gg-g--X-gg")
    soft = Lane(np.where(marked.lane_on("snare").velocity == 32, 45, 114), np.zeros(16, np.uint8), np.zeros(16))
    soft = soft.only(marked.lane_on("snare").velocity > 0)
    assert _feels(marked) == ["full"]
    assert _feels(marked.with_lane("snare", soft)) == ["full"]
    assert [step for _, _, step in candidates(marked)] == [4, 12]


@pytest.mark.parametrize("surface", ["side stick", "hand clap"])
def test_side_stick_and_hand_clap_are_backbeats_too(surface: str) -> None:
    """A verse on the side stick has its feel."""
    clap = Lane.of(16, [4, 12], ACCENT, Kind.ACCENT)
    assert _feels(groove("x-------x-------", others=((surface, clap),))) == ["full"]


def test_a_roll_is_no_backbeat() -> None:
    """Three snare strokes or more at a sixteenth with no kick between count for nothing."""
    rolled = groove("x-------x-------", "----x-------xxxx")
    assert [step for _, _, step in candidates(rolled)] == [4]
    assert _feels(rolled) == ["full"]
    assert _feels(groove("x---------------", "xxxxxxxxxxxxxxxx")) == [None]


def test_two_strokes_are_no_roll() -> None:
    """A double stroke stays in the count."""
    assert [step for _, _, step in candidates(groove("x-------x-------", "----xx------x---"))] == [4, 5, 12]


def test_a_roll_with_kicks_under_it_is_none() -> None:
    """The one-hand roll is a blast: its kicks stand between the strokes."""
    source = groove("x-x-x-x-x-x-x-x-", "xxxxxxxxxxxxxxxx")
    assert bar_feels(source) == (BarFeel("blast", "one-hand-roll"),)


def test_eighths_are_no_roll() -> None:
    """A roll is a sixteenth or less; snares in eighths are a unison blast over kicks in eighths."""
    source = groove("x-x-x-x-x-x-x-x-", "x-x-x-x-x-x-x-x-")
    assert bar_feels(source) == (BarFeel("blast", "unison"),)


# -- ties --------------------------------------------------------------------------------------------------


TIED = line_of([4]) + line_of([0])
"""Two bars: the first has one of full time's two backbeats (F1 0.67), both have one stroke beside quarter time's
one (0.67 too)."""


def test_the_kick_on_the_skeleton_breaks_a_tie() -> None:
    """Full time would have kicks on 1 and 3; without the second the bar is quarter time, whatever is before it."""
    alone = groove(FULL_BAR[0] + line_of([0]) + 16 * "-", FULL_BAR[1] + TIED)
    assert _feels(alone)[:2] == ["full", "quarter"]


def test_then_the_bar_before_breaks_it() -> None:
    """With kicks on 1 and 3 both fit; after a bar of full time it is full time."""
    after_full = groove(FULL_BAR[0] * 2 + 16 * "-", FULL_BAR[1] + TIED)
    assert _feels(after_full)[:2] == ["full", "full"]


def test_then_the_bar_after_breaks_it() -> None:
    """With no bar before it the same bar goes by the one after."""
    assert _feels(groove(FULL_BAR[0] + 16 * "-", TIED)) == ["quarter", "quarter"]


# -- d-beat and blast --------------------------------------------------------------------------------------


@pytest.mark.parametrize("kicks", [[0, 5, 8, 13], [0, 4, 5, 8, 12, 13], [0, 3, 5, 8, 11, 13]])
def test_double_with_kicks_on_5_and_13_is_a_d_beat(kicks: list[int]) -> None:
    """The extra kicks tell it from a plain two-beat (derived from the article "D-beat")."""
    assert _feels(groove(line_of(kicks), "--x---x---x---x-")) == ["d-beat"]


@pytest.mark.parametrize("kicks", [[0, 4, 8, 12], [0, 5, 8], [0, 8, 13], [0, 8]])
def test_double_with_one_mark_or_none_is_double(kicks: list[int]) -> None:
    """One extra kick is no d-beat."""
    assert _feels(groove(line_of(kicks), "--x---x---x---x-")) == ["double"]


def test_a_blast_needs_two_beats() -> None:
    """One beat of a blast before a plain bar is none; from two beats on it may be one."""
    assert _feels(groove("x-x-----x-------", "-x-x--------x---")) != ["blast"]
    assert _feels(groove("x-x-x-x-x-x-x---", "-x-x-x-x-x-x----")) == ["blast"]
    scattered = groove("x-x-x-x-x-x-x-x-", "-x-x-x---x-x-x--")  # six of eight, one whole beat at a time
    assert _feels(scattered) != ["blast"]


@pytest.mark.parametrize(
    ("kick", "snare", "spelling"),
    [
        ("x-x-x-x-x-x-x-x-", "-x-x-x-x-x-x-x-x", "alternating"),
        ("x-x-x-x-x-x-x-x-", "x-x-x-x-x-x-x-x-", "unison"),
        ("xxxxxxxxxxxxxxxx", "x-x-x-x-x-x-x-x-", "double-kick"),
        ("x-x-x-x-x-x-x-x-", "xxxxxxxxxxxxxxxx", "one-hand-roll"),
    ],
)
def test_blast_is_tried_in_every_spelling(kick: str, snare: str, spelling: str) -> None:
    """The steps define the blast (encyclopaedia article "Blast beat", Characteristics, four tabs)."""
    assert bar_feels(groove(kick, snare)) == (BarFeel("blast", spelling),)


def test_a_triplet_blast_is_read() -> None:
    """Kick and snare together on all twelve eighth triplets (article "Blast beat")."""
    assert bar_feels(groove(12 * "x", 12 * "x", grid=12)) == (BarFeel("blast", "triplet"),)


# -- the same feels placed otherwise, and what is none -----------------------------------------------------


def test_a_snare_on_every_beat_with_kicks_between_is_full_time() -> None:
    """Its backbeats are 2 and 4; without a kick between, the strokes are a figure. House rule."""
    four = "x---x---x---x-x-"
    source = groove("--x---x---x---x-", four)
    assert _feels(source) == ["full"]
    assert [step for _, step in read_feel(source).backbeats] == [4, 12]
    assert bar_feels(groove("-x----x---x----x", "xx--x---xx--x---"))[0].variant == "every beat"
    assert _feels(groove("----------------", "x-x-x-x-x-x-x-x-")) == [None]


def test_six_quarters_may_be_two_bars_of_three() -> None:
    """Backbeats on 3 and 6 are full time, as the table has it for three beats, and the groove's own in 6/4."""
    source = groove("x-x---x-x---" * 2, "--------x-----------" + "x---", meter=Meter(6, 4))
    assert bar_feels(source)[0] == BarFeel("full", None, "threes")
    reading = read_feel(source)
    assert (reading.own, [step for _, step in reading.backbeats]) == (True, [8, 20])


def test_double_time_in_compound_metre_may_have_its_backbeat_half_way() -> None:
    """6/8 with the snare on the fourth and tenth sixteenth, as in simple metre; those are its own backbeats."""
    source = groove("xxx---xxx---", "---x-----x--", meter=Meter(6, 8))
    assert bar_feels(source)[0] == BarFeel("double", None, "half-way")
    assert read_feel(source).own
    assert bar_feels(groove("x-----x-----", "----x-----x-", meter=Meter(6, 8)))[0] == BarFeel("double")


def test_backbeats_among_many_strokes_while_the_hand_goes_on() -> None:
    """Half time with three more strokes stays half; without the hand, or a kick on 1, it is a fill. House rule."""
    many, hand = "--x-----x---x-x-", "x---x---x---x---"
    assert _feels(groove("x-----x-----x---", many, hand)) == ["half"]
    assert _feels(groove("x-----x-----x---", many)) == [None]
    assert _feels(groove("------x-----x---", many, hand)) == [None]
    assert _feels(groove("x-x---x---x--xx-", "----x--x-x-xx---", hand)) == ["full"]


def test_a_roll_over_four_quarters_of_kick_is_a_build() -> None:
    """A one-hand roll blast has the kick on the eighths (article "Blast beat"); the quarters do not make it one."""
    assert _feels(groove("x---x---x---x---", 16 * "x")) == [None]


def test_a_figure_in_unison_is_no_blast() -> None:
    """Kick and snare together, two beats of eighths among other places, or nothing else in the bar."""
    assert _feels(groove("x-x-x-xx-xx-xx-x", "x-x-x-xx-x--x-xx")) == [None]
    assert _feels(groove("x-x-x-x---------", "x-x-x-x---------")) == [None]


def test_a_stop_of_all_is_no_quarter_time() -> None:
    """The kick that would begin the two bars is not there, and another is."""
    assert _feels(groove(line_of([4, 16], 32), line_of([16], 32))) == [None, None]
    assert _feels(groove(line_of([0, 16], 32), line_of([16], 32))) == ["quarter", "quarter"]


def test_sixteenths_are_no_triplet_blast() -> None:
    """Thirds of a beat and sixteenths lie nearer to each other than half a sixteenth."""
    assert _feels(groove("x--x--x-x---xx--", "x--xx--xxx-xxx-x")) != ["blast"]


def test_kicks_elsewhere_do_not_make_a_blast_of_a_fill() -> None:
    """Two beats of kick, then two of snare: where the snare is fast the kick is not."""
    assert _feels(groove("x---x-x---------", "--------x-x-x-x-")) != ["blast"]


# -- no backbeat, and lists of backbeats -------------------------------------------------------------------


def test_without_backbeats_the_feel_is_null() -> None:
    """And no backbeats are listed."""
    reading = read_feel(groove("x---x---x---x---", hand="x-x-x-x-x-x-x-x-"))
    assert (reading.feel, reading.backbeats) == (None, ())


def test_backbeats_are_the_strokes_that_match() -> None:
    """Other snare strokes of the bar are not listed."""
    assert read_feel(groove("x-------x-------", "----x-----x-x---")).backbeats == (("snare", 4), ("snare", 12))


def test_one_missing_backbeat_makes_no_backbeats_of_the_groove_s_own() -> None:
    """Strokes that all stand on the table's backbeats go by the table."""
    assert not read_feel(groove("x-------x-------", "----x-----------")).own
    assert not read_feel(groove(line_of([0, 8, 16, 24], 32), line_of([4, 12, 20], 32), feel="full")).own


def test_said_backbeats_elsewhere_are_the_groove_s_own() -> None:
    """A groove in 5/4 that says full time and plays 2 and the & of 4."""
    reading = read_feel(groove("x---x---x---x---x---", "----x---------x-----", meter=Meter(5, 4), feel="full"))
    assert reading.own
    assert reading.backbeats == (("snare", 4), ("snare", 14))


# -- quarter over two bars ---------------------------------------------------------------------------------


def test_quarter_time_is_read_over_two_bars() -> None:
    """One backbeat on the downbeat of every second bar, wherever the two bars begin; a bar at the edge whose
    other bar is missing has no feel of its own and leaves the vote to the others."""
    late = groove(line_of([0, 32], 64), line_of([16, 48], 64))
    early = late.rotate(16)
    assert _feels(late) == ["quarter"] * 4
    assert _feels(early)[1:3] == ["quarter"] * 2
    assert read_feel(early).feel == "quarter"


def test_one_bar_alone_is_never_quarter_time() -> None:
    """There is no second bar to have the backbeat."""
    assert _feels(groove("x" + 15 * "-", "x" + 15 * "-")) == [None]


# -- the feel of a section ---------------------------------------------------------------------------------


def _bars(*bars: tuple[str, str, str]) -> Groove:
    """Bars of (kick, snare, hand) one after the other."""
    kick, snare, hand = ("".join(lines) for lines in zip(*bars))
    return groove(kick, snare, hand)


EIGHTHS = "x-x-x-x-x-x-x-x-"
FULL, HALF = (*FULL_BAR, EIGHTHS), ("x---------------", "--------x-------", EIGHTHS)
FILL = ("----------------", "--x---x---x---x-", "x-x-------------")


def test_a_section_s_feel_is_that_of_most_bars() -> None:
    """Two bars of half time and one of full are half time."""
    assert read_feel(_bars(HALF, FULL, HALF)).feel == "half"
    assert read_feel(_bars(FULL, HALF, FULL)).feel == "full"


def test_bars_in_which_the_hand_rests_for_a_beat_have_no_vote() -> None:
    """Two fills beside one bar of full time do not make it double time."""
    assert _feels(_bars(FILL, FILL, FULL))[:2] == ["double", "double"]
    assert read_feel(_bars(FILL, FILL, FULL)).feel == "full"


def test_a_vote_that_is_even_goes_to_the_slower() -> None:
    """Full and half time bar by bar are half time."""
    assert vote([BarFeel("full"), BarFeel("half")], [True, True]).feel == "half"
    assert vote([BarFeel(None), BarFeel("full")], [True, True]).feel == "full"
    assert vote([], []).feel is None


# -- the timekeeping hand ----------------------------------------------------------------------------------


def _strokes(**lines: str) -> dict[str, NDArray[np.int64]]:
    return {
        name.replace("_", " ").replace("hi hat", "hi-hat"): np.flatnonzero([mark == "x" for mark in line])
        for name, line in lines.items()
    }


def _hand(**lines: str) -> str | None:
    return timekeeper_of(_strokes(**lines), FOUR_FOUR, 16)


@pytest.mark.parametrize(
    "surface", ["closed_hi_hat", "pedal_hi_hat", "ride", "crash", "china", "floor_tom", "high_floor_tom", "cowbell"]
)
def test_hi_hats_cymbals_floor_toms_and_cowbell_keep_time(surface: str) -> None:
    """Eighths on any of them are the timekeeper's."""
    assert _hand(**{surface: EIGHTHS}) == surface.replace("_", " ").replace("hi hat", "hi-hat")


@pytest.mark.parametrize("surface", ["kick", "snare", "side_stick", "high_tom", "low_tom", "tambourine"])
def test_other_surfaces_keep_no_time(surface: str) -> None:
    """Eighths on a kick, snare or rack tom are no timekeeper's."""
    assert _hand(**{surface: EIGHTHS}) is None


def test_the_busiest_surface_keeps_time() -> None:
    """The one with most strokes."""
    assert _hand(closed_hi_hat="x---x---x---x---", ride=EIGHTHS) == "ride"


def test_open_and_closed_are_one_hand() -> None:
    """Three closed and four open strokes outweigh six of a ride; the hand is named by the more frequent."""
    hats = {"closed_hi_hat": "x---x---x-------", "open_hi_hat": "--x---x-----x-x-"}
    assert _hand(**hats, ride="x-x-x-x-x-x-----") == "open hi-hat"
    assert _hand(closed_hi_hat="x-x-x-x-x-x-x---", open_hi_hat=14 * "-" + "x-") == "closed hi-hat"


def test_an_arrival_s_crash_keeps_no_time() -> None:
    """One crash on 1, with nothing else, is none."""
    assert _hand(crash="x---------------") is None
    assert _hand(crash="x---------------", closed_hi_hat="--x-x-x-x-x-x-x-") == "closed hi-hat"


def test_fewer_than_three_strokes_keep_no_time() -> None:
    """Two strokes a bar are too few; three in three of four beats are enough."""
    assert _hand(ride="x-------x-------") is None
    assert _hand(ride="x---x---x-------") == "ride"


def test_fewer_than_three_quarters_of_the_beats_keep_no_time() -> None:
    """Eight strokes in two of four beats are a figure, not a pulse."""
    assert _hand(ride="xxxxxxxx--------") is None
    assert _hand(ride="xxxxxxxxxxxx----") == "ride"


RATES = [
    ("4/4", 16, "x---x---x---x---", "1/4"),
    ("4/4", 16, "x-x-x-x-x-x-x-x-", "1/8"),
    ("4/4", 16, "--x---x---x---x-", "1/8"),  # the offbeats are eighths too
    ("4/4", 16, "xxxxxxxxxxxxxxxx", "1/16"),
    ("4/4", 12, "xxxxxxxxxxxx", "1/8T"),
    ("4/4", 12, "x-xx-xx-xx-x", "1/8T"),  # swung eighths
    ("4/4", 16, "xxxx-xxxxxxx-xxx", "1/16"),  # strokes left out for the snare
    ("4/4", 16, "x-x---x-x-x---x-", "1/8"),
    ("4/4", 16, "x-x-x-x-x-x-xxxx", "1/8"),  # one beat of sixteenths is too little
    ("4/4", 16, "x-x-x-xxx-x-x-xx", "1/16"),  # two are enough
    ("4/4", 16, "x---x---x---x-x-", "1/4"),  # one beat of eighths likewise
    ("12/8", 8, "xxxxxxxxxxxx", "1/8"),
    ("12/8", 16, "xxxxxxxxxxxxxxxxxxxxxxxx", "1/16"),
    ("7/8", 8, "xxxxxxx", "1/8"),
]


@pytest.mark.parametrize(("text", "grid", "line", "rate"), RATES)
def test_the_subdivision_is_the_finest_step_seen_in_two_beats(text: str, grid: int, line: str, rate: str) -> None:
    """1/8T for thirds of a beat, else 1/16, 1/8, 1/4."""
    steps = np.flatnonzero([mark == "x" for mark in line])
    assert subdivision_of(steps, parse_meter(text), grid) == rate


def test_no_strokes_have_no_subdivision() -> None:
    """A silent bar has no rate."""
    assert subdivision_of(np.array([], np.int64), FOUR_FOUR, 16) is None
