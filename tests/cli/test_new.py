"""`new`: every sheet that it writes renders as it stands; `undo` where there is nothing to take back."""

from __future__ import annotations

from pathlib import Path

import pytest

from grooveforge.project.rendering import render
from grooveforge.project.sheets import read_sheet
from tests.cli.conftest import Run

METERS = ("4/4", "3/4", "6/8", "12/8", "5/4", "7/8", "2/2", "7/16", "15/8")


@pytest.mark.parametrize("meter", METERS)
def test_a_new_sheet_renders_in_every_metre(run: Run, tmp_path: Path, meter: str) -> None:
    """The plain groove has its backbeats by the feel table, and the last chorus moves to half time."""
    path = tmp_path / "slag-harbour.toml"
    done = run("new", path, "--meter", meter, "--tempo", "97.5")
    assert done.status == 0, done.err
    assert "grooveforge render" in done.out
    made = render(read_sheet(str(path)))
    sections = made.arrangement.sections
    assert [section.part for section in sections] == ["intro", "verse", "chorus", "verse", "chorus", "bridge", "chorus"]
    assert {str(section.meter) for section in sections} == {meter}
    assert made.arrangement.sections[-1].name == "last chorus"
    assert made.performance.tempos[0][1] == 97.5


def test_the_form_is_the_one_asked_for(run: Run, tmp_path: Path) -> None:
    """Part names in any alphabet; a name that comes twice is one part."""
    path = tmp_path / "song.toml"
    assert run("new", path, "--form", "начало riff-2 riff-2").status == 0
    made = read_sheet(str(path)).song
    assert list(made.parts) == ["начало", "riff-2"]
    assert [entry.part for entry in made.form] == ["начало", "riff-2", "riff-2"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--tempo", "fast"), "the tempo is no number"),
        (("--tempo", "1/0"), "the tempo is no number"),
        (("--tempo", "4000"), "20 to 400"),
        (("--meter", "4"), "metre"),
        (("--form", "verse cho*rus"), "a part's name"),
        (("--channel", "3"), "--from"),
        (("--from", "drums.mid", "--tempo", "120"), "--tempo"),
    ],
)
def test_what_cannot_be(run: Run, tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    path = tmp_path / "song.toml"
    done = run("new", path, *words)
    assert (done.status, done.out) == (2, "")
    assert said in done.err
    assert not path.exists()


def test_a_file_in_the_way_stays(run: Run, tmp_path: Path) -> None:
    """Without --force nothing is written; with it the old file is kept beside the new one."""
    path = tmp_path / "song.toml"
    path.write_text("my notes", encoding="utf-8")
    done = run("new", path)
    assert done.status == 2
    assert "--force" in done.err
    assert path.read_text(encoding="utf-8") == "my notes"
    assert run("new", path, "--force").status == 0
    assert (tmp_path / "song.toml.1").read_text(encoding="utf-8") == "my notes"


def test_undo_with_nothing_to_take_back(run: Run, sheet: Path) -> None:
    before = sheet.read_bytes()
    done = run("undo", sheet)
    assert (done.status, sheet.read_bytes()) == (2, before)
    assert "no change to take back" in done.err


def test_undo_after_an_edit_by_hand_leaves_the_edit(run: Run, sheet: Path) -> None:
    assert run("recount", sheet, "x2").status == 0
    with sheet.open("a", encoding="utf-8") as file:
        file.write("# mine\n")
    edited = sheet.read_bytes()
    done = run("undo", sheet)
    assert (done.status, sheet.read_bytes()) == (2, edited)
    assert "your edit stays" in done.err


def test_a_tempo_that_no_sheet_can_hold_writes_none(run: Run, tmp_path: Path) -> None:
    """TOML has no number for a third: nothing is written rather than a sheet that cannot be read."""
    done = run("new", tmp_path / "third.toml", "--tempo", "400/3")
    assert done.status == 2
    assert done.err.startswith("error: ")
    assert not (tmp_path / "third.toml").exists()


@pytest.mark.parametrize("words", [("new",), ("start", "x--X--x-X-x-xxX-", "-o")])
def test_a_file_name_of_two_lines_makes_a_sheet_that_reads(run: Run, tmp_path: Path, words: tuple[str, ...]) -> None:
    path = tmp_path / "one\ntwo.toml"
    assert run(*words, path).status == 0
    assert run("render", path, "-o", tmp_path / "out").status == 0
