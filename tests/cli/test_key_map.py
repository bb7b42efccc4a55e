"""The commands `key-map list|show|check|audition`, and the option --key-map of render, inspect and vary.

Note numbers of General MIDI: MMA, GM Level 1 percussion key map. Files are read back by mido.
"""

from __future__ import annotations

import io
import json
from pathlib import Path

import mido
import pytest

from grooveforge.cli.main import main
from grooveforge.core.kit import SURFACES
from grooveforge.formats.keymap import GM
from tests.cli.conftest import SHEET, Run
from tests.drumfiles import bars_file
from tests.read_back import at_ticks, begins, of

KIT = """\
base = "gm"
lacks = ["china", "splash", "cowbell"]

[notes]
"half-open hi-hat" = 60
"ride bell" = 51
kick = [24, 36]

[fallbacks]
splash = "china"
"""


@pytest.fixture
def kit(tmp_path: Path) -> Path:
    """A kit of its own numbers: half-open hi-hat 60, kick 24, ride and bell on one note."""
    path = tmp_path / "shed.toml"
    path.write_text(KIT, encoding="utf-8")
    return path


def notes(data: bytes) -> list[tuple[int, int, int, int]]:
    """Tick, note, velocity and channel (from 0) of every note, from mido."""
    return sorted(
        (tick, row.note, row.velocity, row.channel) for tick, row in at_ticks(data) if begins(row)
    )


# -- list, show, check ------------------------------------------------------------------------------------------


def test_list_names_the_maps_of_a_folder(run: Run, kit: Path) -> None:
    """General MIDI and the files that are key maps; sheets and groove files are none, a wrong map is told."""
    folder = kit.parent
    (folder / "song.toml").write_text(SHEET, encoding="utf-8")
    (folder / "groove.toml").write_text("tab = 'BD o---'", encoding="utf-8")
    (folder / "junk.toml").write_text("= =", encoding="utf-8")
    (folder / "wrong.toml").write_text("[notes]\nkick = 200", encoding="utf-8")
    ran = run("key-map", "list", folder)
    assert ran.status == 0
    assert [line.split()[0] for line in ran.out.splitlines()] == ["gm", "shed"]
    assert ran.out.splitlines()[0].endswith("23 surfaces, lacks half-open hi-hat")
    assert "wrong.toml: notes.kick, line 2" in ran.err
    assert "junk" not in ran.err
    facts = json.loads(run("key-map", "list", folder, "--json").out)
    assert [row["name"] for row in facts["key_maps"]] == ["gm", "shed"]
    assert run("key-map", "list", folder / "nowhere").status == 2


def test_show_prints_a_file_to_start_from(run: Run, kit: Path, tmp_path: Path) -> None:
    """What is printed is a key map file itself, and the same map."""
    starter = tmp_path / "starter.toml"
    starter.write_text(run("key-map", "show").out, encoding="utf-8")
    assert starter.read_text(encoding="utf-8").startswith("# A key map: ")
    plain, again = (json.loads(run("key-map", "show", said, "--json").out) for said in ("gm", starter))
    assert {**again, "name": "gm"} == plain
    assert plain["notes"]["kick"] == [36, 35]
    assert plain["lacks"] == [{"surface": "half-open hi-hat", "used": "open hi-hat"}]
    assert '"half-open hi-hat" = 60' in run("key-map", "show", kit).out


def test_check_says_what_is_lacking_and_shared(run: Run, kit: Path) -> None:
    """Every lacking surface with what is struck instead, and every note of several surfaces."""
    assert run("key-map", "check", kit).out.splitlines() == [
        "shed: notes for 21 of 24 surfaces",
        "the kit has no china: second crash instead",
        "the kit has no splash: second crash instead",
        "the kit has no cowbell: nothing instead; a song that strikes it is refused",
        "note 51 is written for ride bell and ride; it is read as ride bell",
    ]
    facts = json.loads(run("key-map", "check", kit, "--json").out)
    assert facts["shared"] == [{"note": 51, "surfaces": ["ride bell", "ride"]}]
    assert {"surface": "cowbell", "used": None} in facts["lacks"]


