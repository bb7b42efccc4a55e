"""Standard input and output as "-": commands in pipes, data on stdout, messages on stderr, in real processes."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.conftest import SHEET
from tests.drumfiles import CHINA, CLOSED, KICK, SNARE, bars_file, heard

ROOT = Path(__file__).parent.parent.parent

GROOVE = "tab = '''\nHH x-x-x-x-x-x-x-x-\nSN ----O-------O---\nBD o-------o-------\n'''\n"
DRUMS = bars_file({CLOSED: "x-x-x-x-x-x-x-x-", SNARE: "----X-------X---", KICK: "x-------x-------"})


def piped(folder: Path, data: bytes | str, *words: str | Path, status: int = 0) -> subprocess.CompletedProcess[bytes]:
    """A command run in a folder with bytes on its standard input."""
    path = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])
    done = subprocess.run(
        [sys.executable, "-m", "grooveforge", *map(str, words)],
        input=data if isinstance(data, bytes) else data.encode(),
        capture_output=True,
        cwd=folder,
        env={**os.environ, "PYTHONPATH": path},
        check=False,
    )
    assert done.returncode == status, done.stderr.decode()
    assert b"Traceback" not in done.stderr
    return done


def listed(folder: Path) -> set[str]:
    """Every file below a folder but our own list of them."""
    return {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file() and path.name[0] != "."}


def test_render_from_stdin(tmp_path: Path) -> None:
    """The files of a sheet from standard input are named song."""
    done = piped(tmp_path, SHEET, "render", "-", "-o", "out")
    assert listed(tmp_path) == {f"out/song{end}" for end in (".mid", "-tempo.mid", "-tempo.txt", "-click.mid")}
    assert done.stdout.startswith(b"Lantern Yard: 12 bars")


def test_render_from_stdin_finds_the_folders_grooves(tmp_path: Path) -> None:
    """A sheet from standard input finds grooves in the folder that the command runs in."""
    (tmp_path / "mine.toml").write_text(GROOVE)
    piped(tmp_path, 'form = ["a"]\n[parts.a]\ngroove = "mine"\n', "render", "-")
    assert "out/song.mid" in listed(tmp_path)


def test_render_to_stdout(tmp_path: Path) -> None:
    """-o - is the song's MIDI and nothing else on stdout; no file is written, messages stand on stderr."""
    done = piped(tmp_path, SHEET, "render", "-", "-o", "-")
    piped(tmp_path, SHEET, "render", "-", "-o", "out")
    assert done.stdout == (tmp_path / "out" / "song.mid").read_bytes()
    warned = piped(tmp_path, SHEET.replace('"ride"', '"half-open hi-hat"'), "render", "-", "-o", "-")
    assert b"warning: " in warned.stderr
    assert warned.stdout.startswith(b"MThd")
    assert not (tmp_path / "-").exists()


@pytest.mark.parametrize("option", ["--json", "--sections"])
def test_render_to_stdout_has_one_thing_to_say(option: str, tmp_path: Path) -> None:
    """What needs stdout too, or a folder, is refused beside -o -."""
    done = piped(tmp_path, SHEET, "render", "-", "-o", "-", option, status=2)
    assert (done.stdout, option.encode() in done.stderr) == (b"", True)
    assert listed(tmp_path) == set()


def test_vary_through(tmp_path: Path) -> None:
    """vary - -o - is a filter: MIDI in, MIDI out, the same bytes as through files."""
    done = piped(tmp_path, DRUMS, "vary", "-", "-o", "-", "--timekeeper", "china")
    assert {note for _, note, _ in heard(done.stdout)} == {CHINA, SNARE, KICK}
    (tmp_path / "in.mid").write_bytes(DRUMS)
    piped(tmp_path, b"", "vary", "in.mid", "-o", "out.mid", "--timekeeper", "china")
    assert (tmp_path / "out.mid").read_bytes() == done.stdout
    assert listed(tmp_path) == {"in.mid", "out.mid"}


def test_vary_a_groove_through(tmp_path: Path) -> None:
    """A groove file goes through as text, and what comes out reads."""
    done = piped(tmp_path, GROOVE, "vary", "-", "-o", "-", "--feel", "half")
    found = json.loads(piped(tmp_path, done.stdout, "inspect", "-", "--json").stdout)
    assert found["bars"][0]["backbeats"] == [3.0]


