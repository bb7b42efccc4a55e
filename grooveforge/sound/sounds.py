"""From events to what sounds when: columns in seconds, and in samples with everything that mixing needs.

What ends a stroke early depends on strokes before it and at that moment, never on later ones, so that the page
can mix a second ahead and hear the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.kit import Kind
from grooveforge.core.perform import Performance, seconds_at
from grooveforge.sound.kit_voices import UNKNOWN, VOICES
from grooveforge.sound.rules import VARIANTS

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bytes = NDArray[np.uint8]

NEVER = np.iinfo(np.int64).max // 2
"""The sample at which a stroke is let go that rings out."""


class Sounds(NamedTuple):
    """Columns of one length: seconds, surface code, velocity, and the second at which a stroke is damped (inf)."""

    seconds: Floats
    surface: Ints
    velocity: Bytes
    until: Floats

    @classmethod
    def of(cls, seconds: Floats, surface: Ints, velocity: Bytes) -> Sounds:
        """Strokes that nothing damps."""
        return cls(seconds, surface, velocity, np.full(seconds.size, np.inf))

    def rows(self, index: Ints | NDArray[np.bool_]) -> Sounds:
        """The rows that an index or mask picks."""
        return Sounds(self.seconds[index], self.surface[index], self.velocity[index], self.until[index])

    @classmethod
    def joined(cls, pieces: Sequence[Sounds]) -> Sounds:
        """Several, in order of time."""
        whole = cls(*(np.concatenate(column) for column in zip(*pieces)))
        return whole.rows(np.lexsort((whole.surface, whole.seconds)))


def damped_at(performance: Performance) -> Floats:
    """(n,) the second at which each stroke is damped: a choked one an eighth after it sounds, others never."""
    events = performance.events
    until = np.full(len(performance), np.inf)
    choked = events.kind == Kind.CHOKE
    if choked.any():
        until[choked] = seconds_at(performance, events.tick[choked] + performance.division // 2)
    return until


def performance_sounds(performance: Performance) -> Sounds:
    """What a performance sounds like, by time."""
    events = performance.events
    return Sounds(seconds_at(performance, events.tick), events.surface, events.velocity, damped_at(performance))


class Placed(NamedTuple):
    """Columns of one length, by time: sample, surface code, velocity, variant, and the sample of its release."""

    at: Ints
    surface: Ints
    velocity: Bytes
    variant: Ints
    release: Ints


_HELD = {voice.code: voice.held for voice in VOICES}
_UNKNOWN = next(voice.code for voice in VOICES if voice.name == UNKNOWN)
_CODES = max(voice.code for voice in VOICES) + 1
_GROUPS = sorted({voice.group for voice in VOICES if voice.group})
_CHOKES = {voice.code: _CODES + 200 + _GROUPS.index(voice.group) for voice in VOICES if voice.group}
"""Surface code -> a key that it shares with those that stop it."""


def placed(sounds: Sounds, rate: int, speed: float = 1.0) -> Placed:
    """Sounds on samples; `speed` 1 is the song's own tempo, 2 twice as fast."""
    at = np.rint(sounds.seconds / speed * rate).astype(np.int64)
    release = np.full(at.size, NEVER)
    damped = np.isfinite(sounds.until)
    release[damped] = np.rint(sounds.until[damped] / speed * rate).astype(np.int64)
    variant = np.zeros(at.size, np.int64)
    key = sounds.surface.copy()
    for code in np.unique(sounds.surface).tolist():
        rows = np.flatnonzero(sounds.surface == code)
        variant[rows] = np.arange(rows.size) % VARIANTS
        held = _HELD.get(code, _HELD[_UNKNOWN])
        release[rows[:-held]] = np.minimum(release[rows[:-held]], at[rows[held:]])
        key[rows] = _CHOKES.get(code, code)
    for shared in set(_CHOKES.values()):
        rows = np.flatnonzero(key == shared)
        if rows.size:
            after = np.searchsorted(at[rows], at[rows], side="right")
            stopped = after < rows.size
            later = at[rows[after[stopped]]]
            release[rows[stopped]] = np.minimum(release[rows[stopped]], later)
    return Placed(at, sounds.surface, sounds.velocity, variant, release)
