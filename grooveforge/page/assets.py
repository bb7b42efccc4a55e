"""The page's own files, read once: what `static/` holds, and the scripts as one."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import cached_property
from html import escape
from importlib import resources
from pathlib import Path

from grooveforge import files
from grooveforge.page.bundle import bundle
from grooveforge.page.wire import inside_html

INDEX, STYLE, SCRIPT = "index.html", "style.css", "page.js"
"""`page.js` is made of the modules; the others are files."""

KINDS = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
}
"""Endings that are served, and the kind that each is sent as."""

_LINKS = re.compile(r"^\s*<link rel=\"(?:preload|modulepreload|stylesheet)\"[^>]*>\n", re.MULTILINE)
_SCRIPTS = re.compile(r"^\s*<script\b[^>]*></script>\n", re.MULTILINE)
HEAD_END, OPENING, TITLE = "</head>", "<noscript>", "GrooveForge</title>"


@dataclass(frozen=True)
class Asset:
    """A file as it is sent: bytes, kind, and a mark that changes with them."""

    data: bytes
    kind: str
    tag: str = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "tag", f'"{files.digest(self.data)[:32]}"')


class Assets:
    """The files of the package's `static/`."""

    def __init__(self) -> None:
        folder = Path(str(resources.files("grooveforge.page") / "static"))
        found = [path for path in files.listed(folder, "*.*") if path.suffix in KINDS]
        self.files = {path.name: Asset(files.read_bytes(path), KINDS[path.suffix]) for path in found}

    @cached_property
    def script(self) -> Asset:
        """All modules as one script."""
        modules = {
            name.removesuffix(".js"): asset.data.decode() for name, asset in self.files.items() if name.endswith(".js")
        }
        return Asset(bundle(modules).encode(), KINDS[".js"])

    def named(self, name: str) -> Asset | None:
        """A file by its name, which is compared and never used as a path."""
        return self.script if name == SCRIPT else self.files.get(name)

    def text(self, name: str) -> str:
        return self.files[name].data.decode()

    def index(self, token: str, opening: bytes, title: str) -> bytes:
        """The page, with its token, the JSON of what it opens with, and the song's title."""
        head, rest = _titled(self.text(INDEX), title).split(HEAD_END, 1)
        before, after = rest.split(OPENING, 1)
        meta = f'<meta name="token" content="{escape(token)}">\n'
        return f"{head}{meta}{HEAD_END}{before}".encode() + _data("opening", opening) + f"{OPENING}{after}".encode()

    def bare(self, title: str) -> tuple[str, str, str]:
        """The page without what it loads: up to the head's end, up to where data stand, and the rest."""
        text = _SCRIPTS.sub("", _LINKS.sub("", _titled(self.text(INDEX), title)))
        head, rest = text.split(HEAD_END, 1)
        before, after = rest.split(OPENING, 1)
        return head, HEAD_END + before, OPENING + after


def _titled(page: str, title: str) -> str:
    before, name, after = page.partition(TITLE)
    return f"{before}{escape(title)} - {name}{after}"


def _data(name: str, json: bytes) -> bytes:
    return f'<script type="application/json" id="{name}">'.encode() + inside_html(json) + b"</script>\n"


def embedded(json: bytes) -> bytes:
    """The data of a page that has no server."""
    return _data("embedded", json)
