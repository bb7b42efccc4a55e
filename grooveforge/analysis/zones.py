"""Where things stand round a drummer, and how long a hand needs from one to another.

Both tables are house rules, in round numbers of common practice; they are the only place that holds them.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.kit import SURFACE_CODES, SURFACES

ZONES: Mapping[str, int] = MappingProxyType(
    {
        "closed hi-hat": 0, "half-open hi-hat": 0, "open hi-hat": 0,
        "snare": 1, "side stick": 1, "hand clap": 1, "crash": 1,
        "high tom": 2, "hi-mid tom": 2, "splash": 2, "tambourine": 2, "vibraslap": 2,
        "low-mid tom": 3, "low tom": 3,
        "ride": 4, "ride bell": 4, "cowbell": 4, "second crash": 4,
        "high floor tom": 5, "floor tom": 5,
        "china": 6, "second ride": 6,
    }
)  # fmt: skip
"""Zone of every surface that a hand strikes, left to right on a right-handed kit (house rule); a left-handed kit is
its mirror, so that distances are the same."""

MOVE_SECONDS = (0.0, 0.060, 0.090, 0.120, 0.120, 0.160, 0.160)
"""How long a hand needs over so many zones (house rule)."""

PEDAL_SECONDS = (0.0, 0.060)
"""How long a foot needs from the hi-hat's pedal to the kick's, or back: one zone (house rule)."""

ALTERNATED = frozenset(
    row.name for row in SURFACES if row.family in ("snare", "tom", "floor tom") and row.name != "hand clap"
)
"""What hands strike in turn; on hi-hats, cymbals and bells one hand may keep time (common practice)."""

NO_ZONE = -1

ZONE_OF_CODE: NDArray[np.int64] = np.full(max(SURFACE_CODES.values()) + 1, NO_ZONE, np.int64)
for _name, _zone in ZONES.items():
    ZONE_OF_CODE[SURFACE_CODES[_name]] = _zone
ZONE_OF_CODE.flags.writeable = False
"""Zone by surface code; -1 for what no hand strikes, or no one knows."""
