"""The rules of mixing, in one table that Python and the page share: layers, levels, chokes, the ceiling.

All are house rules but the ceiling, 1 dB below full scale as broadcasters leave it for what comes after (EBU
Tech 3343 has it so for peaks), and the choke, about as quick as a hand on a cymbal.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from grooveforge.core.kit import BANDS

RATE = 44_100
"""Samples a second of everything that is written."""

FORCES = (0.25, 0.55, 0.8, 1.0)
"""How hard a stroke of each band of levels is, beside the hardest: ghost, tap, normal, accent."""

LAYERS = tuple((band.high, force) for band, force in zip(BANDS, FORCES, strict=True))
"""(highest velocity, force) of each layer of a voice."""

CURVE = 1.6
"""A stroke's level is its share of the highest velocity to this power: a ghost of 32 is 19 dB down."""

VARIANTS = 3
"""Unlike strokes of a voice, taken in turn."""

RELEASE = 0.040
"""Seconds in which a stroke that is let go, or choked, falls by 20 dB."""

RELEASE_LENGTH = 0.130
"""Seconds after which it is silent."""

MASTER = 0.52
"""The level of the whole."""

LOUDEST = -17.0
"""LUFS that a song is expected to have at most, counted from its voices; the limit is -16."""

KNEE, CEILING = 0.55, 10 ** (-1.1 / 20)
"""Peaks above the knee are rounded off so that none passes the ceiling."""

TOGETHER = 0.030
"""Seconds within which strokes are heard as one."""

FIRST_SHARE = 0.85
"""The first sound is at most this share of the loudest one after it, counted from the voices' own levels."""

AFTER_FIRST = 0.200
"""Seconds that count as the first sound."""


def rules() -> Mapping[str, object]:
    """The rules as a JSON object."""
    return MappingProxyType(
        {
            "layers": [list(layer) for layer in LAYERS],
            "curve": CURVE,
            "variants": VARIANTS,
            "release": RELEASE,
            "release_length": RELEASE_LENGTH,
            "master": MASTER,
            "knee": KNEE,
            "ceiling": CEILING,
            "together": TOGETHER,
            "first_share": FIRST_SHARE,
            "after_first": AFTER_FIRST,
        }
    )
