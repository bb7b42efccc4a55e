"""The user's own kit: a SoundFont, played by FluidSynth through the package pyfluidsynth (the extra `soundfont`)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from grooveforge.errors import FormatError, UsageError
from grooveforge.sound.mix import BLOCK, Mixer, limited
from grooveforge.sound.rules import RATE
from grooveforge.sound.sounds import Sounds

Samples = NDArray[np.float32]
Notes = tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.uint8]]

DRUM_CHANNEL = 9
DRUM_BANK = 128
RING = 3.0
"""Seconds after the song's end for what still sounds."""

GAIN = 0.25
"""FluidSynth's own level: low, since a SoundFont may be recorded at any."""

LOUDEST_RMS = 10 ** (-20 / 20)
"""Of the loudest `WINDOW` seconds: about -17 LUFS for drums (house rule; a test measures it)."""

MOST_GAIN = 8.0
"""A kit that is softer than this can make up for stays soft."""

WINDOW = 0.4


def library() -> Any:
    """The module of pyfluidsynth.

    Raises
    ------
    UsageError
        When it or the FluidSynth library is missing; the error names both.
    """
    try:
        import fluidsynth
    except ImportError as error:
        missing = "package pyfluidsynth" if getattr(error, "name", "") == "fluidsynth" else "library FluidSynth"
        raise UsageError(
            f"--soundfont needs the {missing}, which is not here",
            hint="pip install 'grooveforge[soundfont]', and the system's FluidSynth (Debian: libfluidsynth3); "
            "without --soundfont the built-in voices sound",
        ) from error
    return fluidsynth


class Player:
    """Notes through a SoundFont.

    Parameters
    ----------
    path : of the SoundFont. notes : (seconds, note, velocity) columns, by time. end : seconds of the song.
    speed : 2 is twice as fast.

    Raises
    ------
    FormatError
        When FluidSynth cannot read the SoundFont.
    """

    def __init__(self, path: str, notes: Notes, end: float, speed: float = 1.0) -> None:
        self.rate = RATE
        self.length = round((end / speed + RING) * RATE)
        self._at = np.rint(notes[0] / speed * RATE).astype(np.int64)
        self._notes, self._velocities = notes[1], notes[2]
        self._speed = speed
        self._path = path
        self._synth = self._opened()

    def _opened(self) -> Any:
        module = library()
        synth = module.Synth(gain=GAIN, samplerate=float(RATE))
        for name in ("synth.reverb.active", "synth.chorus.active"):
            synth.setting(name, 0)
        number = synth.sfload(self._path)
        if number < 0:
            synth.delete()
            raise FormatError("this is no SoundFont that FluidSynth can read", file=self._path, allowed="a .sf2 file")
        synth.program_select(DRUM_CHANNEL, number, DRUM_BANK, 0)
        return synth

    def blocks(self, beside: Sequence[Sounds] = ()) -> Iterator[Samples]:
        """(m, 2) float32 blocks, `length` samples together; `beside` sounds with the built-in voices."""
        drums = self._drums()
        if beside:
            for start, block in _numbered(Mixer(*beside, speed=self._speed).blocks()):
                part = drums[start : start + len(block)]
                part += block[: len(part)]
        for start in range(0, self.length, BLOCK):
            yield limited(drums[start : start + BLOCK])

    def _drums(self) -> Samples:
        """All drums, (length, 2), at `LOUDEST_RMS` where the kit can be so loud."""
        made = np.zeros((self.length, 2), np.float32)
        done = 0
        try:
            for at, note, velocity in zip(self._at.tolist(), self._notes.tolist(), self._velocities.tolist()):
                if at > done:
                    made[done:at] = self._next(at - done)
                    done = at
                self._synth.noteon(DRUM_CHANNEL, note, velocity)
            made[done:] = self._next(self.length - done)
        finally:
            self._synth.delete()
        made -= made.mean(axis=0, keepdims=True)
        window = round(WINDOW * RATE)
        power = (made[: len(made) // window * window].reshape(-1, window * 2) ** 2).mean(axis=1)
        loudest = float(np.sqrt(power.max(initial=0)))
        return made * np.float32(min(LOUDEST_RMS / loudest, MOST_GAIN)) if loudest else made

    def _next(self, count: int) -> Samples:
        samples: Samples = self._synth.get_samples(count).reshape(-1, 2).astype(np.float32) / np.float32(32768)
        return samples


def _numbered(blocks: Iterator[Samples]) -> Iterator[tuple[int, Samples]]:
    start = 0
    for block in blocks:
        yield start, block
        start += len(block)
