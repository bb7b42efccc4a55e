"""The main job on whole songs: what the sheet asks for is what the MIDI file holds, read by mido."""

from __future__ import annotations

import io
from collections import Counter
from pathlib import Path
from typing import Any

import mido
import numpy as np
import pretty_midi
import pytest
import symusic

from grooveforge.core.perform import seconds_at
from grooveforge.project.rendering import Rendered, render
from grooveforge.project.sheets import Sheet, song_from
from tests.main_job import sheets
from tests.read_back import of, strokes

TICKS_A_BAR = 1920
KICK, SNARE, HI_HAT, CRASH, RIDE = 36, 38, 42, 49, 51


def rendered(text: str) -> Rendered:
    return render(Sheet("demo.toml", text.encode(), song_from(text, "demo.toml")))


def read(made: Rendered) -> mido.MidiFile:
    return mido.MidiFile(file=io.BytesIO(made.files["demo.mid"]))


def bars(made: Rendered, first: int, last: int, *notes: int) -> list[tuple[int, int]]:
    """(tick from the first bar's line, note) of the strokes of bars `first` to `last`."""
    low, high = (first - 1) * TICKS_A_BAR, last * TICKS_A_BAR
    return [
        (tick - low, note)
        for tick, note, _ in strokes(read(made))
        if low <= tick < high and (not notes or note in notes)
    ]


class TestNinthFerry:
    """132 bpm, seven sections, choruses full, full and double."""

    made = rendered(sheets.NINTH_FERRY)

    def test_form(self) -> None:
        """52 bars with a marker at each section's first bar."""
        assert self.made.arrangement.bars == 52
        assert [tick / TICKS_A_BAR + 1 for tick, _ in of(read(self.made), "marker")] == [1, 5, 13, 21, 29, 37, 45]

    def test_tempo_and_length(self) -> None:
        """One tempo event of 454545 µs at tick 0; 94.545 s."""
        assert [(tick, event.tempo) for tick, event in of(read(self.made), "set_tempo")] == [(0, 454545)]
        assert self.made.arrangement.seconds == pytest.approx(94.545, abs=0.001)
        assert read(self.made).length == pytest.approx(94.545, abs=0.25)  # mido ends with the last event's off

    def test_snares(self) -> None:
        """16, 16 and 32 backbeats in the choruses, the last ones all on the "&"."""
        counts = [len(bars(self.made, first, first + 7, SNARE)) for first in (13, 29, 45)]
        assert counts == [16, 16, 32]
        assert {tick % 480 for tick, _ in bars(self.made, 45, 52, SNARE)} == {240}

    def test_hand(self) -> None:
        """The timekeeper's lane is the same in the three choruses."""
        first, second, third = (bars(self.made, first, first + 7, RIDE) for first in (13, 29, 45))
        assert first == second == third
        assert len(first) == 64


class TestSaltLedger:
    """The hand moves half-way through a verse of 16 bars."""

    made = rendered(sheets.SALT_LEDGER)

    def test_counts(self) -> None:
        """63 closed hi-hats, 64 rides and one crash: the arrival takes the first hi-hat's place."""
        counts = Counter(note for _, note, _ in strokes(read(self.made)))
        assert (counts[HI_HAT], counts[RIDE], counts[CRASH]) == (63, 64, 1)

    def test_place(self) -> None:
        """The first ride stroke stands on bar 9 beat 1; no tick has both surfaces."""
        hats = {tick for tick, note, _ in strokes(read(self.made)) if note == HI_HAT}
        rides = {tick for tick, note, _ in strokes(read(self.made)) if note == RIDE}
        assert min(rides) == 8 * TICKS_A_BAR
        assert not hats & rides

    def test_kick_and_snare(self) -> None:
        """Kick and snare of bars 9-16 are those of bars 1-8."""
        assert bars(self.made, 9, 16, KICK, SNARE) == bars(self.made, 1, 8, KICK, SNARE)


def test_a_quarter_of_the_backbeats() -> None:
    """A return at "/4" of a double-time part has a quarter of its backbeats, each on beat 3; same tempo events."""
    sheet = sheets.NINTH_FERRY.replace('timekeeper = "ride"', 'feel = "double"').replace(
        'feel = "double" }', 'feel = "/4" }'
    )
    made = rendered(sheet)
    double, return_ = bars(made, 13, 20, SNARE), bars(made, 45, 52, SNARE)
    assert len(double) == 4 * len(return_) == 32
    assert {tick % TICKS_A_BAR for tick, _ in return_} == {960}
    plain = rendered(sheets.NINTH_FERRY)
    assert [(t, e.tempo) for t, e in of(read(made), "set_tempo")] == [
        (t, e.tempo) for t, e in of(read(plain), "set_tempo")
    ]


