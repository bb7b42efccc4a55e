"""WAV: 16-bit PCM in a RIFF.

IBM and Microsoft, "Multimedia Programming Interface and Data Specifications 1.0", 1991.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterable

import numpy as np
from numpy.typing import NDArray

from grooveforge.errors import UsageError
from grooveforge.sound.rules import RATE

FULL = 32_767
BYTES, CHANNELS = 2, 2
HEADER_BYTES = 44

LONGEST_MINUTES = 60
"""A longer WAV is refused: it would be over 600 MB."""


def wav_bytes(samples: NDArray[np.float32], rate: int = RATE) -> bytes:
    """(n, 2) samples of -1 to 1 as the bytes of a stereo WAV file."""
    return bytes(wav_of_blocks([samples], len(samples), rate))


def wav_of_blocks(
    blocks: Iterable[NDArray[np.float32]],
    length: int,
    rate: int = RATE,
    progress: Callable[[float], None] | None = None,
) -> bytearray:
    """Blocks of (m, 2) samples, `length` of them together, as the bytes of a stereo WAV file.

    Parameters
    ----------
    progress : told the share that is done, 0 to 1.

    Raises
    ------
    UsageError
        When there is more than an hour.
    """
    if length > LONGEST_MINUTES * 60 * rate:
        raise UsageError(
            "this is too long for a WAV file",
            found=f"{length / rate / 60:.0f} minutes",
            allowed=f"{LONGEST_MINUTES} minutes",
            hint="one section with --section",
        )
    made = bytearray(HEADER_BYTES + length * CHANNELS * BYTES)
    made[:HEADER_BYTES] = header(length, rate)
    data = np.frombuffer(made, "<i2", offset=HEADER_BYTES)
    scratch = np.empty(0, np.float32)
    done = 0
    for block in blocks:
        if block.size > scratch.size:
            scratch = np.empty(block.size, np.float32)
        scaled = np.multiply(block.reshape(-1), np.float32(FULL), out=scratch[: block.size])
        data[done : done + scaled.size] = np.rint(scaled, out=scaled)
        done += scaled.size
        if progress is not None:
            progress(done / data.size)
    return made


def header(length: int, rate: int) -> bytes:
    """The 44 bytes in front of `length` stereo samples."""
    size, frame = length * CHANNELS * BYTES, CHANNELS * BYTES
    form = struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, CHANNELS, rate, rate * frame, frame, 8 * BYTES)
    return struct.pack("<4sI4s", b"RIFF", HEADER_BYTES - 8 + size, b"WAVE") + form + struct.pack("<4sI", b"data", size)
