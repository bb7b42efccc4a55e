"""Endings: one or two strokes of the last beats move (house rules of the song sheet)."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import numpy as np

from grooveforge.core.ending import Endings, Move, Tail, moved, moves
from grooveforge.core.groove import Groove
from grooveforge.core.kit import Kind
from tests.bars import groove, sixteenths

QUARTER = Fraction(1, 4)
TWO_BEATS = (QUARTER, QUARTER)

PLAIN = groove("x-----x-x-------", "----X-------X---", "x-x-x-x-x-x-x-x-")


def ended(source: Groove, statement: int, seed: int = 1, part: str = "chorus") -> Groove:
    return Endings(seed).ending(part, statement, Tail(source, TWO_BEATS))


def strokes(of: Groove) -> dict[str, tuple[Fraction, ...]]:
    return {name: tuple(sixteenths(of, name)) for name in ("kick", "snare", "hand")}


def test_the_first_statement_keeps_the_groove() -> None:
    assert strokes(ended(PLAIN, 1)) == strokes(PLAIN)


def test_a_return_moves_one_or_two_strokes_of_kick_or_snare() -> None:
    """The hand stays, as many strokes are played, at most two places of kick and snare are new."""
    for statement in range(2, 12):
        now = strokes(ended(PLAIN, statement))
        assert now["hand"] == strokes(PLAIN)["hand"]
        new = {(name, place) for name in ("kick", "snare") for place in now[name]}
        old = {(name, place) for name in ("kick", "snare") for place in strokes(PLAIN)[name]}
        assert len(new) == len(old)
        assert 1 <= len(new - old) <= 2


def test_what_may_move_where() -> None:
    """Of kick 8 and snare 12 in eighths: the kick to 10, 12, 14 (its beat or the next), the snare to 14 alone."""
    singles = {row[0] for row in moves(Tail(PLAIN, TWO_BEATS))[0] if len(row) == 1}
    assert singles == {Move("kick", 8, 10), Move("kick", 8, 12), Move("kick", 8, 14), Move("snare", 12, 14)}


def test_a_stroke_does_not_leave_the_ending() -> None:
    """In an ending of one beat only the last beat's strokes move, and only inside it."""
    rows = moves(Tail(PLAIN, (QUARTER,)))
    assert {move.step for tier in rows for row in tier for move in row if move.lane != "the hand"} == {12}
    assert {move.to for tier in rows for row in tier for move in row} <= {12, 13, 14, 15}


def test_sixteenths_come_after_the_groove_s_own_eighths() -> None:
    """A groove in eighths moves to eighths as long as it can, then to sixteenths."""
    tiers = moves(Tail(PLAIN, TWO_BEATS))
    assert all(move.to % 2 == 0 for row in tiers[0] for move in row)
    assert any(move.to % 2 for row in tiers[1] for move in row)


def test_every_return_is_unlike_all_before() -> None:
    """No ending comes twice before all have been used; the returns after that differ from the one before."""
    assert not moves(Tail(groove("x---------------"), (QUARTER,)))
    tail = Tail(groove("------------x---", None, None), (QUARTER,))
    count = sum(len(tier) for tier in moves(tail))
    assert count == 3  # to 13, 14, 15
    endings = Endings(7)
    kicks = [strokes(endings.ending("a", number, tail))["kick"] for number in range(1, 2 * count + 2)]
    assert len(set(kicks[: count + 1])) == count + 1
    assert all(one != two for one, two in pairwise(kicks))


def test_a_groove_without_moves_keeps_its_own() -> None:
    """A full lane has no free place."""
    source = groove("x" * 16, "x" * 16, "x" * 16)
    assert ended(source, 3) == source


def test_the_hand_moves_only_where_kick_and_snare_cannot() -> None:
    source = groove("x" * 16, "x" * 16, "x---x---x---x---")
    now = strokes(ended(source, 2))
    assert now["kick"] == strokes(source)["kick"]
    assert now["hand"] != strokes(source)["hand"]
    assert len(now["hand"]) == 4


def test_a_kick_that_follows_a_riff_stays() -> None:
    """The feet keep the riff's attacks; the snare moves to 4&, 4e, 4a, then the hand."""
    for statement in range(2, 5):
        after = Endings(1).ending("a", statement, Tail(PLAIN, TWO_BEATS, kick_stays=True))
        assert sixteenths(after, "kick") == sixteenths(PLAIN, "kick")
        assert sixteenths(after, "snare") != sixteenths(PLAIN, "snare")


def test_a_choice_depends_on_seed_part_and_number_alone() -> None:
    """Asked for at once or after the statements before it, an ending is the same; other seeds and parts differ."""
    together = Endings(1)
    one_by_one = [strokes(together.ending("chorus", number, Tail(PLAIN, TWO_BEATS))) for number in range(1, 9)]
    assert one_by_one == [strokes(ended(PLAIN, number)) for number in range(1, 9)]
    assert one_by_one != [strokes(ended(PLAIN, number, seed=2)) for number in range(1, 9)]
    assert one_by_one != [strokes(ended(PLAIN, number, part="verse")) for number in range(1, 9)]


def test_a_moved_stroke_keeps_its_level_and_kind() -> None:
    source = groove(None, "------------f---", None)
    after = moved(source, (Move("snare", 12, 14),))
    lane = after.lane_on("snare")
    assert lane.struck.tolist() == [14]
    assert (lane.velocity[14], Kind(int(lane.kind[14]))) == (source.lane_on("snare").velocity[12], Kind.FLAM)


def test_two_moves_in_one_lane() -> None:
    source = groove("--------x---x---", None, None)
    after = moved(source, (Move("kick", 8, 10), Move("kick", 12, 14)))
    assert np.array_equal(after.lane_on("kick").struck, [10, 14])


def test_triplets_move_to_triplets() -> None:
    """A groove in eighth triplets moves to triplets first."""
    source = groove("x--x--x-x---", "---x-----x--", "x--x--x--x--", grid=12)
    first = moves(Tail(source, TWO_BEATS))[0]
    assert {move.to for row in first for move in row} <= set(range(6, 12))
    after = Endings(1).ending("a", 2, Tail(source, TWO_BEATS))
    assert strokes(after) != strokes(source)
    assert all((place * 12 / 16).denominator == 1 for name in ("kick", "snare") for place in strokes(after)[name])
