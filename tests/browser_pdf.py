"""HTML printed to PDF by a browser, and the pages that come out, for tests.

The browser is Debian's chromium. Where it is missing the tests skip with the reason, and fail where ``CI`` is set.
"""

from __future__ import annotations

import subprocess
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pypdfium2
from numpy.typing import NDArray

from tests.browser import chromium

FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--no-pdf-header-footer",
)  # fmt: skip

POINTS = 72 / 25.4
"""Points to a millimetre."""

DOTS = 4
"""Dots to a millimetre of a rendered page, about."""


@dataclass(frozen=True)
class Page:
    """A printed page: width and height in millimetres, its text, and its ink (rows, columns), DOTS to a mm."""

    size: tuple[float, float]
    text: str
    ink: NDArray[np.bool_]

    def margins(self) -> tuple[float, float, float, float]:
        """White millimetres above, right of, below and left of all ink."""
        rows, columns = np.flatnonzero(self.ink.any(axis=1)), np.flatnonzero(self.ink.any(axis=0))
        if not rows.size:
            return self.size[1], self.size[0], self.size[1], self.size[0]
        height, width = self.ink.shape
        above, right = rows[0] / DOTS, (width - 1 - columns[-1]) / DOTS
        below, left = (height - 1 - rows[-1]) / DOTS, columns[0] / DOTS
        return float(above), float(right), float(below), float(left)


def printed(html: Path, folder: Path) -> list[Page]:
    """The pages that the browser prints."""
    out = folder / "printed.pdf"
    words = [chromium(), *FLAGS, f"--user-data-dir={folder / 'browser'}", f"--print-to-pdf={out}", html.as_uri()]
    subprocess.run(words, check=True, capture_output=True, timeout=120)
    document = pypdfium2.PdfDocument(out)
    pages = []
    for page in document:
        width, height = page.get_size()
        picture = page.render(scale=DOTS / POINTS).to_numpy()
        ink = picture[..., :3].min(axis=2) < 200
        pages.append(Page((width / POINTS, height / POINTS), page.get_textpage().get_text_range(), ink))
    return pages
