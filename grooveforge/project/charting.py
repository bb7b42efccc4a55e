"""`chart`: a song sheet, groove file or MIDI file as notation, drum tab and road map."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate
from pathlib import Path
from types import MappingProxyType

from grooveforge import files
from grooveforge.analysis.playability import check
from grooveforge.core.arrange import Arrangement, arrange
from grooveforge.core.inspect import bar_facts
from grooveforge.core.kit import SURFACE_NAMES
from grooveforge.core.loop import DEFAULT_TEMPO
from grooveforge.core.perform import Performance, perform
from grooveforge.core.profile import DEFAULT_PROFILE, Profile
from grooveforge.core.score import Score, song_score, with_sticking
from grooveforge.core.song import FLAT_LEVELS, Entry, Settings, Song
from grooveforge.core.words import many
from grooveforge.errors import FormatError, GrooveForgeError, UsageError
from grooveforge.formats.chart_html import (
    PAGE_HEIGHT,
    PAGE_WIDTH,
    document,
    key_html,
    notation_html,
    road_map_section,
    tab_html,
)
from grooveforge.formats.chart_tab import song_tab
from grooveforge.formats.drums_groove import grooves_of
from grooveforge.formats.drums_read import read_drums
from grooveforge.formats.engrave import PageSize, engraved, stacked
from grooveforge.formats.engrave_key import key_cells
from grooveforge.formats.groovefile import GrooveFile, read_groove_file
from grooveforge.formats.keymap import GM, KeyMap
from grooveforge.formats.musicxml import musicxml
from grooveforge.formats.part_performance import performance_of
from grooveforge.formats.roadmap import RoadRow, clock, road_map_text, road_rows, score_rows
from grooveforge.formats.score_drums import part_score
from grooveforge.formats.smf_read import read_smf
from grooveforge.project.checking import performance_to_check
from grooveforge.project.inspecting import GROOVE, MIDI, kind_of
from grooveforge.project.named import DRUMMERS
from grooveforge.project.sheets import Sheet, arranged, folder_of, sheet_from, stem_of

TXT, MUSICXML, SVG, HTML = "txt", "musicxml", "svg", "html"
KINDS = (TXT, MUSICXML, SVG, HTML)


@dataclass(frozen=True)
class Charted:
    """A chart: its bytes, how many bars it has, and what reading the input had to say."""

    data: bytes
    bars: int
    warnings: tuple[str, ...] = ()

    @property
    def in_words(self) -> str:
        return many(self.bars, "bar")


@dataclass(frozen=True)
class Source:
    """What there is to draw: the score, a row of the road map for each section, and a line under its title."""

    score: Score
    rows: tuple[RoadRow, ...]
    under: str
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    performance: Performance | None = None
    profile: Profile | None = None

    def stuck(self) -> Source:
        """The same with the sticking of the check: which limb of the drummer plays each stroke."""
        if self.performance is None or self.profile is None:
            return self
        limbs = check(self.performance, self.profile, remedies=False).sticking
        starts = list(accumulate((bar.meter.whole for bar in self.score.bars), initial=Fraction(0)))
        wholes = 4 * self.performance.division
        rows = zip(limbs.tick.tolist(), limbs.bar.tolist(), limbs.surface.tolist(), limbs.limb.tolist())
        strokes = (
            (bar, Fraction(tick, wholes) - starts[bar - 1], SURFACE_NAMES[code], "RL"[limb % 2])
            for tick, bar, code, limb in rows
        )
        return replace(self, score=with_sticking(self.score, strokes))


def kind_of_file(path: Path | str) -> str:
    """The kind of chart that a file's ending asks for; text for standard output.

    Raises
    ------
    UsageError
        When it is none.
    """
    if str(path) == files.STANDARD_STREAM:
        return TXT
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


def road_map_html(source: str, channel: int | None = None) -> str:
    """The road map of an input as a page of HTML that prints on one sheet of A4.

    Parameters
    ----------
    source : a path, or "-" for standard input. channel : the drums' of a MIDI file, from 1; None finds it.

    Raises
    ------
    GrooveForgeError
        When the input cannot be read or has no bars.
    """
    found = read_source(files.read_bytes(source), source, channel)
    return road_map_page(found)


def road_map_page(source: Source) -> str:
    """As `road_map_html`, for what was read."""
    return document(source.score.title, [_road_map(source)])


def drawn(source: Source, kind: str, sticking: bool = False) -> bytes:
    """The chart of what was read: "txt", "musicxml", "svg" or "html"."""
    return _MAKERS[kind](source, sticking)


def charted(
    source: str, kind: str, sticking: bool = False, channel: int | None = None, key_map: KeyMap = GM
) -> Charted:
    """As `chart`, with what there is to say about it; `channel` (from 1) and `key_map` are a MIDI file's."""
    if kind not in KINDS:
        raise UsageError("no such kind of chart", found=repr(kind), allowed=", ".join(KINDS))
    found = read_source(files.read_bytes(source), source, channel, key_map)
    if sticking:
        found = found.stuck()
    return Charted(drawn(found, kind, sticking), len(found.score.bars), found.warnings)


