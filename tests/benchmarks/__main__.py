"""Print the table of all benchmarks."""

from __future__ import annotations

from tests.benchmarks import load_midi, make_sound, render_song

for module in (render_song, load_midi, make_sound):
    for row in module.rows():
        print(row, flush=True)
