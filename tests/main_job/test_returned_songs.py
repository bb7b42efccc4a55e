"""Every demo song out and back: random edits, saved in many ways, are found exactly and stand exactly."""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import pytest

from grooveforge import files
from grooveforge.project import records
from grooveforge.project.library import library_files
from grooveforge.project.merging import Merged, merge
from grooveforge.project.rendering import Rendered, render
from grooveforge.project.sheets import read_sheet
from tests.read_back import Stroke, strokes
from tests.returned_files import edited, through_pretty_midi

SONGS = library_files("songs")


class Out:
    """A demo song in a folder of its own, rendered."""

    def __init__(self, song: Path, folder: Path) -> None:
        for path in song.parent.iterdir():
            if path.is_file():
                shutil.copy(path, folder)
        self.folder, self.path = folder, folder / song.name
        self.made = self.render()
        events = self.made.performance.events
        record = records.record(self.made)
        # The bar of every stroke that was written, by its tick and note.
        rows = zip(record.columns["tick"].tolist(), record.columns["note"].tolist(), record.bar_of_row.tolist())
        self.bars = {(tick, note): bar + 1 for tick, note, bar in rows}
        assert len(self.bars) == len(record) <= events.tick.size

    def render(self) -> Rendered:
        sheet = read_sheet(str(self.path))
        made = render(sheet)
        records.keep(sheet, made)
        return made

    @property
    def data(self) -> bytes:
        return next(iter(self.made.files.values()))

    def back(self, data: bytes) -> Merged:
        path = self.folder / "back.mid"
        files.write_output(path, data, force=True)
        return merge(str(self.path), str(path))


@pytest.mark.parametrize("song", SONGS, ids=lambda path: path.stem)
@pytest.mark.parametrize("ticks", [96, 480, 1000])
def test_saved_again_is_no_change(song: Path, ticks: int, tmp_path: Path) -> None:
    """By mido at another resolution on channel 1, and by pretty_midi: not one bar."""
    out = Out(song, tmp_path)
    again = edited(out.data, lambda hit: [hit], ticks=ticks, channel=1)
    assert out.back(again).bars == ()
    assert out.back(through_pretty_midi(again, tmp_path)).bars == ()
    assert not files.changes_file(out.path).exists()


@pytest.mark.parametrize("song", SONGS, ids=lambda path: path.stem)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_random_edits_are_found_and_kept(song: Path, seed: int, tmp_path: Path) -> None:
    """Strokes taken out, moved, made softer, put in: those bars and no others, and rendered they are the file."""
    out = Out(song, tmp_path)
    chance = random.Random(f"{song.stem} {seed}")
    chosen = set(chance.sample(sorted(set(out.bars.values())), 5))
    touched: set[int] = set()

    def edit(hit: Stroke) -> list[Stroke]:
        bar = out.bars[hit[0], hit[1]]
        if bar not in chosen or chance.random() < 0.7:
            return [hit]
        touched.add(bar)
        tick, note, velocity = hit
        other = 1 + (velocity + 40) % 120
        return chance.choice(([], [(tick + 7, note, velocity)], [(tick, note, other)], [hit, (tick + 35, 56, 77)]))

    back = edited(out.data, edit)
    merged = out.back(back)
    assert {row.bar for row in merged.bars} == touched
    assert merged.conflicts == ()
    assert all(row.in_words for row in merged.bars)
    out.made = out.render()
    assert strokes(out.data) == sorted(set(strokes(back)))
    plain = render(read_sheet(str(out.path)).without_changes)
    assert strokes(next(iter(plain.files.values()))) != strokes(out.data)
