"""The table of voices: one row a surface of the kit, and the click and riff tones beside them.

All numbers are ours, tuned by measuring (tests/sound) towards what a close, dry, heavy kit does: a kick with a
beater's click, a fat snare with wires, cymbals of many inharmonic partials over noise. Pans are the listener's
in front of a right-handed kit.
"""

from __future__ import annotations

from dataclasses import replace

from grooveforge.core.kit import SURFACE_CODES
from grooveforge.sound.parts import Cloud, Glide, Hiss, Part, Ring, Voice

HATS = "hi-hat"

LONG = 1.6
"""Seconds: the variants of a longer voice share their parts."""


def _row(
    name: str, seconds: float, gain: float, pan: float, *parts: Part, drive: float = 0.0, group: str = "", held: int = 4
) -> Voice:
    row = Voice(name, SURFACE_CODES[name], seconds, gain, pan, parts, drive, group=group, held=held)
    return replace(row, shared=seconds > LONG)


def _twice(part: Cloud) -> tuple[Cloud, Cloud]:
    """A cloud twice, with partials of its own each: as the variants of a long voice weigh its parts otherwise, what
    they share is not heard as one and the same."""
    return part, part


def _tom(name: str, pitch: float, pan: float, decay: float, gain: float) -> Voice:
    """A tom: a skin that falls to its pitch, the next modes of a circular skin (1.59, 2.14 times), a stick."""
    return _row(
        name, 6.5 * decay, gain, pan,
        Glide(1.5 * pitch, pitch, 0.035, decay, 0.9),
        Glide(1.59 * 1.35 * pitch, 1.59 * pitch, 0.025, 0.45 * decay, 0.33, 0.6),
        Ring(((2.14 * pitch, 0.20, 0.3 * decay), (2.65 * pitch, 0.13, 0.2 * decay)), 1.0, 0.8),
        Hiss(150, 1200, 0.05, 0.12, 0.5, taps=95),
        Hiss(1800, 6500, 0.006, 0.85, 1.0),
        drive=1.2,
    )  # fmt: skip


