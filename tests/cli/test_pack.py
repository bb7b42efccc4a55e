"""`pack`: one folder with everything, links that lead somewhere, sound of the right length, pages that print on A4."""

from __future__ import annotations

import json
import re
import shutil
import sys
import wave
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote

import numpy as np
import pytest

from grooveforge.cli.main import main
from grooveforge.cli.output import Progress
from grooveforge.formats.pack_page import PackFile, PackLoop, PackPage, pack_html
from grooveforge.formats.roadmap import RoadRow
from grooveforge.project.packing import pack
from grooveforge.project.sheets import read_sheet
from tests.browser_pdf import printed
from tests.cli.conftest import Run
from tests.read_back import strokes

SONG = """\
title = "Two Kilns & a <Lamp>"
tempo = 150
form = ["verse", "chorus", "verse", { part = "chorus", name = "last chorus", feel = "half", timekeeper = "china" }]

[grooves.plain]
tab = '''
HH x-x-x-x-x-x-x-x-
SN ----O-------O--g
BD o-oo----o-oo----
'''

[parts.verse]
groove = "plain"
bars = 4

[parts.chorus]
groove = "plain"
bars = 4
timekeeper = "ride"
fill = "1 bar"
"""


class Links(HTMLParser):
    """Everything that a page points at."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found += [value for name, value in attrs if name in ("href", "src") and value]


@pytest.fixture(scope="module")
def packed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a short song."""
    folder = tmp_path_factory.mktemp("pack")
    (folder / "two-kilns.toml").write_text(SONG, encoding="utf-8")
    assert main(["pack", str(folder / "two-kilns.toml"), "-o", str(folder / "out")]) == 0
    return folder / "out"


def frames(path: Path) -> tuple[int, int]:
    """Length in samples, and rate."""
    with wave.open(str(path)) as file:
        return file.getnframes(), file.getframerate()


def samples(path: Path) -> np.ndarray:
    with wave.open(str(path)) as file:
        assert (file.getnchannels(), file.getsampwidth()) == (2, 2)
        return np.frombuffer(file.readframes(file.getnframes()), "<i2").reshape(-1, 2) / 32768


def test_everything_is_there(packed: Path) -> None:
    """Road map, chart, MIDI, sound, practice loops, differences, and a first page."""
    names = {path.relative_to(packed).as_posix() for path in packed.rglob("*") if path.is_file()}
    stem = "two-kilns"
    assert names == {
        ".grooveforge.json",
        "index.html",
        *(f"paper/{stem}-chart.{kind}" for kind in ("html", "svg", "musicxml", "txt")),
        *(f"paper/{stem}-{name}" for name in ("road-map.html", "differences.txt")),
        *(f"midi/{stem}{name}" for name in (".mid", "-tempo.mid", "-tempo.txt", "-click.mid")),
        *(f"midi/{stem}-sections/0{name}.mid" for name in ("1-verse", "2-chorus", "3-verse", "4-last-chorus")),
        *(f"sound/{stem}{name}.wav" for name in ("", "-with-click", "-click")),
        *(f"practice/loop-{number}-at-{speed}.wav" for number in (1, 2, 3) for speed in (70, 80, 90, 100)),
    }


def test_every_link_leads_to_a_file(packed: Path) -> None:
    """All links are relative and lead to files of the folder, and every file but the manifest is linked."""
    links = Links((packed / "index.html").read_text(encoding="utf-8")).found
    assert links and not [link for link in links if re.match(r"[a-z]+:|/", link)]
    there = {path.relative_to(packed).as_posix() for path in packed.rglob("*") if path.is_file()}
    assert {unquote(link) for link in links} == there - {".grooveforge.json", "index.html"}


def test_the_page_says_what_matters(packed: Path) -> None:
    """Cautions, differences, the way back; the title's signs are no markup; nothing from outside."""
    page = (packed / "index.html").read_text(encoding="utf-8")
    assert "Two Kilns &amp; a &lt;Lamp&gt;" in page
    for words in ("Start slowly", "warm up", "Stop when it hurts", "physician", "Check the volume", "protect your"):
        assert words in page
    assert "half time instead of full" in page
    assert "grooveforge merge two-kilns.toml" in page
    assert "http" not in page
    differences = (packed / "paper" / "two-kilns-differences.txt").read_text(encoding="utf-8")
    assert "last chorus (bars 13-16)\n  as chorus 1 except" in differences


