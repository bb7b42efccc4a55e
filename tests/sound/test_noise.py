"""The noise: the same everywhere, white, and without a pattern between seeds."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from grooveforge.sound.noise import evenly, seed_of, white, words


def hashed(word: int) -> int:
    """The hash "lowbias32" with Python's whole numbers, as its author wrote it down (C. Wellons, 2018)."""
    word ^= word >> 16
    word = word * 0x7FEB352D % 2**32
    word ^= word >> 15
    word = word * 0x846CA68B % 2**32
    return word ^ word >> 16


@pytest.mark.parametrize("seed", [0, 1, 12_345, 2**32 - 3])
def test_words_are_hashes_of_a_counter(seed: int) -> None:
    """Word n of a seed is the hash of seed + n, past the end of 32 bits too."""
    assert words(seed, 8).tolist() == [hashed((seed + n) % 2**32) for n in range(8)]


def test_white_noise_is_white() -> None:
    """Mean nothing, power a third, no correlation with itself a few samples on, a flat spectrum."""
    noise = white(99, 1 << 16).astype(np.float64)
    assert abs(noise.mean()) < 0.01
    assert (noise**2).mean() == pytest.approx(1 / 3, rel=0.02)
    for lag in (1, 2, 3, 7, 64):
        assert abs((noise[lag:] * noise[:-lag]).mean()) < 0.01
    power = (np.abs(np.fft.rfft(noise)[1:]) ** 2).reshape(32, -1).mean(axis=1)
    assert power.max() / power.min() < 1.4
    assert -1 <= noise.min() < -0.999 < 0.999 < noise.max() < 1


def test_seeds_do_not_meet() -> None:
    """Neighbouring numbers give seeds so far apart that no second of noise is shared, in either order."""
    seeds = sorted(seed_of(code, part, variant) for code in range(95) for part in range(6) for variant in range(4))
    assert len(set(seeds)) == len(seeds)
    assert sum(1 for a, b in pairwise(seeds) if b - a < 44_100) < 0.05 * len(seeds)
    assert seed_of(1, 2) != seed_of(2, 1)


def test_evenly() -> None:
    """Numbers from 0 up to 1."""
    drawn = evenly(5, 10_000)
    assert drawn.min() >= 0
    assert drawn.max() < 1
    assert drawn.mean() == pytest.approx(0.5, abs=0.02)
