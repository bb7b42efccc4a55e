"""Build the wheel, install it in empty environments away from the source tree, and run the main job there.

python -m tests.wheel [PYTHON ...]: with the newest dependencies under every Python given (those named python3.11,
python3.12 ... on the path where none is), and with the oldest that pyproject.toml allows under Python 3.11.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).parents[2]

JOB = r"""
import json, pathlib, subprocess, sys
import grooveforge
assert pathlib.Path(grooveforge.__file__).is_relative_to(sys.prefix), "not the installed package"
def run(*words):
    done = subprocess.run([sys.executable, "-m", "grooveforge", *words], capture_output=True, text=True)
    assert done.returncode == 0, (words, done.stderr)
    return done.stdout
run("new", "song.toml")
facts = json.loads(run("render", "song.toml", "-o", "out", "--json"))
assert facts["bars"] == 52, facts["bars"]
import mido
notes = sum(m.type == "note_on" and m.velocity > 0 for m in mido.MidiFile("out/song.mid").tracks[1])
assert notes == len(grooveforge.events(grooveforge.read_sheet("song.toml"))) > 500
assert "gallop" in run("grooves")
assert json.loads(run("inspect", "out/song.mid", "--json"))["hits"] == notes
assert len(grooveforge.to_pretty_midi(grooveforge.read_sheet("song.toml")).instruments[0].notes) == notes
run("page", "song.toml", "--export", "page.html")
assert 100_000 < pathlib.Path("page.html").stat().st_size < 2_000_000
run("preview", "song.toml", "-o", "song.wav", "--section", "chorus")
assert pathlib.Path("song.wav").read_bytes()[:4] == b"RIFF"
assert json.loads(run("check", "song.toml", "--json"))["findings"] == []
import re, signal, urllib.request
served = subprocess.Popen([sys.executable, "-m", "grooveforge", "page", "song.toml", "--no-open"],
                          stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
for line in served.stdout:
    if found := re.search(r"http://\S+", line):
        with urllib.request.urlopen(found[0].rstrip(".,")) as answer:
            assert b"<title>" in answer.read()
        break
served.send_signal(signal.SIGINT)
assert served.wait(20) == 0
print(f"{notes} notes in {facts['bars']} bars, the page answers")
"""


def oldest() -> list[str]:
    """The base dependencies at the lowest version that each allows."""
    with (ROOT / "pyproject.toml").open("rb") as file:
        listed = tomllib.load(file)["project"]["dependencies"]
    return [row.split(",")[0].replace(">=", "==") for row in listed]


def pythons() -> list[str]:
    """Every Python from 3.11 on that is on the path, by name."""
    found = [shutil.which(f"python3.{minor}") for minor in range(11, 20)]
    return [path for path in found if path and _starts(path)] or [sys.executable]


def _starts(path: str) -> bool:
    return subprocess.run([path, "-c", ""], capture_output=True).returncode == 0


def _is_oldest(path: str) -> bool:
    return subprocess.run([path, "-c", "import sys; sys.exit(sys.version_info[:2] != (3, 11))"]).returncode == 0


def build(folder: Path) -> Path:
    """The wheel, built from the source tree."""
    subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", str(folder), str(ROOT)], check=True
    )
    return next(folder.glob("*.whl"))


def try_out(python: str, wheel: Path, pins: Sequence[str], folder: Path) -> str:
    """Install the wheel in a new environment and run the main job in an empty folder."""
    place = folder / "environment"
    subprocess.run([python, "-m", "venv", str(place)], check=True)
    inside = place / ("Scripts" if sys.platform == "win32" else "bin") / "python"
    subprocess.run([inside, "-m", "pip", "install", "-q", "--only-binary", "numpy", str(wheel), *pins], check=True)
    work = folder / "work"
    work.mkdir()
    script = work / "job.py"
    script.write_text(JOB, encoding="utf-8")
    done = subprocess.run([inside, str(script)], cwd=work, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    named = subprocess.run([inside, "--version"], capture_output=True, text=True).stdout.strip()
    return f"{named}, {'oldest' if pins else 'newest'} dependencies: {done.stdout.strip()}"


def main(arguments: Sequence[str]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        wheel = build(Path(folder))
        print(f"{wheel.name}: {wheel.stat().st_size / 1024:.0f} KiB", flush=True)
        found = list(arguments) or pythons()
        first = next((path for path in found if _is_oldest(path)), None)
        if first is None:
            print("the oldest dependencies have wheels for Python 3.11 alone, which is not here: not tried", flush=True)
        for python, pins in [*((path, []) for path in found), *([(first, oldest())] if first else [])]:
            with tempfile.TemporaryDirectory() as place:
                print(try_out(python, wheel, pins, Path(place)), flush=True)


main(sys.argv[1:])
