"""The reader on files of mido, on files cut short or spoilt, and on any bytes at all."""

from __future__ import annotations

import io

import mido
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grooveforge.errors import FormatError, GrooveForgeError
from grooveforge.formats.smf_read import read_smf
from tests.hexbytes import END, TEMPO_120, chunk, midi_of
from tests.read_back import in_ticks

WHOLE = midi_of(
    "00 FF 58 04 04 02 18 08" + TEMPO_120 + "83 60 FF 06 05 56 65 72 73 65" + END,
    "00 FF 03 05 44 72 75 6D 73  00 F0 03 01 02 F7  00 99 24 64  78 89 24 40"
    "81 80 80 00 99 24 64 78 89 24 40" + END,
    "00 C0 05  00 90 40 40  00 44 40  83 60 40 00  00 44 00" + END,
)


@pytest.mark.parametrize("cut", range(len(WHOLE)))
def test_a_file_cut_at_any_byte_is_read_as_far_as_it_goes(cut: int) -> None:
    """Every event that is read is an event of the whole file; a cut in the header is refused."""
    if cut < 14:
        with pytest.raises(FormatError):
            read_smf(WHOLE[:cut])
        return
    whole, part = read_smf(WHOLE), read_smf(WHOLE[:cut])
    assert 1 <= len(part.warnings) <= 3
    for left, full in zip(part.tracks, whole.tracks[: len(part.tracks)], strict=True):
        size = len(left.events)
        for name in ("tick", "status", "data1", "data2"):
            assert np.array_equal(getattr(left.events, name), getattr(full.events, name)[:size])


def test_many_tracks_that_all_claim_the_rest_of_the_file_take_linear_time() -> None:
    """Each byte is looked at once: 4,000 tracks of a length beyond the file, then one endless quantity."""
    data = midi_of(declared=4000) + chunk(END, 0x7FFFFFFF) * 4000
    assert len(read_smf(data).tracks) == 4000
    assert read_smf(midi_of(declared=1) + chunk("80" * 200_000)).tracks[0].end_tick == 0


def mido_bytes(tracks: list[list[mido.Message]], form: int = 1) -> bytes:
    file = mido.MidiFile(type=form, ticks_per_beat=480, tracks=[mido.MidiTrack(t) for t in tracks])
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


_delta = st.integers(0, 3) | st.integers(0, 0x0FFFFFFF)
_byte = st.integers(0, 127)


def _message(kind: str, **values: st.SearchStrategy[object]) -> st.SearchStrategy[mido.Message]:
    make = mido.MetaMessage if kind in ("marker", "set_tempo") else mido.Message
    return st.builds(make, st.just(kind), time=_delta, **values)


_messages = st.one_of(
    _message("note_on", channel=st.just(9), note=_byte, velocity=_byte),
    _message("note_off", channel=st.just(9), note=_byte, velocity=_byte),
    _message("control_change", control=_byte, value=_byte),
    _message("program_change", program=_byte),
    _message("pitchwheel", pitch=st.integers(-8192, 8191)),
    _message("sysex", data=st.lists(_byte, max_size=200)),
    _message("marker", text=st.text("abc", max_size=200)),
    _message("set_tempo", tempo=st.integers(1, 0xFFFFFF)),
)


@given(st.lists(st.lists(_messages, max_size=30), max_size=3))
def test_what_mido_writes_is_read_event_by_event(tracks: list[list[mido.Message]]) -> None:
    """mido as the oracle: the same events at the same ticks with the same bytes."""
    file = read_smf(mido_bytes(tracks))
    assert {warning.message.split(" (")[0] for warning in file.warnings} <= {
        "a note without a note-off was ended"
    }
    for ours, theirs in zip(file.tracks, tracks, strict=True):
        events = ours.events
        assert len(events) == len(theirs)
        for row, (tick, message) in enumerate(in_ticks(theirs)):
            assert events.tick[row] == tick
            if row in events.payload:
                head, body = message.bytes(), events.payload[row]
                assert head[0] == events.status[row]
                assert bytes(head).endswith(body)
            else:
                size = len(message.bytes())
                table = (events.status[row], events.data1[row], events.data2[row])
                assert message.bytes() == [int(value) for value in table[:size]]


@settings(max_examples=300)
@given(st.binary(max_size=300), st.sampled_from([b"", WHOLE[:14], WHOLE[:22], midi_of(form=2) + b"MTrk\0\0\1\0"]))
def test_any_bytes_are_read_or_refused_in_our_own_words(tail: bytes, head: bytes) -> None:
    """Nothing but the errors of this package comes out."""
    try:
        file = read_smf(head + tail)
    except GrooveForgeError as error:
        assert error.faults
    else:
        assert all((track.notes.duration >= 0).all() for track in file.tracks)


@settings(max_examples=300)
@given(st.lists(st.tuples(st.integers(0, len(WHOLE) - 1), st.integers(0, 255)), min_size=1, max_size=6))
def test_a_file_with_spoilt_bytes_is_read_or_refused(changes: list[tuple[int, int]]) -> None:
    """A few bytes of a good file changed at random; one warning of a kind in a track."""
    data = bytearray(WHOLE)
    for place, value in changes:
        data[place] = value
    try:
        file = read_smf(bytes(data))
    except GrooveForgeError:
        return
    kinds = [(warning.track, warning.message.split(" (")[0]) for warning in file.warnings]
    assert len(kinds) == len(set(kinds))
