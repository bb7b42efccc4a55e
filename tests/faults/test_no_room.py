"""Every command that writes, on a full disk and in a folder that may not be written: an error of ours, nothing lost.

The largest file that a process may write (POSIX setrlimit, RLIMIT_FSIZE) stands for the full disk: a write fails
half-way, as there. Root may write everywhere, so for the folder without write bits the child becomes nobody first.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path

import pytest

from grooveforge import files
from grooveforge.cli.main import main
from grooveforge.cli.table import COMMANDS
from grooveforge.page.faults import RefusedError
from grooveforge.page.session import Session
from tests.faults.children import UNIX, in_a_child, largest_file, let_everyone_in, nobody
from tests.faults.kills import SHEET

pytestmark = UNIX

WRITES = {
    "new": "new HOME/new.toml",
    "new over": "new HOME/tar.toml --force",
    "start": "start x--X--x-X-x-xxX- -o HOME/start.toml",
    "render": "render HOME/tar.toml -o HOME/out --sections",
    "options": "options HOME/tar.toml chorus 2 --amount large --take 1",
    "plan": "plan HOME/tar.toml --take 1",
    "vary": "vary HOME/tar.mid -o HOME/china.mid --timekeeper china",
    "recount": "recount HOME/tar.toml /2",
    "follow": "follow x--X--x-X-x-xxX- --under gallop -o HOME/riff.mid",
    "preview": "preview HOME/tar.toml -o HOME/tar.wav",
    "page": "page HOME/tar.toml --export HOME/tar.html",
    "chart": "chart HOME/tar.toml -o HOME/tar.txt",
    "pack": "pack HOME/tar.toml -o HOME/pack",
    "merge": "merge HOME/tar.toml HOME/played.mid",
    "undo": "undo HOME/tar.toml",
}
"""A command that writes, with its words; HOME is a folder with a sheet that was changed once and rendered."""

ONLY_SAY = {"grooves", "inspect", "check", "compare", "profile", "key-map", "play"}
"""The commands that write no file."""

SAID = ("cannot be written", "cannot be made")


def test_the_table_has_every_command_that_writes() -> None:
    assert {words.split()[0] for words in WRITES.values()} | ONLY_SAY == set(COMMANDS)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A sheet with a change to take back, its render, and a drummer's file that differs from it."""
    folder = tmp_path / "home"
    folder.mkdir()
    sheet = folder / "tar.toml"
    sheet.write_text(SHEET.format(feel="half"), encoding="utf-8")
    with redirect_stdout(StringIO()), redirect_stderr(StringIO()):
        assert main(["recount", str(sheet), "x2"]) == 0
        assert main(["render", str(sheet), "-o", str(folder)]) == 0
        assert main(["vary", str(folder / "tar.mid"), "-o", str(folder / "played.mid"), "--timekeeper", "ride"]) == 0
    return folder


def words_of(said: str, home: Path) -> list[str]:
    found = said.replace("HOME", str(home)).split()
    return [*found[:2], " ".join(found[2:4]), *found[4:]] if found[0] == "options" else found


def content(home: Path) -> dict[str, bytes]:
    """Every file below a folder, but for the empty ones that locks are held on."""
    listed = (path for path in sorted(home.rglob("*")) if path.is_file())
    return {str(path.relative_to(home)): data for path in listed if (data := path.read_bytes())}


def no_room() -> None:
    largest_file(64)


def forbid(home: Path) -> None:
    """Take the write bits from a folder and all below it, and let everyone in as far as there."""
    for path in (home, *home.rglob("*")):
        path.chmod(0o555 if path.is_dir() else 0o444)
    let_everyone_in(home)


def allow(home: Path) -> None:
    for path in (home, *home.rglob("*")):
        path.chmod(0o755 if path.is_dir() else 0o644)


def check_refused(status: int, said: str) -> None:
    assert status == 2, said
    assert said.startswith("error: "), said
    assert any(words in said for words in SAID), said
    assert "Traceback" not in said
    assert len(said.strip().splitlines()) <= 2, said


@pytest.mark.parametrize("name", WRITES)
def test_a_full_disk(home: Path, name: str) -> None:
    before = content(home)
    status, said = in_a_child(no_room, lambda: main(words_of(WRITES[name], home)))
    check_refused(status, said)
    assert content(home) == before
    with redirect_stdout(StringIO()), redirect_stderr(StringIO()):
        assert main(words_of(WRITES[name], home)) == 0, "with room again it goes through"
    assert content(home) != before


@pytest.mark.parametrize("name", WRITES)
def test_a_folder_that_may_not_be_written(home: Path, name: str) -> None:
    before = content(home)
    forbid(home)
    try:
        status, said = in_a_child(nobody, lambda: main(words_of(WRITES[name], home)))
    finally:
        allow(home)
    check_refused(status, said)
    assert content(home) == before


@pytest.mark.parametrize("limit", [no_room, nobody], ids=["full", "forbidden"])
def test_the_pages_save(home: Path, limit: Callable[[], None]) -> None:
    """The page keeps what was typed, says why it is not saved, and the sheet on disk stays."""
    sheet = home / "tar.toml"
    session = Session(sheet, sheet.read_bytes())
    session.set_text(session.text.replace("Tar Lantern", "Tar Lamp"))
    before = content(home)

    def save() -> int:
        limit()
        try:
            session.save(False)
        except RefusedError:
            return 0 if "Tar Lamp" in session.text and not session.saved else 3
        return 4

    if limit is nobody:
        forbid(home)
    try:
        status, said = in_a_child(lambda: None, save)
    finally:
        allow(home)
    assert status == 0, said
    assert content(home) == before
    session.save(False)
    assert b"Tar Lamp" in sheet.read_bytes()
    assert files.undo(sheet)