class TestUnderTheWeir:
    """The opening riff comes back at two thirds of the tempo."""

    made = rendered(sheets.UNDER_THE_WEIR)

    def test_tempo_events(self) -> None:
        """Exactly two tempo events, 357143 at tick 0 and 535714 at tick 76800."""
        events = [(tick, event.tempo) for tick, event in of(read(self.made), "set_tempo")]
        assert events == [(0, 357143), (76800, 535714)]

    def test_ticks(self) -> None:
        """The slow bars have the ticks of bars 1-8."""
        assert bars(self.made, 41, 48) == bars(self.made, 1, 8)

    def test_length(self) -> None:
        """74.286 s."""
        assert self.made.arrangement.seconds == pytest.approx(74.286, abs=0.001)
        end = np.array([self.made.performance.end])
        assert seconds_at(self.made.performance, end)[0] == pytest.approx(74.286, abs=0.001)


def test_ramp() -> None:
    """A last section of two bars from 140 to 98 over 8 beats gives eight steps and never reaches 98."""
    made = rendered(sheets.LAST_TWO_BARS)
    last = made.arrangement.sections[-1]
    assert [float(bpm) for _, bpm in last.tempo] == [140, 134.75, 129.5, 124.25, 119, 113.75, 108.5, 103.25]
    ticks = [tick for tick, _ in of(read(made), "set_tempo")]
    assert ticks == [0, *(7680 + 480 * beat for beat in range(1, 8))]


@pytest.mark.parametrize("name", ["NINTH_FERRY", "SALT_LEDGER", "UNDER_THE_WEIR", "LAST_TWO_BARS"])
def test_same_bytes(name: str) -> None:
    """The same sheet gives byte-identical files on every run."""
    assert rendered(getattr(sheets, name)).files == rendered(getattr(sheets, name)).files


def test_another_section_s_change_leaves_a_section_alone() -> None:
    """A change in the middle leaves the bytes of every other section's file as they were."""

    def sections(text: str) -> dict[str, bytes]:
        return render(Sheet("demo.toml", text.encode(), song_from(text, "demo.toml")), sections=True).files

    before = sections(sheets.NINTH_FERRY)
    after = sections(sheets.NINTH_FERRY.replace('[parts.middle]\nfeel = "half"', '[parts.middle]\nfeel = "d-beat"'))
    names = {name for name in before if "sections/" in name}
    assert len(names) == 7
    assert {name for name in names if before[name] != after[name]} == {"demo-sections/06-middle.mid"}


@pytest.mark.parametrize("name", ["NINTH_FERRY", "SALT_LEDGER", "UNDER_THE_WEIR", "LAST_TWO_BARS"])
def test_three_readers_agree(name: str, tmp_path: Path) -> None:
    """mido, pretty_midi and symusic read the same notes, ticks, tempi and metres."""
    made = rendered(getattr(sheets, name))
    path = tmp_path / "song.mid"
    path.write_bytes(made.files["demo.mid"])
    readers_agree(path)


def readers_agree(path: Path) -> None:
    """Fails where one of the three readers sees other notes, ticks, tempi, metres or markers."""
    by_mido = mido.MidiFile(path)
    wanted = strokes(by_mido)
    score: Any = symusic.Score(path)
    assert sorted((n.time, n.pitch, n.velocity) for track in score.tracks for n in track.notes) == wanted
    assert all(track.is_drum for track in score.tracks)
    pretty = pretty_midi.PrettyMIDI(str(path))
    notes = [note for instrument in pretty.instruments for note in instrument.notes]
    assert all(instrument.is_drum for instrument in pretty.instruments)
    assert sorted((pretty.time_to_tick(note.start), note.pitch, note.velocity) for note in notes) == wanted
    tempi = [(tick, event.tempo) for tick, event in of(by_mido, "set_tempo")]
    assert [(tempo.time, tempo.mspq) for tempo in score.tempos] == tempi
    times, rates = pretty.get_tempo_changes()
    assert [(pretty.time_to_tick(at), round(60e6 / rate)) for at, rate in zip(times, rates)] == tempi
    metres = [(tick, event.numerator, event.denominator) for tick, event in of(by_mido, "time_signature")]
    assert [(m.time, m.numerator, m.denominator) for m in score.time_signatures] == metres
    assert [(pretty.time_to_tick(m.time), m.numerator, m.denominator) for m in pretty.time_signature_changes] == metres
    assert [(m.time, m.text) for m in score.markers] == [(tick, event.text) for tick, event in of(by_mido, "marker")]
