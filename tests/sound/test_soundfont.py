"""The user's own kit: through FluidSynth where it is installed, and a clear word where it is not.

The SoundFont is a small one made here, byte by byte (E-mu, "SoundFont Technical Specification 2.04", 2006): one
sample over all keys of the drum bank.
"""

from __future__ import annotations

import builtins
import struct
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from grooveforge.errors import FileError, FormatError, UsageError
from grooveforge.project.previewing import PreviewOptions, check_soundfont, preview
from grooveforge.sound import soundfont
from tests.missing import missing

SHEET = """
title = "Brass Kettle"
tempo = 120
form = ["verse"]
[grooves.plain]
tab = '''
HH ----------------
SN ----O-------O---
BD O-------O-------
'''
[parts.verse]
groove = "plain"
arrival = false
bars = 2
"""


def chunk(name: bytes, data: bytes) -> bytes:
    return name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)


def listed(name: bytes, *chunks: bytes) -> bytes:
    return chunk(b"LIST", name + b"".join(chunks))


def tiny_soundfont() -> bytes:
    """Bank 128, preset 0: a tick of 2000 samples on every key, played at its own pitch."""
    wave = (12_000 * np.exp(-np.arange(2000) / 300) * np.sin(np.arange(2000) * 0.3)).astype("<i2")
    data = wave.tobytes() + bytes(92)  # 46 samples of silence behind it
    name = b"tick".ljust(20, b"\0")
    end = b"EOP".ljust(20, b"\0")
    preset = "20sHHHIII"
    zones = struct.pack("<HHHHHH", 43, 127 << 8, 56, 0, 53, 0)  # keys 0-127, one pitch on all of them, sample 0
    sample = struct.pack("<20sIIIIIBbHH", name, 0, 2000, 8, 1992, 44_100, 60, 0, 0, 1)
    last = struct.pack("<20sIIIIIBbHH", b"EOS".ljust(20, b"\0"), 0, 0, 0, 0, 0, 0, 0, 0, 0)
    hydra = listed(
        b"pdta",
        chunk(b"phdr", struct.pack("<" + preset * 2, name, 0, 128, 0, 0, 0, 0, end, 0, 0, 1, 0, 0, 0)),
        chunk(b"pbag", struct.pack("<HHHH", 0, 0, 1, 0)),
        chunk(b"pmod", bytes(10)),
        chunk(b"pgen", struct.pack("<HHHH", 41, 0, 0, 0)),
        chunk(b"inst", struct.pack("<20sH20sH", name, 0, b"EOI".ljust(20, b"\0"), 1)),
        chunk(b"ibag", struct.pack("<HHHH", 0, 0, 3, 0)),
        chunk(b"imod", bytes(10)),
        chunk(b"igen", zones + bytes(4)),
        chunk(b"shdr", sample + last),
    )
    version = chunk(b"ifil", struct.pack("<HH", 2, 4))
    info = listed(b"INFO", version, chunk(b"isng", b"EMU8000\0"), chunk(b"INAM", b"tick"))
    return chunk(b"RIFF", b"sfbk" + info + listed(b"sdta", chunk(b"smpl", data)) + hydra)


@pytest.fixture
def sheet(tmp_path: Path) -> str:
    path = tmp_path / "brass-kettle.toml"
    path.write_text(SHEET, encoding="utf-8")
    return str(path)


@pytest.fixture
def font(tmp_path: Path) -> str:
    try:
        soundfont.library()
    except UsageError as error:
        missing(f"FluidSynth or pyfluidsynth is not installed: {error}")
    path = tmp_path / "tick.sf2"
    path.write_bytes(tiny_soundfont())
    return str(path)


def samples_of(data: bytes | bytearray) -> np.ndarray[Any, np.dtype[np.float64]]:
    return np.frombuffer(data, "<i2", offset=44).reshape(-1, 2) / 32_768


def onsets(samples: np.ndarray[Any, np.dtype[np.float64]]) -> list[float]:
    loud = np.flatnonzero(np.abs(samples).max(axis=1) > 0.01)
    begins = np.concatenate(([True], np.diff(loud) > 4000))
    return [round(float(at), 3) for at in loud[begins] / 44_100]


def test_strokes_stand_in_time(sheet: str, font: str) -> None:
    """Through a SoundFont every stroke sounds when the MIDI has it; FluidSynth works in steps of 64 samples."""
    made = preview(sheet, PreviewOptions(soundfont=font))
    assert onsets(samples_of(made.data)) == pytest.approx([0.5 * n for n in range(8)], abs=0.003)


def test_speed_and_click(sheet: str, font: str) -> None:
    """Half the tempo is twice as long; a click comes in beside it, and nothing clips."""
    slow = preview(sheet, PreviewOptions(soundfont=font, speed=0.5))
    assert onsets(samples_of(slow.data)) == pytest.approx([1.0 * n for n in range(8)], abs=0.003)
    plain = samples_of(preview(sheet, PreviewOptions(soundfont=font)).data)
    clicked = samples_of(preview(sheet, PreviewOptions(soundfont=font, click=True)).data)
    assert np.abs(clicked - plain).max() > 0.01
    assert np.abs(clicked).max() < 10 ** (-1 / 20)
    assert np.abs(plain.mean(axis=0)).max() < 1e-4


def test_what_is_no_soundfont(sheet: str, tmp_path: Path) -> None:
    """A missing file and a file of another kind are errors of ours, before FluidSynth has a say."""
    with pytest.raises(FileError, match="no such file"):
        check_soundfont(str(tmp_path / "none.sf2"))
    with pytest.raises(FormatError, match="no SoundFont"):
        check_soundfont(sheet)


def test_a_broken_soundfont(sheet: str, font: str) -> None:
    """A SoundFont that ends in its middle is an error that names it."""
    Path(font).write_bytes(tiny_soundfont()[:300])
    with pytest.raises(FormatError, match=r"tick\.sf2"):
        preview(sheet, PreviewOptions(soundfont=font))


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (ModuleNotFoundError("No module named 'fluidsynth'", name="fluidsynth"), "package pyfluidsynth"),
        (ImportError("Couldn't find the FluidSynth library."), "library FluidSynth"),
    ],
)
def test_what_is_missing_is_named(error: ImportError, said: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the package or the library the error says which, how to get it, and what works without."""
    usual = builtins.__import__

    def refuse(name: str, *rest: Any) -> Any:
        if name == "fluidsynth":
            raise error
        return usual(name, *rest)

    monkeypatch.delitem(sys.modules, "fluidsynth", raising=False)
    monkeypatch.setattr(builtins, "__import__", refuse)
    with pytest.raises(UsageError) as caught:
        soundfont.library()
    assert said in str(caught.value)
    assert "grooveforge[soundfont]" in str(caught.value)
    assert "built-in voices" in str(caught.value)
