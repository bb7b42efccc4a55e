"""The facts of a bar: backbeats where they stand, the hand and its rate, the kicks."""

from __future__ import annotations

from fractions import Fraction

import pytest

from grooveforge.core.bar_roles import BarRoles
from grooveforge.core.detect import BarFeel
from grooveforge.core.feel_table import D_BEAT_FIGURES, D_BEAT_SNARE
from grooveforge.core.groove import Groove
from grooveforge.core.hands import colour_on, hand_of, same_hand, with_hand
from grooveforge.core.inspect import BarFacts, bar_facts
from grooveforge.core.kit import Kind, sounding
from grooveforge.core.meter import Meter
from tests.bars import groove, lane

KICK, BACKBEAT, EIGHTHS = "x-------x-------", "----x-------x---", "x-x-x-x-x-x-x-x-"


def on(surfaces: dict[str, str], meter: Meter | None = None, grid: int = 16, kick: str | None = None) -> Groove:
    """A groove without a named hand: lines by surface."""
    meter = meter or Meter(4, 4)
    others = {name: lane(line) for name, line in surfaces.items()}
    length = len(next(iter(others.values())))
    return Groove(
        meter, grid, length // meter.steps(grid), kick=lane(kick) if kick else None, others=tuple(others.items())
    )


def one(of: Groove) -> BarFacts:
    (facts,) = bar_facts(of)
    return facts


def test_a_plain_bar() -> None:
    """Full time: backbeats on 2 and 4 (encyclopaedia article "Half-time (music)"), eighths on the hi-hat."""
    hand, heard = ("closed hi-hat", "1/8"), (BarFeel("full"), BarRoles(0, None, False))
    facts = BarFacts("full", None, (2.0, 4.0), *hand, 2, False, *heard)
    assert one(groove(KICK, BACKBEAT, EIGHTHS)) == facts


@pytest.mark.parametrize(
    ("snare", "kick", "feel", "backbeats"),
    [
        ("--------x-------", "x---------------", "half", (3.0,)),
        ("--x---x---x---x-", "x---x---x---x---", "double", (1.5, 2.5, 3.5, 4.5)),
        (D_BEAT_SNARE.replace("o", "x"), D_BEAT_FIGURES["v1"][1].replace("o", "x"), "d-beat", (1.5, 2.5, 3.5, 4.5)),
        ("-x-x-x-x-x-x-x-x", EIGHTHS, "blast", (1.25, 1.75, 2.25, 2.75, 3.25, 3.75, 4.25, 4.75)),
    ],
)
def test_backbeats_of_each_feel(snare: str, kick: str, feel: str, backbeats: tuple[float, ...]) -> None:
    """The steps of the published tables, as quarter notes from 1.0."""
    facts = one(groove(kick, snare, EIGHTHS))
    assert (facts.feel, facts.backbeats) == (feel, backbeats)


def test_quarter_time_lists_the_backbeat_in_its_bar() -> None:
    """The downbeat of every second bar; the bar before has the feel and no backbeat."""
    facts = bar_facts(groove(("x" + "-" * 31) * 2, ("-" * 16 + "x" + "-" * 15) * 2, EIGHTHS * 4))
    assert [(bar.feel, bar.backbeats) for bar in facts] == [("quarter", ()), ("quarter", (1.0,))] * 2


def test_a_bar_without_a_backbeat_has_no_feel_but_in_quarter_time() -> None:
    """Half time in 3/4 has its backbeat in every second bar; the other bar says nothing of itself."""
    facts = bar_facts(groove(("x" + "-" * 23) * 2, ("-" * 12 + "x" + "-" * 11) * 2, meter=Meter(3, 4)))
    assert [(bar.feel, bar.backbeats) for bar in facts] == [(None, ()), ("half", (1.0,))] * 2


def test_a_backbeat_that_opens_a_roll_is_listed() -> None:
    """The roll has no say in the feel; its stroke on the backbeat is one."""
    facts = one(groove("x-------x-------", "----x-------xxxx", EIGHTHS))
    assert (facts.feel, facts.backbeats) == ("full", (2.0, 4.0))


def test_beats_count_quarters_in_every_metre() -> None:
    """7/8 as 2+2+3: the third eighth is 2.0; 12/8: eighths 4 and 10 are 2.5 and 5.5 (J. Rothman, "5/4 Rock")."""
    seven = groove("x-------x-----", "----x---------", "x-x-x-x-x-x-x-", meter=Meter(7, 8))
    assert one(seven).backbeats == (2.0,)
    twelve = groove("x-----x-----", "---x-----x--", "xxxxxxxxxxxx", meter=Meter(12, 8), grid=8)
    assert (one(twelve).feel, one(twelve).backbeats, one(twelve).subdivision) == ("full", (2.5, 5.5), "1/8")


