"""Wrong input: one clear error with place and hint, exit status 2, no traceback, no half-written file."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.conftest import SHEET, Run


def refused(run: Run, path: Path, *words: str) -> None:
    """The sheet is refused with all of the words, and nothing is written."""
    out = path.parent / "out"
    ran = run("render", path, "-o", out)
    assert ran.status == 2, ran
    assert ran.out == ""
    assert ran.err.startswith(f"error: {path}")
    assert "Traceback" not in ran.err
    for word in words:
        assert word in ran.err, ran.err
    assert not out.exists()


CHANGES = {
    "an unknown key": ("bars = 4\n", "bars = 4\nbarz = 4\n", "parts.verse.barz, line 15", "bars"),
    "an unknown surface": ('"ride"', '"gong"', "parts.chorus.timekeeper, line 20", "'gong'", "china"),
    "an unknown feel": ('feel = "full"', 'feel = "fuller"', "parts.chorus.feel, line 19", "fuller", "d-beat"),
    "an empty form": ('form = ["verse", { part = "chorus", feel = "half" }]', "form = []", "form, line 3"),
    "zero bars": ("bars = 4", "bars = 0", "parts.verse.bars, line 14", "0", "2,000"),
    "negative bars": ("bars = 4", "bars = -4", "parts.verse.bars, line 14", "-4"),
    "over 2,000 bars": ("bars = 4", "bars = 2001", "parts.verse.bars, line 14", "2001"),
    "a tempo too slow": ("tempo = 120", "tempo = 19", "tempo, line 2", "19", "20"),
    "a tempo too fast": ("tempo = 120", "tempo = 401", "tempo, line 2", "401", "400"),
    "a tempo that is no number": ("tempo = 120", 'tempo = "fast"', "tempo, line 2", "fast"),
    "a tempo that is not a number": ("tempo = 120", "tempo = nan", "tempo, line 2"),
    "a metre that is none": ("tempo = 120", 'tempo = 120\nmeter = "4/5"', "meter, line 3", "4/5", "power of two"),
    "a part that does not exist": ('"verse",', '"verze",', "form.1", "line 3", "verze", "verse"),
    "a ragged tab": ("SN ----O-------O---", "SN ----O-------O--", "grooves.plain.tab, line 8", "15", "16"),
    "a wrong letter": ("SN ----O-------O---", "SN ----q-------O---", "grooves.plain.tab, line 8", "q"),
    "a groove that does not exist": ('groove = "plain"\nbars = 4', 'groove = "galop"\nbars = 4', "line 13", "gallop"),
    "a swing that is none": (
        "bars = 4",
        'bars = 4\nswing = "4:1"',
        "parts.verse.swing, line 15",
        "no such swing",
    ),
    "a follow without a riff": ("bars = 4", 'bars = 4\nkick = "follow"', "parts.verse", "riff"),
    "too many bars in a list": ('"ride"', '[{ bars = 9, on = "ride" }]', "parts.chorus.timekeeper", "9", "8"),
}


@pytest.mark.parametrize("what", CHANGES)
def test_a_fault_in_a_sheet(what: str, run: Run, sheet: Path) -> None:
    """Each fault of a sheet is told with its key path and line, what was found and what is allowed."""
    before, after, *words = CHANGES[what]
    assert before in SHEET
    sheet.write_text(SHEET.replace(before, after, 1), encoding="utf-8")
    refused(run, sheet, *words)


def test_a_relative_feel_off_the_ladder(run: Run, sheet: Path) -> None:
    """A relative feel that leads off the ladder's end is told with the entry that says it."""
    text = SHEET.replace('feel = "full"', 'feel = "double"').replace('feel = "half"', 'feel = "x4"')
    sheet.write_text(text, encoding="utf-8")
    refused(run, sheet, "form.2.feel, line 3", "x4", "double", "ladder")


def test_over_10_000_bars(run: Run, sheet: Path) -> None:
    """A song of over 10,000 bars is refused before anything is built."""
    sheet.write_text(SHEET.replace('"verse",', '{ part = "verse", bars = 2000, repeat = 6 },'), encoding="utf-8")
    refused(run, sheet, "12,008", "10,000")


