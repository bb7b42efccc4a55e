"""How long a part can be held: leaky sums with time constants of 10 and 60 s (house rule)."""

from __future__ import annotations

from math import isclose

import pytest

from grooveforge.analysis.endurance import TANKS
from grooveforge.analysis.playability import Checked, check_groove
from grooveforge.core.profile import EXPERIENCED, LEARNING
from tests.analysis.test_playability import groove

SHORT, LONG = TANKS
LIMIT, COMFORT = EXPERIENCED.feet, EXPERIENCED.feet * EXPERIENCED.comfort


def kicks(bars: int, bpm: float, every: str = "oooooooooooooooo") -> Checked:
    return check_groove(groove([{"BD": every}] * bars), bpm, EXPERIENCED, remedies=False)


def test_the_time_constants() -> None:
    """Ten and sixty seconds."""
    assert (SHORT.seconds, LONG.seconds) == (10, 60)


def test_what_is_comfortable_lasts_for_ever() -> None:
    """Up to 0.8 of the limit nothing fills."""
    assert SHORT.lasts(COMFORT, LIMIT, COMFORT) is None
    assert LONG.lasts(COMFORT, LIMIT, COMFORT) is None


def test_the_limit_is_held_for_a_minute() -> None:
    """And 1.2 times the limit for ten seconds (house rules)."""
    held = LONG.lasts(LIMIT, LIMIT, COMFORT)
    assert held is not None and isclose(held, 60)
    held = SHORT.lasts(1.2 * LIMIT, LIMIT, COMFORT)
    assert held is not None and isclose(held, 10)


def test_faster_is_held_for_less_long() -> None:
    """The time falls as the rate rises."""
    times = [LONG.lasts(LIMIT * share, LIMIT, COMFORT) for share in (0.95, 1.0, 1.05, 1.1)]
    known = [time for time in times if time is not None]
    assert len(known) >= 3
    assert known == sorted(known, reverse=True)


@pytest.mark.parametrize("bars", [2, 60])
def test_a_long_run_tires_the_feet(bars: int) -> None:
    """Sixteenth kicks at 195 are the limit: a few bars are fine, two minutes of them are not."""
    feet = kicks(bars, 195).endurance.feet
    assert isclose(feet.fastest, 13, rel_tol=0.001)
    assert (feet.tired_bar is not None) == (bars == 60)
    if feet.tired_bar is not None:  # after a minute: a bar lasts 1.23 s
        assert 46 <= feet.tired_bar <= 54


def test_rests_let_the_sums_leak() -> None:
    """The same run with every other bar at rest never fills them."""
    run = groove([{"BD": "oooooooooooooooo"}, {"BD": "o---------------"}] * 30)
    assert check_groove(run, 195, EXPERIENCED, remedies=False).endurance.feet.tired_bar is None


def test_hands_count_both_hands() -> None:
    """A roll of 13 a second is beyond the comfort of two hands of 6.7."""
    hands = check_groove(groove([{"SN": "o" * 16}] * 2), 195, EXPERIENCED).endurance.hands
    assert isclose(hands.fastest, 13, rel_tol=0.001)
    assert hands.lasts is not None


def test_the_fields_of_the_contract() -> None:
    """Endurance of hands and feet as plain values."""
    facts = check_groove(groove([{"BD": "o" * 16}] * 4), 130, LEARNING).endurance.facts()
    assert set(facts) == {"hands", "feet"}
