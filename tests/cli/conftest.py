"""What the tests of the commands share: running one in this process, and a sheet to change."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from grooveforge.cli.main import main
from tests.sheet_parts import PLAIN

SHEET = """\
title = "Lantern Yard"
tempo = 120
form = ["verse", { part = "chorus", feel = "half" }]

""" + PLAIN + """
[parts.verse]
groove = "plain"
bars = 4

[parts.chorus]
groove = "plain"
bars = 8
feel = "full"
timekeeper = "ride"
"""


@dataclass(frozen=True)
class Ran:
    """How a command ended: exit status, data on stdout, messages on stderr."""

    status: int
    out: str
    err: str


Run = Callable[..., Ran]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """A function that runs a command in this process."""

    def runner(*arguments: str | Path) -> Ran:
        status = main([str(word) for word in arguments])
        said = capsys.readouterr()
        return Ran(status, said.out, said.err)

    return runner


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    """A song sheet in a folder of its own."""
    path = tmp_path / "lantern-yard.toml"
    path.write_text(SHEET, encoding="utf-8")
    return path
