"""What is told of bars of real files, measured against bars read by eye (see the note in labels.json).

Two scores: any of the readings that the reader saw, and the first alone, which a musician would say first.
"""

from __future__ import annotations

import hashlib
import json
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

from grooveforge.core.kit import ALIASES
from grooveforge.formats.drums_read import read_drums
from grooveforge.formats.smf_read import read_smf
from grooveforge.project.inspecting import midi_inspection
from tests.corpora import FREEDOOM, needed

FIXTURES = Path(__file__).parent / "fixtures" / "freedoom"
LABELS: list[dict[str, Any]] = json.loads((FIXTURES / "labels.json").read_text(encoding="utf-8"))["bars"]

HALF_A_SIXTEENTH = 0.126
"""Quarter notes by which a backbeat may stand beside its label, which says its nominal place."""


@lru_cache(maxsize=1)
def _told() -> list[tuple[dict[str, Any], dict[str, Any]]]:
    """Every label with what `inspect` tells of its bar."""
    files = needed(FREEDOOM)
    wanted = {label["file"] for label in LABELS}
    bars = {name: midi_inspection(read_drums(read_smf(files[name])))["bars"] for name in wanted}
    return [(label, bars[label["file"]][label["bar"] - 1]) for label in LABELS]


def _readings(label: dict[str, Any], key: str) -> list[Any]:
    """What the reader said of a bar, the first reading first."""
    several = isinstance(label["feel"], list) if key == "backbeats" else isinstance(label[key], list)
    readings = list(label[key]) if several else [label[key]]
    return [ALIASES.get(name, name) for name in readings] if key == "timekeeper" else readings


def _same(reading: Any, found: Any) -> bool:
    if not isinstance(reading, list):
        return bool(reading == found)
    near = (abs(one - other) < HALF_A_SIXTEENTH for one, other in zip(sorted(reading), found))
    return len(reading) == len(found) and all(near)


GOAL = 0.95

SCORES = [
    # what, least share of the first reading. Measured, per cent of 721 bars: any reading, the first, any
    # reading of the bars kept out of tuning: feel 98.5, 89.7, 97.6; backbeats 98.1, 89.2, 97.6; timekeeper 99.0,
    # 94.6, 98.0; subdivision 98.6, 95.1, 97.6. (Before tuning feel had 85 by any reading.)
    ("feel", 0.89),
    ("backbeats", 0.885),
    ("timekeeper", 0.94),
    ("subdivision", 0.945),
]


def _kept_out(label: dict[str, Any]) -> bool:
    """Whether a bar is of the third of the files, drawn by a hash of the name, that no rule was tuned on."""
    return int(hashlib.sha256(label["file"].encode()).hexdigest(), 16) % 3 == 0


@pytest.mark.parametrize(("key", "least_first"), SCORES, ids=[score[0] for score in SCORES])
def test_bars_read_by_eye_are_told_alike(key: str, least_first: float) -> None:
    """95 per cent by any reading, also of the bars that the last tuning did not look at.

    All labelled bars count; none is left out for being hard. Told otherwise stay builds and fills in unison that
    hold a backbeat of half time, a side-stick ostinato, and bars whose second backbeat opens a roll.
    """
    told = _told()
    assert len(told) >= 700
    kept_out = [(label, bar) for label, bar in told if _kept_out(label)]
    assert len(kept_out) >= 200
    for some in (told, kept_out):
        anyone = sum(any(_same(reading, bar[key]) for reading in _readings(label, key)) for label, bar in some)
        assert anyone >= GOAL * len(some), f"{key}: {anyone / len(some):.1%} of {len(some)} bars by any reading"
    first = sum(_same(_readings(label, key)[0], bar[key]) for label, bar in told)
    assert first >= least_first * len(told), f"{key}: {first / len(told):.1%} of {len(told)} bars by the first reading"
