"""How loud a song will be, counted from the voices' own levels before anything is mixed.

After ITU-R BS.1770-4 (2015): the weighting of its annex 1, blocks of 0.4 s, and both gates. The strokes of a
block are taken as unrelated, so that their energies add; a test measures the mix with a library.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from grooveforge.sound.rules import CURVE, LAYERS, LOUDEST, MASTER, RATE
from grooveforge.sound.sounds import Placed, Sounds, placed
from grooveforge.sound.voices import bank, voice_of

Floats = NDArray[np.float64]

OFFSET, ABSOLUTE_GATE, RELATIVE_GATE = -0.691, -70.0, -10.0
BLOCK = 0.4
STEP = 0.02
"""Seconds between the points at which a voice's energy up to there is known."""

HIGH_SHELF = ((1.53512485958697, -2.69169618940638, 1.19839281085285), (1.0, -1.69065929318241, 0.73248077421585))
HIGH_PASS = ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621))
"""The two filters of the weighting at 48 kHz, numerators and denominators (BS.1770-4, tables 1 and 2)."""

FILTER_RATE = 48_000


def weighting(hertz: Floats) -> Floats:
    """How much of the energy at each pitch counts; shape as `hertz`."""
    turn = np.exp(-2j * np.pi * np.minimum(hertz / FILTER_RATE, 0.5))
    gain = np.ones(hertz.shape)
    for top, bottom in (HIGH_SHELF, HIGH_PASS):
        gain *= np.abs(np.polyval(top[::-1], turn) / np.polyval(bottom[::-1], turn)) ** 2
    return gain


@lru_cache(maxsize=256)
def energy_curve(code: int, rate: int = RATE) -> Floats:
    """Weighted energy, both channels together, of a voice's hardest stroke up to every `STEP` of it, from 0."""
    samples = bank(rate).mono(code, len(LAYERS) - 1, 0)
    spectrum = np.abs(np.fft.rfft(samples)) ** 2
    counted = spectrum * weighting(np.arange(spectrum.size) * rate / samples.size)
    share = float(counted.sum() / max(spectrum.sum(), 1e-12))
    summed = np.concatenate(([0.0], np.cumsum(samples.astype(np.float64) ** 2)))
    step = round(STEP * rate)
    # Panning of equal power leaves the energy of both channels together as it is.
    return share * summed[np.minimum(np.arange(0, samples.size + step, step), samples.size)]


def song_loudness(strokes: Placed, rate: int = RATE) -> float:
    """The loudness in LUFS to expect of strokes at full level; -inf where nothing sounds."""
    if not strokes.at.size:
        return -np.inf
    energy = (MASTER * (strokes.velocity / 127) ** CURVE) ** 2
    for code in np.unique(strokes.surface).tolist():
        rows = np.flatnonzero(strokes.surface == code)
        curve = energy_curve(voice_of(code).code, rate)
        lasts = np.ceil((strokes.release[rows] - strokes.at[rows]) / rate / STEP + 1)
        energy[rows] *= curve[np.minimum(lasts, curve.size - 1).astype(np.int64)]
    blocks = np.bincount((strokes.at / rate / BLOCK).astype(np.int64), energy) / (BLOCK * rate)
    heard = blocks[blocks > 10 ** ((ABSOLUTE_GATE - OFFSET) / 10)]
    if not heard.size:
        return -np.inf
    heard = heard[heard > heard.mean() * 10 ** (RELATIVE_GATE / 10)]
    return float(OFFSET + 10 * np.log10(heard.mean()))


def song_level(sounds: Sounds, rate: int = RATE, speed: float = 1.0) -> float:
    """What to multiply a song with so that it is no louder than `LOUDEST`; 1 for most songs.

    Also what the page multiplies its events with, so that it sounds as the WAV does.
    """
    return level_of(placed(sounds, rate, speed), rate)


def level_of(strokes: Placed, rate: int) -> float:
    """As `song_level`, for strokes on samples."""
    return float(min(1.0, 10 ** ((LOUDEST - song_loudness(strokes, rate)) / 20)))
