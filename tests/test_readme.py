"""The README is true: its two commands, its output, its commands and its song sheet."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from grooveforge.cli.main import main
from grooveforge.cli.table import COMMANDS
from grooveforge.formats.keymap_file import read_key_map
from grooveforge.formats.roadmap import road_map
from grooveforge.project.rendering import render
from grooveforge.project.sheets import Sheet, read_sheet, song_from

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", README, re.DOTALL | re.MULTILINE)


def test_the_two_commands() -> None:
    """The first two sh blocks make their own environment and have no prompt signs."""
    assert len(blocks("sh")) >= 2
    for block in blocks("sh")[:2]:
        assert block.startswith("python3 -m venv .venv\n")
        assert not re.search(r"^[$>]", block, re.MULTILINE)


def test_the_shown_road_map_is_the_real_one() -> None:
    """The output shown is what the demo song prints."""
    made = render(read_sheet(str(ROOT / "patterns/songs/copper-weather.toml")))
    assert blocks("text")[0].strip() == road_map(made.arrangement).strip()


def test_the_shown_check_is_the_real_one(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """What the check of a demo song prints for a learning drummer, cautions and all."""
    monkeypatch.chdir(ROOT)
    assert main(["check", "patterns/songs/tin-observatory.toml", "--profile", "learning"]) == 0
    assert blocks("text")[2] == capsys.readouterr().out


def test_the_shown_options_are_real_ones(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """The options shown are what the command prints."""
    monkeypatch.chdir(ROOT)
    song = "patterns/songs/copper-weather.toml"
    assert main(["options", song, "second chorus", "--amount", "large", "--count", "2"]) == 0
    assert blocks("text")[1] == capsys.readouterr().out


def test_the_shown_sheet_renders() -> None:
    """The song sheet of the README renders as it stands."""
    text = blocks("toml")[0]
    made = render(Sheet("shown.toml", text.encode(), song_from(text, "shown.toml")))
    assert made.arrangement.bars == 24


def test_the_shown_key_map_reads() -> None:
    """The key map of the README reads as it stands, and does what its remarks say."""
    kit = read_key_map(blocks("toml")[1], "my-kit")
    assert kit.missing == (("china", "ride bell"), ("splash", "crash"))
    assert (kit.note_of("half-open hi-hat"), kit.notes["snare"]) == (60, (38, 40))


def test_every_command_has_a_line() -> None:
    """Each command stands in the table with an example."""
    for name in COMMANDS:
        assert f"| `{name}` | `grooveforge {name}" in README
