"""Every surface has a voice of its own, told apart by numbers.

The numbers are house rules for a dry, close, heavy kit; that a skin's second mode is 1.59 times its first is
common knowledge of acoustics (zeros of Bessel functions).
"""

from __future__ import annotations

import json
from itertools import pairwise

import numpy as np
import pytest

from grooveforge.core.kit import HI_HATS, SURFACE_CODES, SURFACES
from grooveforge.sound.kit_voices import KIT_VOICES, RIFF_PITCH, VOICES
from grooveforge.sound.mix import LEVELS
from grooveforge.sound.rules import RATE, VARIANTS
from grooveforge.sound.voices import BY_NAME, LAYER_OF, Bank, bank, table
from tests.sound.measures import Samples, centroid, envelope, last_above, partials, peak_pitch, share

GHOST, HARD = 0, 3
NAMES = [voice.name for voice in VOICES]
TOMS = ("floor tom", "high floor tom", "low tom", "low-mid tom", "hi-mid tom", "high tom")


def voice(name: str, layer: int = HARD, variant: int = 0) -> Samples:
    return bank().mono(BY_NAME[name].code, layer, variant)


def decibels(ratio: float) -> float:
    return float(20 * np.log10(ratio))


def test_every_surface_has_a_row() -> None:
    """No surface of the kit is without a voice, and no code is taken twice."""
    assert [row.name for row in KIT_VOICES] == [surface.name for surface in SURFACES]
    assert all(row.code == SURFACE_CODES[row.name] for row in KIT_VOICES)
    assert len({row.code for row in VOICES}) == len(VOICES)


def test_the_table_is_json() -> None:
    """What a browser gets survives JSON, and is small."""
    text = json.dumps(table())
    assert json.loads(text) == json.loads(json.dumps(json.loads(text)))
    assert len(text) < 40_000


# -- what holds for all ----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("layer", [GHOST, HARD])
def test_it_starts_from_nothing(name: str, layer: int) -> None:
    """The first sample is 0; a ramp of 0.5 to 2 ms leads in, and there is no jump at the end either."""
    samples = voice(name, layer)
    peak = float(np.abs(samples).max())
    assert abs(float(samples[0])) <= 1e-6
    assert abs(float(samples[-1])) <= 1e-4 * peak
    assert 0.0005 <= BY_NAME[name].ramp <= 0.002
    quarter = round(BY_NAME[name].ramp * RATE / 4)
    assert float(np.abs(samples[:quarter]).max()) < 0.25 * peak


@pytest.mark.parametrize("name", NAMES)
def test_no_dc(name: str) -> None:
    """The mean of every voice is nothing: 80 dB below its peak."""
    for variant in range(VARIANTS):
        samples = voice(name, HARD, variant).astype(np.float64)
        assert abs(samples.mean()) < 1e-4 * np.abs(samples).max()


@pytest.mark.parametrize("name", NAMES)
def test_strokes_are_not_identical(name: str) -> None:
    """Variants of a voice differ clearly in their samples, and hardly in level."""
    first, second = voice(name, HARD, 0), voice(name, HARD, 1)
    assert float(np.abs(first - second).max()) > 0.02 * float(np.abs(first).max())
    energies = [float((voice(name, HARD, variant) ** 2).sum()) for variant in range(VARIANTS)]
    assert decibels((max(energies) / min(energies)) ** 0.5) < 3


@pytest.mark.parametrize("name", [row.name for row in KIT_VOICES])
def test_harder_is_brighter_and_louder(name: str) -> None:
    """A ghost stroke is darker than an accent and at least 12 dB below it."""
    assert centroid(voice(name, GHOST)) < 0.97 * centroid(voice(name, HARD)), name
    ghost = float(np.abs(voice(name, GHOST)).max()) * LEVELS[32]
    accent = float(np.abs(voice(name, HARD)).max()) * LEVELS[114]
    assert decibels(accent / ghost) > 12


def test_every_velocity_has_a_level_of_its_own() -> None:
    """Levels rise with every velocity; the four layers are the four bands."""
    assert np.all(np.diff(LEVELS) > 0)
    assert [int(LAYER_OF[velocity]) for velocity in (1, 45, 46, 84, 85, 104, 105, 127)] == [0, 0, 1, 1, 2, 2, 3, 3]


