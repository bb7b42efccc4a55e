"""Editing in the browser: choices, text with a fault, undo, save, a sheet changed on disk, options and plans."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import symusic

from tests.page.browsing import Served, until

if TYPE_CHECKING:
    from playwright.sync_api import Page

TEXT = "grooveforge.store.now.state.text"


def entry(served: Served, name: str) -> dict[str, object]:
    """The form's entry of a name in the sheet on disk."""
    form = tomllib.loads(served.song.read_text(encoding="utf-8"))["form"]
    found: dict[str, object] = next(row for row in form if isinstance(row, dict) and row.get("name") == name)
    return found


def test_the_whole_song_is_drawn(page: Page) -> None:
    """Every section has its heading and its strip; what the drawing shows is said in words."""
    assert page.title() == "Copper Weather - GrooveForge"
    names = page.locator("main h2").all_text_contents()
    assert names == page.evaluate("grooveforge.store.now.view.sections.map((section) => section.name)")
    assert len(names) == 10
    until(page, "document.querySelectorAll('.part .row').length >= 20")
    words = page.locator("#section-8 .strip").get_attribute("aria-label") or ""
    assert "last chorus: bars 63–74, half time" in words
    assert "china for 8 bars" in words
    assert "half time" in (page.locator("#section-8 .differs").text_content() or "")
    cautions = page.locator("#cautions").text_content() or ""
    assert "check the volume" in cautions
    assert "start slowly" in cautions


def test_a_choice_is_saved_in_the_sheet(page: Page, served: Served) -> None:
    """A feel chosen for the last chorus stands in the text, and in the file once it is saved; remarks stay."""
    before = served.song.read_text(encoding="utf-8")
    page.get_by_role("button", name="change last chorus", exact=True).click()
    page.get_by_label("Feel", exact=True).select_option(label="quarter time")
    until(page, f"{TEXT}.includes('feel = \"quarter\"')")
    assert served.song.read_text(encoding="utf-8") == before
    page.get_by_role("button", name="save").click()
    until(page, "grooveforge.store.now.state.saved")
    assert entry(served, "last chorus")["feel"] == "quarter"
    after = served.song.read_text(encoding="utf-8")
    assert [line for line in after.splitlines() if line.startswith("#")] == [
        line for line in before.splitlines() if line.startswith("#")
    ]


def test_the_hand_moves(page: Page) -> None:
    """Another surface in the second place of the hand moves the ribbon there."""
    page.get_by_role("button", name="change second chorus", exact=True).click()
    page.get_by_label("Surface 2 of the hand").select_option(label="ride")
    until(page, "grooveforge.store.now.view.sections[6].hand.some((move) => move.surface === 'ride')")
    assert page.locator("#section-6 .surface").all_text_contents()[-1] == "ride"


def test_a_choice_for_the_whole_part(page: Page) -> None:
    """A choice for every chorus goes into the part; entries that say otherwise keep their own."""
    page.get_by_role("button", name="change chorus", exact=True).click()
    page.get_by_label("Which sections a choice is for").select_option(index=1)
    page.get_by_label("Feel", exact=True).select_option(label="double time")
    until(page, "grooveforge.store.now.view.sections[3].feel === 'double'")
    assert page.evaluate("[6, 8].map((i) => grooveforge.store.now.view.sections[i].feel)") == ["double", "half"]


def test_undo_and_redo(page: Page) -> None:
    """Undo brings back the text byte for byte, redo the edit."""
    text = page.evaluate(TEXT)
    page.get_by_role("button", name="change shelter", exact=True).click()
    page.get_by_label("Feel", exact=True).select_option(label="full time")
    until(page, "grooveforge.store.now.view.sections[7].feel === 'full'")
    edited = page.evaluate(TEXT)
    page.get_by_role("button", name="undo").click()
    until(page, "grooveforge.store.now.view.sections[7].feel === 'half'")
    assert page.evaluate(TEXT) == text
    page.get_by_role("button", name="redo").click()
    until(page, "grooveforge.store.now.view.sections[7].feel === 'full'")
    assert page.evaluate(TEXT) == edited


def test_a_fault_in_the_text_is_shown_at_its_line(page: Page) -> None:
    """A faulty line is marked, with message and hint; the last good song goes on; put right, the fault is gone."""
    text = page.evaluate(TEXT)
    line = text.split("\n").index("tempo = 118") + 1
    page.locator("#text").fill(text.replace("tempo = 118", "tempoo = 118"))
    fault = page.locator("#fault")
    until(page, "document.getElementById('fault').textContent !== ''")
    assert f"Line {line}" in (fault.text_content() or "")
    assert "tempo" in (fault.text_content() or "")
    assert page.locator(".lines .wrong").text_content() == str(line)
    assert page.locator("#text").get_attribute("aria-invalid") == "true"
    assert page.evaluate("grooveforge.store.now.view.bars.length") == 79
    assert page.evaluate("document.getElementById('text').value").count("tempoo") == 1
    page.locator("#text").fill(text.replace("tempo = 118", "tempo = 124"))
    until(page, "document.getElementById('fault').textContent === ''")
    until(page, "grooveforge.store.now.view.bars[0].tempo === 124")
    assert page.locator(".lines .wrong").count() == 0


