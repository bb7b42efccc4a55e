"""Two readers that are not ours read the charts: verovio and music21."""

from __future__ import annotations

from collections import Counter
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest
from lxml import etree

from grooveforge.core.score import Score
from grooveforge.formats.notation import place_of
from grooveforge.project.charting import chart, read_source
from tests.charts import SONGS

Place = tuple[int, int, str]
"""(bar, steps above the lowest line, notehead)"""

MEI = "{http://www.music-encoding.org/ns/mei}"
HEADS = {"isotriangle": "triangle", "U+E0B3": "circle-x"}
"""What verovio calls the noteheads that it renames."""

LOWEST = 30
"""E4, the lowest line, in steps above C0."""


@lru_cache(maxsize=8)
def score_of(path: Path) -> Score:
    return read_source(path.read_bytes(), str(path)).score


def expected(path: Path) -> Counter[Place]:
    """The strokes of a song by bar, place and notehead, grace notes counted."""
    counts: Counter[Place] = Counter()
    for bar in score_of(path).bars:
        for hit in bar.hits:
            place = place_of(hit.surface)
            counts[bar.number, place.height - LOWEST, place.head] += 1 + hit.graces
    return counts


def meters_of(path: Path) -> list[tuple[int, str]]:
    """(bar, metre) of every change."""
    found: list[tuple[int, str]] = []
    for bar in score_of(path).bars:
        if not found or found[-1][1] != str(bar.meter):
            found.append((bar.number, str(bar.meter)))
    return found


@pytest.mark.parametrize("path", SONGS, ids=lambda path: path.stem)
def test_verovio_reads_every_stroke(path: Path) -> None:
    """verovio's own form of the score: bars, metres, strokes by place; a repeat sign stands for the bar before it."""
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    data = chart(str(path), "musicxml")
    assert isinstance(data, bytes) and toolkit.loadData(data.decode())
    root = etree.fromstring(toolkit.getMEI().encode())
    measures = list(root.iter(f"{MEI}measure"))
    assert [int(measure.get("n")) for measure in measures] == [bar.number for bar in score_of(path).bars]
    counts: Counter[Place] = Counter()
    before: Counter[tuple[int, str]] = Counter()
    for measure in measures:
        if next(measure.iter(f"{MEI}mRpt"), None) is None:
            before = Counter(_verovio_place(note) for note in measure.iter(f"{MEI}note"))
        counts.update({(int(measure.get("n")), *place): count for place, count in before.items()})
    assert counts == expected(path)
    assert _verovio_meters(root) == [metre for _, metre in meters_of(path)]


def _verovio_place(note: Any) -> tuple[int, str]:
    head = note.get("head.shape", "normal")
    return int(note.get("loc")), HEADS.get(head, head)


def _verovio_meters(root: Any) -> list[str]:
    found: list[str] = []
    for sign in root.iter(f"{MEI}meterSig"):
        metre = f"{sign.get('count')}/{sign.get('unit')}"
        if found[-1:] != [metre]:
            found.append(metre)
    return found


@pytest.mark.parametrize("path", SONGS, ids=lambda path: path.stem)
def test_music21_reads_every_stroke(path: Path) -> None:
    """music21: bars, metres, strokes by place, and every measure as long as its metre."""
    from music21 import chord, converter, stream

    data = chart(str(path), "musicxml")
    assert isinstance(data, bytes)
    read: Any = converter.parseData(data.decode(), format="musicxml")
    part = read.parts[0]
    measures = list(part.getElementsByClass(stream.Measure))
    assert [measure.number for measure in measures] == [bar.number for bar in score_of(path).bars]
    counts: Counter[Place] = Counter()
    found: list[tuple[int, str]] = []
    for measure, bar in zip(measures, score_of(path).bars):
        for item in measure.recurse().notes:
            note: Any
            for note in item.notes if isinstance(item, chord.ChordBase) else (item,):
                height = "CDEFGAB".index(note.displayStep) + 7 * note.displayOctave
                counts[measure.number, height - LOWEST, note.notehead] += 1
        if measure.timeSignature is not None:
            found.append((measure.number, measure.timeSignature.ratioString))
        assert measure.duration.quarterLength == float(bar.meter.quarters)
    assert counts == expected(path)
    assert found == meters_of(path)
