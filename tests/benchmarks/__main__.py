"""Print the table of all benchmarks."""

from __future__ import annotations

from tests.benchmarks import check_song, load_midi, page_change, page_paint, render_song

for module in (render_song, load_midi, check_song, page_change, page_paint):
    for row in module.rows():
        print(row, flush=True)
