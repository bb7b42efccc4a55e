"""Hearing before taking, options, plans, and what the page hands over: the same as the commands give."""

from __future__ import annotations

import io
import json
import wave
import zipfile
from pathlib import Path

import pytest

from grooveforge.page.view import Shown
from grooveforge.project.options import options, take_option
from grooveforge.project.planning import plan, take_plan
from grooveforge.project.rendering import render
from grooveforge.project.sheets import read_sheet, sheet_from
from tests.page.inprocess import SHEET, Desk, desk


@pytest.fixture
def page(tmp_path: Path) -> Desk:
    return desk(tmp_path)


# -- hearing before taking -------------------------------------------------------------------------------


def test_hearing_keeps_nothing(page: Desk) -> None:
    """What is only heard leaves text, history and revision alone."""
    before = page.state()
    heard = page.post("/api/hear", {"section": 1, "changes": {"feel": "half", "timekeeper": "china"}}).json()["song"]
    assert heard["sections"][1]["feel"] == "half"
    assert heard["sections"][1]["hand"] == [{"bar": 5, "bars": 4, "surface": "china"}]
    assert page.state() == before


def test_an_option_is_taken_in_one_step(page: Desk) -> None:
    state = page.post("/api/take", {"section": 1, "changes": {"feel": "half", "timekeeper": "china"}}).json()
    assert state["song"]["sections"][1]["own"] == {"feel": "half", "timekeeper": "china"}
    assert page.post("/api/undo").json()["text"] == SHEET


def test_a_plan_is_taken_in_one_step(page: Desk) -> None:
    """The changes of every section go in together, those without any are left alone."""
    changes: list[dict[str, object]] = [{}, {}, {"timekeeper": "ride"}, {"feel": "double"}]
    rows = [{"name": "any", "changes": row} for row in changes]
    state = page.post("/api/take-plan", {"sections": rows}).json()
    assert [section["own"] for section in state["song"]["sections"]] == [
        {},
        {},
        {"timekeeper": "ride"},
        {"name": "last chorus", "feel": "double"},
    ]
    assert page.post("/api/undo").json()["text"] == SHEET


# -- what is handed over ---------------------------------------------------------------------------------


def test_a_download_is_what_render_writes(page: Desk) -> None:
    """The MIDI file is byte for byte that of the command, of the text as it stands on the page."""
    page.change(1, "feel", "half")
    data = page.get("/api/download/song.mid").content
    page.post("/api/save")
    assert data == render(read_sheet(str(page.path))).files["lamp-keepers.mid"]


def test_sections_come_in_one_archive(page: Desk) -> None:
    data = page.get("/api/download/sections.zip").content
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        names = archive.namelist()
        assert archive.testzip() is None
    assert "lamp-keepers/lamp-keepers-sections/04-last-chorus.mid" in names
    assert data == page.get("/api/download/sections.zip").content


# -- options and plans -----------------------------------------------------------------------------------


def plainly(value: object) -> object:
    """A value as JSON gives it back."""
    return json.loads(json.dumps(value))


def test_options_are_those_of_the_command(page: Desk) -> None:
    """Ranked options for a return, each of which can be heard and taken and then plays what was offered."""
    found = page.get("/api/options?section=2&amount=large&count=3").json()["options"]
    assert [row["rank"] for row in found] == list(range(1, len(found) + 1))
    sheet = read_sheet(str(page.path))
    offered = options(sheet, "verse 2", "large", 3)
    assert found
    assert found == offered.facts()["options"]
    for row in found:
        text = take_option(sheet, offered, row["rank"])
        meant = Shown.of(sheet_from(text.encode(), sheet.path)).view()["events"]
        heard = page.post("/api/hear", {"section": 2, "changes": row["changes"]}).json()["song"]
        taken = page.post("/api/take", {"section": 2, "changes": row["changes"]}).json()["song"]
        assert plainly(meant) == heard["events"] == taken["events"]
        assert heard["events"] != plainly(Shown.of(sheet).view()["events"])
        page.post("/api/undo")


@pytest.mark.parametrize("asked", ["section=0", "section=9", "section=x", "section=-1", "", "section=2&amount=huge"])
def test_what_has_no_options_is_told(page: Desk, asked: str) -> None:
    """A first statement, a section that is not there, no number: one sentence."""
    answer = page.get(f"/api/options?{asked}")
    assert answer.status_code in (400, 422)
    assert answer.json()["error"]["message"]


def test_plans_are_those_of_the_command(page: Desk) -> None:
    """Whole-song answers; one heard and then taken plays the same, and is undone in one step."""
    found = page.get("/api/plan").json()["plans"]
    sheet = read_sheet(str(page.path))
    offered = plan(sheet)
    assert found
    assert found == offered.facts()["plans"]
    for number, row in enumerate(found, 1):
        text = take_plan(sheet, offered, number)
        meant = Shown.of(sheet_from(text.encode(), sheet.path)).view()["events"]
        assert [section["name"] for section in row["sections"]] == ["verse", "chorus", "verse", "last chorus"]
        heard = page.post("/api/hear", {"sections": row["sections"]}).json()["song"]
        taken = page.post("/api/take-plan", {"sections": row["sections"]}).json()
        assert plainly(meant) == heard["events"] == taken["song"]["events"]
        assert page.post("/api/undo").json()["text"] == SHEET


def test_a_song_without_a_return_has_no_plan(tmp_path: Path) -> None:
    """It is told in a sentence."""
    text = SHEET.replace('  "verse",\n  { part = "chorus", name = "last chorus", feel = "half" },\n', "")
    answer = desk(tmp_path, text).get("/api/plan")
    assert answer.status_code == 422
    assert "no return" in answer.json()["error"]["message"]


def test_a_wav_is_handed_over(page: Desk) -> None:
    """The whole song, 16 bits, 44,100 Hz, stereo (read by the standard library)."""
    with wave.open(io.BytesIO(page.get("/api/download/song.wav").content)) as sound:
        assert (sound.getnchannels(), sound.getsampwidth(), sound.getframerate()) == (2, 2, 44100)
        assert sound.getnframes() / 44100 >= page.state()["song"]["seconds"]


def test_a_chart_is_handed_over(page: Desk) -> None:
    """Notation in MusicXML, and a page that names the song, with the library that engraves or without it."""
    assert b"<score-partwise" in page.get("/api/download/chart.musicxml").content
    assert "Lamp Keepers" in page.get("/api/download/chart.html").text
