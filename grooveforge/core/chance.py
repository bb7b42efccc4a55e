"""Randomness: one explicit generator a section and purpose, from the song's seed alone.

A section's random choices depend on the seed, its part's name and the statement's number among that part's,
never on its place in the form, so a change in one place leaves every other bar alone.
"""

from __future__ import annotations

from zlib import crc32

import numpy as np


def generator(seed: int, part: str, statement: int, purpose: str) -> np.random.Generator:
    """A generator for one purpose ("levels", "ending", "fill" ...) in one statement of a part."""
    return np.random.default_rng([seed, crc32(part.encode()), statement, crc32(purpose.encode())])
