"""Mixing by adding arrays: strokes into blocks that fit a processor's cache, peaks rounded off, block by block."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.perform import Performance, seconds_at
from grooveforge.sound.loudness import level_of
from grooveforge.sound.rules import (
    AFTER_FIRST,
    CEILING,
    CURVE,
    FIRST_SHARE,
    KNEE,
    MASTER,
    RATE,
    RELEASE,
    RELEASE_LENGTH,
    TOGETHER,
)
from grooveforge.sound.sounds import Placed, Sounds, performance_sounds, placed
from grooveforge.sound.voices import LAYER_OF, Bank, bank

Samples = NDArray[np.float32]
Ints = NDArray[np.int64]

BLOCK = 1 << 17
"""Samples that are mixed and finished at a time: a megabyte of both channels."""

LEVELS = (MASTER * (np.arange(128) / 127) ** CURVE).astype(np.float32)
"""(128,) the level of each velocity."""


def mix(
    performance: Performance | Sounds, *beside: Sounds, speed: float = 1.0, rate: int = RATE, end: float = 0.0
) -> Samples:
    """A performance as samples.

    Parameters
    ----------
    beside : more that sounds, such as clicks. speed : 2 is twice as fast. end : seconds of the song (before
        `speed`) that there are at least; a performance has its own end.

    Returns
    -------
    (n, 2) float32, left and right, below -1 dBFS; sample 0 is tick 0. Everything rings out.
    """
    pieces = [piece.copy() for piece in Mixer(performance, *beside, speed=speed, rate=rate, end=end).blocks()]
    return np.concatenate(pieces) if pieces else np.zeros((0, 2), np.float32)


class Mixer:
    """As `mix`, in blocks, so that a long song needs little memory. `length` is how many samples there will be."""

    def __init__(
        self, performance: Performance | Sounds, *beside: Sounds, speed: float = 1.0, rate: int = RATE, end: float = 0.0
    ) -> None:
        if isinstance(performance, Performance):
            end = max(end, performance_seconds(performance))
            performance = performance_sounds(performance)
        self._strokes = strokes = placed(Sounds.joined((performance, *beside)), rate, speed)
        self.rate = rate
        self._bank = bank(rate)
        self._fall = release_curve(rate)
        self._voices = [self._bank.stereo(*key) for key in zip(*(column.tolist() for column in voice_keys(strokes)))]
        lengths = np.array([voice.shape[0] for voice in self._voices], np.int64)
        self._lengths = np.minimum(lengths, strokes.release - strokes.at + self._fall.shape[0])
        self._gain = LEVELS[strokes.velocity] * first_gain(strokes, self._bank) * np.float32(level_of(strokes, rate))
        self._longest = int(lengths.max(initial=0))
        self.length = max(round(end / speed * rate), int((strokes.at + self._lengths).max(initial=0)))

    def blocks(self) -> Iterator[Samples]:
        """Blocks of (at most `BLOCK`, 2); each is good until the next one is asked for."""
        buffer = np.zeros((BLOCK + self._longest, 2), np.float32)
        scratch = np.empty((self._longest, 2), np.float32)
        edges = np.searchsorted(self._strokes.at, np.arange(0, self.length + BLOCK, BLOCK)).tolist()
        reach = 0  # how far into the buffer strokes ring
        for number, start in enumerate(range(0, self.length, BLOCK)):
            rows = slice(edges[number], edges[number + 1])
            self._add(buffer, scratch, start, rows)
            reach = max(reach, int((self._strokes.at[rows] + self._lengths[rows]).max(initial=0)) - start)
            yield limited(buffer[: min(BLOCK, self.length - start)])
            left = max(reach - BLOCK, 0)
            if left <= BLOCK:
                buffer[:left] = buffer[BLOCK:reach]
            else:
                buffer[:left] = buffer[BLOCK:reach].copy()
            buffer[left : max(reach, BLOCK)] = 0
            reach = left

    def _add(self, buffer: Samples, scratch: Samples, start: int, rows: slice) -> None:
        """The strokes of some rows, into a buffer that begins at sample `start`."""
        fall = self._fall
        at, release = self._strokes.at[rows], self._strokes.release[rows]
        columns = (at - start, release - at, self._lengths[rows], self._gain[rows])
        for voice, begin, held, length, gain in zip(self._voices[rows], *(column.tolist() for column in columns)):
            made = np.multiply(voice[:length], gain, out=scratch[:length])
            if held < length:
                made[held:] *= fall[: length - held]
            place = buffer[begin : begin + length]
            np.add(place, made, out=place)


def voice_keys(strokes: Placed) -> tuple[Ints, Ints, Ints]:
    """Columns of what `Bank.stereo` takes: surface code, layer, variant."""
    return strokes.surface, LAYER_OF[strokes.velocity].astype(np.int64), strokes.variant


def release_curve(rate: int) -> Samples:
    """(n, 2) how a stroke falls that is let go: 20 dB in `RELEASE`, to nothing at its end."""
    count = round(RELEASE_LENGTH * rate)
    at = np.arange(count) / rate
    curve = 10 ** (-at / RELEASE) * (1 - at / RELEASE_LENGTH) ** 0.5
    return np.repeat(curve.astype(np.float32), 2).reshape(-1, 2)


def limited(block: Samples) -> Samples:
    """The block with its peaks rounded off in place: what is above the knee bends towards the ceiling."""
    if block.size and max(float(block.max()), -float(block.min())) > KNEE:
        level = np.abs(block)
        loud = level > KNEE
        room = CEILING - KNEE
        peaks = KNEE + room * np.tanh((level[loud] - KNEE) / room)
        block[loud] = np.copysign(peaks, block[loud])
    return block


def first_gain(strokes: Placed, held: Bank) -> Samples:
    """(n,) 1, but for the first sound: so much softer that it is not louder than the loudest one after it.

    Counted from the voices' own levels: those of strokes that sound together are added.
    """
    gain = np.ones(strokes.at.size, np.float32)
    if not strokes.at.size:
        return gain
    keys = np.stack([strokes.surface, LAYER_OF[strokes.velocity]])
    kinds, which = np.unique(keys, axis=1, return_inverse=True)
    peaks = np.array([held.peak(code, layer) for code, layer in kinds.T.tolist()])
    summed = np.concatenate(([0.0], np.cumsum(peaks[which.ravel()] * LEVELS[strokes.velocity])))
    after = np.searchsorted(strokes.at, strokes.at + round(TOGETHER * held.rate), side="right")
    levels = summed[after] - summed[np.arange(strokes.at.size)]
    first = strokes.at < strokes.at[0] + round(AFTER_FIRST * held.rate)
    if not first.all():
        allowed = FIRST_SHARE * float(levels[~first].max())
        gain[first] = min(1.0, allowed / max(float(levels[first].max()), 1e-9))
    return gain


def performance_seconds(performance: Performance) -> float:
    """How long a performance lasts, to the bar line behind its last bar."""
    return float(seconds_at(performance, np.array([performance.end]))[0])
