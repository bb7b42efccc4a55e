"""What is told of bars of real files, measured against bars read by eye (see the note in labels.json).

Two scores: any of the readings that the reader saw, and the first alone, which a musician would say first.
"""

from __future__ import annotations

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


SCORES = [
    # what, least share of any reading, least share of the first reading; measured 92.0/82.7, 92.1/83.5,
    # 95.6/91.7 and 95.4/92.0 per cent. Sixteen bars of 6/4 played as two threes and a dozen bars of 3/4 that
    # are the bar without a backbeat of a two-bar cycle are among the 58 feels that are told otherwise.
    ("feel", 0.919, 0.825),
    ("backbeats", 0.92, 0.83),
    ("timekeeper", 0.955, 0.915),
    ("subdivision", 0.95, 0.918),
]


@pytest.mark.parametrize(("key", "least", "least_first"), SCORES, ids=[score[0] for score in SCORES])
def test_bars_read_by_eye_are_told_alike(key: str, least: float, least_first: float) -> None:
    """All labelled bars count; none is left out for being hard."""
    told = _told()
    assert len(told) >= 700
    anyone = sum(any(_same(reading, bar[key]) for reading in _readings(label, key)) for label, bar in told)
    first = sum(_same(_readings(label, key)[0], bar[key]) for label, bar in told)
    said = f"{key}: {anyone / len(told):.1%} of {len(told)} bars by any reading, {first / len(told):.1%} by the first"
    assert anyone >= least * len(told) and first >= least_first * len(told), said
