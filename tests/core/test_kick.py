"""The kick under a feel: the check values of the design, runs, and the policies (house rules).

Steps are sixteenths of a 4/4 bar.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest

from grooveforge.core.feel import FeelChange, set_feel
from grooveforge.core.groove import Groove
from grooveforge.core.kick import runs
from grooveforge.core.meter import Meter
from grooveforge.errors import MusicError
from tests.bars import groove, line_of, sixteenths

GALLOP = (0, 2, 3, 4, 6, 7, 8, 10, 11, 12, 14, 15)
EVERY_STEP = tuple(range(16))
HAND = "x-x-x-x-x-x-x-x-"

Moved = tuple[Sequence[object], Sequence[object]]
"""Kicks and snares in sixteenths."""


def _bar(kick: tuple[int, ...], snare: tuple[int, ...], **fields: Any) -> Groove:
    return groove(line_of(kick), line_of(snare), HAND, **fields)


def _moved(source: Groove, feel: str, kick: str = "adapt", spelling: str | None = None) -> Moved:
    """Kicks and snares after the feel was set."""
    after = set_feel(source, FeelChange(feel, spelling=spelling, kick=kick))
    return sixteenths(after, "kick"), sixteenths(after, "snare")


def test_gallop_to_half_is_unchanged_with_the_snare_on_8() -> None:
    """Every kick of a gallop is part of a run, so none moves; the snare goes to beat 3."""
    assert _moved(_bar(GALLOP, (4, 12)), "half") == (list(GALLOP), [8])


@pytest.mark.parametrize(
    ("spelling", "figure"),
    [(None, [0, 4, 5, 8, 12, 13]), ("v2", [0, 5, 8, 11, 13]), ("v3", [0, 3, 5, 8, 11, 13])],
)
def test_gallop_to_d_beat_is_the_figure_alone(spelling: str | None, figure: list[int]) -> None:
    """Into a d-beat the figure of its spelling stands alone."""
    assert _moved(_bar(GALLOP, (4, 12)), "d-beat", spelling=spelling) == (figure, [2, 6, 10, 14])


def test_sixteenths_to_half_are_unchanged() -> None:
    """Running sixteenths go on under half time."""
    assert _moved(_bar(EVERY_STEP, (4, 12)), "half") == (list(EVERY_STEP), [8])


def test_sixteenths_to_quarter_are_unchanged() -> None:
    """Running sixteenths go on under quarter time, over both bars of its cycle."""
    assert _moved(_bar(EVERY_STEP, (4, 12)), "quarter") == (list(range(32)), [16])


def test_thrash_to_double_is_double_s_skeleton() -> None:
    """0 2 8 10 becomes 0 4 8 12: the kicks that would meet the new backbeats go."""
    assert _moved(_bar((0, 2, 8, 10), (4, 12)), "double") == ([0, 4, 8, 12], [2, 6, 10, 14])


def test_thrash_to_half_keeps_its_riff_kicks() -> None:
    """0 2 8 10 becomes 0 2 10."""
    assert _moved(_bar((0, 2, 8, 10), (4, 12)), "half") == ([0, 2, 10], [8])


def test_breakdown_to_full() -> None:
    """0 3 6 7 10 12 under half time becomes 0 3 6 7 8 10 under full time."""
    assert _moved(_bar((0, 3, 6, 7, 10, 12), (8,)), "full") == ([0, 3, 6, 7, 8, 10], [4, 12])


@pytest.mark.parametrize("figure", [(0, 4, 5, 8, 12, 13), (0, 5, 8, 11, 13), (0, 3, 5, 8, 11, 13)])
def test_every_d_beat_to_full_is_the_plain_skeleton(figure: tuple[int, ...]) -> None:
    """v1, v2 and v3 become 0 8: all of the figure is skeleton."""
    assert _moved(_bar(figure, (2, 6, 10, 14)), "full") == ([0, 8], [4, 12])


@pytest.mark.parametrize("snare", [tuple(range(1, 16, 2)), tuple(range(0, 16, 2))], ids=["alternating", "unison"])
def test_alternating_and_unison_blast_to_full_are_the_plain_skeleton(snare: tuple[int, ...]) -> None:
    """Kicks in eighths under either blast become 0 8."""
    assert _moved(_bar(tuple(range(0, 16, 2)), snare), "full") == ([0, 8], [4, 12])


def test_double_kick_blast_to_half_is_one_kick() -> None:
    """Sixteen kicks on the figure become 0."""
    assert _moved(_bar(EVERY_STEP, tuple(range(0, 16, 2))), "half") == ([0], [8])


def test_a_said_spelling_decides_the_old_figure() -> None:
    """The groove's own spelling says what is skeleton, not the closest one: v3 leaves v1's kicks on 4 and 12."""
    source = _bar((0, 4, 5, 8, 12, 13), (2, 6, 10, 14), feel="d-beat", spelling="v3")
    assert _moved(source, "half") == ([0, 4, 12], [8])


def test_by_default_the_closest_spelling_is_the_old_figure() -> None:
    """v2 with one kick more, on 2 of its own, is still v2; that kick is a riff kick."""
    source = _bar((0, 5, 7, 8, 11, 13), (2, 6, 10, 14), feel="d-beat")
    assert _moved(source, "half") == ([0, 7], [8])


def test_riff_kicks_stay_on_backbeats_where_the_groove_has_kicks_under_them() -> None:
    """A groove that plays the kick under its own backbeats goes on doing so."""
    assert _moved(_bar((0, 3, 4, 8, 10, 12), (4, 12)), "double")[0] == [0, 3, 4, 8, 10, 12]


def test_riff_kicks_stay_on_backbeats_under_a_riff() -> None:
    """Where the part has a riff no riff kick goes."""
    after = set_feel(_bar((0, 2, 8, 10), (4, 12)), FeelChange("double", has_riff=True))
    assert sixteenths(after, "kick") == [0, 2, 4, 8, 10, 12]


@pytest.mark.parametrize("feel", ["quarter", "half", "double", "d-beat", "blast"])
def test_keep_changes_not_one_kick(feel: str) -> None:
    """Under keep the snare moves alone."""
    kicks = (0, 3, 8, 9, 10)
    source = _bar(kicks, (4, 12))
    after = set_feel(source, FeelChange(feel, kick="keep"))
    assert after.kick == source.bars_of(after.bars).kick


FIGURES = [
    ("quarter", [0]), ("half", [0]), ("full", [0, 8]), ("double", [0, 4, 8, 12]),
    ("d-beat", [0, 4, 5, 8, 12, 13]), ("blast", list(range(0, 16, 2))),
]  # fmt: skip


@pytest.mark.parametrize(("feel", "figure"), FIGURES)
def test_figure_leaves_the_skeleton_only(feel: str, figure: list[int]) -> None:
    """Under figure every riff kick goes, in the same feel too."""
    assert _moved(_bar(GALLOP, (4, 12)), feel, kick="figure")[0] == figure


def test_skeleton_strokes_that_stay_keep_their_level_and_kind() -> None:
    """A kick that is on the old and on the new skeleton is the same stroke."""
    source = groove("X-------x-------", "----x-------x---")
    kick = set_feel(source, FeelChange("double")).lane_on("kick")
    assert (kick.velocity[0], kick.kind[0]) == (114, 1)
    assert (kick.velocity[8], kick.kind[8]) == (94, 0)


def test_no_such_policy_is_an_error() -> None:
    """The error lists the policies."""
    with pytest.raises(MusicError, match="follow"):
        set_feel(_bar((0, 8), (4, 12)), FeelChange("half", kick="louder"))


RUNS = [
    ([0, 1, 2], 16, [0, 1, 2]),  # three sixteenths
    ([0, 2, 4], 16, [0, 2, 4]),  # three eighths
    ([0, 3, 6], 16, []),  # dotted eighths are further apart than an eighth
    ([0, 4, 8, 12], 16, []),  # quarters
    ([0, 1], 16, []),  # two are no run
    ([0, 2, 3], 16, []),  # unequal distances
    ([14, 0, 2], 16, [0, 2, 14]),  # over the bar line
    ([15, 0, 1, 8], 16, [0, 1, 15]),
    ([0, 2, 3, 4, 6], 16, [2, 3, 4]),
    ([0, 2, 4, 5, 6, 7], 16, [0, 2, 4, 5, 6, 7]),  # two runs that share a stroke
    (list(range(0, 16, 2)), 16, list(range(0, 16, 2))),
    ([], 16, []),
    ([5], 16, []),
    ([0, 1, 2], 12, [0, 1, 2]),  # eighth triplets
    ([0, 2, 4], 12, []),  # quarter triplets
]


@pytest.mark.parametrize(("struck", "grid", "expected"), RUNS)
def test_a_run_is_three_or_more_kicks_at_one_distance_of_an_eighth_or_less(
    struck: list[int], grid: int, expected: list[int]
) -> None:
    """Over the bar line too, in a loop of one bar of 4/4."""
    assert sorted(runs(struck, grid, Meter(4, 4).steps(grid))) == expected


def test_a_run_over_the_bar_line_is_no_skeleton() -> None:
    """14 15 | 0 is a run: the kick on beat 1 of bar 2 stays under quarter time, where 8 and 24 go."""
    source = groove(line_of((0, 8, 14, 15)) + line_of((0, 8)), line_of((4, 12)) * 2)
    after = set_feel(source, FeelChange("quarter", has_riff=True))
    assert sixteenths(after, "kick") == [0, 14, 15, 16]
