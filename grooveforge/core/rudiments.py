"""Published stickings by name: which hand strikes which stroke."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

RUDIMENTS: Mapping[str, str] = MappingProxyType(
    {
        "single stroke roll": "RLRL",
        "double stroke roll": "RRLL",
        "single paradiddle": "RLRRLRLL",
        "double paradiddle": "RLRLRRLRLRLL",
        "paradiddle-diddle": "RLRRLL",
    }
)
"""Name -> hands in order, begun again after the last (Percussive Arts Society, 40 International Drum Rudiments)."""
