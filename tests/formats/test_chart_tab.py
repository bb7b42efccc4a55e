"""The drum tab of whole songs: read back it has the strokes of the score; lines fit on paper."""

from __future__ import annotations

import re
from collections import Counter
from fractions import Fraction
from pathlib import Path

import pytest

from grooveforge.core.kit import Kind
from grooveforge.core.meter import Meter
from grooveforge.core.score import Hit, Score, ScoreBar
from grooveforge.formats.chart_tab import WIDTH, count_line, grid_of, song_tab
from grooveforge.formats.tab_marks import marks_of
from grooveforge.project.charting import read_source
from tests.charts import GROOVES, SONGS

LINE = re.compile(r"^([A-Z][A-Za-z0-9])\s+\|(.*)\|$", re.MULTILINE)


@pytest.mark.parametrize("path", [*SONGS, *GROOVES], ids=lambda path: path.stem)
def test_the_tab_has_every_stroke(path: Path) -> None:
    """Marks counted by what they strike are the score's strokes by surface."""
    score = read_source(path.read_bytes(), str(path)).score
    counts: Counter[str] = Counter()
    for label, marks in LINE.findall(song_tab(score)):
        known = marks_of(label) or {}
        counts.update(known[mark].surface for mark in marks if mark in known)
    assert counts == Counter(hit.surface for bar in score.bars for hit in bar.hits)


@pytest.mark.parametrize("path", [*SONGS, *GROOVES], ids=lambda path: path.stem)
def test_lines_fit_on_paper(path: Path) -> None:
    """No line is wider than A4 holds at the size of the page's type."""
    score = read_source(path.read_bytes(), str(path)).score
    assert max(len(line) for line in song_tab(score).splitlines() if not line.startswith("#")) <= WIDTH + 8


@pytest.mark.parametrize(
    ("meter", "grid", "expected"),
    [
        (Meter(4, 4), 16, "1 + 2 + 3 + 4 + "),
        (Meter(4, 4), 8, "1+2+3+4+"),
        (Meter(4, 4), 12, "1  2  3  4  "),
        (Meter(3, 4), 8, "1+2+3+"),
        (Meter(7, 8), 8, "1234567"),
        (Meter(12, 8), 16, "1 2 3 4 5 6 7 8 9 101112"),
    ],
)
def test_the_count(meter: Meter, grid: int, expected: str) -> None:
    """1 + 2 + 3 + 4 + over quarters (encyclopaedia article "Drum tablature"), the lower figure else."""
    assert count_line(meter, grid) == expected


def test_a_wide_bar_is_cut_at_a_beat() -> None:
    """A bar of 96 columns makes two lines, the second begun with a beat."""
    hits = (Hit(Fraction(0), "kick", Kind.PLAIN, 94), Hit(Fraction(95, 96), "snare", Kind.PLAIN, 94))
    bar = ScoreBar(1, Meter(4, 4), hits)
    assert grid_of(bar) == 96
    lines = [marks for label, marks in LINE.findall(song_tab(Score("", (bar,)))) if label == "BD"]
    assert [len(line) for line in lines] == [72, 24]


def test_sections_stand_over_their_bars() -> None:
    """A heading says the section and its bars; what stands above the staff is said too."""
    bars = (
        ScoreBar(1, Meter(4, 4), section="gate"),
        ScoreBar(2, Meter(4, 4), section="quiet", words=("tacet",)),
        ScoreBar(3, Meter(4, 4)),
    )
    headings = [line for line in song_tab(Score("", bars)).splitlines() if "bar" in line]
    assert headings == ["gate, bar 1", "quiet, bars 2-3 (tacet)"]


def test_sticking_line() -> None:
    """R, L, and B where both hands strike."""
    hits = (
        Hit(Fraction(0), "crash", Kind.PLAIN, 94, 0, "R"),
        Hit(Fraction(0), "snare", Kind.PLAIN, 94, 0, "L"),
        Hit(Fraction(1, 4), "snare", Kind.PLAIN, 94, 0, "R"),
        Hit(Fraction(1, 4), "kick", Kind.PLAIN, 94, 0, "R"),
    )
    text = song_tab(Score("", (ScoreBar(1, Meter(2, 4), hits),)), sticking=True)
    assert "St |B-R-|" in text
    assert "St" not in song_tab(Score("", (ScoreBar(1, Meter(2, 4), hits),)))
