"""Checking the five-minute song beside mido building and saving it; the library and real drum parts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from grooveforge.analysis.limits import possible
from grooveforge.analysis.playability import check
from grooveforge.core.arrange import arrange
from grooveforge.core.perform import Performance
from grooveforge.core.profile import EXPERIENCED
from grooveforge.core.song import Song
from grooveforge.errors import GrooveForgeError
from grooveforge.formats.drums_read import read_drums
from grooveforge.formats.part_performance import performance_of
from grooveforge.formats.smf_read import read_smf
from grooveforge.project.checking import performance_to_check
from grooveforge.project.sheets import song_from
from tests.benchmarks.render_song import SHEET, by_mido, notes_of, to_bytes
from tests.benchmarks.timing import Row, best
from tests.corpora import freedoom_midis

CANDIDATES = 10_000
SURFACES = ("kick", "snare", "closed hi-hat", "crash", "floor tom")
BARS = 8


def checked(song: Song) -> object:
    """From the song to findings, sticking, loads."""
    return check(performance_to_check(arrange(song)), EXPERIENCED)


def loosened(performance: Performance) -> Performance:
    """The same strokes with every tick moved a little, so that no bar is like another."""
    events = performance.events
    moved = np.maximum(events.tick + np.random.default_rng(1).integers(-3, 4, len(performance)), 0)
    order = np.argsort(moved, kind="stable")
    return replace(performance, events=events._replace(tick=moved).rows(order))


def share_with_findings() -> tuple[int, int]:
    """Bars with findings, and bars, of the drum parts of freedoom."""
    wrong = total = 0
    for data in freedoom_midis().values():
        try:
            part = read_drums(read_smf(data))
        except GrooveForgeError:
            continue  # no drums in it
        found = check(performance_of(part), EXPERIENCED, remedies=False)
        wrong, total = wrong + len(found.bars_with_findings), total + found.bars
    return wrong, total


def rows() -> Iterator[Row]:
    song = song_from(SHEET, "five-minutes.toml")
    notes = notes_of(to_bytes(song))
    theirs = best(lambda: by_mido(notes, 300000))
    ours = best(lambda: checked(song))
    yield Row("check of 12,000 note events", ours, "mido build and save", theirs, goal=4)
    ten = replace(song, form=song.form * 10)
    yield Row("check of ten times the song", best(lambda: checked(ten), 3), "once the song", ours, goal=12)
    loose = loosened(performance_to_check(arrange(song)))
    yield Row("check of it with no bar like another", best(lambda: check(loose, EXPERIENCED), 3), "mido", theirs)
    draw = np.random.default_rng(2)
    many = (draw.random((CANDIDATES, len(SURFACES), 16 * BARS)) < 0.08).astype(np.uint8)
    quick = best(lambda: possible(many, SURFACES, 0.1, EXPERIENCED), 3)
    yield Row("necessary limits of 10,000 sections of 8 bars", quick, "mido", theirs, goal=20)
    wrong, total = share_with_findings()
    if total:
        yield Row("bars of freedoom with findings", wrong, "all bars", total, unit="bars")
