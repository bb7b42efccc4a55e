"""Alternatives for a return and plans for a song, beside mido building and saving a five-minute song (M)."""

from __future__ import annotations

from collections.abc import Iterator

from grooveforge.project.options import options
from grooveforge.project.planning import plan
from grooveforge.project.sheets import Sheet, sheet_from, song_from
from tests.benchmarks.render_song import SHEET as FIVE_MINUTES
from tests.benchmarks.render_song import by_mido, notes_of, to_bytes
from tests.benchmarks.timing import Row, best

NINE = """
title = "Nine Sections"
tempo = 150
form = [
  "intro", "verse", "chorus", "verse", "chorus", "bridge", "verse",
  {{ part = "chorus", timekeeper = ["ride bell", "crash"] }}, {{ part = "chorus", name = "last chorus" }},
]

[parts.intro]
groove = "floor tom build"
bars = {four}
[parts.verse]
groove = "driving eighths"
bars = {eight}
fill = "1 beat"
[parts.chorus]
groove = "ride bell quarters"
bars = {eight}
ending = true
[parts.bridge]
groove = "half-time hats"
bars = {eight}
"""

CANDIDATES = 10_000


def song(times: int) -> Sheet:
    """A song of nine sections, each so many times as long; the usual one has eight bars a section."""
    return sheet_from(NINE.format(four=4 * times, eight=8 * times).encode(), "nine.toml")


def rows() -> Iterator[Row]:
    notes = notes_of(to_bytes(song_from(FIVE_MINUTES, "five-minutes.toml")))
    saved = best(lambda: by_mido(notes, 300000))
    once, longer = song(1), song(4)
    found = options(once, "last chorus", "large")
    assert len(found.options) == 5
    assert found.considered >= CANDIDATES, found.considered
    ours = best(lambda: options(once, "last chorus", "large"), 5)
    yield Row(f"{found.considered:,} candidates of 8 bars, five proven", ours, "mido build and save", saved, goal=40)
    yield Row("options, song four times as long", best(lambda: options(longer, "last chorus", "large"), 3), "once",
              ours, goal=5)  # fmt: skip
    plans = best(lambda: plan(once), 3)
    assert len(plan(once).plans) == 3
    yield Row("plan of nine sections", plans, "mido build and save", saved, goal=100)
    yield Row("plan, song four times as long", best(lambda: plan(longer), 2), "once", plans, goal=5)
