"""Print the table of all benchmarks."""

from __future__ import annotations

from tests.benchmarks import check_song, choose, load_midi, render_song

for module in (render_song, load_midi, check_song, choose):
    for row in module.rows():
        print(row, flush=True)
