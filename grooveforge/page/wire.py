"""Values as bytes of JSON."""

from __future__ import annotations

import json


def compact(value: object) -> bytes:
    """A value as JSON in as few bytes as it takes; half a surrogate pair, which is no text, becomes a question mark."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode("utf-8", "replace")


def inside_html(data: bytes) -> bytes:
    """JSON that may stand in a script element: no `<` in it, so nothing in it can end the element."""
    return data.replace(b"<", b"\\u003c")
