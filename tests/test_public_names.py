"""The names at the package's top."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import grooveforge

SONG = Path(__file__).parent.parent / "patterns" / "songs" / "copper-weather.toml"


def test_every_name_is_there() -> None:
    """Each public name can be had, and a wrong one is an AttributeError."""
    assert all(getattr(grooveforge, name) is not None for name in grooveforge.__all__)
    assert not hasattr(grooveforge, "no_such_name")


def test_a_song_from_python() -> None:
    """Reading and rendering a sheet takes two calls."""
    package: Any = grooveforge  # its names are loaded on first use
    made = package.render(package.read_sheet(str(SONG)))
    assert made.arrangement.bars == 79


def test_importing_the_package_loads_nothing_heavy() -> None:
    """Neither numpy nor mido nor pretty_midi is loaded by `import grooveforge`, nor by --help."""
    code = (
        "import sys, grooveforge.cli.main as m; m.main(['--help']); "
        "print([n for n in ('numpy', 'mido', 'pretty_midi') if n in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip().endswith("[]")
