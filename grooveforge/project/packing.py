"""`pack`: everything that a drummer needs to learn a song, in one folder with a first page."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from grooveforge.analysis.playability import Checked
from grooveforge.core.perform import Performance
from grooveforge.core.score import Score
from grooveforge.core.words import many
from grooveforge.errors import UsageError
from grooveforge.files import Data
from grooveforge.formats.chart_tab import song_tab
from grooveforge.formats.differences_text import differences_text
from grooveforge.formats.pack_page import PackFile, PackLoop, PackPage, pack_html
from grooveforge.formats.tempo_marks import short_number
from grooveforge.project import pack_sound
from grooveforge.project.charting import HTML, MUSICXML, SVG, TXT, Source, drawn, road_map_page, sheet_source
from grooveforge.project.checking import check_sheet
from grooveforge.project.practice import SPEEDS, Loop, bar_ticks, loop_performance, loops
from grooveforge.project.rendering import Rendered, render
from grooveforge.project.sheets import Sheet

Progress = Callable[[float, str], None]
"""Told the share that is done, 0 to 1, and what is being made."""

INDEX = "index.html"
COUNT_IN = 2
"""Bars of clicks in front of the song where the sheet says none."""


@dataclass(frozen=True)
class Packed:
    """A folder: its files by name, how it was rendered and checked, what could not be made, and the loops."""

    files: Mapping[str, Data]
    rendered: Rendered
    checked: Checked
    loops: tuple[Loop, ...]
    missing: tuple[str, ...] = ()


def pack(sheet: Sheet, progress: Progress | None = None) -> Packed:
    """All files of a song's folder: first page, road map, chart, MIDI, sound, practice loops, differences.

    Parameters
    ----------
    progress : is told how far it is.

    Raises
    ------
    GrooveForgeError
        When the sheet cannot be arranged, or its kit lacks a surface and its stand-ins.
    """
    packer = _Packer(sheet, progress or (lambda share, what: None))
    return packer.packed()


class _Packer:
    def __init__(self, sheet: Sheet, progress: Progress) -> None:
        self.sheet, self.tell, self.stem = sheet, progress, sheet.stem
        self.files: dict[str, Data] = {}
        self.missing: list[str] = []
        self.count_in = sheet.song.count_in or COUNT_IN

    def packed(self) -> Packed:
        self.tell(0.0, "MIDI")
        made = render(self.sheet, sections=True)
        self.performance: Performance = made.performance
        source = sheet_source(self.sheet, made.arrangement)
        checked = check_sheet(self.sheet, arrangement=made.arrangement)
        found = loops(made.arrangement, checked, source.score)
        midi = self._midi(made)
        self.tell(0.05, "chart")
        paper = self._paper(source)
        sounds = self._sounds()
        practice = tuple(self._loop(number, loop, made) for number, loop in enumerate(found, 1))
        page = self._page(source, made, (sounds, paper, *midi), practice)
        self.tell(1.0, "first page")
        files = {INDEX: pack_html(page).encode(), **self.files}
        return Packed(files, made, checked, found, tuple(self.missing))

    def add(self, path: str, data: Data, name: str, use: str = "") -> PackFile:
        """One more file of the folder."""
        self.files[path] = data
        return PackFile(path, name, use, len(data))

    # -- one kind of file after the other ---------------------------------------------------------------

    def _midi(self, made: Rendered) -> tuple[tuple[PackFile, ...], tuple[PackFile, ...]]:
        """The files of the song, and those of its sections."""
        uses = {
            f"{self.stem}.mid": ("The song", "drums, tempo map and markers; the file to change and send back"),
            f"{self.stem}-tempo.mid": ("Tempo map", "tempo, metres and markers without notes"),
            f"{self.stem}-tempo.txt": ("Tempo table", "bar by bar, for a click that is set by hand"),
            f"{self.stem}-click.mid": ("Click", "every beat, the 1 louder"),
            f"{self.stem}-count-in.mid": ("The song behind its count-in", "to record against"),
        }
        listed, sections = [], []
        names = iter(section.name for section in made.arrangement.sections)
        for name, data in made.files.items():
            said = uses.get(name)
            if said:
                listed.append(self.add(f"midi/{name}", data, *said))
            else:
                sections.append(self.add(f"midi/{name}", data, next(names)))
        return tuple(listed), tuple(sections)

    def _paper(self, source: Source) -> tuple[PackFile, ...]:
        stem = self.stem
        page = road_map_page(source).encode()
        road = self.add(f"paper/{stem}-road-map.html", page, "Road map", "the song on one page")
        words = differences_text(source.score.title, [(row.bars, row.name, row.words) for row in source.rows]).encode()
        found = [road]
        for kind, name, use in (
            (HTML, "Chart", "road map, notation, key and drum tab on A4 pages"),
            (SVG, "Notation as a picture", "for a screen"),
            (MUSICXML, "Notation", "for any notation program"),
            (TXT, "Drum tab", "road map and tab as plain text"),
        ):
            try:
                found.append(self.add(f"paper/{stem}-chart.{kind}", drawn(source, kind), name, use))
            except UsageError as error:
                self.missing.append(str(error.faults[0]).replace("\n ", ";"))
        use = "what every return changes, in words"
        found.append(self.add(f"paper/{stem}-differences.txt", words, "Differences", use))
        return tuple(found)

    def _sounds(self) -> tuple[PackFile, ...]:
        try:
            return self._made_sounds()
        except UsageError as error:  # over an hour
            self.missing.append(str(error.faults[0]).replace("\n ", ";"))
            return ()

    def _made_sounds(self) -> tuple[PackFile, ...]:
        stem, made = self.stem, self.performance
        plain = pack_sound.song(made, self._step(0.15, 0.40, "preview"))
        clicked = pack_sound.song(made, self._step(0.40, 0.68, "preview with click"), count_in=self.count_in)
        click = pack_sound.click(made, self._step(0.68, 0.75, "click"), self.count_in)
        behind = f"behind {many(self.count_in, 'bar')} of clicks"
        return (
            self.add(f"sound/{stem}.wav", plain, "The song"),
            self.add(f"sound/{stem}-with-click.wav", clicked, "The song with click", behind),
            self.add(f"sound/{stem}-click.wav", click, "The click alone", f"to play the song to; {behind}"),
        )

    def _step(self, start: float, end: float, what: str) -> Callable[[float], None]:
        return lambda share: self.tell(start + (end - start) * share, what)

    def _loop(self, number: int, loop: Loop, made: Rendered) -> PackLoop:
        lines = bar_ticks(made.arrangement, made.performance.division)
        looped = loop_performance(made.performance, (lines[loop.first - 1], lines[loop.last]))
        bpm = looped.tempos[0][1]
        found = []
        for index, percent in enumerate(SPEEDS):
            share = 0.75 + 0.25 * ((number - 1) * len(SPEEDS) + index) / (3 * len(SPEEDS))
            self.tell(share, f"practice loop {number}")
            data = pack_sound.loop(looped, percent / 100)
            name = f"{percent} %, tempo {short_number(round(bpm * percent / 100, 1))}"
            found.append(self.add(f"practice/loop-{number}-at-{percent}.wav", data, name))
        bars = tuple(replace(bar, section=None, words=(), tempos=()) for bar in loop.bars)
        where = f"{loop.section.name}, {loop.strokes} strokes"
        lead = f", with bar {loop.first} leading in" if loop.first < loop.hardest else ""
        return PackLoop(f"Bar {loop.hardest}{lead}", where, song_tab(Score("", bars)), tuple(found))

    def _page(
        self, source: Source, made: Rendered, files: Sequence[tuple[PackFile, ...]], practice: tuple[PackLoop, ...]
    ) -> PackPage:
        rows = made.arrangement.sections
        returns = frozenset(number for number, row in enumerate(rows) if row.statement > 1)
        differing = frozenset(number for number in returns if rows[number].differences)
        back = (
            f"Change midi/{self.stem}.mid in your own program as you would play it, keep its length and metres, and "
            "send it back. The bars that you changed come into the song stroke by stroke, and nothing else does; the "
            "songwriter runs:"
        )
        command = f"grooveforge merge {self.stem}.toml YOUR-FILE.mid"
        sounds, paper, midi, sections = files
        under = f"{source.under}, tempo {_tempi(made)}, {', '.join(_metres(made))}"
        notes = (*source.notes, *self.missing)
        page = PackPage(source.score.title, under, source.rows, differing, returns, sounds, paper, midi, sections)
        return replace(page, loops=practice, notes=notes, back=(back, command))


def _tempi(made: Rendered) -> str:
    """The tempi of a song, in the order in which they come, each once; of many the range."""
    found = list(dict.fromkeys(short_number(bpm) for _, bpm in made.performance.tempos))
    if len(found) < 4:
        return ", ".join(found)
    bpms = [bpm for _, bpm in made.performance.tempos]
    return f"{short_number(min(bpms))} to {short_number(max(bpms))}"


def _metres(made: Rendered) -> Iterator[str]:
    yield from dict.fromkeys(str(meter) for _, meter in made.performance.meters)
