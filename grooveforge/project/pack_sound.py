"""The sound of a pack as WAV: the song with and without a click, the click alone, practice loops that join up."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from grooveforge.core.count_in import with_count_in
from grooveforge.core.perform import Performance, seconds_at
from grooveforge.formats.midi import CLICK_NOTES, click_notes
from grooveforge.sound.kit_voices import CLICK, STRONG_CLICK
from grooveforge.sound.mix import Mixer, limited, mix, performance_seconds
from grooveforge.sound.rules import RATE
from grooveforge.sound.sounds import Sounds
from grooveforge.sound.voices import BY_NAME
from grooveforge.sound.wav import wav_bytes, wav_of_blocks

Share = Callable[[float], None]
"""Told the share that is done, 0 to 1."""


def clicks(performance: Performance, end: int | None = None) -> Sounds:
    """A click on every beat up to a tick (None: to the end), the bar's first louder and higher."""
    found = click_notes(performance, end)
    strong = found.note == CLICK_NOTES[0]
    codes = np.where(strong, BY_NAME[STRONG_CLICK].code, BY_NAME[CLICK].code).astype(np.int64)
    return Sounds.of(seconds_at(performance, found.tick), codes, found.velocity.astype(np.uint8))


def song(performance: Performance, progress: Share | None = None, count_in: int = 0) -> bytes:
    """The song as a WAV; with a count-in, behind that many bars of clicks and with the click all through."""
    behind = with_count_in(performance, count_in)
    return _wav(Mixer(behind, *((clicks(behind),) if count_in else ())), progress)


def click(performance: Performance, progress: Share | None = None, count_in: int = 0) -> bytes:
    """The click alone as a WAV: the count-in, then every beat of the song."""
    behind = with_count_in(performance, count_in)
    return _wav(Mixer(clicks(behind), end=performance_seconds(behind)), progress)


def _wav(mixer: Mixer, progress: Share | None) -> bytes:
    return bytes(wav_of_blocks(mixer.blocks(), mixer.length, progress=progress))


def loop(performance: Performance, speed: float) -> bytes:
    """A performance with its click as a WAV that goes on without a gap when it starts again.

    What still rings at its end is laid over its beginning.
    """
    samples = mix(performance, clicks(performance), speed=speed)
    length = round(performance_seconds(performance) / speed * RATE)
    once = samples[:length].copy()
    rest = samples[length : 2 * length]
    once[: rest.shape[0]] += rest
    return wav_bytes(limited(once))


