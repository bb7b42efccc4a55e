"""The voices: one table for Python and the page, and a bank that makes what a song uses, once a process."""

from __future__ import annotations

from functools import lru_cache
from math import cos, pi, sin

import numpy as np
from numpy.typing import NDArray

from grooveforge.sound import noise, synth
from grooveforge.sound.kit_voices import UNKNOWN, VOICES
from grooveforge.sound.parts import Voice
from grooveforge.sound.rules import LAYERS, RATE, VARIANTS, rules

Samples = NDArray[np.float32]

BY_CODE = {voice.code: voice for voice in VOICES}
BY_NAME = {voice.name: voice for voice in VOICES}

LAYER_OF = np.zeros(128, np.uint8)
for _number, (_high, _) in reversed(list(enumerate(LAYERS))):
    LAYER_OF[: _high + 1] = _number
LAYER_OF.flags.writeable = False
"""The layer that each MIDI velocity takes."""


def table() -> dict[str, object]:
    """Everything that a browser needs to make the same voices and mix them by the same rules, as a JSON value."""
    return {
        "rules": dict(rules()),
        "noise": {"stride": noise.STRIDE, "first": noise.FIRST, "second": noise.SECOND},
        "shape": {
            "decays": synth.DECAYS,
            "fade": synth.FADE,
            "highest": synth.HIGHEST,
            "loose_gain": synth.LOOSE_GAIN,
            "loose_pitch": synth.LOOSE_PITCH,
            "droop": synth.DROOP,
            "weighed": synth.WEIGHED,
        },
        "unknown": BY_NAME[UNKNOWN].code,
        "voices": [voice.row() for voice in VOICES],
    }


def voice_of(code: int) -> Voice:
    """The voice of a surface code; the one for unknown notes where there is none of its own."""
    return BY_CODE.get(code, BY_NAME[UNKNOWN])


class Bank:
    """Voices at one sample rate, each made at its first use and kept."""

    def __init__(self, rate: int = RATE) -> None:
        self.rate = rate
        self._parts: dict[tuple[int, int], Samples] = {}
        self._mono: dict[tuple[int, int, int], Samples] = {}
        self._stereo: dict[tuple[int, int, int], Samples] = {}

    def mono(self, code: int, layer: int, variant: int) -> Samples:
        """(n,) float32: a layer of a variant of a voice, 0 to 3 and 0 to 2, read-only."""
        voice = voice_of(code)
        key = (voice.code, layer, variant % VARIANTS)
        if key not in self._mono:
            kept = (voice.code, 0 if voice.shared else key[2])
            if kept not in self._parts:
                self._parts[kept] = synth.voice_parts(voice, key[2], self.rate)
            made = synth.layered(voice, self._parts[kept], LAYERS[layer][1], key[2], self.rate)
            made.flags.writeable = False
            self._mono[key] = made
        return self._mono[key]

    def stereo(self, code: int, layer: int, variant: int) -> Samples:
        """(n, 2) float32: the same at its place between left and right, read-only."""
        voice = voice_of(code)
        key = (voice.code, layer, variant % VARIANTS)
        if key not in self._stereo:
            mono = self.mono(*key)
            made = np.empty((mono.size, 2), np.float32)
            for side, gain in enumerate(gains(voice.pan)):
                np.multiply(mono, np.float32(gain), out=made[:, side])
            made.flags.writeable = False
            self._stereo[key] = made
        return self._stereo[key]

    def peak(self, code: int, layer: int) -> float:
        """The highest sample of a layer's first variant, in its louder channel."""
        return float(np.abs(self.stereo(code, layer, 0)).max())


def gains(pan: float) -> tuple[float, float]:
    """Left and right gain of a place from -1 to 1, of equal power (common practice)."""
    angle = (pan + 1) * pi / 4
    return cos(angle), sin(angle)


@lru_cache(maxsize=4)
def bank(rate: int = RATE) -> Bank:
    """The bank of this process at a sample rate."""
    return Bank(rate)