def test_check_tells_a_softer_level_and_a_note_taken_over(run: Run, tmp_path: Path) -> None:
    """A splash on a crash is softer; a note that is only read may have another owner."""
    path = tmp_path / "kit.toml"
    path.write_text('base = "gm"\nlacks = ["splash"]\n[notes]\n"half-open hi-hat" = 35\n', encoding="utf-8")
    assert run("key-map", "check", path).out.splitlines()[1:] == [
        "the kit has no splash: crash instead, a level softer",
        "note 35 is listed for half-open hi-hat and kick; it is read as half-open hi-hat",
    ]


def test_a_wrong_map_ends_with_status_2(run: Run, tmp_path: Path) -> None:
    """Every fault with file, key path and line; a missing file and a MIDI file as well."""
    path = tmp_path / "kit.toml"
    path.write_text("[notes]\nkick = 128\nsnar = 38\n", encoding="utf-8")
    for command in ("show", "check"):
        ran = run("key-map", command, path)
        assert ran.status == 2
        assert f"error: {path}: notes.kick, line 2:" in ran.err
        assert f"error: {path}: notes.snar, line 3:" in ran.err
    assert run("key-map", "check", tmp_path / "none.toml").status == 2
    (tmp_path / "drums.mid").write_bytes(bars_file({36: "x---"}))
    ran = run("key-map", "check", tmp_path / "drums.mid")
    assert (ran.status, "no text file" in ran.err) == (2, True)


