"""The browser makes the same voices and mixes as Python, within 1e-3 a sample, from the same table."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from grooveforge.core.kit import Kind
from grooveforge.sound.kit_voices import VOICES
from grooveforge.sound.mix import mix
from grooveforge.sound.rules import RATE
from grooveforge.sound.sounds import performance_sounds, placed
from grooveforge.sound.voices import Bank, bank, table
from tests.sound.browsers import in_chromium, in_node
from tests.sound.songs import Stroke, song

if TYPE_CHECKING:
    from playwright.sync_api import Browser

CLOSE = 1e-3

HARD, GHOST = 3, 0

GROOVE: list[Stroke] = [
    *((240 * n, "closed hi-hat" if n % 4 else "open hi-hat", 70 + 5 * (n % 8)) for n in range(16)),
    *((120 * n, "kick", 90 + n) for n in range(24)),
    (480, "snare", 118), (1440, "snare", 110), (1410, "snare", 30), (2400, "snare", 114), (3360, "snare", 120),
    (0, "crash", 90), (1920, "china", 118), (1920, "second crash", 127), (2880, "crash", 120, Kind.CHOKE),
    (3000, "ride bell", 110), (3240, "ride", 90), (3480, "note 61", 90), (3600, "floor tom", 100),
]  # fmt: skip


def job(voices: list[tuple[int, int, int]], mixes: list[dict[str, Any]], rate: int = RATE) -> dict[str, Any]:
    return {"table": json.loads(json.dumps(table())), "rate": rate, "voices": voices, "mixes": mixes}


QUIET: list[Stroke] = [(0, "crash", 127), (40, "kick", 127), *((240 * n, "closed hi-hat", 60) for n in range(1, 16))]
"""A first sound that is far louder than what follows."""


def groove_job(cuts: list[tuple[int, int]], groove: list[Stroke] = GROOVE) -> dict[str, Any]:
    """The groove's events as the page has them, mixed in windows of (first sample, length)."""
    sounds = performance_sounds(song(groove, bpm=150, end=3840))
    strokes = placed(sounds, RATE)
    until = [round(moment * RATE) if np.isfinite(moment) else None for moment in sounds.until.tolist()]
    columns = {
        "at": strokes.at.tolist(),
        "surface": strokes.surface.tolist(),
        "velocity": strokes.velocity.tolist(),
        "until": until,
        "level": 1,
    }
    return job([], [{**columns, "start": start, "length": length} for start, length in cuts])


def far(given: list[float], wanted: np.ndarray[Any, np.dtype[np.float32]]) -> float:
    """The largest difference of a sample; both are of one length."""
    assert len(given) == len(wanted)
    return float(np.abs(np.array(given, np.float32) - wanted).max())


EVERY = [(row.code, layer, variant) for row in VOICES for layer, variant in ((HARD, 0), (GHOST, 2))]


def test_every_voice_in_node() -> None:
    """Hardest and softest layer of every voice, two variants."""
    given = in_node(job(EVERY, []))["voices"]
    for key, samples in zip(EVERY, given):
        assert far(samples, bank().mono(*key)) < CLOSE, key


def test_another_rate_in_node() -> None:
    """At 48 kHz, which most browsers run at, they agree as well."""
    some = EVERY[::7]
    for key, samples in zip(some, in_node(job(some, [], 48_000))["voices"]):
        assert far(samples, Bank(48_000).mono(*key)) < CLOSE, key


def test_a_mix_in_node() -> None:
    """Chokes, held strokes, levels, unknown notes and the ceiling are the same; a window is a cut of the whole."""
    whole = mix(song(GROOVE, bpm=150, end=3840))
    cuts = [(0, len(whole)), (30_000, 9000), (44_100, 8820), (52_920, 8820)]
    given = in_node(groove_job(cuts))["mixes"]
    for (start, length), sides in zip(cuts, given):
        for side in (0, 1):
            assert far(sides[side], whole[start : start + length, side]) < CLOSE, (start, side)


def test_the_first_sound_is_as_soft_in_node() -> None:
    """A crash and a kick in front of a quiet song come as softly as Python makes them; the hi-hats keep their level."""
    whole = mix(song(QUIET, bpm=150, end=3840))
    first = round(0.1 * RATE)
    assert np.abs(whole[:first]).max() < 0.2 * np.abs(mix(song(QUIET[:2], bpm=150, end=3840))).max()
    for side, samples in enumerate(in_node(groove_job([(0, len(whole))], QUIET))["mixes"][0]):
        assert far(samples, whole[:, side]) < CLOSE / 10


@pytest.mark.parametrize("seconds", [0.9, 1.6])
def test_what_comes_later_changes_nothing_before(seconds: float) -> None:
    """A window mixed before later strokes are known is the same as one mixed with them."""
    end = round(seconds * RATE)
    known = groove_job([(0, end)])
    early = groove_job([(0, end)])
    row = early["mixes"][0]
    heard = sum(at < end for at in row["at"])
    early["mixes"] = [row | {name: row[name][:heard] for name in ("at", "surface", "velocity", "until")}]
    assert in_node(known)["mixes"] == in_node(early)["mixes"]


def test_voices_and_mix_in_chromium(browser: Browser) -> None:
    """The same in a browser: one long cymbal, drums, a riff tone, and the groove."""
    codes = {row.name: row.code for row in VOICES}
    some = [(codes[name], HARD, 1) for name in ("crash", "china", "kick", "snare", "closed hi-hat", "muted riff")]
    whole = mix(song(GROOVE, bpm=150, end=3840))
    asked = groove_job([(20_000, 30_000)]) | {"voices": some}
    given = in_chromium(asked, browser)
    for key, samples in zip(some, given["voices"]):
        assert far(samples, bank().mono(*key)) < CLOSE, key
    for side in (0, 1):
        assert far(given["mixes"][0][side], whole[20_000:50_000, side]) < CLOSE
