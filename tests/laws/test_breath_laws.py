"""Laws of played songs: levels, looseness and swing over tempi, seeds and grooves (house rules)."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.core import levels
from grooveforge.core.arrange import arrange
from grooveforge.core.kit import SURFACE_CODES
from grooveforge.core.meter import Meter, parse_meter
from grooveforge.core.perform import Performance, perform
from grooveforge.core.swing import pulses, swung
from grooveforge.project.sheets import song_from

SHEET = """
tempo = {tempo}
seed = {seed}
looseness = {looseness}
swing = "{swing}"
form = ["a", {{ part = "a", level = "{level}" }}, "b", "a"]
[grooves.one]
tab = '''
HH x-x-x-x-x-xxx-x-
SN ----f--g----O-g-
BD o-ooo-o-o-oo--o-
'''
[parts.a]
groove = "one"
bars = 4
[parts.b]
groove = "one"
bars = {bars}
feel = "half"
timekeeper = "ride"
"""


def play(tempo: int, seed: int, looseness: float, swing: str = "1:1", level: str = "+1", bars: int = 4) -> Performance:
    text = SHEET.format(tempo=tempo, seed=seed, looseness=looseness, swing=swing, level=level, bars=bars)
    return perform(arrange(song_from(text, "song.toml")))


TEMPI = st.sampled_from([20, 60, 119, 200, 400])
SEEDS = st.integers(0, 10_000)
LOOSE = st.sampled_from([0.0, 3.0, 8.5, 15.0])
SWINGS = st.sampled_from(["1:1", "3:2", "2:1", "3:1"])


@given(TEMPI, SEEDS, LOOSE, SWINGS)
def test_nothing_before_tick_0_and_order_within_a_surface(tempo: int, seed: int, loose: float, swing: str) -> None:
    """No event stands before tick 0, and looseness never changes the order of a surface's strokes."""
    performance = play(tempo, seed, loose, swing)
    events = performance.events
    assert int(events.tick.min()) >= 0
    straight = play(tempo, seed, 0.0, swing).events
    for name in ("kick", "closed hi-hat", "ride"):
        code = SURFACE_CODES[name]
        assert (events.surface == code).sum() == (straight.surface == code).sum()
        places = (events.tick - events.offset)[events.surface == code]
        assert (np.diff(places) > 0).all()


@given(TEMPI, SEEDS, LOOSE)
def test_arrivals_stand_exactly(tempo: int, seed: int, loose: float) -> None:
    """Crash and kick of an arrival are on the section's first tick whatever the looseness."""
    performance = play(tempo, seed, loose)
    events = performance.events
    starts = [tick for tick, _ in performance.markers]
    crashes = events.tick[np.isin(events.surface, [SURFACE_CODES["crash"], SURFACE_CODES["second crash"]])]
    assert crashes.tolist() == starts
    kicks = set(events.tick[events.surface == SURFACE_CODES["kick"]].tolist())
    assert set(starts) <= kicks


@given(SEEDS, LOOSE)
def test_another_section_s_change_leaves_a_section_alone(seed: int, loose: float) -> None:
    """Two more bars in part b leave every statement of part a as it was, levels and offsets too."""
    one, two = play(140, seed, loose, bars=4), play(140, seed, loose, bars=6)
    for number in (0, 1, 3):
        cut = []
        for made in (one, two):
            edges = [tick for tick, _ in made.markers] + [made.end]
            cut.append(made.between(edges[number], edges[number + 1]).events)
        assert all(np.array_equal(left, right) for left, right in zip(*cut))


@given(SEEDS, st.sampled_from(["-2", "-1", "0", "+1", "+2"]))
def test_bands_hold_at_every_level(seed: int, level: str) -> None:
    """A level moves strokes by 6 a step and never out of their band; only the peak's accents pass 124."""
    velocity = play(120, seed, 0.0, level=level).events.velocity
    allowed = {*range(20, 46), *range(60, 128)}
    assert set(velocity.tolist()) <= allowed
    if level in ("-2", "-1", "0"):
        # The peak is then a section at level 0, or there is none.
        assert int(velocity.max()) <= 127
    else:
        assert int(velocity.max()) <= levels.PEAK


@pytest.mark.parametrize(("swing", "late"), [("1:1", 240), ("3:2", 288), ("2:1", 320), ("3:1", 360)])
def test_swing_is_the_ratio_of_the_pulse_s_halves(swing: str, late: int) -> None:
    """The off-beat eighth stands where the long half ends, exactly where the division allows."""
    ratio = Fraction(*(int(part) for part in swing.split(":")))
    beat = np.array([0, 240, 480])
    assert swung(beat, Meter(4, 4), ratio, 480).tolist() == [0, late, 480]


@given(
    st.sampled_from(["4/4", "3/4", "2/2", "5/4", "7/8", "6/8", "12/8", "11/8"]),
    st.fractions(1, 3, max_denominator=12),
)
def test_swing_keeps_order_and_pulses(meter: str, ratio: Fraction) -> None:
    """Swung ticks never change their order and what stands on a pulse or bar line stays there."""
    metre = parse_meter(meter)
    ticks = np.arange(0, int(metre.quarters * 480) + 1, 10)
    moved = swung(ticks, metre, ratio, 480)
    assert (np.diff(moved) >= 0).all()
    fixed = [int(4 * 480 * start) for start, _ in pulses(metre)] + [0, int(metre.quarters * 480)]
    assert swung(np.array(fixed), metre, ratio, 480).tolist() == fixed


def test_groups_of_three_stay_straight() -> None:
    """In compound time nothing swings; in 7/8 the twos do and the three does not."""
    assert pulses(parse_meter("12/8")) == ()
    assert pulses(parse_meter("7/8")) == ((Fraction(0), Fraction(1, 4)), (Fraction(1, 4), Fraction(1, 4)))


def test_the_right_side_leads_a_run() -> None:
    """In a run the leading side's strokes stand 4 above the other's on average."""
    text = """
form = ["run"]
[defaults]
arrival = false
[grooves.run]
tab = '''
SN ----O-------O---
BD oooooooooooooooo
'''
[parts.run]
groove = "run"
bars = 64
"""
    events = perform(arrange(song_from(text, "run.toml"))).events
    kick = events.surface == SURFACE_CODES["kick"]
    velocity, step = events.velocity[kick].astype(float), events.tick[kick] // 120
    lead, other = velocity[step % 2 == 0], velocity[step % 2 == 1]
    assert float(lead.mean() - other.mean()) == pytest.approx(4, abs=0.5)


def test_a_crescendo_rises_and_the_last_peak_is_loudest() -> None:
    """`{ from, to }` moves the level over the section; accents of the highest section may pass 124."""
    text = SHEET.format(tempo=120, seed=3, looseness=0, swing="1:1", level="0", bars=16).replace(
        'feel = "half"', 'feel = "half"\nlevel = { from = "-2", to = "+2" }'
    )
    performance = perform(arrange(song_from(text, "song.toml")))
    start, end = 8 * 1920, 24 * 1920
    part = performance.between(start, end).events
    kick = part.velocity[part.surface == SURFACE_CODES["kick"]].astype(float)
    quarter = len(kick) // 4
    assert kick[-quarter:].mean() - kick[:quarter].mean() >= 8
