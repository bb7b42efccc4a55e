"""Mixing: every stroke at its sample, chokes, no clipping, and a level that no song exceeds."""

from __future__ import annotations

from itertools import product
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest

from grooveforge.core.arrange import arrange
from grooveforge.core.kit import SURFACES, Kind
from grooveforge.core.perform import Performance, perform
from grooveforge.formats.midi import song_midi
from grooveforge.project.previewing import riff_sounds
from grooveforge.project.sheets import arranged, read_sheet, song_from
from grooveforge.sound import mix as mixing
from grooveforge.sound.loudness import song_level, song_loudness
from grooveforge.sound.mix import limited, mix
from grooveforge.sound.rules import CEILING, KNEE, RATE
from grooveforge.sound.sounds import performance_sounds, placed
from tests.read_back import struck_seconds
from tests.sound.measures import Samples
from tests.sound.songs import song

SONGS = sorted((Path(__file__).parents[2] / "patterns" / "songs").glob("*.toml"))

FULL_BLAST = """
title = "Kiln Storm"
tempo = 280
form = ["all", { part = "all", timekeeper = "china" }]
[parts.all]
groove = "blast"
bars = 16
[grooves.blast]
tab = '''
CC XXXXXXXXXXXXXXXX
SN OOOOOOOOOOOOOOOO
BD OOOOOOOOOOOOOOOO
'''
"""


def level(samples: Samples, second: float, lasts: float = 0.01) -> float:
    """Power in decibels around a moment."""
    begin = round(second * RATE)
    part = samples[begin : begin + round(lasts * RATE)].astype(np.float64)
    return float(10 * np.log10((part**2).mean() + 1e-20))


def demo(path: Path) -> Performance:
    return perform(arranged(read_sheet(str(path))))


# -- time ------------------------------------------------------------------------------------------------


