"""`play`: what goes to a MIDI port and when; the port and the clock are handed in, so that tests need neither."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.perform import seconds_at
from grooveforge.formats.keymap import KeyMap
from grooveforge.project.heard import Heard, read_heard, section_of
from grooveforge.sound.mix import performance_seconds

Send = Callable[[bytes], None]

NOTE_ON, NOTE_OFF, CONTROL = 0x90, 0x80, 0xB0
ALL_SOUND_OFF, ALL_NOTES_OFF = 120, 123
"""Channel mode messages (MIDI 1.0)."""

GATE = 0.09
"""Seconds that a note is held; shorter where its next stroke is closer. Samplers let drums ring."""

LOOK = 0.05
"""Seconds that a wait lasts at most, so that Ctrl-C is heard at once."""


class Clock(Protocol):
    """Time in seconds, and a wait."""

    def now(self) -> float: ...

    def wait(self, seconds: float) -> None: ...


class WallClock:
    """The clock of this machine."""

    def now(self) -> float:
        return time.perf_counter()

    def wait(self, seconds: float) -> None:
        time.sleep(seconds)


@dataclass(frozen=True, eq=False)
class Score:
    """Messages for a port.

    Parameters
    ----------
    at : (n,) seconds, never falling. data : the message at each. seconds : the whole length.
    channel : from 0. notes : all that are struck.
    """

    at: NDArray[np.float64]
    data: tuple[bytes, ...]
    seconds: float
    channel: int
    notes: tuple[int, ...]
    warnings: tuple[str, ...] = ()


def messages_of(
    source: str, section: str | None = None, channel: int | None = None, key_map: KeyMap | None = None
) -> Score:
    """What an input, or one section of it, sends to a port.

    Raises
    ------
    GrooveForgeError
        When the input cannot be read or has no such section.
    """
    heard = read_heard(source, channel, key_map)
    return score_of(section_of(heard, section) if section is not None else heard)


def score_of(heard: Heard) -> Score:
    """As `messages_of`, for what has been read: a note-on for each stroke, a note-off before the next one."""
    song, channel = heard.performance, heard.channel - 1
    notes, velocities = heard.notes()
    at = seconds_at(song, song.events.tick)
    off = at + GATE
    for note in np.unique(notes).tolist():
        rows = np.flatnonzero(notes == note)
        off[rows[:-1]] = np.minimum(off[rows[:-1]], at[rows[1:]])
    times = np.concatenate((at, off))
    kinds = np.concatenate((np.ones(at.size, np.int64), np.zeros(at.size, np.int64)))
    order = np.lexsort((kinds, times))  # at one moment the old note ends before the new one begins
    twice, loud = np.concatenate((notes, notes)).tolist(), np.concatenate((velocities, velocities)).tolist()
    status = (NOTE_OFF | channel, NOTE_ON | channel)
    data = tuple(bytes((status[kinds[row]], twice[row], loud[row] if kinds[row] else 64)) for row in order.tolist())
    struck = tuple(sorted(set(notes.tolist())))
    return Score(times[order], data, performance_seconds(song), channel, struck, heard.warnings)


def play_messages(score: Score, send: Send, clock: Clock, loop: bool = False) -> None:
    """Send every message at its time; all notes off at the end, and whatever stops it.

    Parameters
    ----------
    loop : from the beginning again at the last bar line, until an interrupt.
    """
    start = clock.now()
    try:
        while True:
            for at, data in zip(score.at.tolist(), score.data):
                if loop and at >= score.seconds:
                    break
                _wait_until(start + at, clock)
                send(data)
            _wait_until(start + score.seconds, clock)
            if not loop or score.seconds <= 0:
                return
            start += score.seconds
    except KeyboardInterrupt:
        return
    finally:
        silence(score, send)


def silence(score: Score, send: Send) -> None:
    """End every note that was struck, and all sound of the channel for samplers that know how."""
    for note in score.notes:
        send(bytes((NOTE_OFF | score.channel, note, 64)))
    for mode in (ALL_NOTES_OFF, ALL_SOUND_OFF):
        send(bytes((CONTROL | score.channel, mode, 0)))


def _wait_until(moment: float, clock: Clock) -> None:
    while (left := moment - clock.now()) > 0:
        clock.wait(min(left, LOOK))
