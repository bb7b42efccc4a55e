"""The energy line: values by hand, and what must make it rise."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest

from grooveforge.analysis.energy import SURFACE_WEIGHTS, energy_line
from grooveforge.core.arrange import arrange
from grooveforge.core.perform import perform
from grooveforge.project.sheets import song_from
from tests.sheet_parts import PLAIN

SHEET = """
tempo = 120
levels = "flat"
form = [{form}]
[defaults]
arrival = false
""" + PLAIN + """\
[parts.a]
groove = "plain"
bars = 2
[parts.odd]
meter = "7/8"
groove = "seven-eight drive"
bars = 2
[parts.rest]
bars = 1
tacet = true
"""


def line_of(form: str) -> list[float]:
    performance = perform(arrange(song_from(SHEET.replace("{form}", form), "x.toml")))
    found = energy_line(performance)
    return [float(value) for value in found]


def test_by_hand() -> None:
    """Eighths at 94 on a closed hi-hat, backbeats at 114, two kicks at 94 (the definition; flat levels)."""
    hand, snare, kick = 94 / 127 * sqrt(2), 114 / 127, 94 / 127 * 0.5 * sqrt(1 / 2)
    assert line_of('"a"') == pytest.approx([hand + snare + kick] * 2)


def test_each_surface_has_its_weight() -> None:
    """Only the hand's part grows with the surface, by its weight."""
    hand = 94 / 127 * sqrt(2)
    plain = line_of('"a"')[0]
    for name, weight in SURFACE_WEIGHTS.items():
        moved = line_of(f'{{ part = "a", timekeeper = "{name}" }}')[0]
        assert moved - plain == pytest.approx(hand * (weight - 1)), name


def test_louder_is_more_and_fewer_backbeats_are_no_less() -> None:
    """The mean of the snare's level: half time alone takes nothing from the snare."""
    plain = line_of('{ part = "a", levels = "shaped" }')[0]
    loud = line_of('{ part = "a", level = "+2", levels = "shaped" }')[0]
    assert loud > plain
    half = line_of('{ part = "a", feel = "half" }')[0]
    assert half == pytest.approx(line_of('"a"')[0] - 94 / 127 * 0.5 * (sqrt(1 / 2) - sqrt(1 / 4)))


def test_every_bar_has_a_value() -> None:
    """Metres change, a bar rests: one value a bar, 0 for the rest."""
    found = line_of('"a", "odd", "rest", "a"')
    assert len(found) == 7
    assert found[4] == 0.0
    assert found[0] == found[5]
    assert np.all(np.array(found)[[0, 1, 2, 3, 5, 6]] > 0)
