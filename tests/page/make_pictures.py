"""The pictures of the page in the README: ``python -m tests.page.make_pictures`` writes them anew into ``.docs/``.

The real server on a demo song that plays: the page's beginning in light, the last chorus being changed in dark.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from tests.browser import browsing
from tests.page.browsing import ROOT, serving, until

if TYPE_CHECKING:
    from playwright.sync_api import Browser, ViewportSize

FOLDER = ROOT / ".docs"
SIZE: ViewportSize = {"width": 1280, "height": 1000}
MOST_BYTES = 300_000
SECTION = 8
"""The last chorus, which returns at half time with the hand on the china."""


def picture(browser: Browser, url: str, scheme: Literal["light", "dark"], path: Path) -> None:
    """One picture, with a bar sounding: the page's beginning in light, the last chorus and its controls in dark."""
    context = browser.new_context(viewport=SIZE, color_scheme=scheme, reduced_motion="reduce")
    page = context.new_page()
    page.goto(url)
    until(page, "globalThis.grooveforge")
    section = SECTION if scheme == "dark" else 0
    if section:
        page.get_by_role("button", name="change last chorus", exact=True).click()
    page.evaluate("index => grooveforge.store.set({ bar: grooveforge.store.now.view.sections[index].bar })", section)
    page.locator("#play").click()
    until(page, "grooveforge.store.now.place?.bar === grooveforge.store.now.bar + 1")
    page.evaluate("document.activeElement.blur()")
    page.evaluate(
        "index => index ? document.getElementById(`section-${index}`).scrollIntoView() : scrollTo(0, 0)", section
    )
    page.wait_for_timeout(300)
    page.screenshot(path=path)
    context.close()
    assert path.stat().st_size < MOST_BYTES, f"{path.name} has {path.stat().st_size} bytes"


def main() -> None:
    """Write both pictures."""
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, browsing() as browser, serving(Path(folder)) as served:
        picture(browser, served.url, "light", FOLDER / "page-light.png")
        picture(browser, served.url, "dark", FOLDER / "page-dark.png")


if __name__ == "__main__":
    main()
