"""The jobs that are killed: a render, a change of a sheet and its undo."""

from __future__ import annotations

import shutil
from pathlib import Path

from grooveforge.cli.main import main
from tests.faults.killing import Count, content, moments, run_and_kill, seconds_of, whole

SHEET = """title = "Tar Lantern"
tempo = 150
form = ["verse", "chorus", {{ part = "chorus", feel = "{feel}" }}]
[parts.verse]
groove = "gallop"
[parts.chorus]
groove = "gallop"
timekeeper = "china"
"""


def _fresh(folder: Path, feel: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    sheet = folder / "tar.toml"
    sheet.write_text(SHEET.format(feel=feel), encoding="utf-8")
    return sheet


def kill_renders(folder: Path, runs: int, seed: int = 1) -> Count:
    """A second render over a first, killed at random; then the next render must go through without --force."""
    count = Count()
    out = folder / "out"
    sheet = _fresh(folder / "song", "half")
    command = ["render", str(sheet), "-o", str(out), "--sections"]
    versions = []
    for feel in ("half", "double"):
        _fresh(folder / "song", feel)
        assert main(command) == 0
        versions.append(content(out))
    assert versions[0] != versions[1]

    def again() -> None:
        assert main(command) == 0

    def back() -> None:
        _fresh(folder / "song", "half")
        assert main(command) == 0, "a render after a kill is refused"
        assert content(out) == versions[0]
        _fresh(folder / "song", "double")

    back()
    spent = seconds_of(again)
    for moment in moments(spent, runs, seed):
        back()
        count.runs += 1
        count.killed += run_and_kill(again, moment)
        whole(out, versions, count)
    back()
    left = [path.name for path in out.rglob("*.new")]
    assert not left, f"temporary files stay: {left}"
    return count


def kill_changes(folder: Path, runs: int, seed: int = 2) -> Count:
    """`recount` killed at random, then undo: the sheet is old or new, undo gives the old one or says there is none."""
    count = Count()
    home = folder / "song"
    sheet = _fresh(home, "half")
    old = sheet.read_bytes()
    assert main(["recount", str(sheet), "x2"]) == 0
    new = sheet.read_bytes()
    assert main(["undo", str(sheet)]) == 0
    assert sheet.read_bytes() == old

    def change() -> None:
        assert main(["recount", str(sheet), "x2"]) == 0

    def fresh() -> None:
        shutil.rmtree(home)
        _fresh(home, "half")

    def whole_change() -> None:
        fresh()
        change()

    spent = seconds_of(whole_change)
    for moment in moments(spent, runs, seed):
        fresh()
        count.runs += 1
        count.killed += run_and_kill(change, moment)
        whole(home, [{sheet.name: old}, {sheet.name: new}], count)
        changed = sheet.read_bytes() == new
        assert main(["undo", str(sheet)]) == (0 if changed else 2)
        assert sheet.read_bytes() == old
    return count