def sheet_source(sheet: Sheet, arrangement: Arrangement | None = None) -> Source:
    """The score of a sheet that was read; `arrangement` is the sheet's, where it is known."""
    try:
        return _of_arrangement(arrangement or arranged(sheet), sheet.profile, sheet.warnings)
    except GrooveForgeError as error:
        raise error.in_file(sheet.path) from error


def read_source(data: bytes, source: str, channel: int | None = None, key_map: KeyMap = GM) -> Source:
    """The score of an input's bytes; `source` names it in errors."""
    kind = kind_of(data, source)
    try:
        if kind == MIDI:
            found = _of_midi(data, source, channel, key_map)
        elif kind == GROOVE:
            found = _of_groove(read_groove_file(files.decode(data)), source)
        else:
            found = sheet_source(sheet_from(data, source))
        if not found.score.bars:
            raise FormatError("there is nothing to chart", found="no bars")
    except GrooveForgeError as error:
        raise error.in_file(source) from error
    return found


def _of_arrangement(arrangement: Arrangement, profile: Profile, warnings: tuple[str, ...] = ()) -> Source:
    under = f"{many(arrangement.bars, 'bar')}, {clock(arrangement.seconds)}"
    score = song_score(arrangement, perform(arrangement))
    rows = tuple(road_rows(arrangement))
    return Source(score, rows, under, arrangement.notes, warnings, performance_to_check(arrangement), profile)


def _of_midi(data: bytes, source: str, channel: int | None, key_map: KeyMap) -> Source:
    file = read_smf(data)
    part = read_drums(file, channel, key_map)
    score = part_score(part, file, Path(stem_of(source)).stem)
    facts = tuple(row for run in grooves_of(part) for row in bar_facts(run.groove))
    rows = tuple(score_rows(score, facts))
    profile = DRUMMERS.beside(folder_of(source))(DEFAULT_PROFILE)
    warnings = (*key_map.remarks, *part.warnings)
    return Source(score, rows, many(len(score.bars), "bar"), (), warnings, performance_of(part), profile)


def _of_groove(file: GrooveFile, source: str) -> Source:
    groove = file.groove
    name = file.name or stem_of(source)
    settings = Settings(groove=name, bars=groove.bars, meter=groove.meter, arrival=False, levels=FLAT_LEVELS)
    tempo = Fraction(round(file.middle_tempo or DEFAULT_TEMPO))
    song = Song(name, (Entry(name),), {name: settings}, {name: groove}, tempo=tempo, meter=groove.meter)
    return _of_arrangement(arrange(song), DRUMMERS.beside(folder_of(source))(file.profile or DEFAULT_PROFILE))


# -- one function a kind ---------------------------------------------------------------------------------


def _musicxml(source: Source, sticking: bool) -> bytes:
    return musicxml(source.score, sticking)


def _txt(source: Source, sticking: bool) -> bytes:
    head = f"{source.score.title}: {source.under}"
    road = road_map_text(head, source.rows, source.notes)
    return f"{road}\n{song_tab(source.score, sticking)}".encode()


def _svg(source: Source, sticking: bool) -> bytes:
    score = source.score
    pages = engraved(score, PageSize(PAGE_WIDTH), sticking)
    return stacked(pages, key_cells(score, sticking), score.title).encode()


def _road_map(source: Source) -> str:
    return road_map_section(source.score.title, source.rows, source.under, source.notes)


def _html(source: Source, sticking: bool) -> bytes:
    score = source.score
    pages = engraved(score, PageSize(PAGE_WIDTH, PAGE_HEIGHT), sticking)
    last = f"<section>{key_html(key_cells(score, sticking))}{tab_html(song_tab(score, sticking))}</section>\n"
    road = _road_map(source)
    return document(score.title, [road, notation_html(score.title, pages), last]).encode()


def chart_without_pictures(source: Source) -> bytes:
    """Road map and drum tab of what was read as a page of HTML, for want of the library that engraves."""
    tab = f"<section>{tab_html(song_tab(source.score, False))}</section>\n"
    return document(source.score.title, [_road_map(source), tab]).encode()


_MAKERS: Mapping[str, Callable[[Source, bool], bytes]] = MappingProxyType(
    {TXT: _txt, MUSICXML: _musicxml, SVG: _svg, HTML: _html}
)
