"""The gallery: one groove under every feel and on every kind of surface, as pictures and as tabs."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

import numpy as np

from grooveforge.core.feel import FeelChange, set_feel
from grooveforge.core.feel_table import FEELS
from grooveforge.core.groove import Groove
from grooveforge.formats.tab import tab_of
from grooveforge.project.library import library_groove

SOURCE = "plain eighths"
"""The groove that is shown: backbeats and eighths, nothing else."""

SURFACES = ("closed hi-hat", "ride", "crash", "china", "floor tom")
"""Contained to open, and the drum (common practice)."""

HEAD = f"""# Feels and surfaces

The shipped groove `{SOURCE}` under every feel, with the hand on five surfaces. The tempo is the same throughout: what
moves is the snare, and the kick with it. The page is made by `python -m tests.docs`; a test compares it with what the
code gives.

![Each feel a row, each surface a column; in each cell the hand, the snare and the kick over two bars](gallery.svg)
"""

CELL, GAP, LEFT, TOP, ROW = 210, 18, 84, 46, 74
LINES = {"hand": 14, "snare": 34, "kick": 52}
"""Where the three lines of a cell stand, from its top."""

SHADES = {"closed hi-hat": "#d8d8d4", "ride": "#c6d2dc", "crash": "#dccfae", "china": "#e0b8a4", "floor tom": "#c9c2d6"}


def cell(feel: str, surface: str) -> Groove:
    """Two bars of the groove under a feel with the hand on a surface."""
    groove = library_groove(SOURCE).groove
    moved = set_feel(groove.bars_of(2), FeelChange(feel)).move_hand(surface)
    return moved.bars_of(2)


def picture() -> str:
    """The gallery as one SVG."""
    width = LEFT + len(SURFACES) * (CELL + GAP)
    height = TOP + len(FEELS) * ROW
    size = f'viewBox="0 0 {width} {height}"'
    rows = [f'<svg xmlns="http://www.w3.org/2000/svg" {size} font-family="serif" font-size="15">']
    rows += [f'<rect width="{width}" height="{height}" fill="#fbfaf5"/>', *_titles()]
    for y, feel in enumerate(FEELS):
        for x, surface in enumerate(SURFACES):
            rows += _cell(x, y, feel, surface)
    return "\n".join([*rows, "</svg>\n"])


def _titles() -> Iterator[str]:
    for x, name in enumerate(SURFACES):
        yield f'<text x="{LEFT + x * (CELL + GAP)}" y="28" font-style="italic">{escape(name)}</text>'
    for y, feel in enumerate(FEELS):
        yield f'<text x="8" y="{TOP + y * ROW + LINES["snare"] + 5}">{escape(feel)}</text>'


def _cell(column: int, row: int, feel: str, surface: str) -> Iterator[str]:
    groove = cell(feel, surface)
    left, top, wide = LEFT + column * (CELL + GAP), TOP + row * ROW, CELL / groove.bars
    yield f'<rect x="{left}" y="{top + 5}" width="{CELL}" height="18" fill="{SHADES[surface]}"/>'
    for bar in range(groove.bars + 1):
        x = left + bar * wide
        yield f'<path d="M{x:g} {top + 5}v52" stroke="#555" stroke-width="1"/>'
    for line in ("snare", "kick"):
        yield f'<path d="M{left} {top + LINES[line]}h{CELL}" stroke="#bbb" stroke-width="1"/>'
    for line, lane in (("hand", groove.hand), ("snare", groove.snare), ("kick", groove.kick)):
        if lane is None:
            continue
        for step in np.flatnonzero(lane.velocity).tolist():
            bar, within = divmod(step, groove.steps_per_bar)
            x = left + bar * wide + 7 + within * (wide - 7) / groove.steps_per_bar
            radius = 4.5 * (int(lane.velocity[step]) / 127) ** 0.5
            yield f'<circle cx="{x:.1f}" cy="{top + LINES[line]}" r="{radius:.1f}" fill="#222"/>'
            if line == "snare":
                yield f'<path d="M{x:.1f} {top + LINES[line]}v-14" stroke="#222" stroke-width="1.4"/>'


def gallery() -> str:
    """The page as Markdown: the picture, and every cell as a tab."""
    blocks = [HEAD]
    for feel in FEELS:
        blocks.append(f"## {feel}\n")
        blocks += [_tab(feel, surface) for surface in SURFACES]
    return "\n".join(blocks)


def _tab(feel: str, surface: str) -> str:
    return f"{feel}, the hand on {surface}:\n\n```text\n{tab_of(cell(feel, surface)).rstrip()}\n```\n"
