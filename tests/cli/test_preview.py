"""`preview`: a WAV from any input."""

from __future__ import annotations

import wave
from pathlib import Path

import numpy as np
import pytest

from grooveforge.core.kit import SURFACE_CODES
from grooveforge.project import heard as hearing
from tests.cli.conftest import Run
from tests.drumfiles import midi, track

Samples = np.ndarray[tuple[int, ...], np.dtype[np.float64]]


def wav(path: Path) -> Samples:
    with wave.open(str(path)) as file:
        assert (file.getframerate(), file.getsampwidth(), file.getnchannels()) == (44_100, 2, 2)
        return np.frombuffer(file.readframes(file.getnframes()), "<i2").reshape(-1, 2) / 32_768


def test_a_song(run: Run, sheet: Path, tmp_path: Path) -> None:
    """The whole song, and a word of care."""
    out = tmp_path / "new" / "song.wav"
    ran = run("preview", sheet, "-o", out)
    assert (ran.status, ran.err) == (0, "")
    assert "check the volume" in ran.out
    samples = wav(out)
    assert len(samples) >= 24 * 44_100  # 12 bars of 4/4 at 120
    assert 0.1 < np.abs(samples).max() < 10 ** (-1 / 20)


def test_section_tempo_and_click(run: Run, sheet: Path, tmp_path: Path) -> None:
    """A section alone is that part of the song, slower it lasts longer, and a click comes beside it."""
    whole, part, slow, click = (tmp_path / f"{name}.wav" for name in ("whole", "part", "slow", "click"))
    run("preview", sheet, "-o", whole)
    assert run("preview", sheet, "-o", part, "--section", "chorus").status == 0
    assert run("preview", sheet, "-o", slow, "--section", "chorus 1", "--tempo", "50%").status == 0
    assert run("preview", sheet, "-o", click, "--section", "chorus", "--click").status == 0
    assert len(wav(part)) == pytest.approx(16 * 44_100, abs=3 * 44_100)
    assert len(wav(slow)) == pytest.approx(32 * 44_100, abs=3 * 44_100)
    beat = slice(44_100 // 2 * 5, 44_100 // 2 * 5 + 4000)
    assert np.abs(wav(click)[beat] - wav(part)[beat]).max() > 0.01


def test_the_same_song_as_sheet_and_as_midi(run: Run, sheet: Path, tmp_path: Path) -> None:
    """A rendered file sounds as its sheet does, up to what General MIDI has no note for."""
    run("render", sheet, "-o", tmp_path)
    run("preview", sheet, "-o", tmp_path / "a.wav")
    run("preview", tmp_path / "lantern-yard.mid", "-o", tmp_path / "b.wav")
    a, b = wav(tmp_path / "a.wav"), wav(tmp_path / "b.wav")
    assert len(a) == len(b)
    assert np.abs(a - b).max() < 1e-3


def test_a_section_of_a_midi_file(run: Run, sheet: Path, tmp_path: Path) -> None:
    """Markers name the sections of a MIDI file; a wrong name lists them."""
    run("render", sheet, "-o", tmp_path)
    midi = tmp_path / "lantern-yard.mid"
    assert run("preview", midi, "-o", tmp_path / "v.wav", "--section", "verse").status == 0
    assert len(wav(tmp_path / "v.wav")) == pytest.approx(8 * 44_100, abs=3 * 44_100)
    ran = run("preview", midi, "-o", tmp_path / "x.wav", "--section", "bridge")
    assert ran.status == 2
    assert "allowed: verse, chorus" in ran.err


def test_a_groove(run: Run, tmp_path: Path) -> None:
    """A groove file is heard four bars long at least."""
    groove = Path(__file__).parents[2] / "patterns" / "grooves" / "gallop.toml"
    assert run("preview", groove, "-o", tmp_path / "g.wav").status == 0
    heard = hearing.read_heard(str(groove))
    assert heard.performance.end >= 4 * 1920
    assert heard.performance.events.surface[0] in SURFACE_CODES.values()


def test_unknown_notes_are_said(run: Run, tmp_path: Path) -> None:
    """Notes that the key map does not know sound as a tick, and a line says so."""
    path = tmp_path / "odd.mid"
    path.write_bytes(midi(track([(0, 36, 100, 60), (480, 90, 100, 60)], end=1920)))
    ran = run("preview", path, "-o", tmp_path / "odd.wav")
    assert ran.status == 0
    assert "one stroke on notes that the key map does not know (90)" in ran.err
    samples = wav(tmp_path / "odd.wav")
    assert np.abs(samples[22_050:24_000]).max() > 0.01


@pytest.mark.parametrize("said", ["fast", "0", "5%", "1000%", "nan", "-80%", ""])
def test_wrong_tempi(run: Run, sheet: Path, tmp_path: Path, said: str) -> None:
    """A tempo that is no share from 10 to 400 % is refused and nothing is written."""
    ran = run("preview", sheet, "-o", tmp_path / "x.wav", "--tempo", said)
    assert ran.status == 2
    assert "10% to 400%" in ran.err
    assert not (tmp_path / "x.wav").exists()


def test_a_foreign_file_stays(run: Run, sheet: Path, tmp_path: Path) -> None:
    """A WAV that someone else made is not replaced without --force, and kept with it; our own is replaced."""
    out = tmp_path / "song.wav"
    out.write_bytes(b"a recording")
    ran = run("preview", sheet, "-o", out)
    assert (ran.status, out.read_bytes()) == (2, b"a recording")
    assert run("preview", sheet, "-o", out, "--force").status == 0
    assert (tmp_path / "song.wav.1").read_bytes() == b"a recording"
    assert run("preview", sheet, "-o", out, "--click").status == 0


def test_an_empty_song(run: Run, tmp_path: Path) -> None:
    """A file of rests is silence, not an error."""
    path = tmp_path / "rest.mid"
    path.write_bytes(midi(track([], end=1920)))
    ran = run("preview", path, "-o", tmp_path / "rest.wav")
    assert ran.status == 0
    assert not wav(tmp_path / "rest.wav").any()


def test_progress_is_for_terminals(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """A long work says how far it is on a terminal's stderr, and nothing elsewhere."""
    import sys
    import time

    from grooveforge.cli.output import Progress

    for terminal, said in ((True, "mixing  50%"), (False, "")):
        moments = iter([0.0, 2.0, 2.05])
        monkeypatch.setattr(time, "monotonic", lambda moments=moments: next(moments))
        monkeypatch.setattr(sys.stderr, "isatty", lambda terminal=terminal: terminal)
        with Progress("mixing") as progress:
            progress(0.5)
            progress(0.6)
        err = capsys.readouterr().err
        assert said in err if said else err == ""
