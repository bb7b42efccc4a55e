"""`play`: messages at their times to a port that is handed in, on a clock that is handed in."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import mido
import pytest

from grooveforge.cli import ports
from grooveforge.errors import UsageError
from grooveforge.project.playing import Score, messages_of, play_messages
from tests.cli.conftest import Run
from tests.read_back import struck_seconds


class Hands:
    """A clock that runs when it is waited on, and a port that writes down what comes and when."""

    def __init__(self, stop_at: float = 1e9) -> None:
        self.time = 100.0
        self.stop_at = stop_at
        self.sent: list[tuple[float, bytes]] = []

    def now(self) -> float:
        return self.time

    def wait(self, seconds: float) -> None:
        assert 0 < seconds <= 0.05
        self.time += seconds
        if self.time - 100 >= self.stop_at:
            raise KeyboardInterrupt

    def send(self, data: bytes) -> None:
        self.sent.append((round(self.time - 100, 6), data))

    def strokes(self) -> list[tuple[float, int]]:
        return [(at, data[1]) for at, data in self.sent if data[0] & 0xF0 == 0x90]


def played(score: Score, loop: bool = False, stop_at: float = 1e9) -> Hands:
    hands = Hands(stop_at)
    play_messages(score, hands.send, hands, loop)
    return hands


def sounding(hands: Hands) -> set[int]:
    """Notes that were begun and never ended."""
    left: set[int] = set()
    for _, data in hands.sent:
        if data[0] & 0xF0 == 0x90:
            left.add(data[1])
        elif data[0] & 0xF0 == 0x80:
            left.discard(data[1])
    return left


def test_every_note_at_its_time(run: Run, sheet: Path, tmp_path: Path) -> None:
    """What a port gets is what mido plays from the rendered file, to a tenth of a millisecond."""
    run("render", sheet, "-o", tmp_path)
    hands = played(messages_of(str(sheet)))
    wanted = [row[:2] for row in struck_seconds(tmp_path / "lantern-yard.mid")]
    assert len(hands.strokes()) == len(wanted)
    for (at, note), (moment, other) in zip(sorted(hands.strokes()), sorted(wanted)):
        assert at == pytest.approx(moment, abs=1e-4)
        assert note == other


def test_all_notes_end(sheet: Path) -> None:
    """At the end nothing sounds on, and the sampler is told so: note-offs, all notes off, all sound off."""
    hands = played(messages_of(str(sheet)))
    assert sounding(hands) == set()
    assert [data[:2] for _, data in hands.sent[-2:]] == [bytes((0xB9, 123)), bytes((0xB9, 120))]


def test_a_note_ends_before_its_next_stroke(sheet: Path) -> None:
    """No note is begun twice without an end between."""
    on: set[int] = set()
    hands = played(messages_of(str(sheet)))
    assert hands.strokes()
    for _, data in hands.sent:
        if data[0] & 0xF0 == 0x90:
            assert data[1] not in on
            on.add(data[1])
        elif data[0] & 0xF0 == 0x80:
            on.discard(data[1])


def test_an_interrupt_stops_it(sheet: Path) -> None:
    """Ctrl-C in the middle of a wait ends every note at once, and is no error."""
    hands = played(messages_of(str(sheet)), stop_at=1.01)
    assert sounding(hands) == set()
    assert max(at for at, _ in hands.sent) <= 1.1
    assert hands.sent[-1][1][1] == 120


def test_a_loop_has_no_gap(sheet: Path) -> None:
    """Looped, the section's first stroke comes again exactly one length later, and again."""
    score = messages_of(str(sheet), "verse")
    assert score.seconds == pytest.approx(8.0)
    hands = played(score, loop=True, stop_at=20)
    first = [at for at, note in hands.strokes() if note == 36]
    per_turn = sum(1 for at in first if at < 7.99)
    assert first[per_turn] - first[0] == pytest.approx(8.0, abs=1e-5)
    assert first[2 * per_turn] - first[0] == pytest.approx(16.0, abs=1e-5)


def test_the_kit_of_the_sheet(sheet: Path, tmp_path: Path) -> None:
    """A sheet's key map says the notes, so that the user's own sampler plays the right pieces."""
    kit = tmp_path / "kit.toml"
    kit.write_text('base = "gm"\n[notes]\nsnare = [40]\n', encoding="utf-8")
    sheet.write_text('key_map = "kit.toml"\n' + sheet.read_text(encoding="utf-8"), encoding="utf-8")
    notes = {note for _, note in played(messages_of(str(sheet))).strokes()}
    assert 40 in notes
    assert 38 not in notes


# -- ports -----------------------------------------------------------------------------------------------


def test_which_port() -> None:
    """By its name, part of it in any case, or alone; anything else lists the ports."""
    names = ["Through 14:0", "Sampler A 20:0", "Sampler B 20:1"]
    assert ports.chosen("sampler a", names) == "Sampler A 20:0"
    assert ports.chosen("Sampler B 20:1", names) == "Sampler B 20:1"
    assert ports.chosen(None, names[:1]) == "Through 14:0"
    for wanted in ("sampler", "nothing", None):
        with pytest.raises(UsageError, match="'Sampler A 20:0', 'Sampler B 20:1'"):
            ports.chosen(wanted, names)
    with pytest.raises(UsageError, match="no MIDI port"):
        ports.chosen("x", [])


def test_play_opens_plays_and_closes(run: Run, sheet: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The command sends to the port it names and closes it."""

    class Port:
        def __init__(self) -> None:
            self.messages: list[Any] = []
            self.closed = False

        def send(self, message: Any) -> None:
            self.messages.append(message)
            if len(self.messages) == 6:
                raise KeyboardInterrupt

        def close(self) -> None:
            self.closed = True

    port = Port()
    monkeypatch.setattr(mido, "get_output_names", lambda: ["Sampler"])
    monkeypatch.setattr(mido, "open_output", lambda name: port)
    ran = run("play", sheet)
    assert (ran.status, ran.err) == (0, "")
    assert "to Sampler" in ran.out
    assert port.closed
    assert port.messages[0].type == "note_on"
    assert port.messages[-1].control == 120


def test_without_ports_or_library(run: Run, sheet: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No port, no MIDI on this system and no library are errors in a line or two that say what to do."""

    def missing() -> list[str]:
        raise ModuleNotFoundError("No module named 'rtmidi'")

    def broken() -> list[str]:
        raise RuntimeError("no sequencer\nmore")

    for names, said in ((list, "no MIDI port"), (missing, "grooveforge[play]"), (broken, "no MIDI: no sequencer")):
        monkeypatch.setattr(mido, "get_output_names", names)
        ran = run("play", sheet)
        assert (ran.status, ran.out) == (2, "")
        assert said in ran.err
        assert len(ran.err.splitlines()) <= 2