def onsets_of(samples: Samples, quiet: float = 1e-6) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Seconds at which sound begins after at least 20 ms of silence."""
    loud = np.flatnonzero(np.abs(samples).max(axis=1) > quiet)
    begins = np.concatenate(([True], np.diff(loud) > round(0.020 * RATE)))
    return loud[begins] / RATE


def test_onsets_stand_where_the_midi_has_them() -> None:
    """Measured in the mix, every stroke begins within 1 ms of the time at which mido plays its note, across
    changes of tempo and off the grid."""
    ticks = [0, 480, 961, 1437, 1920, 2403, 2880, 3359, 3840, 4320, 5003]
    made = song(
        [(tick, "closed hi-hat", 110) for tick in ticks], end=5760, tempos={0: 97, 1920: 133, 3840: 60}
    )
    found = onsets_of(mix(made))
    wanted = [second for second, _, _ in struck_seconds(song_midi(made, "onsets").data)]
    assert len(found) == len(wanted) == len(ticks)
    assert np.abs(found - np.array(wanted)).max() < 0.001


def test_onsets_of_a_demo_song() -> None:
    """In a full mix: what a stroke adds - the mix with it less the mix without it - begins within 1 ms of the time
    at which mido plays it, for kicks, snares and cymbals through eight bars."""
    made = demo(SONGS[0]).between(4 * 1920, 12 * 1920)
    wanted = sorted(second for second, _, _ in struck_seconds(song_midi(made, "demo").data))
    assert len(wanted) == len(made)
    sounds = performance_sounds(made)
    whole = mix(made)
    for row in range(5, len(made), 5):
        kept = np.arange(len(made)) != row
        without = mix(sounds.rows(kept), end=len(whole) / RATE)
        length = min(len(whole), len(without))
        added = np.flatnonzero(np.abs(whole[:length] - without[:length]).max(axis=1) > 1e-5)
        assert abs(added[0] / RATE - wanted[row]) < 0.001, row


def test_sample_0_is_tick_0() -> None:
    """A stroke on tick 0 begins with the file, and everything rings out behind the last bar line."""
    samples = mix(song([(0, "crash", 120)]))
    assert np.abs(samples[1:60]).max() > 1e-4
    assert len(samples) > 2.2 * RATE
    assert np.abs(samples[-1]).max() < 1e-5


def test_speed() -> None:
    """At half the speed strokes stand twice as far apart, each as it was."""
    made = song([(0, "kick", 120), (960, "snare", 120)])
    normal, slow = mix(made), mix(made, speed=0.5)
    assert np.allclose(normal[: RATE // 2], slow[: RATE // 2], atol=1e-6)
    assert np.allclose(normal[RATE : RATE + 9000], slow[2 * RATE : 2 * RATE + 9000], atol=1e-5)


def test_blocks_leave_no_seams(monkeypatch: pytest.MonkeyPatch) -> None:
    """The mix is the same whatever the size of its blocks."""
    made = demo(SONGS[1]).between(0, 1920 * 8)
    whole = mix(made)
    monkeypatch.setattr(mixing, "BLOCK", 4096)
    assert np.abs(mix(made) - whole).max() < 1e-5


# -- chokes ----------------------------------------------------------------------------------------------


def fall_after(made: Performance, alone: Performance, moment: float) -> float:
    """By how many decibels what rings has fallen 60 ms after a moment, beyond what it falls by itself."""
    return level(mix(alone), moment + 0.06) - level(mix(made) - _only(made, moment), moment + 0.06)


def _only(made: Performance, moment: float) -> Samples:
    """The strokes that begin at or behind a moment, in a buffer as long as the whole."""
    sounds = performance_sounds(made)
    late = sounds.seconds >= moment - 1e-6
    length = len(mix(made))
    cut = sounds.rows(late)
    variants = placed(sounds, RATE).variant[late]
    assert not variants.any(), "a stroke alone takes the first variant"
    made_late = mix(cut)
    buffer = np.zeros((length, 2), np.float32)
    buffer[: len(made_late)] = made_late[:length]
    return buffer


@pytest.mark.parametrize("by", ["closed hi-hat", "pedal hi-hat", "half-open hi-hat"])
def test_hi_hats_choke_each_other(by: str) -> None:
    """An open hi-hat that another stroke on the hi-hat stops is 20 dB down within 60 ms, beyond its own decay."""
    ringing = song([(0, "open hi-hat", 110)])
    stopped = song([(0, "open hi-hat", 110), (96, by, 30)])
    moment = 0.1
    assert fall_after(stopped, ringing, moment) >= 20


def test_a_hat_does_not_choke_a_ride() -> None:
    """A ride rings on through a hi-hat."""
    ringing = song([(0, "ride", 110)])
    both = song([(0, "ride", 110), (96, "closed hi-hat", 30)])
    assert abs(fall_after(both, ringing, 0.1)) < 0.5


def test_choked_strokes_end_after_an_eighth() -> None:
    """A choked crash rings for an eighth and is then 20 dB down within 60 ms; an open one rings on."""
    eighth = 0.25
    free, choked = mix(song([(0, "crash", 110)])), mix(song([(0, "crash", 110, Kind.CHOKE)]))
    assert np.allclose(free[: round(eighth * RATE) - 2], choked[: round(eighth * RATE) - 2], atol=1e-6)
    assert level(free, eighth + 0.06) - level(choked, eighth + 0.06) >= 20
    assert np.abs(choked[round(0.4 * RATE) :]).max() < 1e-6
    assert np.abs(free[round(0.4 * RATE) :]).max() > 0.01


def test_grace_strokes_and_rolls_stay_whole() -> None:
    """Strokes of one surface closer than 30 ms sound all; the fifth lets the first go."""
    made = song([(120 * n, "snare", 100) for n in range(5)])
    release = placed(performance_sounds(made), RATE).release
    at = placed(performance_sounds(made), RATE).at
    assert release[0] == at[4]
    assert (release[1:] > 1 << 40).all()


# -- level -----------------------------------------------------------------------------------------------


def decibels(samples: Samples) -> float:
    return float(20 * np.log10(np.abs(samples).max() + 1e-12))


@pytest.mark.parametrize("path", SONGS, ids=[path.stem for path in SONGS])
def test_demo_songs(path: Path) -> None:
    """Peak at or below -1 dBFS, -16 LUFS or softer but not by much, no DC, the first sound no louder than the rest."""
    samples = mix(demo(path))
    assert decibels(samples) <= -1
    loudness = pyloudnorm.Meter(RATE).integrated_loudness(samples.astype(np.float64))
    assert -24 < loudness <= -16
    assert np.abs(samples.mean(axis=0)).max() < 1e-3
    first = round(0.25 * RATE)
    assert decibels(samples[:first]) <= decibels(samples[first:])


def test_the_densest_song() -> None:
    """Sixteenths of crash or china, snare and kick at 280, all accents: still -16 LUFS and -1 dBFS."""
    made = perform(arrange(song_from(FULL_BLAST, "kiln-storm.toml")))
    samples = mix(made)
    assert decibels(samples) <= -1
    assert pyloudnorm.Meter(RATE).integrated_loudness(samples.astype(np.float64)) <= -16
    assert song_level(performance_sounds(made)) < 0.6


@pytest.mark.parametrize("path", SONGS, ids=[path.stem for path in SONGS])
def test_loudness_is_known_beforehand(path: Path) -> None:
    """What is counted from the voices is within 1 LU of what the library measures in the mix at full level."""
    made = demo(path)
    expected = song_loudness(placed(performance_sounds(made), RATE))
    measured = pyloudnorm.Meter(RATE).integrated_loudness(mix(made).astype(np.float64))
    assert song_level(performance_sounds(made)) == 1.0
    assert measured == pytest.approx(expected, abs=1.0)


def test_no_pile_clips() -> None:
    """Every surface at once at velocity 127 stays below -1 dBFS, and is no flat top."""
    pile = [(480 * beat, row.name, 127) for beat, row in product(range(4), SURFACES)]
    samples = mix(song(pile))
    assert decibels(samples) <= -1
    assert (np.abs(samples) >= np.abs(samples).max() - 1e-6).mean() < 0.001


def test_the_limiter_bends_and_never_breaks() -> None:
    """Below the knee nothing changes; above it levels still rise, up to a ceiling under -1 dBFS."""
    ramp = np.linspace(-4, 4, 8001, dtype=np.float32).reshape(-1, 1)
    made = limited(ramp.copy())
    inside = np.abs(ramp) <= KNEE
    assert np.array_equal(made[inside], ramp[inside])
    assert np.all(np.diff(made[:, 0]) >= 0)
    assert float(np.abs(made).max()) <= CEILING + 1e-6 < 10 ** (-1 / 20)


def test_the_first_sound_is_not_the_loudest() -> None:
    """A crash at full level in front of a quiet song comes as softly as the song is loud; later ones stay."""
    strokes: list[tuple[int, str, int]] = [(0, "crash", 127), (0, "kick", 127)]
    quiet = [(240 * n, "closed hi-hat", 60) for n in range(1, 16)]
    samples = mix(song(strokes + quiet))
    first = round(0.2 * RATE)
    assert decibels(samples[:first]) <= decibels(samples[first:])
    late = mix(song([(1440, "crash", 127), (0, "closed hi-hat", 60)]))
    assert decibels(late) > decibels(samples) + 6


def test_one_sound_alone() -> None:
    """A song of a single stroke keeps its level, and nothing at all is silence of the song's length."""
    assert decibels(mix(song([(0, "snare", 127)]))) > -20
    silent = song([(0, "snare", 127)]).between(480, 1920)
    assert len(silent) == 0
    assert not mix(silent).any()
    assert len(mix(silent)) == round(1.5 * RATE)


