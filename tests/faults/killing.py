"""Killing a process of ours at a random moment, and looking at what it left."""

from __future__ import annotations

import os
import random
import signal
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from grooveforge import files


@dataclass
class Count:
    """What was seen: runs, those killed before their end, and by how many files each left whole and old or new."""

    runs: int = 0
    killed: int = 0
    old: int = 0
    new: int = 0
    halves: list[str] = field(default_factory=list)

    def __str__(self) -> str:
        return f"{self.runs} runs, {self.killed} killed, files old {self.old}, new {self.new}, half {len(self.halves)}"


def run_and_kill(work: Callable[[], object], after: float | None) -> bool:
    """Run `work` in a child process and kill it (SIGKILL) after so many seconds; whether it was killed."""
    child = os.fork()
    if child == 0:
        try:
            null = os.open(os.devnull, os.O_WRONLY)
            os.dup2(null, 1)
            os.dup2(null, 2)
            work()
            os._exit(0)
        except BaseException:
            os._exit(3)
    if after is None:
        _, status = os.waitpid(child, 0)
        assert os.waitstatus_to_exitcode(status) == 0, "the work fails without a kill"
        return False
    time.sleep(after)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    code = os.waitstatus_to_exitcode(status)
    assert code in (0, -signal.SIGKILL), f"the child ended with {code}"
    return code != 0


def seconds_of(work: Callable[[], object]) -> float:
    """How long `work` takes in a child process, the shorter of two runs."""
    times = []
    for _ in range(2):
        start = time.perf_counter()
        run_and_kill(work, None)
        times.append(time.perf_counter() - start)
    return min(times)


def whole(folder: Path, versions: list[dict[str, bytes]], count: Count) -> None:
    """Count the files of a folder as old (the first version), new (the second) or half."""
    for name in versions[0].keys() | versions[1].keys():
        path = folder / name
        held = path.read_bytes() if path.exists() else None
        if held == versions[1].get(name):
            count.new += 1
        elif held is None or held == versions[0].get(name):
            count.old += 1
        else:
            count.halves.append(name)


def content(folder: Path, *kept: str) -> dict[str, bytes]:
    """The bytes of every file below a folder that a user sees; those named in `kept` are left out."""
    found = [path for path in sorted(folder.rglob("*")) if path.is_file()]
    seen = [path for path in found if not path.name.startswith(".") and files.UNDO_FOLDER not in path.parts]
    return {str(path.relative_to(folder)): path.read_bytes() for path in seen if path.name not in kept}


def moments(seconds: float, runs: int, seed: int) -> list[float]:
    """Random moments to kill at, from the start to a little after the end."""
    chance = random.Random(seed)
    return [chance.uniform(0, 1.1 * seconds) for _ in range(runs)]


def can_fork() -> bool:
    return hasattr(os, "fork") and sys.platform != "darwin"
