"""Kill by hand: python -m tests.faults [RUNS] [SEED]."""

from __future__ import annotations

import sys
import tempfile
from contextlib import redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path

from tests.faults import kills

runs = int(sys.argv[1]) if len(sys.argv) > 1 else 200
seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
bad = False
for name, kill in kills.KILLED.items():
    with tempfile.TemporaryDirectory() as folder, redirect_stdout(StringIO()), redirect_stderr(StringIO()):
        count = kill(Path(folder), runs, seed)
    print(f"{name}: {count}", flush=True)
    bad = bad or bool(count.halves)
sys.exit(bad)
