"""The chart as one HTML file of A4 pages: road map, notation, key and drum tab.

It needs nothing from outside: pictures are inline SVG, the styles stand in its head. On paper every page breaks
where it should: a page of notation is one printed page, the tab never breaks inside a line of bars.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from math import ceil

from grooveforge.formats.roadmap import HEADINGS, RoadRow
from grooveforge.formats.xml_text import plain_text

PAGE_WIDTH, PAGE_HEIGHT = 1800, 2530
"""A page of notation in tenths of a millimetre: A4 (210 mm x 297 mm, ISO 216) less the margins and a heading."""

CAUTION = (
    "Extreme material can strain wrists and ankles: start slowly, warm up, stop when it hurts, and see a teacher "
    "or a physician. Protect your ears."
)

SIZES = (11.0, 10.0, 9.0, 8.0, 7.0, 6.0)
"""Sizes of type in points, the road map has the largest at which it stays on one page; below 6 it runs on."""

ROOM = 590.0
"""Points of height for the rows of a road map on A4, less title, notes and caution."""

LINE, PADDING = 1.35, 0.6
"""Height of a line and of a row's white, in sizes of type."""

COLUMNS = {"section": 11, "tempo": 11, "hand": 15, "what to know": 27}
"""Characters that a column holds at the largest size where it is narrowest; the other columns are short."""

HEADING = ' class="head"'

STYLE = """
@page { size: A4 portrait; margin: 12mm 15mm; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 6mm; max-width: 192mm; color: #111; background: #fff;
  font: 11pt/1.35 "Liberation Sans", "Helvetica Neue", Arial, sans-serif; }
h1 { font-size: 20pt; margin: 0 0 1mm; overflow-wrap: anywhere; }
h2 { font-size: 12pt; height: 8mm; margin: 0; overflow: hidden; white-space: nowrap; text-overflow: ellipsis; }
section { break-after: page; margin-bottom: 10mm; }
section:last-of-type { break-after: auto; }
.under { margin: 0 0 5mm; color: #444; }
table { border-collapse: collapse; width: 100%; }
th { text-align: left; border-bottom: 0.6mm solid #111; }
td { border-bottom: 0.2mm solid #bbb; }
th, td { padding: 0.28em 1em 0.28em 0; vertical-align: top; overflow-wrap: break-word; }
th:last-child, td:last-child { padding-right: 0; }
td.bars { white-space: nowrap; text-align: right; font-variant-numeric: tabular-nums; }
td.name { font-weight: bold; min-width: 20mm; max-width: 45mm; }
td.hand { min-width: 34mm; max-width: 50mm; } td.tempo { white-space: nowrap; } td.words { max-width: 90mm; }
tr { break-inside: avoid; }
ul.notes, p.caution { font-size: 8.5pt; color: #444; margin: 4mm 0 0; padding-left: 4mm; }
p.caution { padding: 0; }
.notation svg { display: block; width: 100%; max-width: 180mm; height: auto; font-size-adjust: 0.42; }
svg tspan[font-family] { font-size-adjust: none; }
.notation svg text { font-family: "Times New Roman", "Liberation Serif", Tinos, serif; }
.key { display: flex; flex-wrap: wrap; gap: 2mm; margin: 0 0 5mm; }
.key figure { width: 34mm; margin: 0; break-inside: avoid; text-align: center; }
.key svg { display: block; width: 24mm; height: auto; margin: 0 auto; }
.key figcaption { font-size: 9pt; line-height: 1.2; overflow-wrap: break-word; } .key small { color: #444; }
pre { font: 8.6pt/1.22 "Liberation Mono", "DejaVu Sans Mono", Menlo, Consolas, monospace; margin: 0 0 3mm;
  break-inside: avoid; overflow-x: auto; }
pre.head { font-weight: bold; break-after: avoid; margin-bottom: 1mm; }
@media print { body { padding: 0; max-width: none; } section { margin: 0; } pre { overflow: visible; } }
"""


def road_map_section(head: str, rows: Sequence[RoadRow], under: str = "", notes: Sequence[str] = ()) -> str:
    """The road map as a section of HTML that prints on one page.

    Parameters
    ----------
    head : the title. rows : one a section. under : a line below the title. notes : lines below the table.
    """
    size = _size_for(rows, len(notes))
    heads = "".join(f"<th>{_text(name)}</th>" for name in HEADINGS)
    body = "".join(
        "<tr>" + "".join(f'<td class="{_class(name)}">{_text(cell)}</td>' for name, cell in zip(HEADINGS, row.cells))
        + "</tr>\n"
        for row in rows
    )  # fmt: skip
    below = "<ul class=\"notes\">" + "".join(f"<li>{_text(note)}</li>" for note in notes) + "</ul>" if notes else ""
    return (
        f'<section class="road-map"><h1>{_text(head)}</h1><p class="under">{_text(under)}</p>\n'
        f'<table style="font-size: {size:g}pt"><thead><tr>{heads}</tr></thead><tbody>\n{body}</tbody></table>\n'
        f'{below}<p class="caution">{CAUTION}</p></section>\n'
    )


def _size_for(rows: Sequence[RoadRow], notes: int) -> float:
    """The largest size of type at which a road map fits on a page."""
    for size in SIZES:
        wider = SIZES[0] / size
        lines = sum(
            max(ceil(len(cell) / (COLUMNS.get(name, 99) * wider)) for name, cell in zip(HEADINGS, row.cells))
            for row in rows
        )
        if (lines * LINE + len(rows) * PADDING) * size + 12 * notes <= ROOM:
            return size
    return SIZES[-1]


def _class(name: str) -> str:
    return {"section": "name", "what to know": "words"}.get(name, name)


def _text(text: str) -> str:
    return escape(plain_text(text))


def notation_html(title: str, pages: Sequence[str]) -> str:
    """Pages of notation, a section each."""
    count = len(pages)
    return "".join(
        f'<section class="notation"><h2>{_text(title)}, notation, page {number} of {count}</h2>{page}</section>\n'
        for number, page in enumerate(pages, 1)
    )


def key_html(cells: Iterable[tuple[str, str, str]]) -> str:
    """The key of surfaces and signs: a figure each, from (name, the same in words, picture)."""
    figures = "".join(
        f"<figure>{picture}<figcaption>{_text(name)}<br><small>{_text(words)}</small></figcaption></figure>\n"
        for name, words, picture in cells
    )
    return f'<h2>Key</h2><div class="key">{figures}</div>\n'


def tab_html(tab: str) -> str:
    """A drum tab, its blocks kept whole on paper and under their headings."""
    blocks = tab.rstrip("\n").split("\n\n")
    made = (f'<pre{"" if _is_tab(block) else HEADING}>{_text(block)}</pre>\n' for block in blocks)
    return f"<h2>Drum tab</h2>\n{''.join(made)}"


def _is_tab(block: str) -> bool:
    return "\n" in block or block.startswith("#")


def document(title: str, sections: Iterable[str]) -> str:
    """A whole page of HTML."""
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{_text(title)}</title><style>{STYLE}</style></head><body>\n{''.join(sections)}</body></html>\n"
    )
