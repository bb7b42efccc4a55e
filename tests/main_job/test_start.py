"""`start`: what is read back of a typed riff and of MIDI riffs, three unlike offers, a sheet that renders."""

from __future__ import annotations

from itertools import combinations
from math import lcm
from pathlib import Path

import mido
import pytest

from grooveforge.analysis.distance import difference, strokes_of
from grooveforge.errors import GrooveForgeError, UsageError
from grooveforge.project.checking import check_sheet
from grooveforge.project.rendering import render
from grooveforge.project.sheets import sheet_from
from grooveforge.project.starting import Started, start

SONGS = Path(__file__).parent.parent.parent / "patterns" / "songs"
LINES = [
    # line, bars, metre that it fills, attacks, accents: counted by eye
    ("x--X--x-X-x-xxX-", 1, "4/4", 8, 3),
    ("X-----x-x-----x-X-x-x-x-x-x-xxxx", 2, "4/4", 14, 2),
    ("X-x-x-X-x-x-X-", 1, "7/8", 7, 3),
    ("|X---X---|X-x-|", 1, "3/4", 4, 3),
]


def guitar(path: Path, notes: list[tuple[int, int, int]], meter: tuple[int, int], bpm: float, end: int) -> None:
    """A guitar file by mido: (tick, note, velocity) at 480 ticks to a quarter."""
    file = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    file.tracks.append(track)
    track.append(mido.MetaMessage("time_signature", numerator=meter[0], denominator=meter[1]))
    track.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm)))
    events = sorted([(tick, 1, note, velocity) for tick, note, velocity in notes] +
                    [(tick + 60, 0, note, 0) for tick, note, _ in notes])  # fmt: skip
    now = 0
    for tick, on, note, velocity in events:
        track.append(mido.Message("note_on" if on else "note_off", note=note, velocity=velocity, time=tick - now))
        now = tick
    track.append(mido.MetaMessage("end_of_track", time=end - now))
    file.save(path)


def apart(made: Started) -> float:
    """The least distance of two offers, as loops."""
    grooves = [offer.file.groove for offer in made.offers]
    pairs = [(one, other, lcm(one.bars, other.bars)) for one, other in combinations(grooves, 2)]
    return min(difference(*(strokes_of(side).looped(bars) for side in (one, two))).distance for one, two, bars in pairs)


@pytest.mark.parametrize(("line", "bars", "meter", "attacks", "accents"), LINES)
def test_a_typed_riff_is_read_back(line: str, bars: int, meter: str, attacks: int, accents: int) -> None:
    """Bars, metre, attacks and accents of a line, and the line itself."""
    facts = start(line, "song.toml").facts()
    assert (facts["bars"], facts["meter"], facts["attacks"], facts["accents"]) == (bars, meter, attacks, accents)
    assert facts["riff"] == line.replace("|", "")
    assert facts["meets"][0] == {"bar": bars + 1, "beat": 1.0}


def test_a_midi_riff_is_read_back(tmp_path: Path) -> None:
    """Two bars of 7/8 at 96 written by mido: seven attacks, the two loudest of them accents."""
    ticks = [0, 480, 720, 1200, 1680, 2160, 2880]
    path = tmp_path / "guitar.mid"
    guitar(path, [(tick, 40, 120 if tick in (0, 1680) else 80) for tick in ticks], (7, 8), 96, 3360)
    made = start(str(path), str(tmp_path / "song.toml"))
    facts = made.facts()
    assert (facts["bars"], facts["meter"], facts["tempo"]) == (2, "7/8", 96.0)
    assert (facts["attacks"], facts["accents"]) == (7, 2)
    sheet = sheet_from(made.text.encode(), str(tmp_path / "song.toml"))
    assert 'riff = "guitar.mid"' in made.text
    assert render(sheet).arrangement.bars >= 2


@pytest.mark.parametrize("riff", [*(row[0] for row in LINES), "tin-orbit.mid", "tin-collapse.mid"])
def test_three_unlike_offers_and_a_sheet_that_renders(riff: str) -> None:
    """At least 0.25 apart; the sheet of every offer renders, holds its groove, and can be played."""
    said = str(SONGS / riff) if riff.endswith(".mid") else riff
    for take in (1, 2, 3):
        made = start(said, str(SONGS / "begun.toml"), take=take)
        assert len(made.offers) == 3
        assert apart(made) >= 0.25
        sheet = sheet_from(made.text.encode(), str(SONGS / "begun.toml"))
        assert sheet.song.parts["riff"].groove == made.offers[take - 1].name
        assert render(sheet).files
        assert check_sheet(sheet).findings == ()


def test_the_best_offer_meets_the_riff_most() -> None:
    """A gallop is met by a gallop: kick or snare on every attack, no other stroke of theirs beside it."""
    made = start("X-xxX-xxX-xxX-xx", "song.toml", tempo="140")
    best = made.offers[0]
    assert best.met == best.attacks
    assert made.offers[0].score >= made.offers[1].score >= made.offers[2].score


def test_a_tempo_that_is_said_holds() -> None:
    """Every offer is at the tempo asked for, in the sheet too."""
    made = start("x-x-x-x-x-x-x-x-", "song.toml", tempo="133.5")
    assert {float(offer.bpm) for offer in made.offers} == {133.5}
    assert "tempo = 133.5" in made.text


@pytest.mark.parametrize(
    ("riff", "meter", "tempo", "said"),
    [
        ("x--q", None, None, "wrong mark"),
        ("----", None, None, "at least one attack"),
        ("x---", "4", None, "metre"),
        ("x---", None, "quick", "tempo"),
        ("x---", None, "900", "tempo"),
        ("x---", "13/16", None, "no groove"),
        ("there-is-none.mid", None, None, "no such file"),
    ],
)
def test_wrong_input(riff: str, meter: str | None, tempo: str | None, said: str) -> None:
    """Each with an error that says what is wrong."""
    with pytest.raises(GrooveForgeError, match=said):
        start(riff, "song.toml", meter, tempo)


def test_an_offer_that_is_not_there() -> None:
    """The fourth of three."""
    with pytest.raises(UsageError, match="no such offer"):
        start("x-x-x-x-", "song.toml", meter="4/4", take=4)
