"""The commands `check` and `profile`, and the findings of `render`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from grooveforge.core.profile import EXPERIENCED
from grooveforge.formats.profile_file import read_profile
from tests.cli.conftest import SHEET, Run
from tests.drumfiles import meter, midi, tempo, track

THREE_HANDS = SHEET.replace("SN ----O-------O---", "CC ----x-----------\nSN ----O-------O---")
"""Crash, hi-hat and snare together on each 2; in the chorus the hand is on the ride."""

KICKS = SHEET.replace("BD o-------o-------", "BD oooooooooooooooo").replace("tempo = 120", "tempo = 230")


@pytest.fixture
def spoilt(sheet: Path) -> Path:
    sheet.write_text(THREE_HANDS, encoding="utf-8")
    return sheet


def test_a_song_that_can_be_played(run: Run, sheet: Path) -> None:
    """Nothing is beyond the drummer; the hardest bar and how long it lasts are said, no caution is."""
    ran = run("check", sheet, "--strict")
    assert ran.status == 0
    assert f"{sheet}, experienced (hand 6.7/s, feet 13/s): 12 bars" in ran.out
    assert "nothing here is beyond this drummer" in ran.out
    assert "hardest bar: " in ran.out
    assert "take care" not in ran.out


def test_findings_come_with_the_change_and_cautions(run: Run, spoilt: Path) -> None:
    """A finding that comes again shares its line; the usual cautions follow."""
    ran = run("check", spoilt)
    assert ran.status == 0
    line = "bar 1, beat 2 (again in bars 2-4): right hand and left hand: more strokes at one instant"
    assert line in ran.out
    assert "try: leave out the closed hi-hat of bar 1, beat 2" in ran.out
    for word in ("start slowly", "warm up", "stop when it hurts", "a teacher or a physician", "volume"):
        assert word in ran.out


def test_strict_ends_with_status_one(run: Run, spoilt: Path) -> None:
    """Only where there are findings."""
    assert run("check", spoilt, "--strict").status == 1


def test_json_has_the_fields_of_the_contract(run: Run, spoilt: Path) -> None:
    """findings with bar, beat, limbs, reason, change; sticking, hardest_bar, endurance."""
    facts = json.loads(run("check", spoilt, "--json").out)
    assert facts["findings"][0] == {
        "bar": 1,
        "beat": 2.0,
        "limbs": ["right hand", "left hand"],
        "reason": "more strokes at one instant than two hands have",
        "change": "leave out the closed hi-hat of bar 1, beat 2",
        "fits_up_to": None,
        "last_bar": 1,
    }
    assert set(facts) >= {"sticking", "hardest_bar", "endurance", "profile", "cautions"}
    assert set(facts["endurance"]) == {"hands", "feet"}
    bars = sorted(bar for row in facts["sticking"]["patterns"] for bar in row["bars"])
    assert bars == list(range(1, 13))


def test_another_profile(run: Run, sheet: Path) -> None:
    """Sixteenth kicks at 230 fit an experienced drummer up to 195, and an extreme one as they are."""
    sheet.write_text(KICKS, encoding="utf-8")
    assert "fits up to 195 bpm" in run("check", sheet).out
    assert "nothing here is beyond" in run("check", sheet, "--profile", "extreme").out
    assert "fits up to 130 bpm" in run("check", sheet, "--profile", "learning").out


def test_the_profile_of_the_sheet(run: Run, sheet: Path) -> None:
    """A sheet names a shipped drummer or a file beside it; --profile goes over it."""
    (sheet.parent / "me.toml").write_text("hand = 6\nfeet = 16\n", encoding="utf-8")
    sheet.write_text(f'profile = "me"\n{KICKS}', encoding="utf-8")
    ran = run("check", sheet)
    assert ", me (hand 6/s, feet 16/s)" in ran.out
    assert "nothing here is beyond" in ran.out
    assert run("check", sheet, "--profile", "experienced", "--strict").status == 1


def test_a_groove_is_tried_at_its_upper_end(run: Run, tmp_path: Path) -> None:
    """With the profile that it names; the library's grooves by their files."""
    path = tmp_path / "feet.toml"
    path.write_text("tab = 'BD oooooooooooooooo'\ntempo = [120, 240]\nprofile = 'extreme'\n", encoding="utf-8")
    assert "at 240 bpm, extreme" in run("check", path).out
    assert run("check", path, "--strict", "--profile", "experienced").status == 1


def test_a_midi_file(run: Run, tmp_path: Path) -> None:
    """The same findings from a MIDI file, with strokes a little off the grid."""
    path = tmp_path / "drums.mid"
    bar = [(0, 36), (2, 42), (480, 38), (484, 42), (481, 49), (960, 36), (958, 42), (1440, 38), (1443, 42)]
    notes = [(1920 * number + tick, note, 90, 60) for number in range(4) for tick, note in bar]
    path.write_bytes(midi(track(sorted(notes), end=4 * 1920, extra=[(0, meter(4, 4)), (0, tempo(120))])))
    facts = json.loads(run("check", path, "--json").out)
    assert {(row["beat"], tuple(row["limbs"])) for row in facts["findings"]} == {(2.0, ("right hand", "left hand"))}
    assert [row["bar"] for row in facts["findings"]] == [1, 2, 3, 4]


