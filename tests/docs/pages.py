"""The pages that are made, by file name."""

from __future__ import annotations

from pathlib import Path

from tests.docs import gallery, python_page, reference

FOLDER = Path(__file__).parents[2] / ".docs"


def pages() -> dict[str, str]:
    return {
        "reference.md": reference.reference(),
        "gallery.md": gallery.gallery(),
        "python.md": python_page.python_page(),
        "gallery.svg": gallery.picture(),
    }
