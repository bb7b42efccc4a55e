"""WAV files, read back by the standard library. Layout: IBM and Microsoft, Multimedia Data Specifications 1.0, 1991."""

from __future__ import annotations

import io
import wave

import numpy as np
import pytest

from grooveforge.errors import UsageError
from grooveforge.sound.wav import header, wav_bytes, wav_of_blocks


def read(data: bytes) -> tuple[wave._wave_params, np.ndarray[tuple[int, ...], np.dtype[np.int16]]]:
    with wave.open(io.BytesIO(data)) as file:
        frames = file.readframes(file.getnframes())
        return file.getparams(), np.frombuffer(frames, "<i2").reshape(-1, file.getnchannels())


def test_a_wav_is_read_back() -> None:
    """16 bits, 44,100 Hz, stereo, and every sample to the nearest step."""
    samples = np.random.default_rng(3).uniform(-0.9, 0.9, (1000, 2)).astype(np.float32)
    params, back = read(wav_bytes(samples))
    assert (params.nchannels, params.sampwidth, params.framerate, params.nframes) == (2, 2, 44_100, 1000)
    assert np.abs(back / 32_767 - samples).max() <= 0.5 / 32_767 + 1e-6


def test_header_bytes() -> None:
    """The first 44 bytes of a file of one frame, spelt out."""
    assert header(1, 44_100) == bytes.fromhex(
        "52494646 28000000 57415645"  # RIFF, 40 bytes follow, WAVE
        "666d7420 10000000 0100 0200"  # fmt, 16 bytes, PCM, 2 channels
        "44ac0000 10b10200 0400 1000"  # 44,100 a second, 176,400 bytes a second, 4 bytes a frame, 16 bits
        "64617461 04000000"  # data, 4 bytes
    )


def test_blocks_make_the_same_file() -> None:
    """Blocks one after the other are the file of the whole, and progress runs to 1."""
    samples = np.linspace(-0.5, 0.5, 200, dtype=np.float32).reshape(-1, 2)
    shares: list[float] = []
    assert wav_of_blocks([samples[:30], samples[30:]], 100, progress=shares.append) == wav_bytes(samples)
    assert shares == [pytest.approx(0.3), 1.0]


def test_too_long() -> None:
    """More than an hour is refused before anything is mixed."""
    with pytest.raises(UsageError, match="61 minutes"):
        wav_of_blocks([], 61 * 60 * 44_100)
