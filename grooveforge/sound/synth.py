"""From rows of parts to samples, with arrays only.

Partials are not stepped through sample by sample: sample B * i + k of a decaying partial is the product of a
number that depends on i and one that depends on k, so that a whole cloud is one product of two matrices.
"""

from __future__ import annotations

from functools import lru_cache, singledispatch
from math import ceil, isqrt, pi
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from grooveforge.sound.noise import evenly, seed_of, white
from grooveforge.sound.parts import Cloud, Glide, Hiss, Part, Ring, Voice

Samples = NDArray[np.float32]
Floats = NDArray[np.float64]

DECAYS = 11
"""After so many times its decay (to 1/e) a part is 95 dB down."""

ALONE = 1 << 18
"""Products of matrices with no more multiplications than this stay on one thread (OpenBLAS)."""

FADE = 0.012
"""Seconds in which every voice ends."""

HIGHEST = 0.46
"""Partials above this share of the sample rate are left out."""

LOOSE_GAIN, LOOSE_PITCH = 0.12, 0.003
"""How far partials differ between the variants of a voice, as shares of their gain and pitch."""

WEIGHED = 3.0
"""Decibels by which shared parts are more or less in a variant, at most."""

DROOP = 0.05
"""Seconds to 1/e of what is taken off a voice so that its mean is nothing."""


def _powers(factor: NDArray[np.complex128], first: NDArray[Any], count: int) -> NDArray[np.complex128]:
    """(m, count) `first` times every power of `factor` from 0 on; products are far quicker than exponentials."""
    made = np.repeat(factor[:, None], count, axis=1)
    made[:, 0] = first
    return np.multiply.accumulate(made, axis=1, out=made)


class Stroke(NamedTuple):
    """What a part needs to know: `seed` of this variant, `places` of what all variants share, samples, and rate."""

    seed: int
    places: int
    length: int
    rate: int


