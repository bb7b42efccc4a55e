"""The exported file read as text: whole, closed to the outside, and small enough to send."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from pathlib import Path

import pytest

from grooveforge.cli.main import main
from grooveforge.page.export import MOST_BYTES, exported
from grooveforge.project.library import SONGS, library_files
from tests.benchmarks.page_paint import SHEET as TWO_HUNDRED
from tests.page.inprocess import SHEET, desk


@pytest.mark.parametrize("path", library_files(SONGS), ids=lambda path: path.stem)
def test_a_demo_song_is_one_small_file(path: Path, tmp_path: Path) -> None:
    """Under 2 MB, with the song's title, and nothing in it that a browser would fetch."""
    target = tmp_path / "song.html"
    assert main(["page", str(path), "--export", str(target)]) == 0
    text = target.read_text(encoding="utf-8")
    assert target.stat().st_size < MOST_BYTES
    assert not re.search(r"""(?:src|href)\s*=\s*["'](?!data:|#)""", text.partition("<script>")[0])
    assert not re.search(r"@import|url\((?!['\"]?(?:data:|#))", text)
    assert not re.search(r"https?://(?!www\.w3\.org/)", text)
    assert '<link rel="stylesheet"' not in text


def test_two_hundred_bars_are_small(tmp_path: Path) -> None:
    """A long song with 24 strokes a bar is under 2 MB."""
    assert len(exported(desk(tmp_path, TWO_HUNDRED).session)) < MOST_BYTES


def test_the_policy_names_what_stands_in_the_file(tmp_path: Path) -> None:
    """Its own policy lets in the one script and the one style by their hashes, and no connection (CSP Level 3)."""
    text = exported(desk(tmp_path).session).decode()
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', text)
    assert policy is not None
    assert policy[1].startswith("default-src 'none'")
    assert "unsafe" not in policy[1]
    for element in ("script", "style"):
        inside = re.search(rf"<{element}>(.*?)</{element}>", text, re.DOTALL)
        assert inside is not None
        digest = base64.b64encode(hashlib.sha256(inside[1].encode()).digest()).decode()
        assert f"{element}-src 'sha256-{digest}'" in policy[1]


def test_the_song_is_in_it(tmp_path: Path) -> None:
    """State and tables stand in the file as the server gives them, findings too."""
    page = desk(tmp_path)
    text = exported(page.session).decode()
    found = re.search(r'<script type="application/json" id="embedded">(.*?)</script>', text, re.DOTALL)
    assert found is not None
    embedded = json.loads(found[1])
    assert embedded["state"] == page.state()
    assert embedded["state"]["findings_known"]
    assert embedded["state"]["text"] == SHEET
    assert embedded["tables"] == page.get("/api/tables").json()
    assert "token" not in text.partition("<script>")[0]


def test_a_foreign_file_is_left_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file of that name that the page did not write stays, unless --force says so; then the old one is kept."""
    sheet = tmp_path / "song.toml"
    sheet.write_text(SHEET, encoding="utf-8")
    target = tmp_path / "song.html"
    target.write_text("mine", encoding="utf-8")
    assert main(["page", str(sheet), "--export", str(target)]) == 2
    assert target.read_text(encoding="utf-8") == "mine"
    assert main(["page", str(sheet), "--export", str(target), "--force"]) == 0
    assert (tmp_path / "song.html.1").read_text(encoding="utf-8") == "mine"