def test_the_midi_is_the_rendered_one(packed: Path, run: Run) -> None:
    """The same bytes as `render` writes."""
    assert run("render", packed.parent / "two-kilns.toml", "-o", packed.parent / "again", "--sections").status == 0
    again = list((packed.parent / "again").rglob("*.mid"))
    assert len(again) > 4
    for path in again:
        assert path.read_bytes() == (packed / "midi" / path.relative_to(packed.parent / "again")).read_bytes()


def test_the_sound_is_as_long_as_the_song(packed: Path) -> None:
    """16 bars at 150 are 25.6 s; the click stands two bars, 3.2 s, before them, and everything rings out."""
    rate = frames(packed / "sound" / "two-kilns.wav")[1]
    lengths = {path.stem: frames(path)[0] / rate for path in (packed / "sound").iterdir()}
    assert rate == 44_100
    assert 25.6 <= lengths["two-kilns"] < 29
    assert lengths["two-kilns-with-click"] == pytest.approx(lengths["two-kilns"] + 3.2, abs=0.01)
    assert 28.8 <= lengths["two-kilns-click"] < 29
    click = samples(packed / "sound" / "two-kilns-click.wav")
    onsets = [i * 0.4 for i in range(72)]
    heard = [np.abs(click[round(at * rate) : round(at * rate) + 400]).max() for at in onsets]
    between = [np.abs(click[round((at + 0.2) * rate) : round((at + 0.2) * rate) + 400]).max() for at in onsets]
    assert min(heard) > 0.05 and max(between) < 0.001
    assert all(heard[beat] > heard[beat + 1] for beat in range(0, 72, 4))


def test_loops_go_on_without_a_gap(packed: Path) -> None:
    """One bar of click and four rounds of one or two bars, at 70 to 100 % of the tempo, to the sample."""
    for number in (1, 2, 3):
        lengths = [frames(packed / "practice" / f"loop-{number}-at-{speed}.wav")[0] for speed in (70, 80, 90, 100)]
        bars = lengths[3] / 44_100 / 1.6
        assert round(bars) in (5, 9) and bars == pytest.approx(round(bars), abs=1e-4)
        for length, speed in zip(lengths, (0.7, 0.8, 0.9, 1.0)):
            assert abs(length - lengths[3] / speed) <= 1
        loop = samples(packed / "practice" / f"loop-{number}-at-100.wav")
        assert np.abs(loop).max() <= 10 ** (-1 / 20)


def test_a_loop_holds_the_hard_bar(packed: Path) -> None:
    """In each round of a loop the strokes are those of its bars in the song."""
    sheet = read_sheet(str(packed.parent / "two-kilns.toml"))
    made = pack(sheet)
    first = made.loops[0]
    assert first.hardest == made.checked.hardest_bar
    bar = range((first.hardest - 1) * 1920, first.hardest * 1920)
    struck = [tick for tick, _, _ in strokes(made.files["midi/two-kilns.mid"]) if tick in bar]
    assert struck
    assert first.strokes == len(struck)
    page = made.files["index.html"].decode()
    assert f"Bar {first.hardest}" in page


def test_the_same_sheet_gives_the_same_folder(packed: Path) -> None:
    """Byte for byte."""
    made = pack(read_sheet(str(packed.parent / "two-kilns.toml")))
    for name, data in made.files.items():
        assert (packed / name).read_bytes() == data


def test_edited_files_are_not_lost(packed: Path, run: Run, tmp_path: Path) -> None:
    """An edited file is refused with nothing written; --force keeps it beside the new one."""
    out = tmp_path / "out"
    shutil.copytree(packed, out)
    edited = out / "midi" / "two-kilns.mid"
    edited.write_bytes(b"mine")
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    ran = run("pack", packed.parent / "two-kilns.toml", "-o", out)
    assert ran.status == 2 and "two-kilns.mid" in ran.err and "--force" in ran.err
    assert {path: path.read_bytes() for path in out.rglob("*") if path.is_file()} == before
    ran = run("pack", packed.parent / "two-kilns.toml", "-o", out, "--force", "--json")
    assert ran.status == 0
    facts = json.loads(ran.out)
    assert facts["index"] == str(out / "index.html") and len(facts["loops"]) == 3
    assert (out / "midi" / "two-kilns.mid.1").read_bytes() == b"mine"


def test_a_pack_comes_back(packed: Path, run: Run) -> None:
    """The MIDI of a pack is what `merge` compares a drummer's file with."""
    sheet = packed.parent / "two-kilns.toml"
    ran = run("merge", sheet, packed / "midi" / "two-kilns.mid", "--json")
    assert ran.status == 0
    assert json.loads(ran.out)["base"] == "the last render"
    assert json.loads(ran.out)["bars"] == []


