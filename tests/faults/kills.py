"""The jobs that are killed: a render, a change of a sheet and its undo."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import mido

from grooveforge import files
from grooveforge.cli.main import main
from grooveforge.page.session import Session
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


def _kill_and_undo(home: Path, new: bytes, change: Callable[[], object], moments_of: tuple[int, int]) -> Count:
    """A change of the sheet killed at random (runs, seed): the sheet is old or new, and undo knows which."""
    count = Count()
    sheet = _fresh(home, "half")
    old = sheet.read_bytes()
    assert new != old

    def fresh() -> None:
        shutil.rmtree(home)
        _fresh(home, "half")

    spent = seconds_of(lambda: _both(fresh, change))
    for moment in moments(spent, *moments_of):
        fresh()
        count.runs += 1
        count.killed += run_and_kill(change, moment)
        whole(home, [{sheet.name: old}, {sheet.name: new}], count)
        changed = sheet.read_bytes() == new
        assert main(["undo", str(sheet)]) == (0 if changed else 2)
        assert sheet.read_bytes() == old
    return count


def kill_changes(folder: Path, runs: int, seed: int = 2) -> Count:
    """`recount` killed at random, then undo: the sheet is old or new, undo gives the old one or says there is none."""
    home = folder / "song"
    sheet = _fresh(home, "half")
    old = sheet.read_bytes()

    def change() -> None:
        assert main(["recount", str(sheet), "x2"]) == 0

    change()
    new = sheet.read_bytes()
    assert main(["undo", str(sheet)]) == 0
    assert sheet.read_bytes() == old
    return _kill_and_undo(home, new, change, (runs, seed))


def kill_merges(folder: Path, runs: int, seed: int = 3) -> Count:
    """`merge` killed at random: the changes file is there whole or not at all, and undo takes back what was merged."""
    count = Count()
    home = folder / "song"
    sheet = _fresh(home, "half")
    played = folder / "played.mid"
    assert main(["render", str(sheet), "-o", str(folder / "out")]) == 0
    song = mido.MidiFile(folder / "out" / "tar.mid")
    for message in song.tracks[1]:
        if message.type == "note_on" and message.note == 38:
            message.note = 40  # another note of the snare is no change, a lower one is
        if message.type in ("note_on", "note_off") and message.note == 52:
            message.note = 51
    song.save(played)
    kept = {path.name: path.read_bytes() for path in (home / files.UNDO_FOLDER).iterdir()}
    assert kept, "a render keeps a record of what went out"

    def fresh() -> None:
        shutil.rmtree(home)
        _fresh(home, "half")
        (home / files.UNDO_FOLDER).mkdir()
        for name, data in kept.items():
            (home / files.UNDO_FOLDER / name).write_bytes(data)

    def merge() -> None:
        assert main(["merge", str(sheet), str(played)]) == 0

    merge()
    beside = files.changes_file(sheet)
    new = beside.read_bytes()
    spent = seconds_of(lambda: _both(fresh, merge))
    for moment in moments(spent, runs, seed):
        fresh()
        count.runs += 1
        count.killed += run_and_kill(merge, moment)
        whole(home, [{sheet.name: sheet.read_bytes()}, {sheet.name: sheet.read_bytes(), beside.name: new}], count)
        merged = beside.exists()
        assert main(["undo", str(sheet)]) == (0 if merged else 2)
        assert not beside.exists()
    return count


def kill_saves(folder: Path, runs: int, seed: int = 4) -> Count:
    """The page's save killed at random: the sheet is old or new, and undo knows which."""
    home = folder / "song"
    sheet = _fresh(home, "half")
    old = sheet.read_bytes()
    new = old.replace(b"half", b"blast")

    def save() -> None:
        session = Session(sheet, old)
        session.set_text(new.decode())
        session.save(False)

    return _kill_and_undo(home, new, save, (runs, seed))


def _both(one: Callable[[], object], other: Callable[[], object]) -> None:
    one()
    other()


KILLED = {"renders": kill_renders, "changes": kill_changes, "merges": kill_merges, "saves": kill_saves}
"""What is killed, by name."""
