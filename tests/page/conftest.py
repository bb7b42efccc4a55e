"""Fixtures of the browser tests."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlparse

import pytest

from tests.page.browsing import Served, serving, until

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

Opener = Callable[..., "Page"]


@pytest.fixture
def served(tmp_path: Path, browser: Browser) -> Iterator[Served]:
    """The real server on a copy of a demo song."""
    with serving(tmp_path) as running:
        yield running


@pytest.fixture
def opened(browser: Browser) -> Iterator[Opener]:
    """Opens addresses in fresh contexts; at the end no request may have left the machine and no script failed."""
    asked: list[str] = []
    faults: list[str] = []
    with ExitStack() as stack:

        def open_page(url: str, script: str = "", **options: Any) -> Page:
            context = browser.new_context(**{"viewport": {"width": 1280, "height": 900}, **options})
            stack.callback(context.close)
            page = context.new_page()
            page.on("request", lambda request: asked.append(request.url))
            page.on("pageerror", lambda error: faults.append(str(error)))
            page.on("dialog", lambda dialog: dialog.accept())
            if script:
                page.add_init_script(script)
            page.goto(url)
            until(page, "globalThis.grooveforge")
            return page

        yield open_page
    outside = [url for url in asked if urlparse(url).scheme not in ("data", "blob", "file", "about")]
    assert {urlparse(url).hostname for url in outside} <= {"127.0.0.1", "localhost"}, outside
    assert faults == []


@pytest.fixture
def page(served: Served, opened: Opener) -> Page:
    """The page of the copied demo song."""
    return opened(served.url)
