"""Commands from cold, each in a process of its own: beside a bare command of the same library, and beside mido."""

from __future__ import annotations

import inspect
import json
import tempfile
from collections.abc import Iterator
from pathlib import Path

from grooveforge.project.sheets import song_from
from tests.benchmarks import render_song
from tests.benchmarks.timing import Row, cold

ROOT = Path(__file__).parents[2]
SONG = str(ROOT / "patterns" / "songs" / "copper-weather.toml")
GALLOP = str(ROOT / "patterns" / "grooves" / "gallop.toml")
REVERSE = str(ROOT / "patterns" / "grooves" / "reverse-gallop.toml")

COMMANDS = {
    "grooves": ["grooves", "gallop"],
    "inspect": ["inspect", GALLOP],
    "check": ["check", GALLOP],
    "compare": ["compare", GALLOP, REVERSE],
    "key-map": ["key-map", "list"],
    "profile": ["profile", "list"],
    "vary": ["vary", GALLOP, "-o", "OUT/half.toml", "--feel", "half", "--force"],
    "follow": ["follow", "x-xx", "--under", "gallop", "-o", "OUT/riff.mid", "--force"],
    "start": ["start", "x--X--x-X-x-xxX-", "-o", "OUT/start.toml", "--force"],
    "new": ["new", "OUT/new.toml", "--force"],
    "render": ["render", SONG, "-o", "OUT/out"],
    "chart": ["chart", SONG, "-o", "OUT/chart.txt", "--force"],
    "preview": ["preview", GALLOP, "-o", "OUT/gallop.wav", "--force"],
    "page": ["page", SONG, "--export", "OUT/page.html", "--force"],
    "options": ["options", SONG, "last chorus"],
}
"""What each command is measured with: a groove, or a song of 79 bars."""

BY_MIDO = """
from __future__ import annotations
import io, json, sys
from collections.abc import Iterator
import mido
{functions}
notes = json.loads(open(sys.argv[1]).read())
open(sys.argv[2], "wb").write(by_mido(notes, 300000))
"""


def rows() -> Iterator[Row]:
    with tempfile.TemporaryDirectory() as folder:
        script = Path(folder) / "one_command.py"
        script.write_text(render_song.ONE_COMMAND, encoding="utf-8")
        bare = cold([str(script), "name"])
        for name, words in COMMANDS.items():
            ours = cold(["-m", "grooveforge", *(word.replace("OUT", folder) for word in words)], 5)
            yield Row(f"grooveforge {name}, cold", ours, "a bare command", bare)
        yield _render(Path(folder))


def _render(folder: Path) -> Row:
    """The five-minute song rendered from cold, beside a mido script that builds and saves the same notes from cold."""
    sheet, notes, script = folder / "five.toml", folder / "notes.json", folder / "by_mido.py"
    sheet.write_text(render_song.SHEET, encoding="utf-8")
    song = song_from(render_song.SHEET, "five.toml")
    notes.write_text(json.dumps(render_song.notes_of(render_song.to_bytes(song))), encoding="utf-8")
    functions = inspect.getsource(render_song.by_mido) + inspect.getsource(render_song._events)
    script.write_text(BY_MIDO.format(functions=functions), encoding="utf-8")
    ours = cold(["-m", "grooveforge", "render", str(sheet), "-o", str(folder / "out")])
    theirs = cold([str(script), str(notes), str(folder / "by_mido.mid")])
    return Row("render of the five-minute song, cold", ours, "a mido script, cold", theirs, goal=0.8)
