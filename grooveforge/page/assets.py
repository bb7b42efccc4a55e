"""The page's own files, read once: what `static/` holds, and the scripts as one."""

from __future__ import annotations

import base64
import hashlib
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
CHARSET, HEAD_END, DATA_BEFORE, BODY_END = '<meta charset="utf-8">', "</head>", "<noscript>", "</body>"
TITLE = "GrooveForge</title>"
"""Places of the page's HTML."""


@dataclass(frozen=True)
class Asset:
    """A file as it is sent: bytes, kind, and a mark that changes with them."""

    data: bytes
    kind: str
    tag: str = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "tag", f'"{files.digest(self.data)[:32]}"')


@dataclass(frozen=True)
class Inside:
    """What stands inside a page instead of beside it; a policy names it by its hash."""

    style: str
    script: str

    @property
    def hashes(self) -> tuple[str, str]:
        """The sources of the script and of the style, as a Content Security Policy (Level 2 on) writes them."""
        return _hash(self.script), _hash(self.style)


def closed(script: str) -> str:
    """A script that no text in it can end early."""
    return script.replace("</script", "<\\/script").replace("<!--", "<\\!--")


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


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

    @cached_property
    def inside(self) -> Inside:
        """Style and script as they stand inside a page."""
        return Inside(self.text(STYLE), closed(self.script.data.decode()))

    def index(self, token: str, opening: bytes, title: str) -> bytes:
        """The page in one piece, so that nothing is waited for before the song is drawn: its token, and the JSON of
        what it opens with."""
        return self._whole(title, f'<meta name="token" content="{escape(token)}">', "opening", opening)

    def exported(self, policy: str, data: bytes, title: str) -> bytes:
        """The page in one piece that has no server: its policy, and the JSON of all that it knows."""
        meta = f'<meta http-equiv="Content-Security-Policy" content="{policy}">'
        return self._whole(title, meta, "embedded", data)

    def _whole(self, title: str, meta: str, name: str, json: bytes) -> bytes:
        """The page with style, script and data inside it, and `meta` in front of all that it could be about."""
        text = _SCRIPTS.sub("", _LINKS.sub("", _titled(self.text(INDEX), title)))
        head, rest = text.split(HEAD_END, 1)
        body, end = rest.split(DATA_BEFORE, 1)
        end, close = end.rsplit(BODY_END, 1)
        first, head = head.split(CHARSET, 1)
        above = f"{first}{CHARSET}\n{meta}{head}<style>{self.inside.style}</style>\n{HEAD_END}{body}"
        below = f"{DATA_BEFORE}{end}<script>{self.inside.script}</script>\n{BODY_END}{close}"
        data = f'<script type="application/json" id="{name}">'.encode() + inside_html(json) + b"</script>\n"
        return above.encode() + data + below.encode()


def _titled(page: str, title: str) -> str:
    before, name, after = page.partition(TITLE)
    return f"{before}{escape(title)} - {name}{after}"
