"""A song on a kit without china, bell and splash: each of their strokes goes elsewhere, and none is lost.

What replaces what (china: second crash; bell: ride; splash: crash, softer) is a house rule; the note numbers are
General MIDI Level 1's (MMA, GM percussion key map). The files are read back by mido.
"""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import pytest

from grooveforge.cli.main import main
from grooveforge.core.kit import band_of
from tests.read_back import Stroke, strokes

RIDE, CHINA, BELL, SPLASH, CRASH, SECOND_CRASH = 51, 52, 53, 55, 49, 57

RUST_ALMANAC = """\
title = "Rust Almanac"
tempo = 140
levels = "flat"
form = ["field", "fence", "gate"]

[defaults]
arrival = false

[grooves.chinas]
tab = '''
CC c---c---c---c---
SN ----O-------O---
BD o-------o-------
'''

[grooves.bell]
tab = '''
Rd x-x-x-x-b-x-x-x-
SN ----O-------O---
BD o-------o-------
'''

[grooves.splashes]
tab = '''
CC S-------x-------
C2 ----x-----------
HH --x---x-x-x-x-x-
SN ----O-------O---
BD o-------o-------
'''

[parts.field]
groove = "chinas"
bars = 8

[parts.fence]
groove = "bell"
bars = 8

[parts.gate]
groove = "splashes"
bars = 2
"""
"""32 china quarters, 8 bell strokes, 2 splashes; a few strokes on what they go to."""

SHED = 'base = "gm"\nlacks = ["china", "ride bell", "splash"]\n'


@pytest.fixture
def song(tmp_path: Path) -> Path:
    """The sheet, and the kit's key map beside it."""
    (tmp_path / "shed.toml").write_text(SHED, encoding="utf-8")
    path = tmp_path / "rust-almanac.toml"
    path.write_text(RUST_ALMANAC, encoding="utf-8")
    return path


def rendered(song: Path, folder: str, *words: str | Path) -> tuple[int, list[Stroke]]:
    """Exit status of `render` into a folder, and what it wrote."""
    status = main(["render", str(song), "-o", str(song.parent / folder), *map(str, words)])
    return status, strokes(song.parent / folder / "rust-almanac.mid", channel=10)


def test_every_stroke_goes_to_what_the_kit_has(song: Path) -> None:
    """No note of what is lacking; the counts arrive on what stands in; the number of notes is as it was."""
    status, plain = rendered(song, "gm")
    assert status == 0
    _, mapped = rendered(song, "shed", "--key-map", song.parent / "shed.toml")
    before, after = Counter(note for _, note, _ in plain), Counter(note for _, note, _ in mapped)
    assert (before[CHINA], before[BELL], before[SPLASH]) == (32, 8, 2)
    assert not {CHINA, BELL, SPLASH} & set(after)
    assert len(mapped) == len(plain)
    gained = {note: after[note] - before[note] for note in after if after[note] != before[note]}
    assert gained == {SECOND_CRASH: 32, RIDE: 8, CRASH: 2}
    assert [tick for tick, _, _ in mapped] == [tick for tick, _, _ in plain]


def test_the_splashes_come_at_a_lower_level(song: Path) -> None:
    """Accented splashes become normal strokes on the crash; all else keeps its velocity."""
    _, plain = rendered(song, "gm")
    _, mapped = rendered(song, "shed", "--key-map", song.parent / "shed.toml")
    splashed = [(tick, velocity) for tick, note, velocity in plain if note == SPLASH]
    there = {(tick, note): velocity for tick, note, velocity in mapped}
    assert [band_of(velocity).name for _, velocity in splashed] == ["accent", "accent"]
    assert [band_of(there[tick, CRASH]).name for tick, _ in splashed] == ["normal", "normal"]
    instead = {CHINA: SECOND_CRASH, BELL: RIDE}
    kept = [(tick, instead.get(note, note), velocity) for tick, note, velocity in plain if note != SPLASH]
    assert Counter(kept) == Counter(mapped) - Counter({(tick, CRASH, there[tick, CRASH]): 1 for tick, _ in splashed})


def test_three_lines_for_forty_two_notes(song: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The report, on stderr and as JSON."""
    kit = str(song.parent / "shed.toml")
    assert main(["render", str(song), "-o", str(song.parent / "a"), "--key-map", kit]) == 0
    said = [line for line in capsys.readouterr().err.splitlines() if "the kit has no" in line]
    assert said == [
        "warning: the kit has no ride bell: ride instead (8 times)",
        "warning: the kit has no china: second crash instead (32 times)",
        "warning: the kit has no splash: crash instead (2 times)",
    ]
    assert main(["render", str(song), "-o", str(song.parent / "b"), "--key-map", kit, "--json"]) == 0
    facts = json.loads(capsys.readouterr().out)
    assert facts["key_map"] == "shed"
    assert facts["meetings"] == []
    assert {row["surface"]: (row["used"], row["count"]) for row in facts["replacements"]} == {
        "china": ("second crash", 32),
        "ride bell": ("ride", 8),
        "splash": ("crash", 2),
    }
    assert sum(row["count"] for row in facts["replacements"]) == 42


def test_strict_ends_with_status_1(song: Path) -> None:
    """The files are written all the same; a kit that has everything ends with 0."""
    status, mapped = rendered(song, "strict", "--key-map", song.parent / "shed.toml", "--strict")
    assert status == 1
    assert len(mapped) == len(rendered(song, "loose", "--key-map", song.parent / "shed.toml")[1])
    assert rendered(song, "gm", "--strict")[0] == 0
    assert main(["render", str(song), "-o", str(song.parent / "json"), "--strict", "--json"]) == 0


def test_the_sheet_may_name_the_map(song: Path) -> None:
    """`key_map` in the sheet is the same as the option, which goes before it."""
    _, mapped = rendered(song, "option", "--key-map", song.parent / "shed.toml")
    _, plain = rendered(song, "plain")
    song.write_text('key_map = "shed.toml"\n' + RUST_ALMANAC, encoding="utf-8")
    assert rendered(song, "key", "--strict") == (1, mapped)
    assert rendered(song, "over", "--key-map", "gm", "--strict") == (0, plain)
