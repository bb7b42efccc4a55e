"""The one browser of all tests: a headless chromium of the system, driven by playwright.

Where one of both is missing the tests skip with the reason; with ``CI=true`` they fail instead.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from tests.missing import missing

if TYPE_CHECKING:
    from playwright.sync_api import Browser

CHROMIUM = ("chromium", "chromium-browser", "google-chrome")
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--autoplay-policy=no-user-gesture-required",
    "--mute-audio",
)


def chromium() -> str:
    """The path of the system's chromium."""
    found = next(filter(None, map(shutil.which, CHROMIUM)), None)
    if found is None:
        missing("no chromium on this machine (apt-get install chromium)")
    return found


@contextmanager
def browsing() -> Iterator[Browser]:
    """A headless chromium of the system."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        missing("playwright is not installed (pip install -e '.[browser]')")
    found = chromium()
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=found, args=list(FLAGS))
        yield browser
        browser.close()