KIT_VOICES: tuple[Voice, ...] = (
    _row(
        "kick", 0.40, 0.8, 0.0,
        Glide(190, 54, 0.016, 0.068, 1.0),
        Glide(330, 108, 0.010, 0.032, 0.32, 0.4),
        Hiss(60, 420, 0.030, 0.10, 0.3, taps=127),
        Ring(((1350, 0.24, 0.006), (2450, 0.38, 0.005), (3700, 0.46, 0.0045), (5200, 0.28, 0.003)), 1.0, 1.0),
        Hiss(2200, 7500, 0.004, 0.95, 1.0),
        drive=1.4,
        held=2,  # the beater stops the last stroke's swing, and the lows of a double kick stay apart
    ),
    _row(
        "snare", 0.40, 0.8, 0.0,
        Glide(255, 186, 0.012, 0.060, 0.75),
        Glide(420, 322, 0.010, 0.036, 0.35, 0.4),
        Ring(((472, 0.16, 0.030), (655, 0.10, 0.024), (905, 0.07, 0.020)), 1.0, 0.6),
        Hiss(450, 2400, 0.040, 0.40, 0.4, taps=63),
        Hiss(2300, 11500, 0.062, 0.62, 0.7, rise=0.0015),
        Hiss(1500, 9000, 0.006, 0.80, 1.0),
        drive=1.5,
    ),
    _row(
        "side stick", 0.14, 0.6, 0.05,
        Ring(((430, 0.45, 0.012), (1050, 0.55, 0.012), (1720, 0.75, 0.010), (2630, 0.40, 0.007)), 1.0),
        Hiss(1500, 8000, 0.004, 0.7, 0.8),
        drive=1.0,
    ),
    _row(
        "hand clap", 0.32, 0.6, -0.05,
        Hiss(900, 2600, 0.008, 0.7, taps=63),
        Hiss(900, 3200, 0.050, 0.8, 0.4, rise=0.022, taps=63),
        Hiss(2500, 9000, 0.030, 0.3, 0.8, rise=0.012),
    ),
    _row(
        "closed hi-hat", 0.11, 0.5, -0.35,
        Cloud(36, 5600, 15500, -1.5, 0.012, 0.010, 1.1, 0.3),
        Hiss(9000, 17500, 0.011, 0.60, 1.2),
        Hiss(4500, 12000, 0.002, 0.45, 1.0),
        group=HATS,
    ),
    _row(
        "half-open hi-hat", 0.36, 0.42, -0.35,
        Cloud(56, 3900, 15500, -1.0, 0.045, 0.036, 1.1, 0.3),
        Hiss(8000, 17500, 0.042, 0.50, 1.2, rise=0.001),
        Hiss(3500, 11000, 0.006, 0.55, 1.0),
        group=HATS,
    ),
    _row(
        "open hi-hat", 0.66, 0.37, -0.35,
        Cloud(64, 3300, 15500, -1.0, 0.090, 0.075, 1.1, 0.3),
        Hiss(7500, 17500, 0.080, 0.46, 1.2, rise=0.001),
        Hiss(3200, 11000, 0.006, 0.45, 1.0),
        group=HATS,
    ),
    _row(
        "pedal hi-hat", 0.11, 0.45, -0.35,
        Cloud(30, 4200, 10500, -2.5, 0.014, 0.010, 1.0, 0.2),
        Hiss(7500, 14000, 0.010, 0.45, 1.2, rise=0.002),
        group=HATS,
    ),
    _row(
        "ride", 2.6, 0.19, 0.35,
        Ring(((2130, 0.50, 0.42), (2795, 0.55, 0.42), (3560, 0.45, 0.36), (4620, 0.22, 0.28)), 0.42, 0.5),
        Ring(((2440, 0.38, 0.40), (3170, 0.42, 0.38), (3890, 0.28, 0.34)), 0.42, 0.5),
        *_twice(Cloud(13, 430, 1900, -2.0, 0.50, 0.42, 0.16, 0.2)),
        *_twice(Cloud(32, 4300, 13000, -3.0, 0.30, 0.16, 0.35, 0.8)),
        Hiss(4200, 13000, 0.20, 0.09, 0.9, rise=0.004),
        Hiss(2500, 9500, 0.004, 0.75, 0.9),
    ),
    _row(
        "ride bell", 2.2, 0.16, 0.35,
        Ring(((2680, 1.0, 0.34),), 0.8, 0.2),
        Ring(
            ((1010, 0.14, 0.30), (1790, 0.13, 0.26), (4060, 0.20, 0.18), (5530, 0.17, 0.13), (7120, 0.10, 0.10)),
            0.8, 0.6,
        ),
        *_twice(Cloud(20, 4300, 12000, -3.0, 0.20, 0.10, 0.25, 1.0)),
        Hiss(2500, 9500, 0.003, 0.60, 0.9),
    ),
    _row(
        "second ride", 2.4, 0.18, 0.55,
        Ring(((2010, 0.42, 0.38), (2650, 0.45, 0.36), (3420, 0.34, 0.34)), 0.42, 0.5),
        Ring(((2310, 0.50, 0.38), (3040, 0.52, 0.36), (3770, 0.36, 0.30)), 0.42, 0.5),
        *_twice(Cloud(13, 380, 1800, -2.0, 0.46, 0.40, 0.18, 0.2)),
        *_twice(Cloud(32, 4000, 12000, -3.0, 0.28, 0.15, 0.39, 0.8)),
        Hiss(3800, 12000, 0.20, 0.11, 0.9, rise=0.004),
        Hiss(2200, 9000, 0.004, 0.75, 0.9),
    ),
    _row(
        "crash", 2.6, 0.36, -0.5,
        *_twice(Cloud(20, 380, 2600, 1.5, 0.44, 0.42, 0.25, 0.2)),
        *_twice(Cloud(48, 2600, 14500, -1.2, 0.42, 0.24, 0.71, 0.6)),
        Hiss(3200, 15000, 0.28, 0.30, 0.9, rise=0.006),
        Hiss(2200, 11000, 0.012, 0.50, 1.0),
    ),
    _row(
        "second crash", 2.5, 0.36, 0.5,
        *_twice(Cloud(20, 460, 3000, 1.5, 0.42, 0.39, 0.25, 0.2)),
        *_twice(Cloud(48, 3000, 15500, -1.2, 0.39, 0.22, 0.71, 0.6)),
        Hiss(3800, 16000, 0.25, 0.30, 0.9, rise=0.005),
        Hiss(2600, 12000, 0.012, 0.50, 1.0),
    ),
    _row(
        "china", 0.85, 0.36, 0.7,
        Cloud(60, 620, 4200, 1.0, 0.105, 0.100, 0.60, 0.2),
        Cloud(90, 4200, 16500, 0.5, 0.105, 0.085, 1.00, 0.5),
        Hiss(5200, 17500, 0.095, 0.42, 0.7, rise=0.003),
        Hiss(3000, 13000, 0.010, 0.60, 1.0),
        drive=0.8,
    ),
    _row(
        "splash", 1.0, 0.36, -0.2,
        Cloud(30, 900, 4200, 1.0, 0.14, 0.12, 0.40, 0.2),
        Cloud(80, 4200, 16500, -1.0, 0.13, 0.08, 0.95, 0.5),
        Hiss(5200, 17000, 0.09, 0.32, 0.8, rise=0.002),
        Hiss(3200, 13000, 0.006, 0.50, 1.0),
    ),
    _row(
        "cowbell", 0.36, 0.5, 0.2,
        Ring(((562, 0.63, 0.055), (845, 0.72, 0.050)), 1.0, 0.2),
        Ring(((1690, 0.30, 0.030), (2510, 0.24, 0.022), (3360, 0.18, 0.016)), 1.0, 1.0),
        Hiss(2000, 8000, 0.003, 0.4, 0.9),
        drive=1.0,
    ),
    _tom("high tom", 229, -0.3, 0.105, 0.62),
    _tom("hi-mid tom", 178, -0.12, 0.12, 0.62),
    _tom("low-mid tom", 139, 0.08, 0.135, 0.62),
    _tom("low tom", 108, 0.28, 0.15, 0.62),
    _tom("high floor tom", 84, 0.45, 0.17, 0.62),
    _tom("floor tom", 65, 0.6, 0.19, 0.62),
    _row(
        "tambourine", 0.36, 0.45, 0.25,
        Cloud(40, 5200, 13500, -1.0, 0.045, 0.035, 0.9, 0.3),
        Hiss(8000, 17000, 0.030, 0.5, 1.2, rise=0.004),
        Hiss(700, 2500, 0.008, 0.2, 0.3, taps=63),
    ),
    _row(
        "vibraslap", 0.75, 0.45, -0.25,
        Cloud(18, 1900, 5200, -1.0, 0.11, 0.09, 0.8),
        Hiss(3200, 8000, 0.10, 0.30, 1.0, taps=63),
    ),
)  # fmt: skip

