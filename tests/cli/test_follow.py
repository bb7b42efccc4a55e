"""`follow`: a groove under a riff as a MIDI file, read back by mido, and what the command says about it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import mido
import pytest

from grooveforge.cli.main import main
from tests import read_back
from tests.riff_files import riff_file

SIXTEENTH = 120
KICK, SNARE, CLOSED, CHINA = 36, 38, 42, 52

GROOVE = """\
tab = '''
CC c---c---c---c---
SN --------O-------
BD O-o-------o-----
'''
tempo = [100, 140]
"""

ODD = "x-xx--x-x--xx-"
"""Fourteen sixteenths."""

ODD_STEPS = (0, 2, 3, 6, 8, 11, 12)


@pytest.fixture
def groove(tmp_path: Path) -> Path:
    path = tmp_path / "china.toml"
    path.write_text(GROOVE, encoding="utf-8")
    return path


def followed(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[dict[str, Any], str]:
    """What the command prints with --json, and its warnings."""
    status = main(["follow", *map(str, words), "--json"])
    said = capsys.readouterr()
    assert status == 0, said.err
    facts = json.loads(said.out)
    assert isinstance(facts, dict)
    return facts, said.err


def strokes(path: Path, note: int) -> list[int]:
    """The sixteenths on which a note begins; every stroke stands on one."""
    ticks = [tick for tick, its, _ in read_back.strokes(path) if its == note]
    assert not [tick for tick in ticks if tick % SIXTEENTH]
    return [tick // SIXTEENTH for tick in ticks]


class TestOddCycle:
    def test_runs_on_until_cycle_and_bar_line_meet(
        self, capsys: pytest.CaptureFixture[str], tmp_path: Path, groove: Path
    ) -> None:
        """Fourteen sixteenths under bars of sixteen: seven bars, the cycle begins anew with the eighth."""
        out = tmp_path / "made" / "odd.mid"
        facts, said = followed(capsys, ODD, "--under", groove, "-o", out)
        assert facts == {
            "attacks": 56,
            "kicks": 56,
            "precision": 1.0,
            "recall": 1.0,
            "apart": 0,
            "meets": [{"bar": 8, "beat": 1.0}],
            "bars": 7,
            "residue_ms": 0.0,
        }
        assert said == ""
        assert strokes(out, KICK) == [step for step in range(7 * 16) if step % 14 in ODD_STEPS]
        assert strokes(out, CHINA) == list(range(0, 7 * 16, 4))
        assert strokes(out, SNARE) == list(range(8, 7 * 16, 16))

    def test_a_groove_of_eight_bars_is_played_whole(
        self, capsys: pytest.CaptureFixture[str], tmp_path: Path
    ) -> None:
        """The file holds whole passes of the groove."""
        path = tmp_path / "long.toml"
        bar = "SN --------O-------"
        lines = ["CC " + 8 * "c---c---c---c---", "SN " + 8 * bar[3:]]
        path.write_text("tab = '''\n" + "\n".join(lines) + "\n'''\ngrid = 16\n", encoding="utf-8")
        out = tmp_path / "odd.mid"
        facts, _ = followed(capsys, ODD, "--under", path, "-o", out)
        assert (facts["bars"], facts["meets"]) == (8, [{"bar": 8, "beat": 1.0}])
        assert strokes(out, KICK) == [step for step in range(8 * 16) if step % 14 in ODD_STEPS]

    def test_restart(self, capsys: pytest.CaptureFixture[str], tmp_path: Path, groove: Path) -> None:
        """The riff begins anew with each pass of the groove, here with each bar."""
        out = tmp_path / "odd.mid"
        facts, _ = followed(capsys, ODD, "--under", groove, "-o", out, "--restart")
        assert (facts["bars"], facts["attacks"]) == (1, 8)
        assert strokes(out, KICK) == [*ODD_STEPS, 14]

    def test_the_hands_of_the_groove_stay(
        self, capsys: pytest.CaptureFixture[str], tmp_path: Path, groove: Path
    ) -> None:
        """Only the kick lane is another one than under a riff of one stroke."""
        one, two = tmp_path / "one.mid", tmp_path / "two.mid"
        followed(capsys, "x" + 111 * "-", "--under", groove, "-o", one)
        followed(capsys, ODD, "--under", groove, "-o", two)
        assert all(strokes(one, note) == strokes(two, note) for note in (SNARE, CHINA))
        assert strokes(one, KICK) == [0]


STEPS = {0: (40, 110), 3: (40, 80), 6: (52, 110), 8: (40, 80), 12: (43, 110), 14: (55, 80)}
"""A riff with three accents, two strokes of an upper register: sixteenth -> (note, velocity)."""


class TestModes:
    @pytest.mark.parametrize(
        ("mode", "steps"), [("all", [0, 3, 6, 8, 12, 14]), ("accents", [0, 6, 12]), ("low", [0, 3, 8, 12])]
    )
    def test_of_a_midi_file(
        self, capsys: pytest.CaptureFixture[str], tmp_path: Path, groove: Path, mode: str, steps: list[int]
    ) -> None:
        guitar = riff_file(tmp_path / "guitar.mid", STEPS)
        out = tmp_path / "out.mid"
        facts, _ = followed(capsys, guitar, "--under", groove, "-o", out, "--mode", mode)
        assert strokes(out, KICK) == steps
        assert (facts["attacks"], facts["kicks"], facts["precision"], facts["recall"]) == (len(steps), len(steps), 1, 1)

    def test_the_files_tempo(self, capsys: pytest.CaptureFixture[str], tmp_path: Path, groove: Path) -> None:
        """A riff file's tempo holds; a typed riff takes the middle of the groove's range."""
        out = tmp_path / "out.mid"
        followed(capsys, riff_file(tmp_path / "guitar.mid", STEPS, bpm=150), "--under", groove, "-o", out)
        assert [message.tempo for message in mido.MidiFile(out) if message.type == "set_tempo"] == [400_000]
        followed(capsys, "x---", "--under", groove, "-o", out)
        assert [message.tempo for message in mido.MidiFile(out) if message.type == "set_tempo"] == [500_000]

    def test_a_drum_file_as_the_groove(
        self, capsys: pytest.CaptureFixture[str], tmp_path: Path, groove: Path
    ) -> None:
        """What the command wrote is a drum file to follow under again; its tempo stays."""
        first, second = tmp_path / "first.mid", tmp_path / "second.mid"
        followed(capsys, "x--x--x-", "--under", groove, "-o", first)
        facts, _ = followed(capsys, "X---x---x---x-x-", "--under", first, "-o", second)
        assert (facts["kicks"], strokes(second, KICK)) == (5, [0, 4, 8, 12, 14])
        assert strokes(second, CHINA) == strokes(first, CHINA)
        assert mido.MidiFile(second).length == pytest.approx(mido.MidiFile(first).length, abs=0.3)

    def test_a_groove_of_the_library_by_name(self, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
        facts, _ = followed(capsys, "x-x-", "--under", "driving eighths", "-o", tmp_path / "out.mid")
        assert facts["kicks"] == 8

    def test_a_groove_of_this_folder_by_name(
        self, capsys: pytest.CaptureFixture[str], tmp_path: Path, groove: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.chdir(groove.parent)
        facts, _ = followed(capsys, "x-x-", "--under", groove.stem, "-o", tmp_path / "out.mid")
        assert facts["kicks"] == 8
        assert strokes(tmp_path / "out.mid", CHINA) == [0, 4, 8, 12]

    def test_tracks_to_choose_from_are_a_warning(
        self, capsys: pytest.CaptureFixture[str], tmp_path: Path, groove: Path
    ) -> None:
        one = mido.MidiFile(riff_file(tmp_path / "one.mid", STEPS))
        two = mido.MidiFile(riff_file(tmp_path / "two.mid", {0: (33, 90)}))
        both = mido.MidiFile(type=1, ticks_per_beat=480)
        both.tracks += [two.tracks[0], one.tracks[0]]
        both.save(tmp_path / "both.mid")
        facts, said = followed(capsys, tmp_path / "both.mid", "--under", groove, "-o", tmp_path / "out.mid")
        assert facts["attacks"] == 6
        assert "warning: track 2 (channel 1, 6 notes) was taken as the riff" in said


class TestWords:
    def test_in_words(self, capsys: pytest.CaptureFixture[str], tmp_path: Path, groove: Path) -> None:
        assert main(["follow", ODD, "--under", str(groove), "-o", str(tmp_path / "o.mid")]) == 0
        said = capsys.readouterr().out
        assert "7 bars, 56 attacks, 56 kicks, precision 1, recall 1; cycle and bar line meet at bar 8 beat 1" in said

    @pytest.mark.parametrize(
        ("riff", "under", "more", "message"),
        [
            ("|----|", "china.toml", (), "a riff needs at least one attack"),
            ("x-y-", "china.toml", (), "a riff has a wrong mark (found 'y')"),
            ("", "china.toml", (), "a riff needs at least one attack"),
            ("x-x-", "china.toml", ("--mode", "accents"), "the riff has no accents: its line has no X"),
            ("X-x-", "china.toml", ("--mode", "low"), "does not say which attacks are low"),
            ("no.mid", "china.toml", (), "there is no such file"),
            ("empty.mid", "china.toml", (), "empty.mid: a riff file is a MIDI file, and this is none"),
            ("china.toml", "china.toml", (), "china.toml: a riff file is a MIDI file, and this is none"),
            ("x-x-", "chinna quarters", (), "no groove is called 'chinna quarters'"),
            ("x-x-", "no.toml", (), "no.toml: there is no such file"),
            ("x-x-", "song.toml", (), "song.toml: a groove needs a key tab"),
            ("x-x-", "", (), "no groove is called ''"),
            ("x-x-", "empty.mid", (), "empty.mid: a groove needs a key tab"),
        ],
    )
    def test_faults_are_told_and_nothing_is_written(
        self,
        capsys: pytest.CaptureFixture[str],
        tmp_path: Path,
        groove: Path,
        monkeypatch: pytest.MonkeyPatch,
        riff: str,
        under: str,
        more: tuple[str, ...],
        message: str,
    ) -> None:
        monkeypatch.chdir(tmp_path)
        Path("empty.mid").write_bytes(b"")
        Path("song.toml").write_text('title = "A Song"\nform = ["verse"]\n', encoding="utf-8")
        assert main(["follow", riff, "--under", under, "-o", "out.mid", *more]) == 2
        assert message in capsys.readouterr().err
        assert not Path("out.mid").exists()

    def test_attacks_that_do_not_fit_the_grooves_grid(
        self, capsys: pytest.CaptureFixture[str], tmp_path: Path
    ) -> None:
        """A hand in fives needs 20 steps to a whole note, sixteenths beside it 80, sixteenth triplets 120."""
        fives = tmp_path / "fives.toml"
        fives.write_text("tab = 'HH xxxxxxxxxxxxxxxxxxxx'\ngrid = 20\n", encoding="utf-8")
        triplets = mido.MidiFile(riff_file(tmp_path / "guitar.mid", dict.fromkeys(range(0, 16, 2), (40, 90))))
        for message in triplets.tracks[0]:
            message.time //= 3
        triplets.save(tmp_path / "guitar.mid")
        out = str(tmp_path / "out.mid")
        assert main(["follow", "x-xx----", "--under", str(fives), "-o", out]) == 0
        assert main(["follow", str(tmp_path / "guitar.mid"), "--under", str(fives), "-o", out, "--force"]) == 2
        assert "the riff's attacks do not fit the groove's grid" in capsys.readouterr().err

    def test_a_line_may_begin_with_a_rest(
        self, capsys: pytest.CaptureFixture[str], tmp_path: Path, groove: Path
    ) -> None:
        """It is no option of the command."""
        out = tmp_path / "out.mid"
        followed(capsys, "--x-x-----X-----", "--under", groove, "-o", out)
        assert strokes(out, KICK) == [2, 4, 10]

    def test_help_shows_an_example(self, capsys: pytest.CaptureFixture[str]) -> None:
        assert main(["follow", "--help"]) == 0
        said = capsys.readouterr().out
        assert "grooveforge follow" in said
        assert "--mode" in said
