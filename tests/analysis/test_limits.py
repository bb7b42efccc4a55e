"""The necessary limits: quick, for many candidates, and never stricter than the full search."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.analysis.limits import most_strokes, possible
from grooveforge.analysis.playability import check_groove
from grooveforge.core.groove import Groove, Lane
from grooveforge.core.kit import NORMAL, Kind
from grooveforge.core.meter import Meter
from grooveforge.core.profile import EXPERIENCED, EXTREME, LEARNING

SURFACES = ("kick", "snare", "closed hi-hat", "crash", "floor tom", "pedal hi-hat", "note 61")


def of(**rows: str) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    """One candidate; f is a flam."""
    steps = len(next(iter(rows.values())))
    named = {name.replace("_", " ").replace("hi hat", "hi-hat"): marks for name, marks in rows.items()}
    cells = [["-xf".index(mark) for mark in named.get(name, "-" * steps)] for name in SURFACES]
    return np.array([cells], np.uint8)


def passes(bpm: float = 120, **rows: str) -> bool:
    return bool(possible(of(**rows), SURFACES, 60 / bpm / 4, EXPERIENCED)[0])


def test_two_hands_have_two_strokes_an_instant() -> None:
    """A third hand, or a flam beside another stroke, cannot be; feet come on top."""
    assert passes(snare="x---", closed_hi_hat="x---", kick="x---", pedal_hi_hat="x---")
    assert not passes(snare="x---", closed_hi_hat="x---", crash="x---")
    assert not passes(snare="f---", closed_hi_hat="x---")
    assert passes(snare="f---")


def test_rates_of_hands_and_feet() -> None:
    """Sixteenth kicks up to 195, and 230 for nobody; the pedal cannot join in."""
    assert passes(195, kick="x" * 32)
    assert not passes(230, kick="x" * 32)
    assert not passes(190, kick="x" * 32, pedal_hi_hat="x---" * 8)
    assert passes(190, closed_hi_hat="x" * 32)
    assert not passes(190, closed_hi_hat="x" * 32, snare="x-x-" * 8)


def test_unknown_notes_have_no_say() -> None:
    """What no limb strikes counts for nothing."""
    row = of(snare="x---", closed_hi_hat="x---")
    row[0, SURFACES.index("note 61")] = 1
    assert possible(row, SURFACES, 0.125, EXPERIENCED).all()


def test_many_candidates_at_once_are_as_one_by_one() -> None:
    """Each row is judged alone."""
    draw = np.random.default_rng(3)
    rows = (draw.random((200, len(SURFACES), 16)) < 0.1).astype(np.uint8)
    together = possible(rows, SURFACES, 0.11, LEARNING)
    alone = [bool(possible(rows[at : at + 1], SURFACES, 0.11, LEARNING)[0]) for at in range(200)]
    assert together.tolist() == alone
    assert 0 < together.sum() < 200


def test_a_burst_is_what_a_limb_may_be_ahead() -> None:
    """Four strokes at 1.5 times the limit are allowed, five need the time of a held run less one stroke."""
    unit = 1 / EXPERIENCED.hand
    assert most_strokes(0.0, EXPERIENCED.hand, EXPERIENCED) == 1
    assert most_strokes(3 * unit / 1.5, EXPERIENCED.hand, EXPERIENCED) == 4
    assert most_strokes(10 * unit, EXPERIENCED.hand, EXPERIENCED) == 12


def groove_of(cells: list[tuple[int, ...]]) -> Groove:
    """A bar of 16 steps from counts by surface."""
    lanes = {}
    for name, row in zip(SURFACES, cells):
        strokes = np.array(row, np.uint8)
        kinds = np.where(strokes == 2, int(Kind.FLAM), 0).astype(np.uint8)
        lanes[name] = Lane(np.where(strokes > 0, NORMAL, 0).astype(np.uint8), kinds, np.zeros(16))
    return Groove(Meter(4, 4), 16, 1, kick=lanes.pop("kick"), snare=lanes.pop("snare"), others=tuple(lanes.items()))


sparse = st.lists(st.sampled_from([0, 0, 0, 0, 1, 1, 2]), min_size=16, max_size=16).map(tuple)
none = st.just((0,) * 16)


@given(
    st.tuples(sparse, sparse, sparse, none | sparse, none | sparse, none | sparse, none),
    st.sampled_from([70, 110, 150, 190]),
    st.sampled_from([LEARNING, EXPERIENCED, EXTREME]),
    st.booleans(),
)
def test_what_can_be_played_passes(cells: tuple[tuple[int, ...], ...], bpm: int, who: object, single: bool) -> None:
    """No candidate that the full search can play is refused."""
    from dataclasses import replace

    from grooveforge.core.profile import Profile

    assert isinstance(who, Profile)
    profile = replace(who, double_pedal=not single)
    # A flam is one on a drum; on a cymbal or pedal it is a plain stroke.
    rows = [row if name in ("snare", "floor tom") else tuple(min(n, 1) for n in row) for name, row in
            zip(SURFACES, cells)]  # fmt: skip
    groove = groove_of(rows)
    if check_groove(groove, bpm, profile, remedies=False).playable:
        assert possible(np.array([rows], np.uint8), SURFACES, 60 / bpm / 4, profile).all()
