"""`chart` as a user types it: four kinds of file from three kinds of input, and what goes wrong."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

import pytest

from grooveforge.cli.main import main
from grooveforge.formats import engrave
from grooveforge.project.charting import road_map_html
from tests.charts import ROOT, assert_valid, chart_counts, midi_counts

SONG = ROOT / "patterns/songs/copper-weather.toml"
GROOVE = ROOT / "patterns/grooves/ghosted-verse.toml"


def run(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    status = main([str(word) for word in words])
    said = capsys.readouterr()
    return status, said.out, said.err


@pytest.mark.parametrize("kind", ["txt", "musicxml", "svg", "html"])
@pytest.mark.parametrize("source", [SONG, GROOVE], ids=["song", "groove"])
def test_every_kind(kind: str, source: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The file is written, and a line says so."""
    out = tmp_path / f"chart.{kind}"
    status, said, wrong = run(capsys, "chart", source, "-o", out, "--sticking")
    assert (status, wrong) == (0, "")
    assert said.startswith(f"wrote {out}: ")
    assert out.stat().st_size > 200


def test_a_midi_file_has_its_strokes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A song rendered and read back from MIDI: the same strokes per note and bar, sections from the markers."""
    assert main(["render", str(SONG), "-o", str(tmp_path)]) == 0
    midi = tmp_path / "copper-weather.mid"
    assert main(["chart", str(midi), "-o", str(tmp_path / "x.musicxml")]) == 0
    data = (tmp_path / "x.musicxml").read_bytes()
    assert_valid(data)
    assert chart_counts(data) == midi_counts(midi.read_bytes())
    assert b"<rehearsal>last chorus</rehearsal>" in data
    capsys.readouterr()
    assert main(["chart", str(midi), "-o", "-"]) == 0
    assert re.search(r"^63-74  last chorus +4/4 +118 +half +china, crash$", capsys.readouterr().out, re.MULTILINE)


@pytest.mark.parametrize("name", ["freedoom1-d_e2m7.mid", "freedoom2-d_countd.mid", "freedoom2-d_messag.mid"])
def test_real_files(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """MIDI from other hands: valid, and as many strokes as `inspect` counts."""
    midi = ROOT / "tests/fixtures/freedoom" / name
    assert main(["chart", str(midi), "-o", str(tmp_path / "x.musicxml")]) == 0
    capsys.readouterr()
    assert main(["inspect", str(midi), "--json"]) == 0
    data = (tmp_path / "x.musicxml").read_bytes()
    assert_valid(data)
    assert sum(chart_counts(data).values()) == json.loads(capsys.readouterr().out)["hits"]


def test_another_kit(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A MIDI file of a kit of its own is read by its key map."""
    (tmp_path / "kit.toml").write_text('base = "gm"\n[notes]\nchina = 61\n', encoding="utf-8")
    song = tmp_path / "song.toml"
    song.write_text(
        'title = "Tin Kite"\ntempo = 120\nform = ["a"]\n[parts.a]\ngroove = "china quarters"\nbars = 2\n',
        encoding="utf-8",
    )
    kit = ("--key-map", tmp_path / "kit.toml")
    assert run(capsys, "render", song, "-o", tmp_path, *kit)[0] == 0
    read, plain = (run(capsys, "chart", tmp_path / "song.mid", "-o", "-", *words)[1] for words in (kit, ()))
    assert "china" in read and "china" not in plain and "note 61" in plain


def test_text_on_standard_output(capsys: pytest.CaptureFixture[str]) -> None:
    """`-o -` prints road map and drum tab, nothing else."""
    status, said, _ = run(capsys, "chart", SONG, "-o", "-")
    assert status == 0
    assert said.startswith("Copper Weather: 79 bars, 2:40.7\n")
    assert "as verse 1 except 12 bars" in said and "SN |----O--g-g--O--g|" in said


def test_road_map_alone() -> None:
    """Python users have the road map as a page of its own."""
    page = road_map_html(str(SONG))
    assert page.count('<td class="bars">') == 10 and "as chorus 1 except" in page and "<svg" not in page


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (["chart", SONG, "-o", "x.pdf"], "allowed: .txt, .musicxml, .svg, .html"),
        (["chart", SONG, "-o", "x"], "the ending of the file says which chart to write"),
        (["chart", "no-such.toml", "-o", "x.txt"], "there is no such file"),
        (["chart", ROOT / "patterns/fills/quads.toml", "-o", "x.txt"], "quads.toml"),
        (["chart", SONG], "--out"),
    ],
)  # fmt: skip
def test_wrong_words(
    words: list[object], part: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A line or two on stderr, status 2, and nothing written."""
    monkeypatch.chdir(tmp_path)
    status, said, wrong = run(capsys, *words)
    assert status == 2 and said == "" and part in wrong and "Traceback" not in wrong
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("data", "part"),
    [
        (b"MThd\0\0\0\6\0\0\0\1\0\x60MTrk\0\0\0\4\0\xff\x2f\0", "nothing to chart"),
        (b"MThd\0\0", "x.in"),
        (b"\x00\x01\x02", "no text file"),
        (b"title = ", "x.in"),
    ],
)
def test_wrong_input(data: bytes, part: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file without bars, half a header, bytes that are nothing: said clearly."""
    (tmp_path / "x.in").write_bytes(data)
    status, said, wrong = run(capsys, "chart", tmp_path / "x.in", "-o", tmp_path / "x.txt")
    assert status == 2 and said == "" and part in wrong and "Traceback" not in wrong
    assert not (tmp_path / "x.txt").exists()


def test_the_missing_library_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without verovio pictures name the extra; text and MusicXML need nothing."""
    monkeypatch.setitem(sys.modules, "verovio", None)
    status, _, wrong = run(capsys, "chart", GROOVE, "-o", tmp_path / "x.svg")
    assert status == 2 and "grooveforge[chart]" in wrong
    assert run(capsys, "chart", GROOVE, "-o", tmp_path / "x.musicxml")[0] == 0


def test_a_song_too_long_for_a_picture(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """More bars than anyone engraves (78 here, so that the test is quick) are refused as a picture, not as MusicXML."""
    monkeypatch.setattr(engrave, "MOST_BARS", 78)
    status, _, wrong = run(capsys, "chart", SONG, "-o", tmp_path / "x.svg")
    assert status == 2 and "79 bars are too many for a picture" in wrong
    assert run(capsys, "chart", SONG, "-o", tmp_path / "x.musicxml")[0] == 0


def test_a_foreign_file_is_kept(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file that is not ours is replaced with --force alone, and kept beside the new one."""
    (tmp_path / "x.txt").write_text("mine", encoding="utf-8")
    assert run(capsys, "chart", GROOVE, "-o", tmp_path / "x.txt")[0] == 2
    assert run(capsys, "chart", GROOVE, "-o", tmp_path / "x.txt", "--force")[0] == 0
    assert (tmp_path / "x.txt.1").read_text(encoding="utf-8") == "mine"
