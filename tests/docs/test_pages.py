"""The longer pages of documentation are what the code says."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from typing import Any

import pytest

from grooveforge.cli.table import COMMANDS
from grooveforge.formats.keys import KEYS
from tests.docs.pages import FOLDER, pages

PAGES = pages()


@pytest.mark.parametrize("name", list(PAGES))
def test_the_page_is_up_to_date(name: str) -> None:
    """Written anew it is the same: after a change of commands, keys or feels run python -m tests.docs."""
    assert (FOLDER / name).read_text(encoding="utf-8") == PAGES[name]


def test_the_reference_has_every_command_and_key() -> None:
    for name in COMMANDS:
        assert f"### `{name}`" in PAGES["reference.md"]
    for key in KEYS:
        assert f"| `{key.name}` |" in PAGES["reference.md"]


def test_the_gallery_is_a_picture_of_every_feel_on_every_surface() -> None:
    """The picture is well-formed, and has a ribbon for each of the cells."""
    root = ElementTree.fromstring(PAGES["gallery.svg"])
    ribbons = [item for item in root if item.tag.endswith("rect")]
    assert len(ribbons) == 1 + 6 * 5


def test_the_examples_for_python_run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """The blocks of the page, one after the other in one namespace, from the root of the tree."""
    monkeypatch.chdir(FOLDER.parent)
    blocks = re.findall(r"^```python\n(.*?)^```$", PAGES["python.md"], re.DOTALL | re.MULTILINE)
    names: dict[str, Any] = {}
    for block in blocks:
        exec(compile(block, "python.md", "exec"), names)
    assert len(blocks) == 5
    assert "79 bars" in capsys.readouterr().out
    assert names["text"] != names["sheet"].text
    assert names["samples"].shape[1] == 2
