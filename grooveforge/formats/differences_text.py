"""What the sections of a song have otherwise than what came before, as text for a drummer."""

from __future__ import annotations

from collections.abc import Iterable
from textwrap import wrap

WIDTH = 88


def differences_text(title: str, rows: Iterable[tuple[str, str, str]]) -> str:
    """A heading, and a paragraph for each section.

    Parameters
    ----------
    rows : bars, name and what there is to know of each section; those without words say that they are as written.
    """
    lines = [f"{title}: what every section changes", ""]
    for bars, name, words in rows:
        lines.append(f"{name} (bars {bars})" if "-" in bars else f"{name} (bar {bars})")
        lines += wrap(words or "for the first time", WIDTH, initial_indent="  ", subsequent_indent="  ")
    return "\n".join(lines) + "\n"
