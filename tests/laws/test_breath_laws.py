"""Laws of played songs: levels, looseness and swing over tempi, seeds and grooves (house rules)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.core import levels
from grooveforge.core.arrange import arrange
from grooveforge.core.kit import ACCENT, GHOST, NORMAL, SURFACE_CODES
from grooveforge.core.perform import Performance, perform
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


BANDS = {ACCENT: (105, 124), NORMAL: (85, 104), GHOST: (20, 45)}
"""Lowest and highest velocity by the flat level of the band (common practice)."""


def sheet(tempo: int, seed: int, looseness: float, swing: str = "1:1", level: str = "+1", bars: int = 4) -> str:
    return SHEET.format(tempo=tempo, seed=seed, looseness=looseness, swing=swing, level=level, bars=bars)


def play(tempo: int, seed: int, looseness: float, swing: str = "1:1", level: str = "+1", bars: int = 4) -> Performance:
    text = sheet(tempo, seed, looseness, swing, level, bars)
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


STEPS = st.sampled_from(["-2", "-1", "0", "+1", "+2"])


@given(SEEDS, STEPS)
def test_bands_hold_at_every_level(seed: int, level: str) -> None:
    """A level never takes a stroke out of the band that its mark says; only the peak's accents pass 124."""
    performance = play(120, seed, 0.0, level=level)
    shaped, written = (
        performance.events,
        perform(arrange(song_from(sheet(120, seed, 0.0, level=level), "song.toml")), plain=True).events,
    )
    assert np.array_equal(shaped.tick, written.tick)
    peak = {"-2": 3, "-1": 3, "0": None, "+1": 1, "+2": 1}[level]
    section = np.searchsorted([tick for tick, _ in performance.markers], written.tick, side="right") - 1
    for flat, (low, high) in BANDS.items():
        rows = written.velocity == flat
        highest = np.where(section[rows] == peak, levels.PEAK, high) if flat == ACCENT else high
        assert rows.any()
        assert (shaped.velocity[rows] >= low).all() and (shaped.velocity[rows] <= highest).all()


@given(SEEDS, STEPS, LOOSE, SWINGS)
def test_no_three_equal_neighbours(seed: int, level: str, loose: float, swing: str) -> None:
    """No three strokes of a surface in a row are equal, grace strokes and the lines between sections too."""
    events = play(140, seed, loose, swing, level).events
    for name in ("kick", "snare", "closed hi-hat", "ride"):
        line = events.velocity[events.surface == SURFACE_CODES[name]]
        assert line.size > 20
        assert not ((line[2:] == line[1:-1]) & (line[1:-1] == line[:-2])).any()


@given(SEEDS, STEPS, LOOSE)
def test_flat_levels_are_exact(seed: int, level: str, loose: float) -> None:
    """114, 94 and 32, whatever level, seed and looseness."""
    text = sheet(140, seed, loose, level=level).replace("tempo =", 'levels = "flat"\ntempo =', 1)
    events = perform(arrange(song_from(text, "song.toml"))).events
    kick, snare = (events.velocity[events.surface == SURFACE_CODES[name]] for name in ("kick", "snare"))
    assert set(kick.tolist()) == {94}  # an arrival leaves the groove's own kick on its 1 as it is
    assert set(snare.tolist()) == {114, 94, 32}


@given(st.integers(20, 400), SEEDS, st.sampled_from([0.5, 3.0]))
def test_looseness_is_the_same_in_ms_at_every_tempo(tempo: int, seed: int, loose: float) -> None:
    """A stroke is off by what it is off at 120 bpm, give or take the rounding to a tick at both tempi."""
    off = []
    for bpm in (120, tempo):
        events = play(bpm, seed, loose).events
        rows = events.surface != SURFACE_CODES["snare"]  # its grace strokes are 30 ms before, rounded once more
        off.append(
            (events.offset[rows] * 60_000 / 480 / bpm, (events.tick - events.offset)[rows], events.surface[rows])
        )
    (one, one_place, one_surface), (two, two_place, two_surface) = off
    first, second = np.lexsort((one_surface, one_place)), np.lexsort((two_surface, two_place))
    assert one_place[first].tolist() == two_place[second].tolist()
    rounding = 0.5 * 60_000 / 480 * (1 / 120 + 1 / tempo)
    assert float(np.abs(one[first] - two[second]).max()) <= rounding + 1e-9


@given(SEEDS)
def test_two_seeds_play_the_same_strokes(seed: int) -> None:
    """Chance has levels and looseness in its hands, never which stroke is played."""
    one, two = play(120, seed, 0.0).events, play(120, seed + 1, 0.0).events
    assert np.array_equal(one.tick, two.tick) and np.array_equal(one.surface, two.surface)
    assert not np.array_equal(one.velocity, two.velocity)


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
