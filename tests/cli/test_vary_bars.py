"""`vary --bars A-B`: the bars outside are the input's, event by event; read back by mido."""

from __future__ import annotations

import io
import json
from pathlib import Path

import mido
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from tests.cli.conftest import Run
from tests.corpora import FREEDOOM, needed
from tests.drumfiles import CLOSED, KICK, SNARE, all_but_drums, heard, meter, midi, notes_of, tempo, track
from tests.read_back import Stroke, strokes

BAR = 1920
FULL = {CLOSED: "x-x-x-x-x-x-x-x-", SNARE: "----X-------X---", KICK: "X-------X-------"}
CHANGES = [
    ("--feel", "half"), ("--feel", "blast"), ("--timekeeper", "ride"), ("--subdivision", "x2"), ("--kick", "figure")
]  # fmt: skip


def drums(bars: int = 8) -> bytes:
    """So many bars of full time, a bass beside them, tempi and a controller."""
    notes = notes_of({note: line * bars for note, line in FULL.items()})
    extra = [
        (0, meter(4, 4)),
        (0, tempo(140)),
        (3 * BAR + 7, tempo(150)),
        (2 * BAR + 11, mido.Message("control_change", channel=9, control=4, value=70)),
    ]
    return midi(track(notes, end=bars * BAR, extra=extra), track([(0, 40, 90, 5000)], 2, "bass"))


def outside(data: bytes, first: int, last: int) -> list[tuple[int, ...]]:
    """The drum notes before bar `first` and behind bar `last`: tick, note, velocity, duration."""
    return [tuple(row) for row in heard(data) if not (first - 1) * BAR <= row[0] < last * BAR]


@pytest.mark.parametrize("change", CHANGES, ids=" ".join)
@pytest.mark.parametrize(("bars", "first", "last"), [("3-4", 3, 4), ("1-1", 1, 1), ("8", 8, 8), ("6-99", 6, 99)])
def test_bars_outside_are_identical_to_the_tick(
    run: Run, tmp_path: Path, change: tuple[str, str], bars: str, first: int, last: int
) -> None:
    """Ticks, notes, velocities and lengths outside, and everything that is no drum note, also inside."""
    (tmp_path / "drums.mid").write_bytes(drums())
    done = run("vary", tmp_path / "drums.mid", "-o", tmp_path / "out.mid", *change, "--bars", bars)
    assert done.status == 0, done.err
    made = (tmp_path / "out.mid").read_bytes()
    assert outside(made, first, last) == outside(drums(), first, last) != []
    assert all_but_drums(made) == all_but_drums(drums())
    assert heard(made, 2) == heard(drums(), 2)
    if change[0] != "--kick":
        assert heard(made) != heard(drums())


def test_what_is_changed_inside(run: Run, tmp_path: Path) -> None:
    """Half time in bars 3 and 4: one backbeat each, on 3; the report says which bars."""
    (tmp_path / "drums.mid").write_bytes(drums())
    done = run("vary", tmp_path / "drums.mid", "-o", tmp_path / "out.mid", "--feel", "half", "--bars", "3-4")
    assert "in bars 3-4" in done.out
    snare = [row[0] for row in heard((tmp_path / "out.mid").read_bytes()) if row[1] == SNARE]
    assert [tick - 2 * BAR for tick in snare if 2 * BAR <= tick < 4 * BAR] == [960, 960 + BAR]


def test_json_tells_the_feels_of_all_bars(run: Run, tmp_path: Path) -> None:
    """What `inspect` would say of the result, with the change in words."""
    (tmp_path / "drums.mid").write_bytes(drums(4))
    words = ("--feel", "half", "--bars", "2-3", "--json")
    told = json.loads(run("vary", tmp_path / "drums.mid", "-o", tmp_path / "out.mid", *words).out)
    assert [bar["feel"] for bar in told["bars"]] == ["full", "half", "half", "full"]
    assert told["changed"] == "feel half in bars 2-3"


@pytest.mark.parametrize("bars", ["4-3", "0-2", "9-12", "two", "3-", "-3", "", "1-2-3"])
def test_bars_that_are_none(run: Run, tmp_path: Path, bars: str) -> None:
    """Turned round, from 0, behind the end, no numbers: exit status 2, one or two lines, nothing written."""
    (tmp_path / "drums.mid").write_bytes(drums())
    done = run("vary", tmp_path / "drums.mid", "-o", tmp_path / "out.mid", "--feel", "half", f"--bars={bars}")
    assert done.status == 2
    assert 1 <= len(done.err.splitlines()) <= 2
    assert not (tmp_path / "out.mid").exists()


def test_bars_of_a_groove_file(run: Run, tmp_path: Path) -> None:
    """A groove is changed as a whole."""
    done = run(
        "vary", "patterns/grooves/gallop.toml", "-o", tmp_path / "out.toml", "--feel", "half", "--bars", "1-1"
    )
    assert done.status == 2
    assert "a groove file is changed as a whole" in done.err


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_bars_of_real_files(run: Run, tmp_path: Path, data: st.DataObject) -> None:
    """Any bars of any song of the corpus: every message outside is where it was, by mido."""
    files = needed(FREEDOOM)
    name = data.draw(st.sampled_from(sorted(files)))
    (tmp_path / "in.mid").write_bytes(files[name])
    told = run("inspect", tmp_path / "in.mid", "--json")
    assume(told.status == 0)
    bars = json.loads(told.out)["bars"]
    first = data.draw(st.integers(1, max(1, len(bars))))
    last = data.draw(st.integers(first, max(first, len(bars))))
    change = data.draw(st.sampled_from(CHANGES))
    done = run("vary", tmp_path / "in.mid", "-o", tmp_path / "out.mid", *change, "--bars", f"{first}-{last}", "--force")
    assert done.status in (0, 2)
    assume(done.status == 0)  # such as a rate that leaves the grid in all of the bars
    lines = _bar_lines(bars, mido.MidiFile(file=io.BytesIO(files[name])).ticks_per_beat)
    low, high = lines[first - 1], lines[last]
    before, after = (_drum_notes(path.read_bytes()) for path in (tmp_path / "in.mid", tmp_path / "out.mid"))
    assert [row for row in after if not low <= row[0] < high] == [row for row in before if not low <= row[0] < high]


def _bar_lines(bars: list[dict[str, object]], division: int) -> list[float]:
    lines = [0.0]
    for bar in bars:
        upper, lower = (int(figure) for figure in str(bar["meter"]).split("/"))
        lines.append(lines[-1] + 4 * division * upper / lower)
    return lines


def _drum_notes(data: bytes) -> list[Stroke]:
    """Every stroke on channel 10; of doubles the louder."""
    found: dict[tuple[int, int], int] = {}
    for tick, note, velocity in strokes(mido.MidiFile(file=io.BytesIO(data), clip=True), channel=10):
        found[tick, note] = max(velocity, found.get((tick, note), 0))
    return sorted((tick, note, velocity) for (tick, note), velocity in found.items())
