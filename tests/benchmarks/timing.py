"""Measuring: the best of several runs, and whole processes from cold."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Row:
    """One line of the table: what was measured, how long it took (or how much, in `unit`), and its ratio."""

    what: str
    seconds: float
    baseline: str
    baseline_seconds: float
    goal: float | None = None
    unit: str = "ms"

    @property
    def ratio(self) -> float:
        return self.seconds / self.baseline_seconds

    def __str__(self) -> str:
        goal = "" if self.goal is None else f"  goal {self.goal:g}: {'met' if self.ratio <= self.goal else 'MISSED'}"
        scale = 1e3 if self.unit == "ms" else 1.0
        times = f"{self.seconds * scale:9.2f} {self.unit} / {self.baseline_seconds * scale:9.2f} {self.unit}"
        return f"{self.what:<58} {times}  {self.ratio:7.3f} of {self.baseline}{goal}"


def best(work: Callable[[], object], rounds: int = 7, clock: Callable[[], float] = time.perf_counter) -> float:
    """Seconds of the fastest of several runs."""
    times = []
    for _ in range(rounds):
        start = clock()
        work()
        times.append(clock() - start)
    return min(times)


def best_cpu(work: Callable[[], object], rounds: int = 7) -> float:
    """Seconds of the processor that the fastest of several runs took: work in this process, whoever else is at it."""
    return best(work, rounds, time.process_time)


def first(work: Callable[[], object]) -> float:
    """Seconds of one run, the first in this process."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def cold(arguments: Sequence[str], rounds: int = 9, before: Callable[[], object] = lambda: None) -> float:
    """Seconds of the fastest of several new Python processes; `before` each of them what it needs is made.

    All packages have their byte code, ours too, as after an install.
    """
    here = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    times = []
    for _ in range(rounds):
        before()
        start = time.perf_counter()
        subprocess.run([sys.executable, *arguments], capture_output=True, check=True, env=here)
        times.append(time.perf_counter() - start)
    return min(times)
