"""Real drum parts that no one here wrote (Debian's freedoom, BSD-style licence; three files are fixtures)."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from grooveforge.formats.drums_read import read_drums
from grooveforge.formats.smf_read import read_smf
from grooveforge.formats.vary_midi import Variation, vary_part, write_back
from grooveforge.project.inspecting import inspect

FIXTURES = Path(__file__).parent / "fixtures" / "freedoom"
FILES = sorted(FIXTURES.glob("*.mid"))
LABELS: list[dict[str, Any]] = json.loads((FIXTURES / "labels.json").read_text(encoding="utf-8"))["bars"]


def _agrees(label: object, found: object) -> bool:
    """Whether a reading is the label, or one of them where the reader saw two."""
    return found in label if isinstance(label, list) else found == label


@pytest.mark.parametrize(("key", "least"), [("feel", 0.85), ("timekeeper", 0.9)])
def test_labelled_bars_of_the_fixtures(key: str, least: float) -> None:
    """Feel and timekeeper of bars read by eye are told in most of them."""
    right = []
    for path in FILES:
        bars = inspect(str(path))["bars"]
        mine = [label for label in LABELS if label["file"] == path.stem]
        right += [_agrees(label[key], bars[label["bar"] - 1][key]) for label in mine]
    assert len(right) >= 60
    assert sum(right) >= least * len(right), f"{sum(right)} of {len(right)}"


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_the_hand_on_china_changes_nothing_else(path: Path) -> None:
    """After `--timekeeper china` every tick and velocity is there, and only the hand's notes are others."""
    file = read_smf(path.read_bytes())
    part = read_drums(file)
    after = read_drums(read_smf(write_back(file, vary_part(part, Variation(timekeeper="china")))))
    before = set(zip(part.tick.tolist(), part.note.tolist(), part.velocity.tolist()))
    now = set(zip(after.tick.tolist(), after.note.tolist(), after.velocity.tolist()))
    hands = {42, 46, 44, 51, 53, 59, 49, 57, 41, 43, 55, 56}
    assert {note for _, note, _ in before - now} <= hands
    assert {note for _, note, _ in now - before} <= {52}
