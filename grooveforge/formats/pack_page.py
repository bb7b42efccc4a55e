"""The first page of a pack: what is in the folder and in what order to use it, as one HTML file with relative links."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from urllib.parse import quote

from grooveforge.formats.pack_style import STYLE
from grooveforge.formats.roadmap import RoadRow
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
    sounds, paper, midi : files. loops : the hardest first. notes : lines of the report.
    back : what to do with an edited file. missing : what could not be made, and why.
    """

    title: str
    under: str
    rows: tuple[RoadRow, ...]
    differing: frozenset[int]
    returns: frozenset[int]
    sounds: tuple[PackFile, ...]
    paper: tuple[PackFile, ...]
    midi: tuple[PackFile, ...]
    loops: tuple[PackLoop, ...]
    notes: tuple[str, ...] = ()
    back: str = ""
    missing: tuple[str, ...] = ()


def pack_html(page: PackPage) -> str:
    """The page as HTML; it needs nothing from outside the folder."""
    body = "\n".join(
        (
            f"<header><h1>{_text(page.title)}</h1><p>{_text(page.under)}</p></header>",
            f'<p class="care" role="note">{_text(CARE)} {_text(EARS)}</p>',
            _section("listen", "Listen", "Once with the chart in hand, then with the click.", _sounds(page.sounds)),
            _section("form", "The song in one look", "", _form(page)),
            _section("practise", "Practise these first", _PRACTICE, _loops(page.loops)) if page.loops else "",
            _section("paper", "Read", "To print, on A4.", _files(page.paper)),
            _section("midi", "Open in your own program", "", _files(page.midi)),
            _section("back", "Play it your way", "", f"<p>{_text(page.back)}</p>") if page.back else "",
            f"<footer>{_text(EARS)}</footer>",
        )
    )
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{_text(page.title)}: for the drummer</title><style>{STYLE}</style></head>"
        f"<body><main>\n{body}\n</main></body></html>\n"
    )


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
    blocks = []
    for number, row in enumerate(page.rows):
        kind = "differs" if number in page.differing else "return" if number in page.returns else "first"
        words = f"{row.bars} &middot; {_text(row.feel)}" if row.feel != "-" else row.bars
        bars = row.last - row.first + 1
        blocks.append(f'<li class="{kind}" style="--bars: {bars}">{_text(row.name)}<span>{words}</span></li>')
    signs = (
        '<p class="signs"><b></b>for the first time<b class="return"></b>as before<b class="differs"></b>comes again '
        "with a difference</p>"
    )
    said = "".join(
        f"<dt><b>{_text(row.name)}</b> <span>{row.bars}</span></dt>"
        f'<dd{"" if number in page.differing else SAME}>{_text(row.words)}</dd>'
        for number, row in enumerate(page.rows)
        if row.words
    )
    notes = "".join(f"<li>{_text(note)}</li>" for note in page.notes)
    listed = f'<ul class="lead">{notes}</ul>' if notes else ""
    return f'<ol class="form">{"".join(blocks)}</ol>{signs}\n<dl style="margin-top:1rem">{said}</dl>{listed}\n'


SAME = ' class="same"'


def _loops(loops: Iterable[PackLoop]) -> str:
    return "".join(
        f'<article class="loop"><h3>{_text(loop.heading)} <span class="where">{_text(loop.where)}</span></h3>'
        f'<pre tabindex="0">{_text(loop.tab.rstrip())}</pre>{_sounds(loop.files, again=True)}</article>\n'
        for loop in loops
    )


def _files(files: Iterable[PackFile]) -> str:
    rows = (
        f'<li><a href="{_link(file)}">{_text(file.name)}</a>'
        f"<span>{_text(file.use)} <small>{file.weight}</small></span></li>"
        for file in files
    )
    return f'<ul class="files">{"".join(rows)}</ul>\n'


def _link(file: PackFile) -> str:
    return escape(quote(file.path))


def _text(text: str) -> str:
    return escape(plain_text(text))