def test_all_faults_at_once(run: Run, sheet: Path) -> None:
    """All faults of a sheet come in one go."""
    text = SHEET.replace("tempo = 120", "tempo = 500").replace("bars = 4", "bars = 0").replace('"ride"', '"gong"')
    sheet.write_text(text, encoding="utf-8")
    ran = run("render", sheet, "-o", sheet.parent / "out")
    assert ran.err.count("error: ") == 3


def test_a_syntax_fault(run: Run, sheet: Path) -> None:
    """A fault of TOML itself comes alone, with line and column."""
    sheet.write_text(SHEET.replace("tempo = 120", "tempo = = 120"), encoding="utf-8")
    refused(run, sheet, "line 2", "column 9")
    assert run("render", sheet, "-o", sheet.parent / "out").err.count("error: ") == 1


def test_a_missing_file(run: Run, sheet: Path) -> None:
    """A missing file is named, with a neighbour as a hint."""
    refused(run, sheet.with_name("lantern.toml"), "no such file", "lantern-yard.toml")


def test_a_directory(run: Run, tmp_path: Path) -> None:
    """A directory is no song sheet."""
    folder = tmp_path / "songs"
    folder.mkdir()
    refused(run, folder, "directory")


@pytest.mark.parametrize("data", [b"\x7fELF\x02\x01\x01\x00\x00\x00", b"\xff\xfe\x00", bytes(range(256))])
def test_a_binary_file(data: bytes, run: Run, sheet: Path) -> None:
    """A binary file is no song sheet."""
    sheet.write_bytes(data)
    refused(run, sheet, "no text file")


def test_a_midi_file(run: Run, sheet: Path) -> None:
    """A MIDI file where a sheet is needed is said to be one."""
    sheet.write_bytes(bytes.fromhex("4D546864 00000006 0000 0001 0060 4D54726B 00000004 00FF2F00"))
    refused(run, sheet, "MIDI file", "inspect")


def test_an_edited_output_is_left_alone(run: Run, sheet: Path) -> None:
    """A file of ours that the user edited is not overwritten without --force, and kept beside with it."""
    out = sheet.parent / "out"
    assert run("render", sheet, "-o", out).status == 0
    edited = out / "lantern-yard.mid"
    edited.write_bytes(b"mine now")
    sheet.write_text(SHEET.replace("120", "130"), encoding="utf-8")
    ran = run("render", sheet, "-o", out)
    assert (ran.status, edited.read_bytes()) == (2, b"mine now")
    assert "--force" in ran.err
    assert run("render", sheet, "-o", out, "--force").status == 0
    assert edited.read_bytes()[:4] == b"MThd"
    assert (out / "lantern-yard.mid.1").read_bytes() == b"mine now"


def test_rendering_again_replaces_its_own_files(run: Run, sheet: Path) -> None:
    """What was written by us and not touched since is simply replaced."""
    out = sheet.parent / "out"
    run("render", sheet, "-o", out)
    first = (out / "lantern-yard.mid").read_bytes()
    sheet.write_text(SHEET.replace("120", "130"), encoding="utf-8")
    assert run("render", sheet, "-o", out).status == 0
    assert (out / "lantern-yard.mid").read_bytes() != first
    assert not (out / "lantern-yard.mid.1").exists()


def test_no_traceback_from_a_real_process(sheet: Path) -> None:
    """The installed command ends with status 2 and a message on stderr."""
    sheet.write_text("form = [", encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "grooveforge", "render", str(sheet)], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("error: ")
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    "words",
    [
        ("render",),
        ("render", "x.toml", "--format", "3"),
        ("render", "x.toml", "--channel", "17"),
        ("sing",),
        ("recount", "x.toml", "x3"),
        ("vary", "x.mid"),
    ],
)
def test_wrong_usage(words: tuple[str, ...], run: Run) -> None:
    """Wrong usage ends with status 2 and says what is wanted."""
    ran = run(*words)
    assert ran.status == 2
    assert "Usage: grooveforge" in ran.err
