"""How soon a 200-bar song is on the page, beside a static page of the same elements.

The static page is what the browser made of the song, saved as HTML with its style inside and no script; both are
served on this machine. Measured from the start of the navigation to the frame behind the first drawn row.
"""

from __future__ import annotations

import re
import tempfile
import threading
from collections.abc import Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING

from tests.benchmarks.timing import Row
from tests.browser import browsing
from tests.page.browsing import ROOT, serving, until
from tests.sheet_parts import SIXTEENTHS

if TYPE_CHECKING:
    from playwright.sync_api import Browser

SHEET = """
title = "Two Hundred Bars"
tempo = 180
form = [
  "verse", "chorus", "verse", { part = "chorus", timekeeper = "china" }, "verse", "chorus", "verse", "chorus", "verse",
  { part = "chorus", feel = "half" }, "verse", "chorus", { part = "verse", bars = 20 },
]

""" + SIXTEENTHS + """
[parts.verse]
groove = "sixteenths"
bars = 16
[parts.chorus]
groove = "sixteenths"
bars = 14
timekeeper = ["ride", "crash"]
"""
"""200 bars, 24 strokes a bar."""

WATCH = """
const look = () => document.querySelector(".row")
  ? requestAnimationFrame(() => setTimeout(() => { globalThis.shown = performance.now(); }))
  : requestAnimationFrame(look);
requestAnimationFrame(look);
"""
ROUNDS = 15


class _Quiet(SimpleHTTPRequestHandler):
    def log_message(self, *_: object) -> None:
        """Says nothing."""


def shown(browser: Browser, url: str) -> float:
    """Milliseconds until the first row was drawn, in a fresh context."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
    page.add_init_script(WATCH)
    page.goto(url)
    until(page, "globalThis.shown")
    milliseconds = float(page.evaluate("globalThis.shown"))
    context.close()
    return milliseconds


def still(browser: Browser, url: str) -> str:
    """What the browser made of the song, whole, as a page without scripts."""
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.goto(url)
    until(page, "globalThis.grooveforge && document.querySelectorAll('.part .row').length >= 50")
    page.wait_for_timeout(500)
    html = page.content()
    page.close()
    style = (ROOT / "grooveforge" / "page" / "static" / "style.css").read_text(encoding="utf-8")
    html = re.sub(r"<script.*?</script>|<style>.*?</style>|<link [^>]*>", "", html, flags=re.DOTALL)
    return html.replace("</head>", f"<style>{style}</style></head>")


def rows() -> Iterator[Row]:
    """One row; none where there is no browser."""
    with tempfile.TemporaryDirectory() as name, browsing() as browser:
        folder = Path(name)
        with serving(folder, "two-hundred.toml", SHEET) as served:
            (folder / "still.html").write_text(still(browser, served.url), encoding="utf-8")
            plain = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Quiet, directory=str(folder)))
            threading.Thread(target=plain.serve_forever, daemon=True).start()
            flat = f"http://127.0.0.1:{plain.server_address[1]}/still.html"
            pairs = [(shown(browser, served.url), shown(browser, flat)) for _ in range(ROUNDS)]
            plain.shutdown()
        seconds = [median(times) / 1e3 for times in zip(*pairs)]
        yield Row("first rows of a 200-bar song on the page", seconds[0], "the same page, static", seconds[1], 1.5)
