"""`start`, `options`, `plan` as commands: JSON fields, one line changed and taken back, errors without a traceback."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Run

SONGS = Path(__file__).parent.parent.parent / "patterns" / "songs"

SHEET = """\
# A song about a kettle that tunes pianos.
title = "Kettle Hands"
tempo = 140
form = [
  "verse",
  "chorus",      # plain
  "verse",
  { part = "chorus", name = "last chorus" },   # what shall it be?
]

[parts.verse]
groove = "driving eighths"
bars = 4

[parts.chorus]
groove = "crash chorus"
bars = 8
"""


@pytest.fixture
def kettle(tmp_path: Path) -> Path:
    """A sheet with two returns, line breaks as on another system and a byte order mark."""
    path = tmp_path / "kettle-hands.toml"
    path.write_bytes(b"\xef\xbb\xbf" + SHEET.replace("\n", "\r\n").encode())
    return path


def test_options_json(run: Run, kettle: Path) -> None:
    """The fields of the contract, nothing written."""
    before = kettle.read_bytes()
    ran = run("options", kettle, "last chorus", "--amount", "large", "--count", "3", "--json")
    facts = json.loads(ran.out)
    assert (ran.status, facts["section"], len(facts["options"])) == (0, "last chorus", 3)
    for rank, row in enumerate(facts["options"], 1):
        assert row["rank"] == rank
        assert set(row) >= {"distance", "lanes", "surface", "surprise", "playable", "changes", "in_words"}
        assert set(row["lanes"]) == {"kick", "snare", "timekeeper", "other"}
        assert row["playable"] is True
        assert row["changes"]
    assert kettle.read_bytes() == before


@pytest.mark.parametrize("command", [("options", "last chorus", "--amount", "large"), ("plan",)])
def test_take_and_undo(run: Run, kettle: Path, command: tuple[str, ...]) -> None:
    """--take writes into the entry's line, comments and line breaks stay, undo gives every byte back."""
    before = kettle.read_bytes()
    name, *rest = command
    ran = run(name, kettle, *rest, "--take", "2")
    assert ran.status == 0
    assert "undo" in ran.out
    after = kettle.read_bytes()
    assert after != before
    assert b"# what shall it be?\r\n" in after
    assert after.startswith(b"\xef\xbb\xbf#")
    assert after.count(b"\n") == before.count(b"\n") == after.count(b"\r\n")
    assert run("check", kettle, "--strict").status == 0
    assert run("undo", kettle).status == 0
    assert kettle.read_bytes() == before


def test_options_in_words(run: Run, kettle: Path) -> None:
    """Each with its sentence, distance and keys, and how one is taken."""
    ran = run("options", kettle, "last chorus")
    assert "candidates" in ran.out
    assert "take one: grooveforge options" in ran.out
    assert "stay" in ran.out


def test_plan_json(run: Run, kettle: Path) -> None:
    """Plans with every section, one energy a bar, a reason."""
    facts = json.loads(run("plan", kettle, "--json").out)
    assert len(facts["plans"]) == 3
    for row in facts["plans"]:
        assert [section["name"] for section in row["sections"]] == ["verse", "chorus", "verse", "last chorus"]
        assert len(row["energy"]) == 24
        assert "last chorus" in row["in_words"]


def test_start_writes_a_sheet(run: Run, tmp_path: Path) -> None:
    """A riff that begins with a rest; the sheet renders; a second start does not replace an edited one."""
    out = tmp_path / "begun.toml"
    ran = run("start", "-x-X--x-X-x-xxX-", "-o", out, "--tempo", "150", "--json")
    facts = json.loads(ran.out)
    assert (ran.status, facts["bars"], facts["attacks"], facts["accents"]) == (0, 1, 8, 3)
    assert len(facts["offers"]) == 3
    assert set(facts) >= {"kicks", "precision", "recall", "meets"}
    assert run("render", out, "-o", tmp_path / "out").status == 0
    out.write_text(out.read_text(encoding="utf-8") + "# mine\n", encoding="utf-8")
    again = run("start", "x---x---", "-o", out, "--meter", "4/4")
    assert again.status == 2
    assert "--force" in again.err
    assert out.read_text(encoding="utf-8").endswith("# mine\n")


def test_start_to_standard_output(run: Run) -> None:
    """-o - gives the sheet and nothing else."""
    ran = run("start", "x--X--x-X-x-xxX-", "-o", "-")
    assert ran.out.startswith("# A song begun from its riff")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("options", "SHEET", "bridge"), "no section 'bridge'"),
        (("options", "SHEET", "chorus 1"), "first statement"),
        (("options", "SHEET", "last chorus", "--take", "9"), "no such option"),
        (("plan", "SHEET", "--take", "7"), "no such plan"),
        (("options", "nowhere.toml", "chorus"), "no such file"),
        (("start", "xq", "-o", "SHEET"), "wrong mark"),
    ],
)
def test_wrong_input(run: Run, kettle: Path, words: tuple[str, ...], said: str) -> None:
    """Exit status 2, one or two lines, nothing written."""
    before = kettle.read_bytes()
    ran = run(*(str(kettle) if word == "SHEET" else word for word in words))
    assert ran.status == 2
    assert said in ran.err
    assert len(ran.err.strip().splitlines()) <= 2
    assert "Traceback" not in ran.err
    assert kettle.read_bytes() == before
    assert not (kettle.parent / ".grooveforge").exists()


def test_a_file_that_changed_meanwhile(run: Run, kettle: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What someone else wrote while options were looked for is not overwritten."""
    from grooveforge.project import options as module

    real = module.options

    def slow(*arguments: Any, **named: Any) -> object:
        found = real(*arguments, **named)
        kettle.write_text(SHEET + "# new\n", encoding="utf-8")
        return found

    monkeypatch.setattr(module, "options", slow)
    ran = run("options", kettle, "last chorus", "--amount", "large", "--take", "1")
    assert ran.status == 2
    assert "changed on disk" in ran.err
    assert kettle.read_text(encoding="utf-8").endswith("# new\n")