STRONG_CLICK, CLICK, OPEN_RIFF, MUTED_RIFF, UNKNOWN = "strong click", "click", "riff", "muted riff", "unknown note"
"""What sounds beside the kit: the click on a bar's 1 and on other beats, a guitar's attack ringing and muted, and
a note that the key map does not know."""

RIFF_PITCH = 82.41
"""The plucked tone: a guitar's lowest string, E2, in equal temperament at A4 = 440 Hz."""


def _string(name: str, code: int, seconds: float, gain: float, decay: float, high: int) -> Voice:
    """A plucked string: harmonics that die the sooner the higher they are, a little sharp as stiff strings are."""
    partials = tuple(
        (RIFF_PITCH * n * (1 + 0.00006 * n * n) ** 0.5, 0.55 / n**0.6, decay / (1 + 0.22 * (n - 1)))
        for n in range(1, high)
    )
    body, edge = partials[:4], partials[4:]
    return Voice(name, code, seconds, gain, 0.0, (Ring(body), Ring(edge, 1.0, 1.5)), ramp=0.002)


def _click(name: str, code: int, pitch: float, gain: float) -> Voice:
    parts = (Ring(((pitch, 0.8, 0.010), (2.76 * pitch, 0.25, 0.005))), Hiss(2500, 9000, 0.0015, 0.3))
    return Voice(name, code, 0.08, gain, 0.0, parts, ramp=0.0005)


BESIDE_VOICES: tuple[Voice, ...] = (
    _click(STRONG_CLICK, 90, 1600, 0.55),
    _click(CLICK, 91, 1070, 0.45),
    _string(OPEN_RIFF, 92, 1.1, 0.30, 0.30, 14),
    _string(MUTED_RIFF, 93, 0.16, 0.42, 0.030, 7),
    Voice(
        UNKNOWN, 94, 0.16, 0.5, 0.0,
        (Ring(((780, 0.7, 0.020), (1310, 0.4, 0.014))), Hiss(1500, 6000, 0.003, 0.4, 0.8)),
    ),
)  # fmt: skip
"""Codes 90 to 99 of event tables are kept for these; the kit counts from 0."""

VOICES = KIT_VOICES + BESIDE_VOICES
