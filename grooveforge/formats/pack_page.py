"""The first page of a pack: what is in the folder and in what order to use it, as one HTML file with relative links."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from urllib.parse import quote

from grooveforge.core.feel_table import feel_word
from grooveforge.formats.pack_style import STYLE
from grooveforge.formats.roadmap import NOTHING, RoadRow
from grooveforge.formats.xml_text import plain_text

CARE = (
    "Start slowly and warm up. Stop when it hurts: hard playing can strain wrists and ankles. What goes beyond that "
    "belongs to a teacher or a physician."
)
EARS = "Check the volume before you press play, on headphones above all, and protect your ears at the kit."


@dataclass(frozen=True)
class PackFile:
    """One file of the folder: its path in it, what it is, what it is for, and its size in bytes."""

    path: str
    name: str
    use: str
    size: int = 0

    @property
    def weight(self) -> str:
        """The size as people read it."""
        return f"{self.size / 1e6:.1f} MB" if self.size >= 100_000 else f"{max(1, round(self.size / 1000))} kB"


@dataclass(frozen=True)
class PackLoop:
    """A practice loop: its heading, where it stands, its tab, and a file for each speed."""

    heading: str
    where: str
    tab: str
    files: tuple[PackFile, ...]


@dataclass(frozen=True)
class PackPage:
    """What the page says.

    Parameters
    ----------
    under : lines below the title. rows : of the road map. differing : numbers from 0 of rows that change something
        against their part's first statement; returns : of all rows that come again.
    sounds, paper, midi : files; sections : a MIDI file each. loops : the hardest first. notes : lines of the report.
    back : what to do with an edited file, and the command that takes it back.
    """

    title: str
    under: str
    rows: tuple[RoadRow, ...]
    differing: frozenset[int]
    returns: frozenset[int]
    sounds: tuple[PackFile, ...]
    paper: tuple[PackFile, ...]
    midi: tuple[PackFile, ...]
    sections: tuple[PackFile, ...]
    loops: tuple[PackLoop, ...] = ()
    notes: tuple[str, ...] = ()
    back: tuple[str, str] | None = None


def pack_html(page: PackPage) -> str:
    """The page as HTML; it needs nothing from outside the folder."""
    body = "\n".join(
        (
            f"<header><h1>{_text(page.title)}</h1><p>{_text(page.under)}</p></header>",
            f'<p class="care" role="note">{_text(CARE)} {_text(EARS)}</p>',
            _section("listen", "Listen", _LISTEN, _sounds(page.sounds)) if page.sounds else "",
            _section("form", "The song in one look", "", _form(page)),
            _section("practise", "Practise these first", _PRACTICE, _loops(page.loops)) if page.loops else "",
            _section("paper", "Read", "To print, on A4.", _files(page.paper)),
            _section("midi", "Open in your own program", "", _files(page.midi, page.sections)),
            _section("back", "Play it your way", "", _back(page)) if page.back else "",
            f"<footer>{_text(EARS)}</footer>",
        )
    )
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{_text(page.title)}: for the drummer</title><style>{STYLE}</style></head>"
        f"<body><main>\n{body}\n</main></body></html>\n"
    )


_LISTEN = "Once with the chart in hand, then with the click."

_PRACTICE = (
    "The hardest bars of the song, each with the bar that leads into it. Every round is one bar of click, then four "
    "times through; it starts again by itself. Go faster only when a speed is easy."
)


def _section(name: str, heading: str, lead: str, inside: str) -> str:
    said = f'<p class="lead">{_text(lead)}</p>' if lead else ""
    head = f'<h2 id="{name}-h">{_text(heading)}</h2>{said}'
    return f'<section id="{name}" aria-labelledby="{name}-h">{head}\n{inside}</section>'


def _sounds(files: Sequence[PackFile], again: bool = False) -> str:
    loop = " loop" if again else ""
    players = (
        f'<figure><figcaption><a href="{_link(file)}">{_text(file.name)}</a> <small>{file.weight}</small>'
        f"{_use(file)}</figcaption>"
        f'<audio controls{loop} preload="none" src="{_link(file)}" aria-label="{_text(file.name)}"></audio></figure>'
        for file in files
    )
    return f'<div class="sound">{"".join(players)}</div>\n'


def _use(file: PackFile) -> str:
    return f"<br><small>{_text(file.use)}</small>" if file.use else ""


def _form(page: PackPage) -> str:
    """The sections one below the other: a strip as long as the section, with a line at every fourth bar."""
    longest = max((row.last - row.first + 1 for row in page.rows), default=1)
    rows = []
    for number, row in enumerate(page.rows):
        kind = "differs" if number in page.differing else "return" if number in page.returns else "first"
        bars = row.last - row.first + 1
        facts = ", ".join(fact for fact in (feel_word(row.feel), row.hand) if fact != NOTHING)
        words = f"<p>{_text(row.words)}</p>" if row.words else ""
        size = f"--bars: {bars}; --part: {100 * bars / longest:.3g}%"
        rows.append(
            f'<li class="{kind}"><b>{_text(row.name)}</b> <span class="bars">{row.bars}</span>'
            f'<div><i style="{size}"></i><span>{_text(facts)}</span>{words}</div></li>'
        )
    notes = "".join(f"<li>{_text(note)}</li>" for note in page.notes)
    listed = f'<ul class="notes">{notes}</ul>' if notes else ""
    return f'{_SIGNS}<ol class="form">{"".join(rows)}</ol>{listed}\n'


_SIGNS = (
    '<p class="signs"><i></i>for the first time <i class="return"></i>as before <i class="differs"></i>again, with a '
    "difference</p>\n"
)


def _loops(loops: Iterable[PackLoop]) -> str:
    return "".join(
        f'<article class="loop"><h3>{_text(loop.heading)} <span class="where">{_text(loop.where)}</span></h3>'
        f'<pre tabindex="0">{_text(loop.tab.rstrip())}</pre>{_sounds(loop.files, again=True)}</article>\n'
        for loop in loops
    )


def _files(files: Iterable[PackFile], sections: Sequence[PackFile] = ()) -> str:
    rows = [
        f'<li><a href="{_link(file)}">{_text(file.name)}</a>'
        f"<span>{_text(file.use)} <small>{file.weight}</small></span></li>"
        for file in files
    ]
    if sections:
        links = ", ".join(f'<a href="{_link(file)}">{_text(file.name)}</a>' for file in sections)
        rows.append(f"<li><em>The sections</em><span>{links}</span></li>")
    return f'<ul class="files">{"".join(rows)}</ul>\n'


def _back(page: PackPage) -> str:
    words, command = page.back or ("", "")
    return f"<p>{_text(words)}</p><pre>{_text(command)}</pre>\n"


def _link(file: PackFile) -> str:
    return escape(quote(file.path))


def _text(text: str) -> str:
    return escape(plain_text(text))