def test_vary_with_json_needs_a_file(tmp_path: Path) -> None:
    """The file and the JSON cannot both stand on stdout."""
    assert b"--json" in piped(tmp_path, DRUMS, "vary", "-", "-o", "-", "--json", status=2).stderr
    done = piped(tmp_path, DRUMS, "vary", "-", "-o", "china.mid", "--timekeeper", "china", "--json")
    assert json.loads(done.stdout)["bars"][0]["timekeeper"] == "china"


@pytest.mark.parametrize("data", [DRUMS, GROOVE.encode(), SHEET.encode()], ids=["MIDI", "groove", "sheet"])
def test_inspect_from_stdin(data: bytes, tmp_path: Path) -> None:
    """Every kind of input is told by content on standard input too."""
    found = json.loads(piped(tmp_path, data, "inspect", "-", "--json").stdout)
    assert found["bars"][0]["backbeats"] == [2.0, 4.0]


def test_compare_from_stdin(tmp_path: Path) -> None:
    """Either side may be standard input, not both."""
    (tmp_path / "drums.mid").write_bytes(DRUMS)
    for words in (("-", "drums.mid"), ("drums.mid", "-")):
        assert json.loads(piped(tmp_path, GROOVE, "compare", *words, "--json").stdout)["distance"] == 0.0
    assert b"standard input" in piped(tmp_path, DRUMS, "compare", "-", "-", status=2).stderr


def test_new_to_stdout(tmp_path: Path) -> None:
    """new - prints a sheet that renders, and nothing else."""
    done = piped(tmp_path, b"", "new", "-", "--form", "verse chorus verse", "--tempo", "150")
    assert b"grooveforge render song.toml" in done.stdout
    assert piped(tmp_path, done.stdout, "render", "-").stdout.startswith(b"Song: ")


def test_new_from_stdin(tmp_path: Path) -> None:
    """new - --from - is a filter from MIDI to a sheet with the same strokes."""
    done = piped(tmp_path, DRUMS, "new", "-", "--from", "-")
    again = piped(tmp_path, done.stdout, "render", "-", "-o", "-").stdout
    assert [row[:2] for row in heard(again)] == [row[:2] for row in heard(DRUMS)]
    assert listed(tmp_path) == set()


def test_follow_through(tmp_path: Path) -> None:
    """A riff from standard input, or the groove under it, and the result on stdout."""
    done = piped(tmp_path, GROOVE, "follow", "x-xx--x-x-xx--x-", "--under", "-", "-o", "-")
    assert sorted(tick for tick, note, _ in heard(done.stdout) if note == KICK)[:3] == [0, 240, 360]
    assert b"standard input" in piped(tmp_path, DRUMS, "follow", "-", "--under", "-", "-o", "x.mid", status=2).stderr
    assert b"--json" in piped(tmp_path, GROOVE, "follow", "x-", "--under", "-", "-o", "-", "--json", status=2).stderr


def test_a_groove_of_the_library_goes_on(tmp_path: Path) -> None:
    """What `grooves NAME` prints is a groove file that the other commands take."""
    printed = piped(tmp_path, b"", "grooves", "gallop").stdout
    assert json.loads(piped(tmp_path, printed, "inspect", "-", "--json").stdout)["bars"][0]["double_kick"] is True


@pytest.mark.parametrize("words", [("recount", "-", "x2"), ("undo", "-")])
def test_a_change_in_place_needs_a_file(words: tuple[str, ...], tmp_path: Path) -> None:
    """What changes a sheet in place refuses standard input and writes nothing."""
    piped(tmp_path, SHEET, *words, status=2)
    assert listed(tmp_path) == set()


@pytest.mark.parametrize(
    "words", [("inspect", "-"), ("vary", "-", "-o", "-"), ("compare", "-", "drums.mid"), ("render", "-")]
)
def test_wrong_input_on_stdin(words: tuple[str, ...], tmp_path: Path) -> None:
    """Bytes that are nothing of ours are refused with the stream's name, and nothing is written."""
    (tmp_path / "drums.mid").write_bytes(DRUMS)
    for data in (b"", b"\x00\xff\x00", b"MThd", b"form = ["):
        done = piped(tmp_path, data, *words, status=2)
        assert (done.stdout, done.stderr.startswith(b"error: -")) == (b"", True), (data, done.stderr)
    assert listed(tmp_path) == {"drums.mid"}