def test_a_backbeat_stands_where_it_is_played() -> None:
    """Matched within half a sixteenth, listed at its own place."""
    late = groove("x" + "-" * 31, "-" * 9 + "x" + "-" * 14 + "x" + "-" * 7, grid=32)
    assert one(late).backbeats == (2.125, 4.0)


def test_a_ghost_or_a_second_snare_stroke_is_no_backbeat() -> None:
    """Only what matches the feel's backbeats is listed."""
    assert one(groove(KICK, "--g-x--g----x-x-", EIGHTHS)).backbeats == (2.0, 4.0)


def test_a_bar_without_backbeats_has_no_feel() -> None:
    """A stop: null and an empty list."""
    facts = one(groove("x---------------", None, "x---------------"))
    assert (facts.feel, facts.backbeats) == (None, ())


def test_what_a_groove_says_holds() -> None:
    """A groove that names its feel and backbeats needs no detection."""
    said = groove(KICK, "----x---------x-", EIGHTHS, feel="full", backbeats=(Fraction(1, 4), Fraction(7, 8)))
    assert (one(said).feel, one(said).backbeats) == ("full", (2.0, 4.5))
    assert one(groove(KICK, BACKBEAT, EIGHTHS, surface="china")).timekeeper == "china"


# -- kicks -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kick", "count", "double"),
    [
        ("x-------x-------", 2, False),
        ("x-x-x-x-x-x-x-x-", 8, False),
        ("x------xx-------", 3, True),
        ("xxxxxxxxxxxxxxxx", 16, True),
    ],
)
def test_double_kick_is_two_a_sixteenth_apart(kick: str, count: int, double: bool) -> None:
    """House rule: a sixteenth or less."""
    assert (one(groove(kick, BACKBEAT)).kicks, one(groove(kick, BACKBEAT)).double_kick) == (count, double)


def test_double_kick_over_the_bar_line_belongs_to_the_later_bar() -> None:
    """The second of the two strokes makes it."""
    first, second = bar_facts(groove("x--------------x" + "x---------------", BACKBEAT * 2))
    assert (first.double_kick, second.double_kick) == (False, True)


# -- the hand --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lines", "expected"),
    [
        ({"closed hi-hat": "x-x-x-x-x-x-x---", "open hi-hat": "--------------x-"}, "closed hi-hat"),
        ({"closed hi-hat": "x---x-----------", "open hi-hat": "--x---x-x-x-x-x-"}, "open hi-hat"),
        ({"ride": "x-x---x-x-x---x-", "ride bell": "----x-------x---"}, "ride"),
        ({"ride": "----x-------x---", "ride bell": "x-x---x-x-x---x-"}, "ride bell"),
        ({"ride": "x---x---x---x---", "pedal hi-hat": "----x-------x---"}, "ride"),
        ({"crash": "x---------------", "closed hi-hat": "----x---x---x---"}, "closed hi-hat"),
        ({"floor tom": "x-x-x-x-x-x-x-x-"}, "floor tom"),
        ({"cowbell": "x---x---x---x---"}, "cowbell"),
        ({"pedal hi-hat": "x---x---x---x---"}, "pedal hi-hat"),
        ({"high tom": "x-x-x-x-x-x-x-x-"}, None),
        ({"crash": "x-------x-------"}, None),
        ({"closed hi-hat": "xxxx------------"}, None),
        ({"closed hi-hat": "x---x---x-------"}, "closed hi-hat"),
    ],
)
def test_which_hand_keeps_time(lines: dict[str, str], expected: str | None) -> None:
    """Most strokes among hi-hats, cymbals, floor toms, cowbell; at least three, in three quarters of the beats."""
    assert one(on(lines, kick="x---------------")).timekeeper == expected


def test_all_sounds_of_the_hi_hat_make_its_rate_and_the_foot_alone_none_of_a_ride() -> None:
    """Open and pedal strokes between closed ones make eighths of quarters; under a ride the foot is another limb."""
    quarters = "x---x---x---x---"
    for between in ("open hi-hat", "pedal hi-hat"):
        assert one(on({"closed hi-hat": quarters, between: "--x---x---------"})).subdivision == "1/8"
    assert one(on({"ride": quarters, "pedal hi-hat": "--x---x---x-----"})).subdivision == "1/4"