def test_a_map_from_standard_input(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """ "-" reads the map; not together with an input from there."""

    class Input:
        buffer = io.BytesIO(KIT.encode())

    monkeypatch.setattr("sys.stdin", Input)
    assert run("key-map", "check", "-").out.startswith("standard input: notes for 21")
    assert "both" in run("render", "-", "--key-map", "-").err


# -- audition -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("channel", [10, 1])
def test_audition_strikes_every_surface_once(run: Run, kit: Path, tmp_path: Path, channel: int) -> None:
    """In the kit's order, on the note that is written, a marker at each; nothing that the kit lacks."""
    out = tmp_path / "kit.mid"
    ran = run("key-map", "audition", kit, "-o", out, "--channel", channel)
    assert ran.status == 0
    assert "ride bell and ride as one note, 51" in ran.err
    struck = notes(out.read_bytes())
    has = [row.name for row in SURFACES if row.name not in ("china", "splash", "cowbell")]
    marked = [(tick, row.text) for tick, row in of(out, "marker")]
    assert marked == [(tick, name) for (tick, *_), name in zip(struck, has, strict=True)]
    own = {"half-open hi-hat": 60, "ride bell": 51, "kick": 24}
    assert [note for _, note, _, _ in struck] == [own[name] if name in own else GM.notes[name][0] for name in has]
    assert {heard for *_, heard in struck} == {channel - 1}
    assert len({velocity for _, _, velocity, _ in struck}) == 1


def test_audition_leaves_a_foreign_file_alone(run: Run, tmp_path: Path) -> None:
    """As every command that writes."""
    out = tmp_path / "kit.mid"
    out.write_bytes(b"mine")
    assert run("key-map", "audition", "-o", out).status == 2
    assert out.read_bytes() == b"mine"
    assert run("key-map", "audition", "gm", "-o", out, "--force").status == 0
    assert (tmp_path / "kit.mid.1").read_bytes() == b"mine"
    assert len(notes(out.read_bytes())) == len(GM.notes)


# -- inspect and vary ---------------------------------------------------------------------------------------------

BAR = {24: "x-------x-------", 38: "----x-------x---", 60: "x-x-x-x-x-x-x-x-"}
"""A bar that only the kit's own map can read: kick on 24, half-open hi-hat on 60."""


@pytest.fixture
def drums(tmp_path: Path) -> Path:
    path = tmp_path / "drums.mid"
    path.write_bytes(bars_file(BAR))
    return path


def test_inspect_reads_through_a_map(run: Run, kit: Path, drums: Path) -> None:
    """In GM two thirds of the bar are unknown; through the map nothing is."""
    plain = json.loads(run("inspect", drums, "--json").out)
    assert plain["unknown_notes"] == {"24": 2, "60": 8}
    assert plain["bars"][0]["kicks"] == 0
    facts = json.loads(run("inspect", drums, "--key-map", kit, "--json").out)
    assert (facts["unknown_notes"], facts["hits"]) == ({}, plain["hits"])
    bar = facts["bars"][0]
    assert (bar["timekeeper"], bar["kicks"], bar["feel"]) == ("half-open hi-hat", 2, "full")
    assert facts["warnings"] == ["the key map 'shed' writes ride bell and ride as one note, 51"]


def test_inspect_of_a_sheet_writes_and_reads_by_one_map(run: Run, kit: Path, sheet: Path) -> None:
    """The sheet's own map and the option give the same bars as GM does, where the map tells all apart."""
    text = sheet.read_text(encoding="utf-8")
    plain = json.loads(run("inspect", sheet, "--json").out)
    kit.write_text(KIT.replace('"ride bell" = 51\n', ""), encoding="utf-8")
    given = json.loads(run("inspect", sheet, "--key-map", kit, "--json").out)
    sheet.write_text('key_map = "shed"\n' + text, encoding="utf-8")
    own = json.loads(run("inspect", sheet, "--json").out)
    assert given["bars"] == own["bars"] == plain["bars"]


def test_vary_reads_and_writes_through_a_map(run: Run, kit: Path, drums: Path, tmp_path: Path) -> None:
    """The hand goes to the ride, on the map's note; kick and snare keep theirs."""
    out = tmp_path / "varied.mid"
    ran = run("vary", drums, "-o", out, "--timekeeper", "ride", "--key-map", kit, "--json")
    assert ran.status == 0
    before, after = (notes(path.read_bytes()) for path in (drums, out))
    assert after == sorted((tick, 51 if note == 60 else note, loud, at) for tick, note, loud, at in before)
    assert json.loads(ran.out)["replacements"] == []


def test_vary_says_what_the_kit_lacks(run: Run, kit: Path, drums: Path, tmp_path: Path) -> None:
    """A china becomes the second crash, counted; the number of notes stays."""
    out = tmp_path / "varied.mid"
    ran = run("vary", drums, "-o", out, "--timekeeper", "china", "--key-map", kit, "--json")
    assert [note for _, note, _, _ in notes(out.read_bytes())].count(57) == 8
    assert len(notes(out.read_bytes())) == 12
    assert "the kit has no china: second crash instead (8 times)" in ran.err
    facts = json.loads(ran.out)
    assert facts["replacements"] == [{"surface": "china", "used": "second crash", "count": 8}]
    assert (facts["bars"][0]["timekeeper"], facts["bars"][0]["kicks"]) == ("second crash", 2)


def test_vary_looks_at_its_result_on_the_same_channel(run: Run, drums: Path, tmp_path: Path) -> None:
    """--channel holds for what --json says of the result too."""
    file = mido.MidiFile(drums)
    for message in file.tracks[0]:
        if message.type in ("note_on", "note_off"):
            message.channel = 2
    file.tracks.append(mido.MidiTrack([message.copy(channel=3) for message in file.tracks[0] if not message.is_meta]))
    file.save(drums)
    ran = run("vary", drums, "-o", tmp_path / "varied.mid", "--timekeeper", "ride", "--channel", "3", "--json")
    assert ran.status == 0
    assert json.loads(ran.out)["hits"] == 12


def test_vary_strikes_what_stands_for_a_splash_softer(run: Run, drums: Path, tmp_path: Path) -> None:
    """As render does: normal splashes are taps on the crash."""
    kit = tmp_path / "small.toml"
    kit.write_text("[notes]\nkick = 24\nsnare = 38\n'half-open hi-hat' = 60\ncrash = 49\n", encoding="utf-8")
    out = tmp_path / "varied.mid"
    assert run("vary", drums, "-o", out, "--timekeeper", "splash", "--key-map", kit).status == 0
    before, after = (notes(path.read_bytes()) for path in (drums, out))
    assert {loud for _, note, loud, _ in before if note == 60} == {90}
    assert {loud for _, note, loud, _ in after if note == 49} == {68}


def test_a_groove_file_has_no_notes_to_map(run: Run, kit: Path, tmp_path: Path) -> None:
    """The option is refused there, not ignored."""
    path = tmp_path / "groove.toml"
    path.write_text("tab = 'BD o---o---o---o---'", encoding="utf-8")
    assert run("inspect", path, "--key-map", kit).status == 2
    assert run("vary", path, "-o", tmp_path / "b.toml", "--feel", "half", "--key-map", kit).status == 2


# -- render ---------------------------------------------------------------------------------------------------------

MEETING = """\
form = ["a"]
levels = "flat"
[grooves.g]
tab = '''
CC X-------s-------
Rd ----b---x---x---
C2 x---------------
BD o-------o-------
'''
[parts.a]
groove = "g"
bars = 2
arrival = false
"""


def test_strokes_that_meet_on_a_note_are_told(run: Run, tmp_path: Path) -> None:
    """Crash and second crash on one note: the louder stays, the others are counted, --strict says 1."""
    kit = tmp_path / "kit.toml"
    kit.write_text('base = "gm"\n[notes]\n"second crash" = 49\n', encoding="utf-8")
    song = tmp_path / "meeting.toml"
    song.write_text(MEETING, encoding="utf-8")
    plain = run("render", song, "-o", tmp_path / "gm", "--json", "--strict")
    assert (plain.status, json.loads(plain.out)["meetings"]) == (0, [])
    ran = run("render", song, "-o", tmp_path / "kit", "--key-map", kit, "--json", "--strict")
    assert ran.status == 1
    assert json.loads(ran.out)["meetings"] == [{"note": 49, "surfaces": ["crash", "second crash"], "count": 2}]
    assert json.loads(ran.out)["replacements"] == []
    assert "2 strokes of crash and second crash met another on note 49 at the same tick: the louder stays" in ran.err
    assert "the key map 'kit' writes second crash and crash as one note, 49" in ran.err
    before, after = (notes((tmp_path / name / "meeting.mid").read_bytes()) for name in ("gm", "kit"))
    assert len(after) == len(before) - 2
    assert [loud for tick, note, loud, _ in after if note == 49] == [114, 114]


def test_a_surface_with_nothing_instead_is_refused(run: Run, kit: Path, tmp_path: Path) -> None:
    """All of them at once, with a line that would help; nothing is written."""
    song = tmp_path / "bells.toml"
    song.write_text(
        MEETING.replace("C2 x", "CB x").replace("BD o-------o-------", "TB x-------x-------"), encoding="utf-8"
    )
    kit.write_text("[notes]\ncrash = 49\nride = 51\n", encoding="utf-8")
    ran = run("render", song, "-o", tmp_path / "out", "--key-map", kit)
    assert ran.status == 2
    assert "no note for cowbell" in ran.err and "no note for tambourine" in ran.err
    assert "under [fallbacks]" in ran.err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("none.toml", "key_map, line 1: there is no such file"),
        ("x" * 300, "key_map, line 1: the file cannot be read"),
        ("-", "key_map, line 1: a sheet names its key map by a file"),
        ("wrong.toml", "wrong.toml: notes.kick, line 2: the number is out of range"),
    ],
)
def test_a_map_that_a_sheet_names_wrongly(run: Run, sheet: Path, name: str, said: str) -> None:
    """Told with the sheet's other faults."""
    (sheet.parent / "wrong.toml").write_text("[notes]\nkick = 128\n", encoding="utf-8")
    sheet.write_text(f'key_map = "{name}"\nseed = -1\n{SHEET}', encoding="utf-8")
    ran = run("render", sheet, "-o", sheet.parent / "out")
    assert ran.status == 2
    assert said in ran.err
    assert "seed, line 2" in ran.err


def test_the_group_explains_itself(capsys: pytest.CaptureFixture[str]) -> None:
    """Every command of the group shows an example."""
    for command in ("list", "show", "check", "audition"):
        assert main(["key-map", command, "--help"]) == 0
        assert f"grooveforge key-map {command}" in capsys.readouterr().out
    assert main(["key-map", "nothing"]) == 2
