"""Editing on the page: the sheet's text is the one truth, nothing is lost, and nothing is overwritten in silence."""

from __future__ import annotations

import threading
import tomllib
import tracemalloc
from pathlib import Path

import pytest

from grooveforge import files
from grooveforge.errors import GrooveForgeError
from grooveforge.page.history import History
from grooveforge.page.opening import session_of
from grooveforge.project.sheets import read_sheet
from tests.page.inprocess import SHEET, Desk, desk


@pytest.fixture
def page(tmp_path: Path) -> Desk:
    return desk(tmp_path)


def remarks(text: str) -> list[str]:
    return [line.partition("#")[2] for line in text.splitlines() if "#" in line]


# -- edits -----------------------------------------------------------------------------------------------


def test_a_control_is_an_edit_of_the_text(page: Desk) -> None:
    """A feel chosen for a section stands in its entry of the form; every remark stays; the file waits for `save`."""
    state = page.change(2, "feel", "half")
    assert tomllib.loads(state["text"])["form"][2] == {"part": "verse", "feel": "half"}
    assert remarks(state["text"]) == remarks(SHEET)
    assert state["song"]["sections"][2]["feel"] == "half"
    assert (state["saved"], state["can_undo"], state["revision"]) == (False, True, 2)
    assert page.path.read_text(encoding="utf-8") == SHEET


def test_null_takes_a_key_away(page: Desk) -> None:
    """A key set to null is gone from the entry, and the part's own value holds again."""
    state = page.change(3, "feel", None)
    assert state["song"]["sections"][3]["feel"] == "full"
    assert state["song"]["sections"][3]["own"] == {"name": "last chorus"}


@pytest.mark.parametrize(
    ("target", "key", "value", "line"),
    [
        ({"song": True}, "tempo", 132.0, "tempo = 132"),
        ({"song": True}, "swing", "2:1", 'swing = "2:1"'),
        ({"part": "chorus"}, "feel", "double", 'feel = "double"'),
        ({"part": "verse"}, "timekeeper", [{"bars": 3, "on": "ride"}, {"bars": 1, "on": "china"}],
            'timekeeper = [{ bars = 3, on = "ride" }, { bars = 1, on = "china" }]'),
    ],
)  # fmt: skip
def test_what_a_change_is_for(page: Desk, target: dict[str, object], key: str, value: object, line: str) -> None:
    """The song, a part: each key goes into the table that it is for, written as a sheet writes it."""
    answer = page.post("/api/change", {**target, "key": key, "value": value})
    assert line in answer.json()["text"].splitlines()


def test_a_faulty_text_leaves_the_last_good_song(page: Desk) -> None:
    """The fault has its line and what may stand there; the song in force is the one before."""
    text = SHEET.replace('feel = "half"', 'feel = "hafl"')
    answer = page.post("/api/text", {"text": text})
    assert answer.status_code == 422
    error = answer.json()["error"]
    assert error["line"] == text.split("\n").index(next(line for line in text.split("\n") if "hafl" in line)) + 1
    assert "half" in error["allowed"]
    assert answer.json()["text"] == text
    state = page.state()
    assert state["text"] == SHEET
    assert not state["can_undo"]


def test_a_fault_of_syntax_has_line_and_column(page: Desk) -> None:
    """TOML's own faults say line and column."""
    error = page.post("/api/text", {"text": SHEET.replace("tempo = 120", "tempo = = 120")}).json()["error"]
    assert error["line"] == 3
    assert error["column"] == 9


def test_every_fault_comes_at_once(page: Desk) -> None:
    """The first fault stands in front, the others behind it."""
    text = SHEET.replace("tempo = 120", "tempo = 1").replace('"half"', '"hafl"')
    error = page.post("/api/text", {"text": text}).json()["error"]
    assert error["line"] == 3
    assert [row["line"] for row in error["faults"]] == [8]


def test_undo_and_redo_go_through_whole_texts(page: Desk) -> None:
    """Back to the first text byte for byte, forward to the last; an edit in between forgets what was undone."""
    texts = [SHEET, *(page.change(0, "feel", feel)["text"] for feel in ("half", "double", "quarter"))]
    for text in reversed(texts[:-1]):
        state = page.post("/api/undo").json()
        assert state["text"] == text
    assert (state["can_undo"], state["can_redo"], state["saved"]) == (False, True, True)
    assert page.post("/api/undo").json()["text"] == SHEET
    for text in texts[1:]:
        assert page.post("/api/redo").json()["text"] == text
    page.post("/api/undo")
    assert not page.change(0, "feel", "blast")["can_redo"]


