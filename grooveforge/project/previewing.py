"""`preview`: an input as a WAV file."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from math import nan

import numpy as np

from grooveforge import files
from grooveforge.core.kit import ACCENT, NORMAL
from grooveforge.core.perform import Performance, seconds_at
from grooveforge.errors import FormatError, UsageError
from grooveforge.formats.keymap import GM, KeyMap
from grooveforge.formats.midi import beats
from grooveforge.project.heard import Heard, read_heard, section_of
from grooveforge.sound.kit_voices import CLICK, MUTED_RIFF, OPEN_RIFF, STRONG_CLICK
from grooveforge.sound.mix import Mixer, performance_seconds
from grooveforge.sound.rules import CURVE
from grooveforge.sound.sounds import Sounds
from grooveforge.sound.voices import BY_NAME
from grooveforge.sound.wav import wav_of_blocks

Progress = Callable[[float], None]

SOUNDFONT_FORMS = (b"sfbk", b"DLS ")

SLOWEST, FASTEST = 10, 400
"""Per cent of the song's own tempo."""


@dataclass(frozen=True)
class PreviewOptions:
    """How an input is heard.

    Parameters
    ----------
    section : one section alone. click : beside the drums. speed : 0.8 is at 80 % of the tempo.
    soundfont : path of the user's own kit; None for the voices of this package.
    channel : of a MIDI file's drums, from 1. key_map : of a MIDI file.
    """

    section: str | None = None
    click: bool = False
    speed: float = 1.0
    soundfont: str | None = None
    channel: int | None = None
    key_map: KeyMap | None = None


@dataclass(frozen=True, eq=False)
class Preview:
    """A WAV file's bytes, its length in seconds, and what there was to say."""

    data: bytes | bytearray
    seconds: float
    warnings: tuple[str, ...] = ()


def speed_of(said: str) -> float:
    """The speed that "80%" or "80" says, 0.8.

    Raises
    ------
    UsageError
        When it is no number from 10 to 400.
    """
    try:
        percent = float(said.strip().removesuffix("%"))
    except ValueError:
        percent = nan
    if not SLOWEST <= percent <= FASTEST:
        raise UsageError("a tempo is a share of the song's own", found=repr(said), allowed=f"{SLOWEST}% to {FASTEST}%")
    return percent / 100


def preview(source: str, options: PreviewOptions | None = None, progress: Progress | None = None) -> Preview:
    """The WAV of an input: a song sheet, a groove file or a MIDI file.

    Parameters
    ----------
    source : a path, or "-" for standard input. progress : told the share that is done, 0 to 1.

    Raises
    ------
    GrooveForgeError
        When the input cannot be read, has no such section, or its kit cannot be played.
    """
    options = options or PreviewOptions()
    heard = read_heard(source, options.channel, options.key_map)
    if options.section is not None:
        heard = section_of(heard, options.section)
    return preview_of(heard, options, progress)


def preview_of(heard: Heard, options: PreviewOptions, progress: Progress | None = None) -> Preview:
    """As `preview`, for what has been read."""
    song = heard.performance
    clicks = (click_sounds(song),) if options.click else ()
    if options.soundfont is None:
        mixer = Mixer(song, *clicks, speed=options.speed)
        blocks, length, rate = mixer.blocks(), mixer.length, mixer.rate
    else:
        from grooveforge.sound.soundfont import Player

        check_soundfont(options.soundfont)
        notes, velocities, _ = GM.apply(song.events.surface, song.events.velocity)
        seconds = seconds_at(song, song.events.tick)
        player = Player(options.soundfont, (seconds, notes, velocities), performance_seconds(song), options.speed)
        blocks, length, rate = player.blocks(clicks), player.length, player.rate
    data = wav_of_blocks(blocks, length, rate, progress)
    return Preview(data, length / rate, heard.warnings)


def check_soundfont(path: str) -> None:
    """A FormatError when a file is no SoundFont, told by its first bytes (SoundFont 2.04: RIFF, form sfbk)."""
    head = files.read_head(path, 12)
    if head[:4] != b"RIFF" or head[8:] not in SOUNDFONT_FORMS:
        raise FormatError("this is no SoundFont", file=path, found=repr(head), allowed="a .sf2 or .sf3 file")


def riff_sounds(attacks: Iterable[tuple[float, bool, bool]], level: float = 1.0) -> Sounds:
    """A guitar's attacks as plain low plucked tones beside the drums.

    Parameters
    ----------
    attacks : (seconds, accented, muted), by time. level : their own level, 0 to 1; softer tones are darker too.
    """
    rows = list(attacks)
    loud = np.array([ACCENT if accented else NORMAL for _, accented, _ in rows], np.float64)
    codes = np.array([BY_NAME[MUTED_RIFF if muted else OPEN_RIFF].code for _, _, muted in rows], np.int64)
    seconds = np.array([second for second, _, _ in rows], np.float64)
    # The level of a stroke goes with a power of its velocity.
    return Sounds.of(seconds, codes, np.clip(np.rint(loud * level ** (1 / CURVE)), 1, 127).astype(np.uint8))


def click_sounds(performance: Performance) -> Sounds:
    """A click on every beat, the bar's first higher and louder."""
    listed = np.array(beats(performance), np.int64).reshape(-1, 3)
    strong = listed[:, 2] == 1
    codes = np.where(strong, BY_NAME[STRONG_CLICK].code, BY_NAME[CLICK].code)
    return Sounds.of(seconds_at(performance, listed[:, 0]), codes, np.where(strong, ACCENT, NORMAL).astype(np.uint8))
