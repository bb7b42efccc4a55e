"""A score as pictures: SVG pages engraved by verovio from the MusicXML.

verovio (extra "chart") reads the file as it is; what it draws badly is said to it in another way here: the open
hi-hat as an open string, the half-open one as a fingering in brackets, some noteheads by their SMuFL names. A bar
played as the one before it is shown as a repeat sign with its count; the MusicXML keeps its strokes.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from xml.etree.ElementTree import Element, tostring

from grooveforge.core.score import Score
from grooveforge.errors import UsageError
from grooveforge.formats.musicxml import score_element
from grooveforge.formats.xml_text import node, plain_text

TITLE_HEIGHT, GAP = 100, 40
KEY_CELL, KEY_ROW, KEY_COLUMNS = 215, 165, 8
"""Of a picture that is one file, in tenths of a millimetre."""

SERIF = "Times New Roman, Liberation Serif, Tinos, Times, serif"
X_HEIGHT = 0.42
"""Height of small letters to size of type, a little under that of Times (0.45), by which verovio measures its boxes:
whatever font a machine has instead is drawn so small that it fits."""

_SILENT_BAR = re.compile(r"(<m(?:Rpt|Rest)[^>]*/>\s*</layer>)")
_EMPTY_VERSE = (
    r'\1<layer n="2"><note dur="1" loc="1" visible="false"><verse n="1"><syl>&#160;</syl></verse></note></layer>'
)
"""An unseen note with an empty verse: before a bar without any, verovio moves the last letter off its note."""

_VIEW = re.compile(r'viewBox="0 0 (\d+) (\d+)"')

MOST_BARS = 2000
"""More bars than this are no page that anyone reads, and take minutes to engrave."""

TRIANGLE, STAND_IN = "isotriangle", "E0B9"
TRIANGLE_PATH = "M0 -125 L300 -125 L150 135 Z"
"""A triangular notehead has a name in verovio and no glyph in its fonts (asking for one that is not there ends the
process). Another head that no surface has (SMuFL 1.4: noteheadSquareBlack) stands in for it, and is then drawn as a
triangle, in thousandths of the staff's height."""

_STAND_IN = re.compile(rf'(<g id="{STAND_IN}-[^"]*">\s*<path transform="scale\(1,-1\)" d=")[^"]*')


@dataclass(frozen=True)
class PageSize:
    """Width and height of the engraving in tenths of a millimetre; a height of 0 fits the music on one page."""

    width: int = 1800
    height: int = 0


def engraved(score: Score, size: PageSize, sticking: bool = False) -> list[str]:
    """The score as SVG, a picture a page.

    Raises
    ------
    UsageError
        When verovio is not installed, or the score is longer than `MOST_BARS`.
    """
    if len(score.bars) > MOST_BARS:
        found = f"{len(score.bars)} bars are too many for a picture"
        raise UsageError(found, allowed=f"at most {MOST_BARS}", hint="a .musicxml file")
    tree = score_element(score, sticking)
    for_verovio(tree)
    return rendered(tostring(tree, encoding="unicode"), size)


def rendered(xml: str, size: PageSize) -> list[str]:
    """MusicXML as SVG pages."""
    try:
        import verovio
    except ImportError as error:
        raise UsageError(
            "pictures need the library verovio", hint='pip install "grooveforge[chart]", or a .musicxml file'
        ) from error
    verovio.enableLog(verovio.LOG_OFF)
    # verovio knows the place of its fonts only in the thread that imported it; the page's server has many.
    verovio.setDefaultResourcePath(str(Path(verovio.__file__).parent / "data"))
    toolkit = verovio.toolkit()
    toolkit.setOptions(
        {
            "pageWidth": size.width,
            "pageHeight": size.height or 60_000,
            "adjustPageHeight": size.height == 0,
            "scale": 100,
            "pageMarginLeft": 40,
            "pageMarginRight": 10,
            "pageMarginTop": 40,
            "pageMarginBottom": 0,
            "breaks": "smart",
            "breaksSmartSb": 0.3,
            "fingeringScale": 0.55,
            "header": "none",
            "footer": "none",
            "svgViewBox": True,
            "unit": 8.0,
            "spacingSystem": 8,
            "spacingStaff": 8,
            "xmlIdSeed": 1,
            "font": "Bravura",
            "mnumInterval": 0,
        }
    )
    if not toolkit.loadData(xml):
        raise UsageError("verovio could not read the score")
    mei = toolkit.getMEI()
    mei = mei.replace(f'head.shape="{TRIANGLE}"', f'head.shape="U+{STAND_IN}"')
    if "<verse" in mei:
        mei = _SILENT_BAR.sub(_EMPTY_VERSE, mei)
    toolkit.loadData(mei)
    pages = (toolkit.renderToSVG(page) for page in range(1, toolkit.getPageCount() + 1))
    return [_STAND_IN.sub(rf"\g<1>{TRIANGLE_PATH}", page) for page in pages]