def test_an_edit_that_changes_nothing_is_no_step(page: Desk) -> None:
    page.post("/api/text", {"text": SHEET})
    assert page.change(3, "feel", "half")["can_undo"] is False


# -- the file --------------------------------------------------------------------------------------------


def test_saving_can_be_taken_back_by_the_command(page: Desk) -> None:
    """What the page saves is a change in place: `grooveforge undo` brings the sheet back byte for byte."""
    state = page.change(0, "feel", "half")
    saved = page.post("/api/save").json()
    assert saved["saved"]
    assert page.path.read_text(encoding="utf-8") == state["text"]
    files.undo(page.path)
    assert page.path.read_text(encoding="utf-8") == SHEET


def test_a_change_on_disk_is_noticed_and_kept(page: Desk) -> None:
    """Another program's edit is told, `save` refuses with both texts' hashes, and `force` keeps theirs for undo."""
    page.change(0, "feel", "half")
    theirs = SHEET.replace("120", "90")
    page.path.write_text(theirs, encoding="utf-8")
    news = page.get("/api/state?revision=2").json()
    assert news == {"unchanged": True, "revision": 2, "saved": False, "on_disk_changed": True}
    refused = page.post("/api/save")
    assert refused.status_code == 409
    assert refused.json()["error"]["disk"] == files.digest(theirs.encode())
    assert page.path.read_text(encoding="utf-8") == theirs
    assert page.post("/api/save", {"force": True}).json()["saved"]
    assert "half" in page.path.read_text(encoding="utf-8")
    files.undo(page.path)
    assert page.path.read_text(encoding="utf-8") == theirs


def test_reload_takes_the_file_and_undo_brings_the_page_back(page: Desk) -> None:
    mine = page.change(0, "feel", "half")["text"]
    page.path.write_text(SHEET.replace("120", "90"), encoding="utf-8")
    state = page.post("/api/reload").json()
    assert state["song"]["bars"][0]["tempo"] == 90
    assert (state["saved"], state["on_disk_changed"]) == (True, False)
    assert page.post("/api/undo").json()["text"] == mine


def test_a_faulty_file_is_not_reloaded(page: Desk) -> None:
    """A file with a fault leaves the page as it was, and the fault is told."""
    page.path.write_text("title = [", encoding="utf-8")
    assert page.post("/api/reload").status_code == 422
    assert page.state()["text"] == SHEET
    page.path.write_bytes(b"\xff\xfe")
    assert page.post("/api/reload").status_code == 422


def test_a_file_that_was_deleted_is_written_again(page: Desk) -> None:
    """A deleted sheet is noticed; the text is not lost, and `force` writes it anew."""
    page.path.unlink()
    assert page.state()["on_disk_changed"]
    assert page.post("/api/save").status_code == 409
    assert page.post("/api/save", {"force": True}).json()["saved"]
    assert page.path.read_text(encoding="utf-8") == SHEET


def test_two_pages_on_one_folder(tmp_path: Path) -> None:
    """Two servers on one sheet: what one saves the other notices, and does not overwrite."""
    one, other = desk(tmp_path), desk(tmp_path)
    one.change(0, "feel", "half")
    other.change(1, "feel", "double")
    assert one.post("/api/save").status_code == 200
    assert other.state()["on_disk_changed"]
    assert other.post("/api/save").status_code == 409
    assert other.post("/api/reload").status_code == 200
    other.change(1, "feel", "double")
    assert other.post("/api/save").status_code == 200
    form = tomllib.loads(one.path.read_text(encoding="utf-8"))["form"]
    assert [entry["feel"] for entry in form if isinstance(entry, dict)] == ["half", "double", "half"]


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_line_breaks_and_byte_order_mark_stay(tmp_path: Path, mark: bytes) -> None:
    """A sheet written elsewhere keeps its line breaks and its mark; the page sees plain line feeds."""
    page = desk(tmp_path)
    data = mark + SHEET.replace("\n", "\r\n").encode()
    page.path.write_bytes(data)
    state = page.post("/api/reload").json()
    assert state["text"] == SHEET
    assert page.post("/api/text", {"text": SHEET}).json()["revision"] == state["revision"]
    page.post("/api/text", {"text": SHEET.replace("120", "121")})
    page.post("/api/save")
    assert page.path.read_bytes() == data.replace(b"120", b"121")