def partials_sum(pitch: Floats, decay: Floats, gain: Floats, phase: Floats, stroke: Stroke) -> Samples:
    """(n,) the sum of decaying sines.

    Parameters
    ----------
    pitch, decay, gain, phase : (m,) hertz, seconds to 1/e, level, radians.
    """
    count, rate = stroke.length, stroke.rate
    kept = pitch < HIGHEST * rate
    pitch, decay, gain, phase = pitch[kept], decay[kept], gain[kept], phase[kept]
    width = isqrt(count) + 1
    step = (2j * pi * pitch - 1 / decay) / rate
    rows = _powers(np.exp(step * width), gain * np.exp(1j * phase), ceil(count / width))
    columns = _powers(np.exp(step), np.ones(len(step)), width)
    if not len(step):
        return np.zeros(count, np.float32)
    left = np.concatenate((rows.imag, rows.real)).astype(np.float32)
    right = np.concatenate((columns.real, columns.imag)).astype(np.float32)
    summed = np.empty((left.shape[1], width), np.float32)
    # In pieces that the library under numpy does not spread over threads: waking them takes longer than the work.
    piece = max(2, ALONE // right.size)
    for start in range(0, len(summed), piece):
        np.matmul(left[:, start : start + piece].T, right, out=summed[start : start + piece])
    return summed.reshape(-1)[:count]


@singledispatch
def part_samples(part: Part, stroke: Stroke) -> Samples:
    """(n,) float32 samples of a part of a voice."""
    raise TypeError(f"no way to make {part.kind} sound")


@part_samples.register
def _(part: Glide, stroke: Stroke) -> Samples:
    loose = 2 * evenly(stroke.seed, 2) - 1
    at = np.arange(stroke.length) / stroke.rate
    cycles = part.low * at + (part.high - part.low) * part.glide * (1 - np.exp(-at / part.glide))
    wave = np.sin(2 * pi * (1 + LOOSE_PITCH * loose[0]) * cycles) * np.exp(-at / part.decay)
    return np.asarray(wave * (1 + LOOSE_GAIN / 2 * loose[1]), np.float32)


@part_samples.register
def _(part: Ring, stroke: Stroke) -> Samples:
    pitch, gain, decay = np.array(part.partials, np.float64).T
    loose = evenly(stroke.seed, 2 * len(pitch)).reshape(2, -1)
    return partials_sum(pitch, decay, gain * (1 + LOOSE_GAIN * (2 * loose[0] - 1)), 2 * pi * loose[1], stroke)


@part_samples.register
def _(part: Cloud, stroke: Stroke) -> Samples:
    # A cymbal keeps its partials from stroke to stroke; how much each sounds depends on where it was struck.
    at = (np.arange(part.count) + evenly(stroke.places, part.count)) / part.count
    octaves = np.log2(part.high / part.low) * at
    loose = evenly(stroke.seed, 2 * part.count).reshape(2, -1)
    gain = 10 ** (part.tilt * octaves / 20) * (0.4 + 0.6 * loose[0]) / np.sqrt(part.count)
    decay = part.decay_low * (part.decay_high / part.decay_low) ** at
    return partials_sum(part.low * 2**octaves, decay, gain, 2 * pi * loose[1], stroke)


def kernel(low: float, high: float, taps: int, rate: int) -> Floats:
    """(taps,) a band-pass of unit energy: the difference of two sincs under a sine-squared window."""
    at = np.arange(taps) - (taps - 1) / 2
    upper, lower = min(2 * high / rate, 1.0), 2 * low / rate
    window = np.sin(pi * (np.arange(taps) + 0.5) / taps) ** 2
    band: Floats = (upper * np.sinc(upper * at) - lower * np.sinc(lower * at)) * window
    band /= np.sqrt(np.sum(band**2))
    return band


@part_samples.register
def _(part: Hiss, stroke: Stroke) -> Samples:
    band = kernel(part.low, part.high, part.taps, stroke.rate).astype(np.float32)
    noise: Samples = np.convolve(white(stroke.seed, stroke.length + part.taps - 1), band, "valid")
    at = np.arange(stroke.length, dtype=np.float32) / np.float32(stroke.rate)
    noise *= np.exp(at * np.float32(-1 / part.decay))
    if part.rise:
        noise *= 1 - np.exp(at * np.float32(-1 / part.rise))
    return noise


def voice_parts(voice: Voice, variant: int, rate: int) -> Samples:
    """(parts, n) float32: the parts of one variant of a voice, or of all that share them, each at its gain."""
    count = round(voice.seconds * rate)
    made = np.zeros((len(voice.parts), count), np.float32)
    for number, part in enumerate(voice.parts):
        length = min(count, ceil(DECAYS * part.longest_decay * rate))
        places = seed_of(voice.code, number)
        stroke = Stroke(seed_of(voice.code, number, 0 if voice.shared else variant + 1), places, length, rate)
        np.multiply(part_samples(part, stroke), np.float32(part.gain), out=made[number, :length])
    return made


def weights(voice: Voice, force: float, variant: int) -> Floats:
    """(parts,) how much of each part is in a layer and a variant."""
    hard = np.array([force**part.force for part in voice.parts])
    if not voice.shared:
        return hard
    loose = evenly(seed_of(voice.code, len(voice.parts), variant), 2 * len(voice.parts)).reshape(2, -1)
    return np.asarray(hard * 10 ** (WEIGHED * (2 * loose[0] - 1) / 20) * np.where(loose[1] < 0.5, -1.0, 1.0))


def layered(voice: Voice, parts: Samples, force: float, variant: int, rate: int) -> Samples:
    """(n,) float32: a layer of a variant of a voice from its parts; `force` is the layer's, 1 the hardest."""
    wave = np.zeros(parts.shape[1], np.float32)
    for weight, part in zip(weights(voice, force, variant), parts):
        wave += np.float32(weight) * part
    if voice.drive:
        wave = np.tanh(np.float32(voice.drive) * wave) / np.float32(np.tanh(voice.drive))
    hull, droop = _hull(wave.size, voice.ramp, rate), _droop(wave.size, voice.ramp, rate)
    wave *= hull
    wave *= np.float32(voice.gain)
    wave[: droop.size] -= np.float32(wave.sum(dtype=np.float64)) * droop
    return wave


@lru_cache(maxsize=64)
def _droop(count: int, ramp: float, rate: int) -> Samples:
    """(m,) a hump of sum 1 that begins as a voice does and dies soon: what is taken off so that no mean is left."""
    shape = np.exp(np.arange(min(count, round(20 * DROOP * rate)), dtype=np.float32) / np.float32(-DROOP * rate))
    shape *= _hull(count, ramp, rate)[: shape.size]
    return np.asarray(shape / shape.sum(dtype=np.float64), np.float32)


@lru_cache(maxsize=64)
def _hull(count: int, ramp: float, rate: int) -> Samples:
    """(n,) from nothing up to 1 in `ramp` seconds, and down to nothing over the last of a voice."""
    hull = np.ones(count, np.float32)
    up, down = round(ramp * rate), min(round(FADE * rate), count // 2)
    hull[:up] = np.sin(pi / 2 * np.arange(up) / up) ** 2
    hull[count - down :] = np.sin(pi / 2 * np.arange(down, 0, -1) / down - pi / 2 / down) ** 2
    return hull
