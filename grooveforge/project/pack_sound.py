"""The sound of a pack as WAV: the song with and without a click, the click alone, practice loops that join up."""

from __future__ import annotations

from collections.abc import Callable

from grooveforge.core.count_in import with_count_in
from grooveforge.core.perform import Performance
from grooveforge.files import Data
from grooveforge.project.previewing import click_sounds
from grooveforge.sound.mix import Mixer, limited, mix, performance_seconds
from grooveforge.sound.rules import RATE
from grooveforge.sound.wav import wav_bytes, wav_of_blocks

Share = Callable[[float], None]
"""Told the share that is done, 0 to 1."""


def song(performance: Performance, progress: Share | None = None, count_in: int = 0) -> Data:
    """The song as a WAV; with a count-in, behind that many bars of clicks and with the click all through."""
    behind = with_count_in(performance, count_in)
    return _wav(Mixer(behind, *((click_sounds(behind),) if count_in else ())), progress)


def click(performance: Performance, progress: Share | None = None, count_in: int = 0) -> Data:
    """The click alone as a WAV: the count-in, then every beat of the song."""
    behind = with_count_in(performance, count_in)
    return _wav(Mixer(click_sounds(behind), end=performance_seconds(behind)), progress)


def _wav(mixer: Mixer, progress: Share | None) -> Data:
    return wav_of_blocks(mixer.blocks(), mixer.length, progress=progress)


def loop(performance: Performance, speed: float) -> Data:
    """A performance with its click as a WAV that goes on without a gap when it starts again.

    What still rings at its end is laid over its beginning.
    """
    samples = mix(performance, click_sounds(performance), speed=speed)
    length = round(performance_seconds(performance) / speed * RATE)
    once = samples[:length].copy()
    rest = samples[length : 2 * length]
    once[: rest.shape[0]] += rest
    return wav_bytes(limited(once))
