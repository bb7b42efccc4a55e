"""The exported file: opened from disk, with no server, it plays and shows the song."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from tests.page.browsing import ROOT, SONGS
from tests.page.test_page_playing import TAP, mixed, play_a_while

if TYPE_CHECKING:
    from tests.page.conftest import Opener

MOST_BYTES = 2_000_000


def exported(folder: Path) -> Path:
    """The file that the command writes."""
    path = folder / "song.html"
    command = [sys.executable, "-m", "grooveforge", "page", str(SONGS / "copper-weather.toml"), "--export", str(path)]
    subprocess.run(command, check=True, cwd=ROOT, capture_output=True, timeout=60)
    return path


def test_it_plays_from_disk(tmp_path: Path, opened: Opener) -> None:
    """Under 2 MB, no address in it asked for; it plays, loops, slows and silences; nothing in it edits."""
    path = exported(tmp_path)
    assert path.stat().st_size < MOST_BYTES
    page = opened(path.as_uri())
    assert page.locator("h1").text_content() == "Copper Weather"
    assert page.locator("main h2").count() == 10
    page.evaluate(TAP)
    page.get_by_label("Loop").select_option(label="it")
    page.get_by_label("Speed").select_option(label="80 %")
    page.locator("#play").click()
    play_a_while(page, 2.0)
    samples, _ = mixed(page, 2.0)
    assert float((samples**2).mean()) > 1e-6
    page.keyboard.press("3")
    play_a_while(page, 4.0)
    late = page.evaluate("grooveforge.player.stream.read.filter((e) => e.at > 2.5).map((e) => e.line)")
    assert late
    assert 2 not in late
    assert page.locator("#save, #undo").count() == 0
    assert page.evaluate("document.getElementById('text').readOnly") is True


def test_it_asks_for_nothing(tmp_path: Path, opened: Opener) -> None:
    """The file holds no address to fetch from; the browser asked for that one file alone."""
    page = opened(exported(tmp_path).as_uri())
    page.wait_for_timeout(500)
    names = page.evaluate("performance.getEntriesByType('resource').map((entry) => entry.name)")
    assert [name for name in names if not name.startswith(("data:", "blob:"))] == []


def test_a_section_shows_what_holds_and_promises_no_change(tmp_path: Path, opened: Opener) -> None:
    page = opened(exported(tmp_path).as_uri())
    assert page.get_by_role("button", name="change").count() == 0
    page.get_by_role("button", name="settings verse", exact=True).click()
    page.get_by_text("it changes nothing").wait_for()
    assert page.get_by_role("button", name="close verse", exact=True).count() == 1
