"""Run the fuzzer: python -m tests.fuzz N [SEED]; the same numbers give the same inputs.

Inputs are spoilt copies of good ones; one that is read in a way not met before (other error, other warnings)
joins the good ones. It fails when anything but an error of this package comes out, when the address space grows
by more than the limit, or when an input takes too long.
"""

from __future__ import annotations

import contextlib
import random
import resource
import signal
import sys
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from grooveforge.errors import GrooveForgeError
from tests.fuzz.targets import Target, bare, targets

SECONDS_A_BYTE = 1e-6
"""A second a megabyte."""

FIXED_SECONDS = 0.3
"""What any input may take whatever its size: a small one is over in less, but for a pause of the machine."""

MEMORY = 1 << 30
"""Bytes by which the address space may grow."""

LARGE = 1000
"""One input in so many is made about a megabyte large."""

SLOW = 0.01
"""Seconds; an input that takes longer is not spoilt further, or the run would be made of its like."""

HANG = 60


class HangError(Exception):
    """An input that took a minute."""


def _hang(signal_number: int, frame: object) -> None:
    raise HangError


def _address_space() -> int:
    return int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()


@contextlib.contextmanager
def _bounded() -> Iterator[None]:
    """Address space limited to what is used now and some more; an alarm for what hangs."""
    before = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (_address_space() + MEMORY, before[1]))
    signal.signal(signal.SIGALRM, _hang)
    try:
        yield
    finally:
        signal.alarm(0)
        resource.setrlimit(resource.RLIMIT_AS, before)


def _feature(target: Target, data: bytes) -> str:
    """How an input was taken: what was read, or the first words of the error."""
    try:
        return target.read(data)
    except GrooveForgeError as error:
        str(error)
        assert error.faults, "an error without a fault"
        return bare(error.faults[0].message)


class Fuzzer:
    """Runs the inputs and keeps count of them."""

    def __init__(self, seed: int, folder: Path) -> None:
        self.rng = random.Random(seed)
        self.targets = targets()
        self.folder = folder
        self.ran: Counter[str] = Counter()
        self.failed: Counter[str] = Counter()
        self.slowest: dict[str, tuple[float, int]] = {}

    def run(self, count: int) -> None:
        shares = [target.share for target in self.targets]
        with _bounded():
            for number in range(1, count + 1):
                target = self.rng.choices(self.targets, shares)[0]
                large = number % LARGE == 0
                self.one(target, target.large(self.rng) if large else target.draw(self.rng), keep=not large)

    def one(self, target: Target, data: bytes, keep: bool) -> None:
        self.ran[target.name] += 1
        signal.alarm(HANG)
        start = time.process_time()
        try:
            feature = _feature(target, data)
        except Exception as error:  # what it is and where it came from is reported, and the run goes on
            self.fault(target, data, f"{type(error).__name__}: {error}"[:200], error)
            return
        finally:
            signal.alarm(0)
        took = time.process_time() - start
        self.slowest[target.name] = max(self.slowest.get(target.name, (0.0, 0)), (took, len(data)))
        if took > FIXED_SECONDS + SECONDS_A_BYTE * target.passes * len(data):
            self.fault(target, data, f"{took:.2f} s for {len(data)} bytes")
        elif feature not in target.seen and len(target.seen) < 2000:
            target.seen.add(feature)
            if keep and took < SLOW:  # slow ones are met often enough
                target.pool.append(data)

    def fault(self, target: Target, data: bytes, what: str, error: Exception | None = None) -> None:
        """Report a fault the first time it is met, and keep its input."""
        place = ""
        trace = error.__traceback__ if error else None
        while trace is not None:
            place = f"{Path(trace.tb_frame.f_code.co_filename).name}:{trace.tb_lineno}"
            trace = trace.tb_next
        kind = f"{target.name}: {place} {bare(what)}"
        self.failed[kind] += 1
        if self.failed[kind] == 1:
            self.folder.mkdir(parents=True, exist_ok=True)
            path = self.folder / f"{target.name.replace(' ', '-')}-{len(self.failed)}"
            path.write_bytes(data)
            print(f"FAULT {target.name}: {what} at {place}; input kept in {path}", flush=True)

    def report(self) -> None:
        for target in self.targets:
            took, size = self.slowest.get(target.name, (0.0, 0))
            print(
                f"{target.name:<12} {self.ran[target.name]:>9,} inputs, {len(target.seen):>5} ways of being read, "
                f"slowest {took:.3f} s for {size:,} bytes"
            )
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        print(f"{self.ran.total():,} inputs, {self.failed.total()} faults, most memory {peak} MiB")


def main(arguments: list[str]) -> int:
    count = int(arguments[0]) if arguments else 4000
    fuzzer = Fuzzer(int(arguments[1]) if len(arguments) > 1 else 1, Path("out", "fuzz"))
    fuzzer.run(count)
    fuzzer.report()
    return 1 if fuzzer.failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
