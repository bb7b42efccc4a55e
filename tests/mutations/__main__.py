"""Draw mutants of the core at random, have mutmut try them, and print what the tests made of them.

    python -m tests.mutations 1000 1

mutmut (from PyPI; settings in pyproject.toml) changes a line at a time and runs the tests that come by it. All of
its mutants take hours; a sample with a seed says as much of the share. mutmut makes its copy of the tree first
where there is none (`mutants/`, some minutes). Those that no test noticed are listed: `mutmut show NAME` has the
change.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections import Counter
from collections.abc import Mapping
from math import sqrt
from pathlib import Path
from random import Random

FOLDER = Path("mutants/grooveforge/core")
UNNOTICED, NO_TEST = "unnoticed", "met no test"
SAID = {0: UNNOTICED, 5: NO_TEST, 33: NO_TEST}
"""What mutmut's exit codes mean; any other is a test that failed, a crash or a run without end: noticed."""


def codes() -> dict[str, int | None]:
    """Every mutant of the core with its exit code, None for those that were not tried."""
    found: dict[str, int | None] = {}
    for path in sorted(FOLDER.glob("*.meta")):
        found |= json.loads(path.read_text(encoding="utf-8"))["exit_code_by_key"]
    return found


def mutmut(*names: str, children: int = 2) -> None:
    subprocess.run([sys.executable, "-m", "mutmut", "run", *names, "--max-children", str(children)], check=False)


def main(count: int = 1000, seed: int = 1) -> None:
    if not codes():
        mutmut("grooveforge.core.chance.*")
    drawn = Random(seed).sample(sorted(codes()), count)
    known = codes()
    untried = [name for name in drawn if known[name] is None]
    if untried:
        mutmut(*untried)  # keeps what is done where it is stopped
    tried = {name: code for name, code in codes().items() if name in set(drawn) and code is not None}
    print(report(tried, len(codes())))


def report(tried: Mapping[str, int | None], every: int) -> str:
    """The counts, the share with its standard error, and the mutants that were not noticed."""
    kinds = Counter(SAID.get(code or 0, "noticed") for code in tried.values())
    share = kinds["noticed"] / max(len(tried), 1)
    spread = sqrt(share * (1 - share) / max(len(tried), 1))
    lines = [f"{len(tried)} of {every} mutants: " + ", ".join(f"{kind} {kinds[kind]}" for kind in sorted(kinds))]
    lines.append(f"noticed {100 * share:.1f} %, standard error {100 * spread:.1f}")
    lines += [f"{SAID[code or 0]}: {name}" for name, code in sorted(tried.items()) if (code or 0) in SAID]
    return "\n".join(lines)


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:3]))