def test_render_searches_only_when_asked(run: Run, spoilt: Path) -> None:
    """With --json the findings stand in the object, with --strict on stderr and in the exit status."""
    out = spoilt.parent / "out"
    plain = run("render", spoilt, "-o", out)
    assert (plain.status, plain.err) == (0, "")
    facts = json.loads(run("render", spoilt, "-o", out, "--json").out)
    assert [row["bar"] for row in facts["findings"]][:2] == [1, 2]
    strict = run("render", spoilt, "-o", out, "--strict")
    assert strict.status == 1
    assert "more strokes at one instant" in strict.err


# -- profiles ---------------------------------------------------------------------------------------------------


def test_the_profiles_are_listed(run: Run, tmp_path: Path) -> None:
    """The shipped ones, and those of a folder; other files of it are left alone, and broken ones told."""
    (tmp_path / "me.toml").write_text('hand = 6\nhanded = "left"\n', encoding="utf-8")
    (tmp_path / "song.toml").write_text(SHEET, encoding="utf-8")
    (tmp_path / "bad.toml").write_text("hand = -3\n", encoding="utf-8")
    ran = run("profile", "list", tmp_path)
    assert [line.split()[0] for line in ran.out.splitlines()] == ["learning", "experienced", "extreme", "me"]
    assert "left-handed" in ran.out
    assert "bad.toml" in ran.err and "-3" in ran.err
    facts = json.loads(run("profile", "list", tmp_path, "--json").out)
    assert [row["name"] for row in facts["profiles"]] == ["learning", "experienced", "extreme", "me"]


def test_a_shown_profile_reads_as_it_stands(run: Run) -> None:
    """`profile show` prints a commented file that is the profile."""
    shown = run("profile", "show").out
    assert read_profile(shown, "experienced") == EXPERIENCED
    assert shown.count("#") > 8


def test_a_profile_is_explained(run: Run) -> None:
    """`profile check` says what the numbers mean at the drums: 13 kicks a second are sixteenths at 195."""
    ran = run("profile", "check", "experienced")
    assert "both feet hold sixteenths up to 195 bpm" in ran.out
    assert "one hand holds eighths up to 201" in ran.out
    assert json.loads(run("profile", "check", "--json").out)["feet"] == 13


BAD = {
    "a negative rate": ("hand = -1\n", "hand, line 1", "-1", "0.5 to 40"),
    "no rate at all": ("feet = 0\n", "feet, line 1", "0.5 to 40"),
    "not a number": ("hand = nan\n", "hand, line 1", "no finite number"),
    "a text for a number": ('hand = "fast"\n', "hand, line 1", "a number is needed"),
    "no such hand": ('handed = "both"\n', "handed, line 1", "right, left"),
    "a slip of the pen": ("hnad = 5\n", "hnad, line 1", "hand"),
    "nothing": ("", "the profile is empty", "hand = 6.7"),
    "no TOML": ("hand 5\n", "line 1"),
    "comfort over all": ("comfort = 2\n", "comfort, line 1", "0.1 to 1"),
    "a burst of none": ("burst = 0\n", "burst, line 1", "1 to 16"),
}


@pytest.mark.parametrize("what", BAD)
@pytest.mark.parametrize("command", ["check", "profile"])
def test_a_wrong_profile(what: str, command: str, run: Run, sheet: Path) -> None:
    """One clear error with file, key, line and what is allowed; exit status 2."""
    text, *words = BAD[what]
    path = sheet.parent / "me.toml"
    path.write_text(text, encoding="utf-8")
    ran = run("check", sheet, "--profile", path) if command == "check" else run("profile", "check", path)
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.startswith(f"error: {path}")
    for word in words:
        assert word in ran.err, ran.err


def test_all_faults_of_a_profile_at_once(run: Run, tmp_path: Path) -> None:
    """Every wrong number is told."""
    path = tmp_path / "me.toml"
    path.write_text("hand = -1\nfeet = 99\n", encoding="utf-8")
    ran = run("profile", "check", path)
    assert ran.err.count("error:") == 2


def test_a_profile_that_is_not_there(run: Run, sheet: Path) -> None:
    """By name on the command line, and in a sheet with its line."""
    ran = run("check", sheet, "--profile", "expert")
    assert ran.status == 2
    assert "learning, experienced, extreme" in ran.err
    sheet.write_text(f'profile = "expert"\n{SHEET}', encoding="utf-8")
    ran = run("render", sheet, "-o", sheet.parent / "out")
    assert ran.status == 2
    assert "profile, line 1" in ran.err


@pytest.mark.parametrize("data", [b"", b"\xff\xfe\x00", b"MThd"], ids=["empty", "no text", "a cut MIDI file"])
def test_what_cannot_be_checked(data: bytes, run: Run, tmp_path: Path) -> None:
    """A file that is neither sheet, groove nor MIDI is an error, no traceback."""
    path = tmp_path / "what.toml"
    path.write_bytes(data)
    ran = run("check", path)
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.startswith("error: ")


def test_a_sticking_that_is_no_rudiment(run: Run, tmp_path: Path) -> None:
    """The nearest published one is named."""
    path = tmp_path / "roll.toml"
    path.write_text("tab = 'SN oooooooooooooooo'\nsticking = 'single paradidle'\n", encoding="utf-8")
    ran = run("check", path)
    assert ran.status == 2
    assert "sticking, line 2" in ran.err and "single paradiddle" in ran.err