def test_unknown_notes_tick() -> None:
    """A note that no key map knows is heard."""
    assert np.abs(mix(song([(0, "note 61", 100)]))).max() > 0.01


def test_left_and_right() -> None:
    """Kick and snare stand in the middle, hi-hat and ride apart."""
    for name, side in (("kick", 0), ("snare", 0), ("closed hi-hat", 1), ("ride", -1)):
        samples = mix(song([(0, name, 110)])).astype(np.float64)
        left, right = (samples**2).sum(axis=0)
        assert abs(left / right - 1) < 1e-3 if side == 0 else side * (left - right) > 0


def test_riff_tones_beside_the_drums() -> None:
    """Attacks add low tones at their times: accents louder, muted ones short, all of them at a level of their own."""
    drums = song([(0, "closed hi-hat", 90), (480, "closed hi-hat", 90)])
    attacks = [(0.1, False, False), (0.6, True, False), (2.0, False, True)]
    plain = mix(drums, end=3.0)

    def added(own: float) -> Samples:
        heard = mix(drums, riff_sounds(attacks, own), end=3.0)
        return heard - plain[: len(heard)]

    tones = added(1.0)
    assert onsets_of(tones, 1e-4)[0] == pytest.approx(0.1, abs=0.001)
    ringing, accented, muted = (float(np.abs(tones[at : at + 4000]).max()) for at in (4410, 26_460, 88_200))
    assert accented > 1.2 * ringing
    assert level(tones, 2.3) < level(tones, 2.01) - 30
    assert level(tones, 0.4) > level(tones, 0.11) - 20
    assert muted > 0.01
    assert decibels(added(0.25)) == pytest.approx(decibels(tones) - 13, abs=3)
