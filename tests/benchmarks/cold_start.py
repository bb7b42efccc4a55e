"""Commands from cold, each in a process of its own: beside a bare command of the same library, and beside mido."""

from __future__ import annotations

import inspect
import json
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from grooveforge.cli.table import COMMANDS
from grooveforge.project.sheets import song_from
from tests.benchmarks import render_song
from tests.benchmarks.timing import Row, cold

ROOT = Path(__file__).parents[2]
SONG = str(ROOT / "patterns" / "songs" / "copper-weather.toml")
GALLOP = str(ROOT / "patterns" / "grooves" / "gallop.toml")
REVERSE = str(ROOT / "patterns" / "grooves" / "reverse-gallop.toml")

WORDS = {
    "new": ["new", "HOME/new.toml"],
    "start": ["start", "x--X--x-X-x-xxX-", "-o", "HOME/start.toml"],
    "render": ["render", "HOME/song.toml", "-o", "HOME/out"],
    "vary": ["vary", GALLOP, "-o", "HOME/half.toml", "--feel", "half"],
    "recount": ["recount", "HOME/five.toml", "x2"],
    "follow": ["follow", "x-xx", "--under", "gallop", "-o", "HOME/riff.mid"],
    "inspect": ["inspect", GALLOP],
    "check": ["check", GALLOP],
    "compare": ["compare", GALLOP, REVERSE],
    "preview": ["preview", GALLOP, "-o", "HOME/gallop.wav"],
    "play": ["play", "--help"],
    "options": ["options", "HOME/song.toml", "last chorus"],
    "plan": ["plan", "HOME/song.toml"],
    "grooves": ["grooves", "gallop"],
    "page": ["page", "HOME/song.toml", "--export", "HOME/page.html"],
    "key-map": ["key-map", "list"],
    "pack": ["pack", "HOME/song.toml", "-o", "HOME/pack"],
    "merge": ["merge", "HOME/song.toml", "HOME/played.mid"],
    "chart": ["chart", "HOME/song.toml", "-o", "HOME/chart.txt"],
    "profile": ["profile", "list"],
    "undo": ["undo", "HOME/five.toml"],
}
"""What each command is measured with: a groove, or a song of 79 bars."""

LESS = {"play": " (its help: playing wants a MIDI port)"}
"""What a row says where its command is not measured at its work."""

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
        ready, home = Path(folder) / "ready", Path(folder) / "home"
        prepare(ready)

        def fresh() -> None:
            shutil.rmtree(home, ignore_errors=True)
            shutil.copytree(ready, home)

        for name in COMMANDS:  # one without words here is a KeyError
            words = [word.replace("HOME", str(home)) for word in WORDS[name]]
            ours = cold(["-m", "grooveforge", *words], 5, fresh)
            yield Row(f"grooveforge {name}, cold{LESS.get(name, '')}", ours, "a bare command", bare)
        yield _render(Path(folder))


def prepare(folder: Path) -> None:
    """A sheet, its MIDI and a drummer's file that is not the same; a sheet with a change that can be taken back."""
    folder.mkdir()
    sheet, song, played, five = (folder / name for name in ("song.toml", "song.mid", "played.mid", "five.toml"))
    shutil.copy(SONG, sheet)
    five.write_text(render_song.SHEET, encoding="utf-8")
    for words in (
        ["recount", five, "/2"],
        ["render", sheet, "-o", folder],
        ["vary", song, "-o", played, "--bars", "5-8", "--timekeeper", "ride"],
    ):
        subprocess.run([sys.executable, "-m", "grooveforge", *map(str, words)], capture_output=True, check=True)


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
