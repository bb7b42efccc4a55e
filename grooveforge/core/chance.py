"""Randomness: one explicit generator a section and purpose, from the song's seed alone.

A section's random choices depend on the seed, its part's name and the statement's number among that part's,
never on its place in the form, so a change in one place leaves every other bar alone.

The generator is the standard library's: numpy's costs more to import than a whole song takes to render. Where
arrays of numbers are drawn (looseness alone), `numbers` makes numpy's generator from it.
"""

from __future__ import annotations

from random import Random

import numpy as np


def generator(seed: int, part: str, statement: int, purpose: str) -> Random:
    """A generator for one purpose ("levels", "ending", "fill" ...) in one statement of a part."""
    return Random(f"{seed}/{statement}/{purpose}/{part}")


def numbers(chance: Random) -> np.random.Generator:
    """numpy's generator, seeded by the next draw of `chance`."""
    return np.random.default_rng(chance.getrandbits(64))
