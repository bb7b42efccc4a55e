"""No command imports a library that it does not use: what each leaves in `sys.modules`, in a process of its own."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from grooveforge.cli.table import COMMANDS
from tests.benchmarks.cold_start import WORDS, prepare

ROOT = Path(__file__).parents[2]

SEEN = """
import json, sys
from grooveforge.cli.main import main
status = main(sys.argv[1:])
sys.stdout.flush()
homes = {name.split(".")[0]: getattr(module, "__file__", None) or "" for name, module in list(sys.modules.items())
         if "." not in name}
print(json.dumps([status, sorted(name for name, home in homes.items() if "site-packages" in home)]), file=sys.stderr)
"""

TYPER = frozenset(("typer", "click", "shellingham", "typing_extensions", "annotated_doc"))
"""Where typer reads the words: help, faults, and the commands that have commands of their own."""

ARRAYS = frozenset(("numpy",))

USES = dict.fromkeys(COMMANDS, ARRAYS) | {
    "key-map": ARRAYS | TYPER,
    "profile": ARRAYS | TYPER,
    "pack": ARRAYS | {"verovio"},
    "play": TYPER,
    "undo": frozenset[str](),
}
"""The libraries of each command with its words of the benchmark: arrays everywhere, but for undo and for help; the
notation of a pack is engraved."""


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("imports") / "home"
    prepare(folder)
    return folder


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_imports_what_it_uses(home: Path, name: str) -> None:
    words = [word.replace("HOME", str(home)) for word in WORDS[name]]
    done = subprocess.run(
        [sys.executable, "-c", SEEN, *words], capture_output=True, text=True, cwd=ROOT, env={"PYTHONPATH": str(ROOT)}
    )
    status, found = json.loads(done.stderr.splitlines()[-1])
    assert status == 0, done.stderr
    assert {library for library in found if not library.startswith("_")} <= USES[name]