def test_the_same_on_every_run() -> None:
    """A new bank makes the same samples."""
    for name in ("kick", "china"):
        code = BY_NAME[name].code
        assert np.array_equal(Bank().mono(code, 2, 1), Bank().mono(code, 2, 1))


def test_other_sample_rates() -> None:
    """At 48 kHz a voice lasts as long and has its pitch where it was."""
    samples = Bank(48_000).mono(BY_NAME["ride bell"].code, HARD, 0)
    assert len(samples) == round(BY_NAME["ride bell"].seconds * 48_000)
    energy = np.abs(np.fft.rfft(samples))
    assert energy.argmax() * 48_000 / len(samples) == pytest.approx(2680, rel=0.01)


# -- drums -----------------------------------------------------------------------------------------------


def test_kick() -> None:
    """The energy's peak is under 200 Hz; the first 8 ms hold a click over 2 kHz; it is short enough for doubles."""
    kick = voice("kick")
    assert 40 < peak_pitch(kick) < 200
    assert share(kick, 20, 200) > 0.8
    click = kick[: round(0.008 * RATE)]
    assert share(click, 2000, 8000) > 0.15
    late = kick[round(0.03 * RATE) :]
    assert share(late, 2000) < 0.001
    assert last_above(kick, 20) < 0.25


def test_snare() -> None:
    """A body between 150 and 250 Hz, and wires over 2 kHz that last longer than the crack."""
    snare = voice("snare")
    assert 150 < peak_pitch(snare, 20, 1000) < 250
    assert share(snare, 2000) > 0.2
    wires = snare[round(0.03 * RATE) : round(0.15 * RATE)]
    assert share(wires, 2000) > 0.1
    assert 0.12 < last_above(snare, 20) < 0.3


def test_toms_rise_by_a_third_or_more() -> None:
    """From the floor up every tom is at least a major third (5/4) above the one before; floor toms at 60-120 Hz."""
    pitches = [peak_pitch(voice(name)[round(0.05 * RATE) :]) for name in TOMS]
    assert all(60 <= pitch <= 120 for pitch in pitches[:2])
    assert all(high / low >= 1.25 for low, high in pairwise(pitches)), pitches
    assert all(last_above(voice(name), 20) > 0.2 for name in TOMS)


def test_toms_have_a_stick() -> None:
    """The first 8 ms of a tom are far brighter than the rest."""
    for name in TOMS:
        attack, rest = voice(name)[: round(0.008 * RATE)], voice(name)[round(0.03 * RATE) :]
        assert centroid(attack) > 3 * centroid(rest)


# -- cymbals ---------------------------------------------------------------------------------------------


def test_hi_hats() -> None:
    """Closed: over 6 kHz, 60 dB down in 0.1 s; open: 60 dB down in 0.6 s; the others between."""
    closed = voice("closed hi-hat")
    assert share(closed, 6000) > 0.9
    assert last_above(closed, 60) <= 0.1
    assert 0.5 <= last_above(voice("open hi-hat"), 60) <= 0.65
    assert 0.2 <= last_above(voice("half-open hi-hat"), 60) <= 0.4
    assert last_above(voice("pedal hi-hat"), 60) <= 0.1
    assert centroid(voice("pedal hi-hat")) < centroid(closed)


@pytest.mark.parametrize("name", ["ride", "second ride"])
def test_ride(name: str) -> None:
    """Several partials between 2 and 4 kHz that are still there after 1.5 s."""
    late = voice(name)[round(1.5 * RATE) :]
    strong = [row for row in partials(late, 2000, 4000) if row[1] > -15]
    assert len(strong) >= 4
    assert envelope(voice(name))[round(1.5 * RATE / 220)] > -60
    assert share(voice(name), 2000, 4000) > 0.4


def test_bell() -> None:
    """One clear partial, 10 dB above every other."""
    (pitch, _), (_, below), *_ = partials(voice("ride bell"), 200, 20_000)
    assert 2000 < pitch < 4000
    assert below <= -10