def test_an_echo_is_no_step_of_the_rate() -> None:
    """Each quarter with a softer stroke a thirty-second behind it stays quarters; so do 32nds stay sixteenths."""
    assert one(on({"closed hi-hat": "xx------" * 4}, grid=32)).subdivision == "1/4"
    assert one(on({"closed hi-hat": "x" * 32}, grid=32)).subdivision == "1/16"


def test_a_fill_does_not_hide_the_hand_that_plays_until_it_begins() -> None:
    """Eighths on the ride for three beats keep time, though the floor tom has more strokes in the last two."""
    lines = {"ride": "x-x-x-x-x-x-----", "floor tom": "--------xxxxxxxx"}
    assert one(on(lines)).timekeeper == "ride"


@pytest.mark.parametrize(
    ("line", "grid", "figures", "rate"),
    [
        ("x---x---x---x---", 16, (4, 4), "1/4"),
        ("x-x-x-x-x-x-x-x-", 16, (4, 4), "1/8"),
        ("--x---x---x---x-", 16, (4, 4), "1/8"),
        ("xxxxxxxxxxxxxxxx", 16, (4, 4), "1/16"),
        ("xxx-xxxxxxx-xxxx", 16, (4, 4), "1/16"),  # left out for the snare
        ("x-x-x-x-x-x-x-xx", 16, (4, 4), "1/8"),  # one sixteenth is an ornament
        ("xxxxxxxxxxxx", 12, (4, 4), "1/8T"),
        ("x-xx-xx-xx-x", 12, (4, 4), "1/8T"),  # swung eighths
        ("x" * 24, 24, (4, 4), "1/8T"),
        ("x" * 32, 32, (4, 4), "1/16"),
        ("x----x--x----x--x----x--x----x--", 32, (4, 4), "1/8T"),  # loosely swung
        ("xxxxxx", 8, (6, 8), "1/8"),
        ("x-x-x-x-x-x-", 16, (6, 8), "1/8"),
        ("xxxxxxxxxxxx", 16, (6, 8), "1/16"),
        ("x--x--x--x--", 8, (12, 8), "1/4"),  # dotted quarters are beats
        ("x-x-x--", 8, (7, 8), "1/4"),  # the groups
        ("xxxxxxx", 8, (7, 8), "1/8"),
        ("x-x-x-x-", 8, (4, 4), "1/4"),
        ("x-x-", 4, (2, 2), "1/4"),
    ],
)
def test_the_rate_of_a_hand(line: str, grid: int, figures: tuple[int, int], rate: str) -> None:
    """The finest regular step seen in at least two beats; gaps and single ornaments do not change it."""
    facts = one(on({"ride": line}, Meter(*figures), grid))
    assert facts.subdivision == (rate if facts.timekeeper else None)
    assert facts.timekeeper == (None if line.count("x") < 3 else "ride")


# -- hands as values -------------------------------------------------------------------------------------


def test_hands() -> None:
    """The stick's hi-hat surfaces are one hand, ride and bell another; all else stands alone."""
    assert set(hand_of("open hi-hat")) == {"closed hi-hat", "half-open hi-hat", "open hi-hat"}
    assert hand_of("china") == ("china",)
    assert same_hand("ride", "ride bell")
    assert not same_hand("ride", "second ride")
    assert same_hand(None, None)
    assert not same_hand("ride", None)


@pytest.mark.parametrize("base", ["closed hi-hat", "half-open hi-hat", "open hi-hat", "ride"])
def test_a_colour_sounds_as_the_surface_it_came_from(base: str) -> None:
    """Taking a hand's lanes together and letting them sound again changes nothing."""
    for surface in hand_of(base):
        assert sounding(base, colour_on(base, surface), 90) == (surface, 90)


def test_two_surfaces_become_one_hand() -> None:
    """Where both are struck the louder stays; the other lanes are as they were."""
    both = on({"closed hi-hat": "x-x-X-x-", "open hi-hat": "--X-x--X", "cowbell": "x---x---"}, grid=8)
    made = with_hand(both, "closed hi-hat")
    assert made.hand is not None
    assert made.hand.struck.tolist() == [0, 2, 4, 6, 7]
    kinds = [Kind(kind) for kind in made.hand.kind[made.hand.struck].tolist()]
    assert kinds == [Kind.PLAIN, Kind.OPEN, Kind.ACCENT, Kind.PLAIN, Kind.OPEN]
    assert made.surface == "closed hi-hat"
    assert [name for name, _ in made.others] == ["cowbell"]
