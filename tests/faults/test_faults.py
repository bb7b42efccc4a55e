"""Killed, full, forbidden, homeless, nameless, twice at once: nothing is lost and every error is one of ours."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from grooveforge import files
from grooveforge.cli.main import main
from grooveforge.errors import FileError
from tests.faults import kills
from tests.faults.children import UNIX, in_a_child, largest_file, let_everyone_in, nobody

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "patterns" / "songs" / "copper-weather.toml"


C_LOCALE = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
"""A locale in which Python takes ASCII for the encoding of everything."""


def command(*words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """One run of the command in a process of its own, with no environment but what is given."""
    return subprocess.run(
        [sys.executable, "-m", "grooveforge", *words],
        cwd=ROOT,
        env={"PYTHONPATH": str(ROOT), **environment},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        errors="surrogateescape",
    )


@UNIX
@pytest.mark.parametrize("name", list(kills.KILLED))
def test_what_is_killed_leaves_every_file_old_or_new(tmp_path: Path, name: str) -> None:
    """And what comes after goes through: the next render, and undo. Hundreds by hand with python -m tests.faults."""
    count = kills.KILLED[name](tmp_path, 15)
    assert count.killed >= 3
    assert count.halves == []


def refused(out: Path, data: bytes) -> int:
    """A write of one file that fails: 2, as a command has it, and the error on stderr."""
    try:
        files.write_outputs(out, {"a.mid": data})
    except FileError as error:
        print(error, file=sys.stderr)
        return 2
    return 0


@UNIX
def test_a_full_disk_is_an_error_and_the_old_files_stay(tmp_path: Path) -> None:
    """The largest file that a process may write stands for the disk: the write fails half-way, as on a full one."""
    out = tmp_path / "out"
    files.write_outputs(out, {"a.mid": b"old" * 100})
    status, said = in_a_child(lambda: largest_file(4096), lambda: refused(out, b"new" * 5000))
    assert (status, "cannot be written" in said) == (2, True), said
    assert (out / "a.mid").read_bytes() == b"old" * 100
    assert sorted(path.name for path in out.iterdir()) == [files.MANIFEST, "a.mid"]
    files.write_outputs(out, {"a.mid": b"new" * 5000})
    assert (out / "a.mid").read_bytes() == b"new" * 5000


@UNIX
def test_a_folder_without_write_bits_is_an_error_that_names_the_file(tmp_path: Path) -> None:
    """Root may write everywhere, so the child becomes nobody first."""
    out = tmp_path / "out"
    files.write_outputs(out, {"a.mid": b"old"})
    (out / "a.mid").chmod(0o444)
    out.chmod(0o555)
    let_everyone_in(out)
    status, said = in_a_child(nobody, lambda: refused(out, b"new"))
    out.chmod(0o755)
    assert (status, str(out) in said, "Permission" in said) == (2, True, True), said
    assert (out / "a.mid").read_bytes() == b"old"


def test_no_home_no_terminal_and_the_c_locale_render_all_the_same(tmp_path: Path) -> None:
    """The environment holds nothing but the path to the package and the locale."""
    done = command("render", str(DEMO), "-o", str(tmp_path / "out"), **C_LOCALE)
    assert done.returncode == 0, done.stderr
    assert "Copper Weather" in done.stdout
    assert (tmp_path / "out" / "copper-weather.mid").exists()


@pytest.mark.parametrize("locale", ["C", "C.UTF-8"])
def test_spaces_and_other_alphabets_in_paths(tmp_path: Path, locale: str) -> None:
    """A folder and a sheet with spaces, Greek and Japanese letters; errors name them without a traceback."""
    home = tmp_path / "η λίμνη 湖 song"
    home.mkdir()
    sheet = home / "ночь und föhn.toml"
    sheet.write_bytes(DEMO.read_bytes())
    setting = C_LOCALE | {"LC_ALL": locale}
    done = command("render", str(sheet), "-o", str(home / "the out"), **setting)
    assert done.returncode == 0, done.stderr
    assert (home / "the out" / "ночь und föhn.mid").exists()
    missing = command("render", str(home / "fehlt ö.toml"), **setting)
    assert missing.returncode == 2
    assert missing.stderr.startswith("error: ")
    assert "Traceback" not in missing.stderr


def test_two_processes_on_one_folder_lose_nothing(tmp_path: Path) -> None:
    """Eight renders of eight sheets into one folder at once: every file is known as ours afterwards."""
    sheets = []
    for number in range(8):
        sheet = tmp_path / f"song-{number}.toml"
        sheet.write_bytes(DEMO.read_bytes())
        sheets.append(sheet)
    out = tmp_path / "out"
    words = [sys.executable, "-m", "grooveforge", "render", "-o", str(out)]
    running = [
        subprocess.Popen([*words, str(sheet)], env={"PYTHONPATH": str(ROOT)}, stdout=subprocess.DEVNULL)
        for sheet in sheets
    ]
    assert [process.wait() for process in running] == [0] * 8
    for sheet in sheets:
        sheet.write_text(sheet.read_text(encoding="utf-8").replace("tempo = 118", "tempo = 120", 1), encoding="utf-8")
        assert main(["render", str(sheet), "-o", str(out)]) == 0, "a file of ours was taken for a foreign one"


def test_two_changes_of_one_sheet_at_once_are_one_after_the_other_or_refused(tmp_path: Path) -> None:
    """Four recounts at once: as many undos as changes that said they were done, back to the bytes of the start."""
    sheet = tmp_path / "song.toml"
    sheet.write_text(kills.SHEET.format(feel="half").replace("tempo = 150", "tempo = 20"), encoding="utf-8")
    before = sheet.read_bytes()
    words = [sys.executable, "-m", "grooveforge", "recount", str(sheet), "x2"]
    quiet, here = subprocess.DEVNULL, {"PYTHONPATH": str(ROOT)}
    running = [subprocess.Popen(words, env=here, stdout=quiet, stderr=quiet) for _ in range(4)]
    done = [process.wait() for process in running].count(0)
    assert done >= 1
    for _ in range(done):
        files.undo(sheet)
    assert sheet.read_bytes() == before
    with pytest.raises(FileError, match="no change to take back"):
        files.undo(sheet)


def test_a_clock_that_jumps_changes_nothing(tmp_path: Path) -> None:
    """Files dated in the future or the past are ours all the same: hashes tell, not dates."""
    out = tmp_path / "out"
    assert main(["render", str(DEMO), "-o", str(out)]) == 0
    kept = {path: path.read_bytes() for path in out.iterdir()}
    for path, moved in zip(kept, (-10**9, 10**9, 3600, -3600, 0)):
        now = time.time()
        os.utime(path, (now + moved, now + moved))
    assert main(["render", str(DEMO), "-o", str(out)]) == 0
    assert {path: path.read_bytes() for path in out.iterdir()} == kept


def test_a_clock_that_runs_backwards_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each look at the clock is a day before the last one; undo takes back the newest change all the same."""
    days = iter(range(20_000, 0, -1))
    monkeypatch.setattr(time, "time", lambda: 86_400.0 * next(days))
    sheet = tmp_path / "song.toml"
    sheet.write_text(kills.SHEET.format(feel="half"), encoding="utf-8")
    steps = [sheet.read_bytes()]
    for words in (["recount", str(sheet), "x2"], ["recount", str(sheet), "/2"], ["recount", str(sheet), "x2"]):
        assert main(words) == 0
        assert main(["render", str(sheet), "-o", str(tmp_path / "out")]) == 0
        steps.append(sheet.read_bytes())
        past = 86_400.0 * next(days)
        for path in (sheet, *(tmp_path / files.UNDO_FOLDER).iterdir()):
            os.utime(path, (past, past))
    for step in reversed(steps[:-1]):
        assert main(["undo", str(sheet)]) == 0
        assert sheet.read_bytes() == step


def test_rendering_again_touches_no_file_that_is_as_it_should_be(tmp_path: Path) -> None:
    files.write_outputs(tmp_path, {"a": b"1", "b": b"2"})
    before = {path.name: path.stat().st_ino for path in tmp_path.iterdir()}
    files.write_outputs(tmp_path, {"a": b"1", "b": b"3"})
    after = {path.name: path.stat().st_ino for path in tmp_path.iterdir()}
    assert before["a"] == after["a"]
    assert before["b"] != after["b"]


def test_standard_output_that_closes_early_is_no_traceback() -> None:
    """`grooveforge grooves | head -1` in other words."""
    process = subprocess.Popen(
        [sys.executable, "-m", "grooveforge", "grooves"],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.readline()
    process.stdout.close()
    assert "Traceback" not in process.stderr.read()
    process.wait()
