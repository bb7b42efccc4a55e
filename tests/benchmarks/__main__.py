"""Print the table of all benchmarks, or of some: python -m tests.benchmarks [NAME ...]."""

from __future__ import annotations

import sys
from importlib import import_module
from pathlib import Path

HERE = Path(__file__).parent
NAMES = sorted({path.stem for path in HERE.glob("*.py")} - {"__init__", "__main__", "timing"})

for name in sys.argv[1:] or NAMES:
    module = import_module(f"tests.benchmarks.{name}")
    for row in getattr(module, "rows", lambda: ())():
        print(row, flush=True)
