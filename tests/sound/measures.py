"""Measures of samples that the tests of the sound share. All take (n,) samples at `RATE`."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from grooveforge.sound.rules import RATE

Samples = NDArray[np.float32]
Floats = NDArray[np.floating[Any]]

WINDOW = 220
"""Samples of a step of an envelope: 5 ms."""


def spectrum(samples: Samples) -> tuple[Floats, Floats]:
    """(pitches in hertz, energy at each), padded so that pitches stand closer than 1 Hz."""
    size = max(1 << 16, 1 << int(np.ceil(np.log2(len(samples)))))
    energy = np.abs(np.fft.rfft(samples.astype(np.float64), size)) ** 2
    pitches: Floats = np.arange(energy.size) * (RATE / size)
    return pitches, energy


def peak_pitch(samples: Samples, low: float = 20, high: float = RATE / 2) -> float:
    """The pitch with the most energy in a band."""
    pitches, energy = spectrum(samples)
    inside = (pitches >= low) & (pitches < high)
    return float(pitches[inside][energy[inside].argmax()])


def share(samples: Samples, low: float, high: float = RATE / 2) -> float:
    """How much of the energy lies in a band, 0 to 1."""
    pitches, energy = spectrum(samples)
    return float(energy[(pitches >= low) & (pitches < high)].sum() / energy.sum())


def centroid(samples: Samples) -> float:
    """The mean pitch of the energy in hertz: how bright it is."""
    pitches, energy = spectrum(samples)
    return float((pitches * energy).sum() / energy.sum())


def envelope(samples: Samples) -> Floats:
    """(m,) level of every 5 ms in decibels below the loudest."""
    whole = len(samples) // WINDOW * WINDOW
    power = (samples[:whole].astype(np.float64).reshape(-1, WINDOW) ** 2).mean(axis=1)
    decibels: Floats = 10 * np.log10(np.maximum(power / power.max(), 1e-20))
    return decibels


def last_above(samples: Samples, decibels: float) -> float:
    """The second up to which a voice is within so many decibels of its loudest 5 ms."""
    return float((np.flatnonzero(envelope(samples) > -decibels)[-1] + 1) * WINDOW / RATE)


def partials(samples: Samples, low: float, high: float, beside: float = 25.0) -> list[tuple[float, float]]:
    """(pitch, decibels below the strongest) of every peak of a band that is the highest within `beside` hertz."""
    pitches, energy = spectrum(samples * np.hanning(2 * len(samples))[len(samples) :].astype(np.float32))
    inside = np.flatnonzero((pitches >= low) & (pitches < high))
    reach = int(beside / pitches[1])
    tops = [at for at in inside if energy[at] == energy[max(at - reach, 0) : at + reach + 1].max()]
    found = [(float(pitches[at]), float(10 * np.log10(energy[at] / energy.max()))) for at in tops]
    return sorted(found, key=lambda row: -row[1])
