"""A short run of the fuzzer, in a process of its own, since it limits what memory the process may have."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from grooveforge.errors import FormatError
from tests.fuzz.__main__ import Fuzzer
from tests.fuzz.targets import Target, Work

ROOT = Path(__file__).parent.parent.parent


def test_a_short_run_finds_nothing() -> None:
    """4,000 inputs: only this package's errors come out, in bounded memory and time."""
    run = subprocess.run(
        [sys.executable, "-m", "tests.fuzz", "4000", "7"], cwd=ROOT, capture_output=True, text=True, timeout=600
    )
    assert run.returncode == 0, run.stdout + run.stderr
    assert "4,000 inputs, 0 faults" in run.stdout
    assert all(f"{name} " in run.stdout for name in ("MIDI", "song sheet", "tab", "groove file"))


def _refused(data: bytes) -> str:
    raise FormatError("no")


def _crashes(data: bytes) -> str:
    return str(data[0] // 0)


def _fills_memory(data: bytes) -> str:
    return str(len(bytes(3 << 30)))


def _takes_long(data: bytes) -> str:
    return str(sum(range(50_000_000)))


@pytest.mark.parametrize(("read", "faults"), [(_refused, 0), (_crashes, 1), (_takes_long, 1)])
def test_the_fuzzer_tells_what_may_not_be(read: Work, faults: int, tmp_path: Path) -> None:
    """Another error than ours, and a reader that is too slow, are faults with their input kept; a refusal is none."""
    fuzzer = Fuzzer(1, tmp_path / "kept")
    target = Target("midi", read, [b"MThd"])
    fuzzer.one(target, b"MThd", keep=True)
    assert fuzzer.failed.total() == faults
    assert len(list(tmp_path.glob("kept/*"))) == faults


def test_the_fuzzer_limits_memory(tmp_path: Path) -> None:
    """Three gigabytes for four bytes are refused by the limit on the address space."""
    code = (
        "from pathlib import Path; from tests.fuzz.__main__ import Fuzzer, _bounded; from tests.fuzz.targets import "
        "Target; from tests.fuzz.test_fuzz import _fills_memory\n"
        f"fuzzer = Fuzzer(1, Path({str(tmp_path)!r}))\n"
        "with _bounded(): fuzzer.one(Target('midi', _fills_memory, [b'MThd']), b'MThd', keep=True)\n"
        "print(fuzzer.failed)"
    )
    run = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=120)
    assert "MemoryError" in run.stdout, run.stdout + run.stderr
