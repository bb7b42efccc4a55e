"""Print the table of all benchmarks, or of some: python -m tests.benchmarks [NAME ...]."""

from __future__ import annotations

import sys
from importlib import import_module
from pathlib import Path

NAMES = sorted(path.stem for path in Path(__file__).parent.glob("[a-z]*.py"))

for name in sys.argv[1:] or NAMES:
    module = import_module(f"tests.benchmarks.{name}")
    for row in getattr(module, "rows", lambda: ())():
        print(row, flush=True)
