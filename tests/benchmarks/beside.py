"""Six jobs at three sizes beside mido, pretty_midi and symusic on the same notes, with the memory that each held."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from tests.benchmarks.jobs import JOBS, LIBRARIES, OURS, SIZES

ROOT = Path(__file__).parents[2]


@cache
def measured(job: str, library: str, times: int) -> tuple[float, float]:
    """Seconds and MiB of a job in a process of its own; a library's jobs are "build and save" and "load"."""
    words = [sys.executable, "-m", "tests.benchmarks.jobs", job, library, str(times)]
    done = subprocess.run(words, capture_output=True, check=True, cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)})
    seconds, megabytes = json.loads(done.stdout)
    return float(seconds), float(megabytes)


HEAD = f"{'job':<16} {'size':>5} {'ms':>9} {'to 1x':>6} {'MiB':>6}" + "".join(
    f"   {'ms of ' + library:>17} {'ratio':>8} {'MiB':>6}" for library in LIBRARIES
)


def line(job: str, times: int) -> str:
    """One row of the table."""
    ours, held = measured(job, OURS, times)
    growth = ours / measured(job, OURS, SIZES[0])[0]
    said = f"{job:<16} {f'{times}x':>5} {ours * 1e3:9.1f} {growth:6.1f} {held:6.1f}"
    for library in LIBRARIES:
        theirs, their_memory = measured(JOBS[job][1], library, times)
        said += f"   {theirs * 1e3:17.1f} {ours / theirs:8.3f} {their_memory:6.1f}"
    return said


def rows() -> Iterator[str]:
    yield HEAD
    for job in JOBS:
        for times in SIZES:
            yield line(job, times)
