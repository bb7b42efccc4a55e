"""Statistics over long renders: what was asked is what is played (seeds fixed by the sheet)."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from grooveforge.core.arrange import arrange
from grooveforge.core.kit import SURFACE_CODES
from grooveforge.core.perform import Performance, perform, seconds_at
from grooveforge.project.sheets import song_from
from tests.sheet_parts import GHOSTED

SHEET = """
title = "Long Drift"
tempo = {tempo}
seed = {seed}
form = ["plain"]
{extra}

[defaults]
arrival = false

""" + GHOSTED + """
[parts.plain]
groove = "plain"
bars = {bars}
"""

KICK, SNARE, HAT = (SURFACE_CODES[name] for name in ("kick", "snare", "closed hi-hat"))
BANDS = {"accent": (105, 124), "normal": (85, 104), "tap": (60, 84), "ghost": (20, 45)}
"""Velocity bands (common practice)."""


def played(extra: str = "", bars: int = 128, tempo: int = 120, seed: int = 7) -> Performance:
    text = SHEET.format(tempo=tempo, seed=seed, extra=extra, bars=bars)
    return perform(arrange(song_from(text, "drift.toml")))


def off_ms(performance: Performance) -> NDArray[np.float64]:
    """How far each stroke stands off its grid place, in ms."""
    events = performance.events
    return 1000 * (seconds_at(performance, events.tick) - seconds_at(performance, events.tick - events.offset))


@pytest.mark.parametrize("asked", [2.0, 5.0, 9.0])
@pytest.mark.parametrize("tempo", [70, 120, 240])
def test_spread(asked: float, tempo: int) -> None:
    """The standard deviation over a section's strokes is the looseness asked for within 5 %, at every tempo."""
    off = off_ms(played(f"looseness = {asked}", tempo=tempo))
    assert float(off.std()) == pytest.approx(asked, rel=0.05)
    assert abs(float(off.mean())) < 0.2 * asked
    assert float(np.abs(off).max()) <= 3 * asked + 60_000 / tempo / 480  # bounded, then rounded to a tick


def test_default_is_on_the_grid() -> None:
    """Without looseness every stroke stands on its tick."""
    assert not played().events.offset.any()


def test_drift_has_a_long_memory() -> None:
    """Neighbouring strokes of a limb are off alike: lag-1 correlation is clearly positive (Hennig et al. 2011)."""
    performance = played("looseness = 6.0")
    off = off_ms(performance)[performance.events.surface == HAT]
    assert np.corrcoef(off[:-1], off[1:])[0, 1] > 0.3
    assert np.corrcoef(off[:-16], off[16:])[0, 1] > 0.05


def test_limbs_wander_together() -> None:
    """Kick and hand on one grid place are off alike (Fujii et al. 2011)."""
    performance = played("looseness = 6.0")
    events = performance.events
    off, place = off_ms(performance), events.tick - events.offset
    kick = dict(zip(place[events.surface == KICK].tolist(), off[events.surface == KICK].tolist()))
    hand = dict(zip(place[events.surface == HAT].tolist(), off[events.surface == HAT].tolist()))
    both = sorted(kick.keys() & hand.keys())
    assert len(both) > 300
    pairs = np.array([(kick[at], hand[at]) for at in both])
    assert 0.5 < np.corrcoef(pairs.T)[0, 1] < 1.0


def test_same_drift_at_every_tempo() -> None:
    """The same stroke is off by the same milliseconds at another tempo, to the rounding of a tick."""
    slow, fast = (off_ms(played("looseness = 5.0", bars=16, tempo=tempo)) for tempo in (100, 200))
    assert float(np.abs(slow - fast).max()) < 60_000 / 100 / 480


def test_bands_are_kept() -> None:
    """Shaped levels stay in the bands that the groove's marks say."""
    events = played().events
    snare = events.velocity[events.surface == SNARE]
    loud, soft = snare[snare > 60], snare[snare <= 60]
    assert (len(loud), len(soft)) == (256, 256)
    assert loud.min() >= 109 and loud.max() <= 119
    assert soft.min() >= 27 and soft.max() <= 37
    kick = events.velocity[events.surface == KICK]
    assert kick.min() >= 89 and kick.max() <= 99


def test_the_pulse_is_heard_in_the_hand() -> None:
    """Hi-hats on the beat stand at 100 and those between at 88, each give or take 3."""
    events = played().events
    hat = events.surface == HAT
    beat = events.tick[hat] % 480 == 0
    strong, weak = events.velocity[hat][beat], events.velocity[hat][~beat]
    assert strong.min() >= 97 and strong.max() <= 103
    assert weak.min() >= 85 and weak.max() <= 91
    assert float(strong.mean()) == pytest.approx(100, abs=0.5)
    assert float(weak.mean()) == pytest.approx(88, abs=0.5)


def test_no_three_equal_neighbours() -> None:
    """No three strokes of a surface in a row have one velocity."""
    events = played(bars=500).events
    for code in np.unique(events.surface):
        line = events.velocity[events.surface == code]
        assert not ((line[2:] == line[1:-1]) & (line[1:-1] == line[:-2])).any()


def test_flat_levels() -> None:
    """`levels = "flat"` writes exactly 114, 94, 72, 32."""
    events = played('levels = "flat"').events
    assert set(events.velocity.tolist()) <= {114, 94, 72, 32}
    assert set(events.velocity[events.surface == SNARE].tolist()) == {114, 32}
