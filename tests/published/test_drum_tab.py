"""Published tabs read as tabs: the d-beats and blasts of two encyclopaedia articles.

Sources: encyclopaedia article "D-beat", three tabs; encyclopaedia article "Blast beat", section
Characteristics, four tabs (one character = one sixteenth, sixteen columns = one bar of 4/4).
"""

from __future__ import annotations

import pytest

from grooveforge.core.groove import Groove
from grooveforge.core.meter import Meter
from grooveforge.core.roles import read_feel
from grooveforge.formats.tab import read_tab, tab_of

# Encyclopaedia article "D-beat", three tabs: hand line, hand, snare, kick.
D_BEATS = {
    "v1": ("HH", "x-x-x-x-x-x-x-x-", "--o---o---o---o-", "o---oo--o---oo--"),
    "v2": ("HH", "x-x-x-x-x-x-x-x-", "--o---o---o---o-", "o----o--o--o-o--"),
    "v3": ("CC", "x--x-x--x--x-x--", "--o---o---o---o-", "o--o-o--o--o-o--"),
}

# Encyclopaedia article "Blast beat", Characteristics, tabs 1-4.
BLASTS = {
    "unison": ("CC", "x-x-x-x-x-x-x-x-", "o-o-o-o-o-o-o-o-", "o-o-o-o-o-o-o-o-"),
    "alternating": ("CC", "x-x-x-x-x-x-x-x-", "-o-o-o-o-o-o-o-o", "o-o-o-o-o-o-o-o-"),
    "double-kick": ("CC", "x-x-x-x-x-x-x-x-", "o-o-o-o-o-o-o-o-", "oooooooooooooooo"),
    "one-hand-roll": ("CC", "x-x-x-x-x-x-x-x-", "oooooooooooooooo", "o-o-o-o-o-o-o-o-"),
}

TABS = [("d-beat", *row) for row in D_BEATS.items()] + [("blast", *row) for row in BLASTS.items()]


def text_of(lines: tuple[str, str, str, str]) -> str:
    label, hand, snare, kick = lines
    return f"{label} {hand}\nSN {snare}\nBD {kick}\n"


def columns(line: str) -> list[int]:
    return [column for column, mark in enumerate(line) if mark != "-"]


def groove_of(lines: tuple[str, str, str, str]) -> Groove:
    return read_tab(text_of(lines)).groove(Meter(4, 4))


@pytest.mark.parametrize(("feel", "spelling", "lines"), TABS)
def test_the_published_columns_are_the_strokes(feel: str, spelling: str, lines: tuple[str, str, str, str]) -> None:
    """Each mark of the published tab is a stroke on its sixteenth, and there are no others."""
    groove = groove_of(lines)
    assert groove.hand is not None
    assert (groove.grid, groove.bars) == (16, 1)
    assert groove.hand.struck.tolist() == columns(lines[1])
    assert groove.lane_on("snare").struck.tolist() == columns(lines[2])
    assert groove.lane_on("kick").struck.tolist() == columns(lines[3])
    assert groove.surface == {"HH": "closed hi-hat", "CC": "crash"}[lines[0]]


@pytest.mark.parametrize(("feel", "spelling", "lines"), TABS)
def test_the_published_tab_prints_as_it_stands(feel: str, spelling: str, lines: tuple[str, str, str, str]) -> None:
    """Reading a published tab and printing it gives the same tab."""
    assert tab_of(groove_of(lines)) == text_of(lines)


@pytest.mark.parametrize(("feel", "spelling", "lines"), TABS)
def test_the_published_tab_has_the_feel_of_its_article(
    feel: str, spelling: str, lines: tuple[str, str, str, str]
) -> None:
    """A tab of the article on d-beats is read as a d-beat of that figure, one on blasts as that blast."""
    reading = read_feel(groove_of(lines))
    assert (reading.feel, reading.spelling) == (feel, spelling)
