"""`chart`: a song sheet, groove file or MIDI file as notation, drum tab and road map."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from types import MappingProxyType

from grooveforge import files
from grooveforge.core.arrange import Arrangement, arrange
from grooveforge.core.perform import perform
from grooveforge.core.score import Score, song_score
from grooveforge.core.song import FLAT_LEVELS, Entry, Settings, Song
from grooveforge.errors import FormatError, GrooveForgeError, UsageError
from grooveforge.formats.drums_read import read_drums
from grooveforge.formats.groovefile import GrooveFile, read_groove_file
from grooveforge.formats.musicxml import musicxml
from grooveforge.formats.score_drums import part_score
from grooveforge.formats.smf_read import read_smf
from grooveforge.project.inspecting import GROOVE, MIDI, kind_of
from grooveforge.project.sheets import arranged, sheet_from, stem_of

TXT, MUSICXML, SVG, HTML = "txt", "musicxml", "svg", "html"
KINDS = (TXT, MUSICXML, SVG, HTML)

DEFAULT_TEMPO = Fraction(120)


@dataclass(frozen=True)
class Charted:
    """A chart: its bytes, how many bars it has, and what reading the input had to say."""

    data: bytes
    bars: int
    warnings: tuple[str, ...] = ()

    @property
    def in_words(self) -> str:
        return f"{self.bars} bar" + ("" if self.bars == 1 else "s")


@dataclass(frozen=True)
class Source:
    """What there is to draw: the score, and the arrangement where the input is a song sheet."""

    score: Score
    arrangement: Arrangement | None = None
    warnings: tuple[str, ...] = ()


def kind_of_file(path: Path | str) -> str:
    """The kind of chart that a file's ending asks for.

    Raises
    ------
    UsageError
        When it is none.
    """
    kind = Path(path).suffix.removeprefix(".").lower()
    if kind not in KINDS:
        raise UsageError(
            "the ending of the file says which chart to write",
            found=repr(Path(path).suffix or str(path)),
            allowed=", ".join(f".{kind}" for kind in KINDS),
        )
    return kind


def chart(source: str, kind: str, sticking: bool = False) -> str | bytes:
    """The chart of an input: bytes of a MusicXML file, text for the other kinds.

    Parameters
    ----------
    source : a path, or "-" for standard input. kind : "txt", "musicxml", "svg" or "html".
    sticking : whether R and L stand under the hands' notes.

    Raises
    ------
    GrooveForgeError
        When the input cannot be read or has no bars, or pictures are wanted and their library is missing.
    """
    data = charted(source, kind, sticking).data
    return data if kind == MUSICXML else data.decode()


def charted(source: str, kind: str, sticking: bool = False, channel: int | None = None) -> Charted:
    """As `chart`, with what there is to say about it. `channel` is the drums' of a MIDI file, from 1."""
    if kind not in KINDS:
        raise UsageError("no such kind of chart", found=repr(kind), allowed=", ".join(KINDS))
    found = read_source(files.read_bytes(source), source, channel)
    return Charted(_MAKERS[kind](found, sticking), len(found.score.bars), found.warnings)


def read_source(data: bytes, source: str, channel: int | None = None) -> Source:
    """The score of an input's bytes; `source` names it in errors."""
    kind = kind_of(data, source)
    try:
        if kind == MIDI:
            found = _of_midi(data, source, channel)
        elif kind == GROOVE:
            found = _of_groove(read_groove_file(files.decode(data)), source)
        else:
            sheet = sheet_from(data, source)
            arrangement = arranged(sheet)
            found = Source(song_score(arrangement, perform(arrangement)), arrangement, sheet.warnings)
        if not found.score.bars:
            raise FormatError("there is nothing to chart", found="no bars")
    except GrooveForgeError as error:
        raise error.in_file(source) from error
    return found


def _of_midi(data: bytes, source: str, channel: int | None) -> Source:
    file = read_smf(data)
    part = read_drums(file, channel)
    title = Path(stem_of(source)).stem
    return Source(part_score(part, file, title), None, tuple(part.warnings))


def _of_groove(file: GrooveFile, source: str) -> Source:
    groove = file.groove
    name = file.name or stem_of(source)
    settings = Settings(groove=name, bars=groove.bars, meter=groove.meter, arrival=False, levels=FLAT_LEVELS)
    tempo = DEFAULT_TEMPO if file.tempo is None else Fraction(round(sum(file.tempo) / 2))
    song = Song(name, (Entry(name),), {name: settings}, {name: groove}, tempo=tempo, meter=groove.meter)
    arrangement = arrange(song)
    return Source(song_score(arrangement, perform(arrangement)), arrangement)


def _musicxml(source: Source, sticking: bool) -> bytes:
    return musicxml(source.score, sticking)


_MAKERS: Mapping[str, Callable[[Source, bool], bytes]] = MappingProxyType({MUSICXML: _musicxml})