@pytest.mark.parametrize("name", ["crash", "second crash"])
def test_crash(name: str) -> None:
    """It rings for two seconds, dense: no partial stands out of its loudest second as a tone would."""
    samples = voice(name)
    assert 2.0 <= last_above(samples, 60) <= 3.5
    lines = partials(samples[:RATE], 300, 16_000)
    assert sum(1 for _, below in lines if below > -20) > 30


def test_china() -> None:
    """Brighter than the crash in its first 0.3 s, gone in 0.8 s, and no harmonic series."""
    china, first = voice("china"), round(0.3 * RATE)
    assert centroid(china[:first]) > 1.2 * centroid(voice("crash")[:first])
    assert 0.4 < last_above(china, 60) <= 0.8
    lines = np.array([pitch for pitch, below in partials(china, 300, 12_000) if below > -18])
    assert lines.size > 20
    ratios = lines / lines.min()
    off = np.abs(ratios - np.rint(ratios))
    # Pitches that know nothing of each other stand a quarter off whole numbers on average.
    assert off[1:].mean() > 0.15


def test_surfaces_are_told_apart() -> None:
    """No two voices of the kit agree in brightness, lowest strong pitch, and length all at once."""
    kit = [voice(row.name) for row in KIT_VOICES]
    facts = np.log2([(centroid(one), peak_pitch(one), last_above(one, 40)) for one in kit])
    for number, row in enumerate(facts):
        assert np.all(np.abs(facts[:number] - row).max(axis=1) > 0.05), KIT_VOICES[number].name


# -- balance ---------------------------------------------------------------------------------------------


def test_balance() -> None:
    """Cymbals and kick are heard together: in the kick's own band it is 10 dB over a crash, in the crash's the crash
    is over the kick's body, and no accent's peak is more than 12 dB from the snare's."""
    kick, crash = voice("kick"), voice("crash")
    span = round(0.2 * RATE)

    def energy(samples: Samples, low: float, high: float) -> float:
        return share(samples[:span], low, high) * float((samples[:span].astype(np.float64) ** 2).sum())

    assert 10 * np.log10(energy(kick, 30, 150) / energy(crash, 30, 150)) > 10
    assert energy(crash, 4000, 16_000) > 3 * energy(kick, 4000, 16_000)
    assert 10 * np.log10(energy(kick, 2000, 5000) / energy(voice("ride"), 2000, 5000)) > -6
    snare = float(np.abs(voice("snare")).max())
    for name in ("kick", "crash", "china", "ride", "open hi-hat", "closed hi-hat", "floor tom", "high tom"):
        assert abs(decibels(float(np.abs(voice(name)).max()) / snare)) < 12, name


def test_crests() -> None:
    """Drums have a punch: peaks stand 5 to 20 dB over the mean power of their first 0.15 s."""
    for name in ("kick", "snare", *TOMS):
        first = voice(name)[: round(0.15 * RATE)].astype(np.float64)
        assert 5 < decibels(float(np.abs(first).max() / np.sqrt((first**2).mean()))) < 20, name


# -- beside the kit --------------------------------------------------------------------------------------


def test_riff_tones() -> None:
    """A plucked tone at a guitar's low E; a muted one is at least four times shorter and darker in its tail."""
    ringing, muted = voice("riff"), voice("muted riff")
    assert peak_pitch(ringing, 60, 120) == pytest.approx(RIFF_PITCH, rel=0.02)
    assert last_above(ringing, 20) > 4 * last_above(muted, 20)
    assert share(ringing, 20, 2000) > 0.95


def test_clicks() -> None:
    """The click of a bar's 1 is higher, louder and as short."""
    strong, weak = voice("strong click"), voice("click")
    assert peak_pitch(strong) > 1.3 * peak_pitch(weak)
    assert np.abs(strong).max() > np.abs(weak).max()
    assert last_above(strong, 40) < 0.08


def test_hats_share_a_group() -> None:
    """All hi-hats, the pedal's too, stop each other; nothing else does."""
    grouped = {row.name for row in VOICES if row.group}
    assert grouped == {*HI_HATS, "pedal hi-hat"}
