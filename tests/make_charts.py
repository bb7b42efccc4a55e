"""The README's pictures of two charts: ``python -m tests.make_charts`` draws them anew into ``.docs``.

The browser takes a picture of the page of HTML that `chart` writes; nothing is touched up.
"""

from __future__ import annotations

import re
import subprocess
import tempfile
from pathlib import Path

from grooveforge.project.charting import chart
from tests.browser import chromium
from tests.browser_pdf import FLAGS
from tests.charts import ROOT

PICTURES = {"chart-1.png": ("copper-weather", 848), "chart-2.png": ("orchard-of-glass-bees", 868)}
"""File -> song, and the height in dots."""

WIDTH = 900
MOST_BYTES = 300_000


def first_page(song: str) -> str:
    """The chart of a song, all but its first page of notation taken out."""
    text = chart(str(ROOT / "patterns" / "songs" / f"{song}.toml"), "html")
    assert isinstance(text, str)
    head = text[: text.index("<body>") + 6]
    page = re.search(r'<section class="notation">.*?</section>', text, re.DOTALL)
    assert page is not None
    return f"{head}{page[0]}</body></html>"


def main() -> None:
    """Draw the pictures."""
    folder = ROOT / ".docs"
    folder.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch:
        for name, (song, height) in PICTURES.items():
            page = Path(scratch) / f"{song}.html"
            page.write_text(first_page(song), encoding="utf-8")
            words = [chromium(), *FLAGS, f"--user-data-dir={scratch}/browser", "--hide-scrollbars"]
            words += [f"--window-size={WIDTH},{height}", f"--screenshot={folder / name}", page.as_uri()]
            subprocess.run(words, check=True, capture_output=True, timeout=120)
            size = (folder / name).stat().st_size
            print(f"{folder / name}: {size} bytes")
            assert size < MOST_BYTES


if __name__ == "__main__":
    main()
