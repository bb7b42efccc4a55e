"""The pages that are made, by file name."""

from __future__ import annotations

from pathlib import Path

from tests.docs import gallery, reference

FOLDER = Path(__file__).parents[2] / ".docs"


def pages() -> dict[str, str]:
    return {
        "reference.md": reference.reference(),
        "gallery.md": gallery.gallery(),
        "gallery.svg": gallery.picture(),
    }