def stacked(pictures: Sequence[str], key: Iterable[tuple[str, str, str]], title: str) -> str:
    """Pictures below one another as one SVG, under a title and a key.

    Parameters
    ----------
    key : (name, words, picture) of each cell; of one without a picture name and words are a line of their own.
    """
    cells = list(key)
    inside = [_label(title, (40, 70), 60)]
    top = TITLE_HEIGHT
    drawn = [(name, picture) for name, _, picture in cells if picture]
    for number, (name, picture) in enumerate(drawn):
        row, column = divmod(number, KEY_COLUMNS)
        left, upper = 40 + column * KEY_CELL, top + row * KEY_ROW
        inside.append(_nested(picture, (left + 40, upper), 0.6))
        inside.append(_label(name, (left + KEY_CELL // 2, upper + KEY_ROW - 30), 26, "middle"))
    top += KEY_ROW * -(-len(drawn) // KEY_COLUMNS)
    for name, words, picture in cells:
        if not picture:
            inside.append(_label(f"{name}: {words}", (40, top + 30), 26))
            top += GAP
    for picture in pictures:
        inside.append(_nested(picture, (0, top), 1.0))
        top += _size(picture)[1] + GAP
    width = max((_size(picture)[0] for picture in pictures), default=TITLE_HEIGHT)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {top}" '
        f'font-family="{SERIF}" style="font-size-adjust: {X_HEIGHT}">\n'
        "<style>tspan[font-family] { font-size-adjust: none; }</style>"
        '<rect width="100%" height="100%" fill="white"/>\n' + "\n".join(inside) + "\n</svg>\n"
    )


def _label(text: str, place: tuple[int, int], size: int, anchor: str = "start") -> str:
    where = f'x="{place[0]}" y="{place[1]}" font-size="{size}" text-anchor="{anchor}"'
    return f"<text {where}>{escape(plain_text(text))}</text>"


def _size(picture: str) -> tuple[int, int]:
    found = _VIEW.search(picture)
    return (int(found[1]), int(found[2])) if found else (0, 0)


def _nested(picture: str, corner: tuple[int, int], scale: float) -> str:
    """A picture as part of another one."""
    width, height = (scale * side for side in _size(picture))
    rest = picture[picture.index("viewBox") :]
    return f'<svg x="{corner[0]}" y="{corner[1]}" width="{width:g}" height="{height:g}" {rest}'


def for_verovio(tree: Element) -> None:
    """Change a MusicXML tree so that verovio draws what it means."""
    for credit in tree.findall("credit"):
        tree.remove(credit)
    for name in tree.iter("part-name"):
        name.text = ""
    for technical in tree.iter("technical"):
        for mark in list(technical):
            if mark.tag == "open":
                mark.tag = "open-string"
            elif mark.tag == "half-muted":
                mark.tag, mark.text = "fingering", "(o)"
    for note in tree.iter("note"):
        _as_pitch(note)
    for rehearsal in tree.iter("rehearsal"):
        rehearsal.tag = "words"
        rehearsal.attrib.update({"enclosure": "rectangle", "font-weight": "bold", "font-style": "normal"})
    for measure in tree.iter("measure"):
        _one_accent_a_chord(measure)
    for measure in _repeated(tree):
        voices = [item for item in measure if item.tag in ("note", "backup")]
        length = sum(int(item.findtext("duration", "0")) for item in voices if _counts(item))
        for item in voices:
            measure.remove(item)
        rest = node("note", node("rest", measure="yes"), node("duration", length), node("voice", 1))
        measure.insert(1 + max((at for at, item in enumerate(measure) if item.tag == "attributes"), default=-1), rest)


def _as_pitch(note: Element) -> None:
    """Unpitched heads a step apart are drawn over each other, pitched ones side by side."""
    place = note.find("unpitched")
    if place is not None:
        place.tag = "pitch"
        for part in place:
            part.tag = part.tag.removeprefix("display-")


def _one_accent_a_chord(measure: Element) -> None:
    """Two accented notes of a chord have one accent."""
    seen: set[str] = set()
    for note in measure.iter("note"):
        if note.find("chord") is None:
            seen = set()
        for articulations in note.iter("articulations"):
            for mark in list(articulations):
                if mark.tag in seen:
                    articulations.remove(mark)
                seen.add(mark.tag)


def _counts(item: Element) -> bool:
    """Whether a note of the first voice moves on."""
    return item.tag == "note" and item.find("chord") is None and item.findtext("voice") == "1"


def _repeated(tree: Element) -> Iterator[Element]:
    """The measures shown as repeats."""
    inside = False
    for measure in tree.iter("measure"):
        for mark in measure.iter("measure-repeat"):
            inside = mark.get("type") == "start"
        if inside:
            yield measure
