"""Numbers that look random and are the same in Python and in a browser: a hash of a counter, 32 bits wide.

The mixing steps (xor-shifts and two multiplications) are C. Wellons's "lowbias32" (public domain, 2018); a
browser does the same with Math.imul. Nothing is remembered between calls: number n of a seed is always the same.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

STRIDE = 0x9E3779B1
"""2^32 by the golden ratio, odd: seeds next to each other begin far apart."""

FIRST, SECOND = 0x7FEB352D, 0x846CA68B
MASK = 0xFFFFFFFF


def seed_of(*numbers: int) -> int:
    """One seed of 32 bits from several small whole numbers."""
    seed = 0
    for number in numbers:
        seed = _mixed((seed * STRIDE + number + 1) & MASK)
    return seed


def _mixed(word: int) -> int:
    word = ((word ^ word >> 16) * FIRST) & MASK
    word = ((word ^ word >> 15) * SECOND) & MASK
    return word ^ word >> 16


def words(seed: int, count: int) -> NDArray[np.uint32]:
    """(count,) 32-bit words: the hashes of seed, seed + 1 ..."""
    word = np.arange(count, dtype=np.uint32)
    word += np.uint32(seed & MASK)
    word ^= word >> 16
    word *= np.uint32(FIRST)
    word ^= word >> 15
    word *= np.uint32(SECOND)
    word ^= word >> 16
    return word


def white(seed: int, count: int) -> NDArray[np.float32]:
    """(count,) white noise, even between -1 and 1."""
    # The upper 24 bits are what a float32 holds exactly.
    return (words(seed, count) >> 8).astype(np.float32) * np.float32(2.0**-23) - np.float32(1)


def evenly(seed: int, count: int) -> NDArray[np.float64]:
    """(count,) numbers from 0 up to 1."""
    return words(seed, count).astype(np.float64) * 2.0**-32
