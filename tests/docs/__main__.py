"""Write the pages: python -m tests.docs."""

from __future__ import annotations

from tests.docs.pages import FOLDER, pages

FOLDER.mkdir(exist_ok=True)
for name, text in pages().items():
    (FOLDER / name).write_text(text, encoding="utf-8")
    print(f".docs/{name}: {len(text)} characters")
