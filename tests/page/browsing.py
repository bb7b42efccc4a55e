"""What the browser tests share: the real server in a process of its own, a headless browser, axe-core.

Where the browser or its driver is missing the tests skip with the reason; with ``CI=true`` they fail instead.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tests.missing import missing

if TYPE_CHECKING:
    from playwright.sync_api import Page

ROOT = Path(__file__).parent.parent.parent
SONGS = ROOT / "patterns" / "songs"
AXE = Path(__file__).parent / "node_modules" / "axe-core" / "axe.min.js"
START_WITHIN = 30.0
"""Seconds that the command may need to print its address on a busy machine."""


@dataclass(frozen=True)
class Served:
    """A running ``grooveforge page``: its address, the sheet it opened (a copy), and its process."""

    url: str
    song: Path
    process: subprocess.Popen[str]

    @property
    def port(self) -> int:
        return int(self.url.split(":")[2].strip("/"))


@contextmanager
def serving(folder: Path, song: str = "copper-weather.toml", text: str | None = None) -> Iterator[Served]:
    """The command on a copy of a demo song, or on a sheet of this text; stopped at the end."""
    for path in SONGS.iterdir():
        shutil.copy(path, folder / path.name)
    sheet = folder / song
    if text is not None:
        sheet.write_text(text, encoding="utf-8")
    command = [sys.executable, "-u", "-m", "grooveforge", "page", str(sheet), "--no-open"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=environment, cwd=folder
    ) as process:
        try:
            yield Served(_address(process), sheet, process)
        finally:
            process.terminate()
            process.wait(10)


def _address(process: subprocess.Popen[str]) -> str:
    assert process.stdout is not None
    heard = ""
    limit = time.monotonic() + START_WITHIN
    while time.monotonic() < limit:
        line = process.stdout.readline()
        heard += line
        found = re.search(r"http://(127\.0\.0\.1|localhost):\d+", line)
        if found:
            return found.group() + "/"
        if not line and process.poll() is not None:
            break
    raise AssertionError(f"the command printed no address:\n{heard}")


def until(page: Page, condition: str, argument: object = None, seconds: float = 30.0) -> None:
    """Waits until an expression, or a function of `argument`, is true in the page.

    It is asked again and again from here: waiting inside the page would need an eval that the page's policy forbids.
    """
    limit = time.monotonic() + seconds
    while not page.evaluate(condition, argument):
        assert time.monotonic() < limit, f"not within {seconds} s: {condition}"
        page.wait_for_timeout(30)


def axe_faults(page: Page) -> list[dict[str, Any]]:
    """Serious and critical faults that axe-core finds in a page (WCAG 2.1 A and AA, and best practices)."""
    if not AXE.is_file():
        missing("axe-core is not installed (npm ci in tests/page)")
    # The checker is put in as a value, not as a script element: the page's policy lets no such element in.
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate("async () => (await axe.run(document)).violations")
    return [
        {"rule": fault["id"], "impact": fault["impact"], "where": [node["target"] for node in fault["nodes"]][:5]}
        for fault in found
        if fault["impact"] in ("serious", "critical")
    ]
