"""What is fuzzed: the readers, each with good inputs to begin from, and what must hold of what they read."""

from __future__ import annotations

import importlib
import random
import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import Path

from grooveforge import files
from grooveforge.core.figures import Fill
from grooveforge.core.groove import Groove
from grooveforge.core.meter import Meter
from grooveforge.errors import FormatError
from grooveforge.formats.changes_file import read_changes
from grooveforge.formats.drums_read import read_drums
from grooveforge.formats.groovefile import read_groove_file
from grooveforge.formats.smf_read import read_smf
from grooveforge.formats.smf_write import write_raw
from grooveforge.formats.songsheet import read_song
from grooveforge.formats.songsheet_fills import FillSource
from grooveforge.formats.tab import read_tab
from grooveforge.project.library import library_files, library_fills
from tests.fuzz.mutate import random_midi, spoil_bytes, spoil_text

TESTS = Path(__file__).parent.parent
KEY_MAP_READER = "grooveforge.formats.keymap_file"

Work = Callable[[bytes], str]
"""Reads an input; returns words for what kind of input it was, such as its warnings without their numbers."""


@dataclass
class Target:
    """One reader. `pool` holds inputs to spoil; those that were read in a new way are added to it; `passes` is how
    often its work goes over an input."""

    name: str
    read: Work
    pool: list[bytes]
    words: tuple[str, ...] = ()
    share: int = 1
    passes: int = 1
    seen: set[str] = field(default_factory=set)

    def draw(self, rng: random.Random) -> bytes:
        """A new input."""
        good, other = rng.choice(self.pool), rng.choice(self.pool)
        if self.words:
            return spoil_text(good, other, self.words, rng)
        return random_midi(rng) if rng.random() < 0.2 else spoil_bytes(good, other, rng)

    def large(self, rng: random.Random) -> bytes:
        """An input of about a megabyte: a small one over and over, for what grows faster than its input."""
        piece = self.draw(rng) or b"-"
        if not self.words:
            start = rng.randrange(len(piece))
            body = piece[start : start + rng.choice((1, 3, 4, 40))] * 400_000
            return self.pool[0][:14] + b"MTrk" + b"\0\x10\0\0" + body[:1_000_000] + b"\0\xff\x2f\0"
        text = piece.decode("utf-8", "replace")
        start = rng.randrange(len(text))
        part = text[start : start + rng.choice((1, 2, 5, 30))] or "-"
        repeated = part * (1_000_000 // len(part.encode()))
        return (text[:start] + repeated + text[start:]).encode()


def bare(text: str) -> str:
    """A message without what belongs to one input alone."""
    return re.sub(r"'[^']*'|\"[^\"]*\"|[\d.]+", "_", text)[:200]


def _midi(data: bytes) -> str:
    file = read_smf(data)
    again = read_smf(write_raw(file))
    if len(again.tracks) != len(file.tracks) or any(
        one.events != two.events for one, two in zip(again.tracks, file.tracks)
    ):
        raise AssertionError("what was read is written so that it reads otherwise")
    part = read_drums(file)
    return " ".join(sorted({bare(warning) for warning in part.warnings}))


def _groove_texts() -> dict[str, bytes]:
    folder = library_files("grooves") + library_files("fills")
    return {path.stem: path.read_bytes() for path in folder}


_GROOVES: Mapping[str, Groove] = {}
_FILLS: dict[str, Fill] = {}


def _find_groove(name: str) -> Groove:
    """A shipped groove by its name, from memory."""
    if not _GROOVES:
        raise FormatError("no groove is called that", found=repr(name)[:100])
    found = _GROOVES.get(name.replace(" ", "-"))
    if found is None:
        raise FormatError("no groove is called that", found=repr(name)[:100])
    return found


def _find_fill(name: str) -> Fill:
    if name not in _FILLS:
        raise FormatError("no fill is called that", found=repr(name)[:100])
    return _FILLS[name]


_FILL_SOURCE = FillSource(_find_fill, library_fills)


def _sheet(data: bytes) -> str:
    song = read_song(files.decode(data), "fuzz", _find_groove, fills=_FILL_SOURCE)
    return f"read {len(song.form)}"


METERS = (Meter(4, 4), Meter(7, 8), Meter(12, 8), Meter(3, 4))


def _tab(data: bytes) -> str:
    tab = read_tab(files.decode(data))
    groove = tab.groove(METERS[len(data) % len(METERS)], None, None)
    return "read " + " ".join(name for name, _ in groove.voices)


def _groove_file(data: bytes) -> str:
    return f"read {read_groove_file(files.decode(data)).groove.feel}"


def _changes(data: bytes) -> str:
    found = read_changes(files.decode(data))
    return f"read {len(found)} " + " ".join(str(len(bar.bar.graces)) for bar in found.values())


def _words_of(texts: list[bytes]) -> tuple[str, ...]:
    words = {word for text in texts for word in re.findall(r"[A-Za-z_]+", text.decode())}
    return tuple(sorted(words))


def targets() -> list[Target]:
    """All readers there are, with their good inputs."""
    global _GROOVES
    _GROOVES = {path.stem: read_groove_file(path.read_text("utf-8")).groove for path in library_files("grooves")}
    _FILLS.update({path.stem: fill for path, fill in zip(library_files("fills"), library_fills())})
    grooves = list(_groove_texts().values())
    sheets = [path.read_bytes() for path in library_files("songs")] + SHEETS
    tabs = [str(tomllib.loads(text.decode())["tab"]).encode() for text in grooves]
    midis = [path.read_bytes()[:6000] for path in sorted((TESTS / "fixtures" / "freedoom").glob("*.mid"))]
    midis += [random_midi(random.Random(number)) for number in range(40)]
    found = [
        Target("MIDI", _midi, midis, share=4, passes=3),  # read, written, read again
        Target("song sheet", _sheet, sheets, _words_of(sheets + grooves), share=2),
        Target("tab", _tab, tabs, ("HH", "SN", "BD", "CC", "x", "X", "o", "O", "g", "f", "d", "T", "|", "-"), share=3),
        Target("changes file", _changes, CHANGES, (*_words_of(CHANGES), "HH", "[", "]", "{", "}", ",", "="), share=2),
        Target("groove file", _groove_file, grooves, _words_of(grooves), share=1),
    ]
    if find_spec(KEY_MAP_READER):
        reader = importlib.import_module(KEY_MAP_READER).read_key_map

        def _key_map(data: bytes) -> str:
            reader(files.decode(data), "fuzz")
            return "read"

        words = (*_words_of(KEY_MAPS), "closed hi-hat", "second crash", "ride bell", "china", "splash", "base")
        found.append(Target("key map", _key_map, KEY_MAPS, words, share=2))
    return found


CHANGES = [
    b'[bars.11]\nat = "bar 7 of verse 1"\nmeter = "4/4"\ngrid = 16\ntimekeeper = "closed hi-hat"\ntab = \'\'\'\n'
    b"HH |x-x-x-x-o-x-x-x-|\nSN |----O-------f---|\nBD |o-------o-------|\n\'\'\'\n"
    b"levels = { SN = [118, [24, 101]], BD = [90, 91] }\nlate = { SN = [12, [-29, 0]] }\nticks = 480\n",
    b"[bars.2]\ntab = \'\'\'\nSN d---\n61 x---\n\'\'\'\ngrid = 4\ntimekeeper = \"none\"\n"
    b'[bars.3]\nmeter = "7/8"\ntab = "BD o------"\ngrid = 8\n',
]

KEY_MAPS = [
    b'name = "my kit"\nbase = "gm"\nlacks = ["china", "splash"]\n[fallbacks]\nchina = "crash"\n',
    b'name = "all"\n[notes]\nkick = 36\nsnare = [38, 40]\n"closed hi-hat" = 42\ncrash = 49\n'
    b'[fallbacks]\n"ride bell" = "closed hi-hat"\n',
]

SHEETS = [
    b'title = "A"\ntempo = 120\nform = ["a", "b", { part = "a", bars = 3, feel = "half" }]\n'
    b'[defaults]\ngroove = "plain-eighths"\n[parts.a]\nbars = 4\n[parts.b]\nbars = 2\nmeter = "7/8"\n'
    b'grouping = "2+2+3"\ngroove = "seven-eight-drive"\nfill = "1 bar"\nending = true\nbackbeats = "3"\n',
    b'tempo = 98.5\nmeter = "12/8"\nlevels = "flat"\nlooseness = 3\nswing = 0.1\nform = ["v", "v"]\n'
    b'[parts.v]\nbars = 8\nstops = "1.1 2.1"\ntimekeeper = ["ride", "china"]\nriff = "x--x--x-x---"\nkick = "follow"\n'
    b"[parts.v.tempo]\n[grooves.own]\ntab = '''\nHH x-x-x-x-x-x-x-x-\nSN ----O-------O---\nBD o-------o-------\n'''\n",
]