def test_writers_stand_in_a_queue(page: Desk) -> None:
    """Edits from many threads at once: each is one step, and the text is a good one at the end."""
    feels = ["half", "double", "full", "quarter"]

    def edit(number: int) -> None:
        page.session.change(("form", number % 4), {"feel": feels[number // 4]})

    threads = [threading.Thread(target=edit, args=(number,)) for number in range(16)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert page.state()["revision"] == 1 + len(page.session.history.behind)
    assert {entry["feel"] for entry in tomllib.loads(page.session.text)["form"]} <= set(feels)


# -- opening ---------------------------------------------------------------------------------------------


def test_without_a_sheet_a_demo_song_is_saved_beside(tmp_path: Path) -> None:
    """A demo song in memory; saving writes a new file here, and never one that is there."""
    (tmp_path / "my-song.toml").write_text("mine", encoding="utf-8")
    session = session_of(None, tmp_path)
    assert session.name == "my-song-2.toml"
    assert not session.saved
    session.save()
    assert session.saved
    assert read_sheet(str(tmp_path / "my-song-2.toml")).song.title == "Copper Weather"
    assert (tmp_path / "my-song.toml").read_text(encoding="utf-8") == "mine"


def test_a_new_sheet_overwrites_nothing(tmp_path: Path) -> None:
    """A file that came into being meanwhile stays as it is."""
    session = session_of(None, tmp_path)
    session.path.write_text("theirs", encoding="utf-8")
    with pytest.raises(Exception, match="did not write"):
        session.save()
    assert session.path.read_text(encoding="utf-8") == "theirs"


def test_a_faulty_sheet_is_not_opened(tmp_path: Path) -> None:
    """The command's error names the file as the user did."""
    path = tmp_path / "wrong.toml"
    path.write_text(SHEET.replace('"half"', '"hafl"'), encoding="utf-8")
    with pytest.raises(GrooveForgeError) as caught:
        session_of(str(path), tmp_path)
    assert caught.value.faults[0].file == str(path)
    assert "line 8" in caught.value.faults[0].place


# -- soak ------------------------------------------------------------------------------------------------


def test_history_is_bounded() -> None:
    """Texts beyond the number or the characters allowed are let go, the oldest first."""
    few = History(most=3, characters=1000)
    for number in range(10):
        few.edited(f"text {number}")
    assert list(few.behind) == ["text 7", "text 8", "text 9"]
    small = History(most=100, characters=50)
    for number in range(10):
        small.edited(f"text {number} " + "x" * 8)
    assert len(small.behind) == 3
    assert small.size == sum(map(len, small.behind))


def test_memory_is_flat_under_many_edits(tmp_path: Path) -> None:
    """After the first hundreds of edits, hundreds more take no more memory than the texts kept for undo."""
    page = desk(tmp_path)
    feels = ["half", "double", "full", "quarter", "blast", "d-beat"]
    hands = ["ride", "china", "crash", "closed hi-hat", "open hi-hat"]

    def edit(number: int) -> None:
        page.session.change(("form", number % 4), {"feel": feels[number % 6], "timekeeper": hands[number % 5]})
        page.session.state()
        if number % 10 == 0:
            page.session.findings()

    for number in range(300):
        edit(number)
    tracemalloc.start()
    for number in range(300, 360):
        edit(number)
    start, _ = tracemalloc.get_traced_memory()
    for number in range(360, 600):
        edit(number)
    end, _ = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    texts = 240 * len(page.session.text) * 2
    assert end - start < texts + 2_000_000


def test_the_state_has_what_the_page_needs(page: Desk) -> None:
    """Field names are a contract with the page's scripts."""
    state = page.state()
    song = state["song"]
    assert {"revision", "file", "title", "text", "saved", "on_disk_changed", "can_undo", "can_redo"} <= set(state)
    assert {"division", "seconds", "bars", "sections", "events", "surfaces", "notes", "findings"} <= set(song)
    bar = "bar tick ticks time seconds meter tempo energy section feel backbeats"
    assert set(bar.split()) <= set(song["bars"][0])
    section = (
        "index name part statement entry bar bars tempo feel hand differences against settings own fixed riff line"
    )
    assert set(section.split()) <= set(song["sections"][0])
    assert set(song["events"]) == {"tick", "time", "surface", "velocity", "kind", "line", "new"}
