"""The HTML chart on paper, through the browser's own printing: A4, nothing cut off, the road map on one page."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from grooveforge.formats.chart_html import STYLE, document, road_map_section
from grooveforge.formats.roadmap import RoadRow
from grooveforge.project.charting import chart, read_source
from tests.browser_pdf import Page, printed
from tests.charts import SONGS

A4 = (210.0, 297.0)
"""ISO 216, millimetres."""

LEAST_MARGIN = 8.0
"""Printers leave about 5 mm white (common practice); ink nearer to the edge would be cut off."""


def print_of(text: str, folder: Path) -> list[Page]:
    (folder / "chart.html").write_text(text, encoding="utf-8")
    return printed(folder / "chart.html", folder)


def check_paper(pages: list[Page]) -> None:
    for number, page in enumerate(pages, 1):
        assert page.size == pytest.approx(A4, abs=1.0), number
        assert min(page.margins()) >= LEAST_MARGIN, (number, page.margins())


def words_of(text: str) -> str:
    """Text without the white in it: the browser breaks lines where it likes, also after a hyphen."""
    return re.sub(r"\s+", "", text.replace("\ufffe", "-"))


@pytest.mark.parametrize("path", [SONGS[0], SONGS[2]], ids=lambda path: path.stem)
def test_a_song_on_paper(path: Path, tmp_path: Path) -> None:
    """Page 1 is the whole road map; each page of notation is one page; every page is A4 with white margins."""
    text = chart(str(path), "html", sticking=True)
    assert isinstance(text, str)
    pages = print_of(text, tmp_path)
    check_paper(pages)
    source = read_source(path.read_bytes(), str(path))
    assert len(source.rows) > 5
    first = words_of(pages[0].text)
    assert all(words_of(cell) in first for row in source.rows for cell in row.cells)
    notation = text.count('<section class="notation">')
    heads = [f"notation, page {number} of {notation}" for number in range(1, notation + 1)]
    assert notation
    assert [words_of(head) in words_of(page.text) for head, page in zip(heads, pages[1:])] == [True] * notation
    assert "wrists" in first and "Key" in pages[1 + notation].text
    rest = words_of(" ".join(page.text for page in pages[1 + notation :]))
    assert all(words_of(f"{row.name}, bar") in rest for row in source.rows)


@pytest.mark.parametrize("sections", [9, 20, 40])
def test_the_road_map_is_one_page(sections: int, tmp_path: Path) -> None:
    """Nine sections, each with much to say, and more with less, stay on one page."""
    words = "as chorus 1 except 12 bars, the hand on ride bell then crash then china, an ending of its own"
    said = words if sections == 9 else "as chorus 1 except 12 bars"
    rows = [
        RoadRow(8 * n + 1, 8 * n + 8, f"second verse {n}", "4/4", "152 to 101", "half", "half-open hi-hat, ride", said)
        for n in range(sections)
    ]
    pages = print_of(document("Tin Kite", [road_map_section("Tin Kite", rows, "many bars")]), tmp_path)
    check_paper(pages)
    assert len(pages) == 1
    assert words_of(pages[0].text).count("secondverse") == sections


def test_long_names_stay_on_the_page(tmp_path: Path) -> None:
    """A name without a space, and words beyond measure, break inside their columns."""
    row = RoadRow(1, 8, "x" * 120, "4/4", "120", "full", "y" * 90, "z" * 300)
    pages = print_of(document("w" * 200, [road_map_section("w" * 200, [row])]), tmp_path)
    check_paper(pages)


def test_the_check_finds_a_cut(tmp_path: Path) -> None:
    """The check of the margins is one that can fail: a box wider than the paper is found."""
    wide = document("", ['<div style="width: 300mm; height: 20mm; background: black"></div>'])
    pages = print_of(wide.replace(STYLE, "@page { size: A4; margin: 0 } body { margin: 0 }"), tmp_path)
    assert min(pages[0].margins()) < LEAST_MARGIN