def test_wrong_input(tmp_path: Path, run: Run) -> None:
    """A faulty sheet, a folder that is a file, standard output: said clearly, nothing written."""
    sheet = tmp_path / "song.toml"
    sheet.write_text(SONG.replace("bars = 4", "bars = 0"), encoding="utf-8")
    ran = run("pack", sheet, "-o", tmp_path / "out")
    assert ran.status == 2 and "parts.verse.bars" in ran.err and not (tmp_path / "out").exists()
    assert run("pack", sheet, "-o", "-").status == 2
    assert run("pack", tmp_path / "missing.toml").status == 2


def test_a_song_that_rests_has_no_loops(tmp_path: Path) -> None:
    """Nothing to practise, and the page says nothing of it."""
    path = tmp_path / "rest.toml"
    path.write_text('form = ["a"]\n[parts.a]\nbars = 2\ntacet = true\n', encoding="utf-8")
    made = pack(read_sheet(str(path)))
    assert made.loops == ()
    assert "Practise" not in made.files["index.html"].decode()


def test_without_the_extra_the_rest_is_there(
    packed: Path, run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without verovio there are no pictures of notation, and it is said how to get them; all else is there."""
    monkeypatch.setitem(sys.modules, "verovio", None)
    ran = run("pack", packed.parent / "two-kilns.toml", "-o", tmp_path / "out")
    assert ran.status == 0
    assert "chart" in ran.err and "verovio" in ran.err
    names = {path.name for path in (tmp_path / "out" / "paper").iterdir()}
    assert names == {f"two-kilns-{n}" for n in ("road-map.html", "chart.musicxml", "chart.txt", "differences.txt")}
    links = Links((tmp_path / "out" / "index.html").read_text(encoding="utf-8")).found
    assert links
    assert all((tmp_path / "out" / unquote(link)).is_file() for link in links)


def test_progress_is_shown_after_a_second(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing at first; then a line for each step."""
    now = [0.0]
    monkeypatch.setattr("time.monotonic", lambda: now[0])
    with Progress("packing") as progress:
        progress(0.1, "MIDI")
        now[0] = 1.5
        progress(0.2, "chart")
        progress(0.25, "chart")
        progress(0.5, "preview")
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err == "packing  20%: chart\npacking  50%: preview\n"


A4 = (210.0, 297.0)
"""ISO 216, millimetres."""


def check_paper(html: Path, folder: Path) -> str:
    """Every printed page is A4 with white margins of 8 mm at least; the text of all pages without white space."""
    pages = printed(html, folder)
    for page in pages:
        assert page.size == pytest.approx(A4, abs=1.0)
        assert min(page.margins()) >= 8.0, page.margins()
    return "".join("".join(page.text.replace("\ufffe", "-").split()) for page in pages)


@pytest.mark.parametrize("name", ["index.html", "paper/two-kilns-road-map.html", "paper/two-kilns-chart.html"])
def test_pages_print_on_a4(packed: Path, tmp_path: Path, name: str) -> None:
    """Every page of the folder, nothing cut off."""
    text = check_paper(packed / name, tmp_path)
    for words in ("verse", "13-16", "lastchorus", "china"):
        assert words in text


def test_a_long_song_prints_on_a4(tmp_path: Path) -> None:
    """Forty sections with long names and much to say, a wide tab, long file names."""
    said = "as chorus 1 except 12 bars, the hand on ride bell then crash then china, an ending of its own"
    rows = tuple(
        RoadRow(8 * n + 1, 8 * n + 8, f"the second chorus of all {n}", "4/4", "152", "half", "half-open hi-hat", said)
        for n in range(40)
    )
    file = PackFile("sound/a-song-with-a-very-long-name-that-goes-on-and-on.wav", "The song", "x", 29_000_000)
    tab = "HH |" + "x-" * 36 + "|\n" + "BD |" + "o-" * 36 + "|\n"
    files = (file,) * 4
    page = PackPage("Tin Kite", "many bars", rows, frozenset({3, 5}), frozenset({3, 5, 6}), files, files, files, files)
    page = replace(page, loops=(PackLoop("Bar 7", "verse", tab, files),) * 3, back=("Send it back.", "x" * 60))
    (tmp_path / "index.html").write_text(pack_html(page), encoding="utf-8")
    text = check_paper(tmp_path / "index.html", tmp_path)
    assert text.count("thesecondchorusofall") == 40
    assert text.count("x-" * 36) == 3