def test_a_reload_keeps_what_was_saved(page: Page, served: Served) -> None:
    """After saving and reloading the page shows the file again."""
    page.locator("#text").fill(page.evaluate(TEXT).replace('title = "Copper Weather"', 'title = "Tin Weather"'))
    until(page, "grooveforge.store.now.state.title === 'Tin Weather'")
    page.keyboard.press("Control+s")
    until(page, "grooveforge.store.now.state.saved")
    page.reload()
    until(page, "globalThis.grooveforge")
    assert page.locator("h1").text_content() == "Tin Weather"
    assert 'title = "Tin Weather"' in served.song.read_text(encoding="utf-8")


def test_a_sheet_changed_on_disk_is_noticed(page: Page, served: Served) -> None:
    """Another program's change is told, nothing is overwritten unasked, and it can be read again."""
    page.locator("#text").fill(page.evaluate(TEXT).replace("tempo = 118", "tempo = 121"))
    until(page, "grooveforge.store.now.view.bars[0].tempo === 121")
    theirs = served.song.read_text(encoding="utf-8").replace("tempo = 118", "tempo = 96")
    served.song.write_text(theirs, encoding="utf-8")
    until(page, "grooveforge.store.now.state.on_disk_changed")
    page.get_by_role("button", name="save").click()
    page.wait_for_timeout(300)
    assert served.song.read_text(encoding="utf-8") == theirs
    page.get_by_role("button", name="read it again").click()
    until(page, "grooveforge.store.now.view.bars[0].tempo === 96")


def test_names_are_text(page: Page) -> None:
    """Markup in a title or a section's name is shown as it is typed, never run."""
    text = page.evaluate(TEXT)
    page.locator("#text").fill(
        text.replace('title = "Copper Weather"', 'title = "<img src=x onerror=alert(1)>"').replace(
            'name = "last chorus"', 'name = "<b onclick=alert(2)>last</b>"'
        )
    )
    until(page, "grooveforge.store.now.state.title.startsWith('<img')")
    assert page.locator("h1").text_content() == "<img src=x onerror=alert(1)>"
    assert page.locator("main h2").nth(8).text_content() == "<b onclick=alert(2)>last</b>"
    assert page.locator("h1 img, main h2 b, nav b").count() == 0


def assert_undone(page: Page, text: str) -> None:
    """The sheet has changed, and one undo gives the text back."""
    assert page.evaluate(TEXT) != text
    page.locator("#undo").click()
    until(page, "!grooveforge.store.now.state.can_undo")
    assert page.evaluate(TEXT) == text


def test_an_option_is_heard_and_taken(page: Page) -> None:
    """Options come ranked, one is heard without touching the sheet, then taken into it; undo takes it back."""
    text = page.evaluate(TEXT)
    page.get_by_role("button", name="change second chorus", exact=True).click()
    page.get_by_role("button", name="show options").click()
    page.locator("#hear-1").wait_for(timeout=60_000)
    page.locator("#hear-1").click()
    until(page, "grooveforge.store.now.playing")
    until(page, "grooveforge.store.now.answers?.kind === 'hear'")
    assert page.evaluate(TEXT) == text
    page.locator("#keep").click()
    until(page, "grooveforge.store.now.answers?.kind === 'edit'")
    assert_undone(page, text)


def test_a_plan_is_taken(page: Page) -> None:
    """Plans for the whole song come with their reasons; one is taken in one step, and undone in one."""
    text = page.evaluate(TEXT)
    page.get_by_role("button", name="plan the whole song").click()
    page.locator("#take-plan-1").wait_for(timeout=120_000)
    page.locator("#take-plan-1").click()
    until(page, "grooveforge.store.now.state.can_undo")
    assert_undone(page, text)


def test_what_no_one_can_play_is_in_view(page: Page) -> None:
    """A finding is told above the song, at its section and over its bar."""
    text = page.evaluate(TEXT)
    page.locator("#text").fill(text.replace("tempo = 118", "tempo = 390"))
    until(page, "grooveforge.store.now.view.findings?.length > 0")
    bar = page.evaluate("grooveforge.store.now.view.findings[0].bar")
    until(page, "document.querySelectorAll('.row .finding').length > 0")
    assert "No one can play this" in (page.locator("#notices").text_content() or "")
    assert f"Bar {bar}, beat" in (page.locator(".findingline").first.text_content() or "")


SNARE = 38
"""Acoustic snare of the General MIDI percussion key map."""


def test_a_first_time_user_finds_the_way(page: Page, tmp_path: Path) -> None:
    """By the words that are in sight alone: play, go to the last chorus, change its feel, take the MIDI away.

    The file that comes has the snare on 2 and 4 of bar 64, where it stood on 3.
    """
    page.get_by_role("button", name="Play", exact=True).click()
    until(page, "grooveforge.store.now.playing")
    page.get_by_role("link", name="last chorus").click()
    page.get_by_role("button", name="change last chorus").click()
    page.get_by_label("Feel", exact=True).select_option(label="full time")
    page.get_by_text("Two answers: as it was or Last chorus: feel full").wait_for()
    with page.expect_download() as found:
        page.get_by_role("link", name="MIDI", exact=True).click()
    found.value.save_as(tmp_path / "song.mid")
    score: Any = symusic.Score(tmp_path / "song.mid")
    bar = score.tpq * 4 * 63
    beats = {
        1 + round((note.time - bar) / score.tpq, 1)
        for track in score.tracks
        for note in track.notes
        if note.pitch == SNARE and note.velocity > 84 and bar <= note.time + 60 < bar + 4 * score.tpq
    }
    assert found.value.suggested_filename == "copper-weather.mid"
    assert beats == {2.0, 4.0}
