"""The record of a render: what goes in comes out, and what is no record is told from one."""

from __future__ import annotations

import zlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.errors import FormatError
from grooveforge.formats.record import COLUMNS, Record, read_record, record_bytes
from grooveforge.project.library import SONGS, library_files
from grooveforge.project.records import record
from grooveforge.project.rendering import render
from grooveforge.project.sheets import read_sheet

RECORDS = {path.stem: record(render(read_sheet(str(path)))) for path in library_files(SONGS)}


@pytest.mark.parametrize("name", RECORDS)
def test_a_record_comes_back_as_it_went(name: str) -> None:
    kept = RECORDS[name]
    back = read_record(record_bytes(kept))
    assert len(back) == len(kept) > 1000
    assert (back.title, back.division, back.end, back.bars) == (kept.title, kept.division, kept.end, kept.bars)
    assert (back.key_map.name, back.key_map.notes) == (kept.key_map.name, kept.key_map.notes)
    for column in COLUMNS:
        np.testing.assert_array_equal(back.columns[column], kept.columns[column])


def test_equal_records_are_equal_bytes() -> None:
    kept = RECORDS["copper-weather"]
    assert record_bytes(kept) == record_bytes(read_record(record_bytes(kept)))


def test_each_bar_has_the_tempo_that_holds_at_its_line() -> None:
    """Against the tempo map, walked from its start."""
    for path in library_files(SONGS):
        tempos = render(read_sheet(str(path))).performance.tempos
        for bar in RECORDS[path.stem].bars:
            assert bar.bpm == float([bpm for start, bpm in tempos if start <= bar.tick][-1])


def cut(data: bytes, at: int) -> bytes:
    return data[:at]


def turned(data: bytes, at: int) -> bytes:
    return data[:at] + bytes([data[at] ^ 0xFF]) + data[at + 1 :]


@given(st.data())
def test_a_damaged_record_is_none(data: st.DataObject) -> None:
    """Cut off or with a byte turned: zlib's checksum (RFC 1950) tells."""
    whole = record_bytes(RECORDS["copper-weather"])
    harm = data.draw(st.sampled_from((cut, turned)))
    with pytest.raises(FormatError):
        read_record(harm(whole, data.draw(st.integers(0, len(whole) - 1))))


def packed(head: bytes, strokes: bytes) -> bytes:
    return zlib.compress(head + b"\n" + strokes)


def parts() -> tuple[bytes, bytes]:
    head, _, strokes = zlib.decompress(record_bytes(RECORDS["copper-weather"])).partition(b"\n")
    return head, strokes


@pytest.mark.parametrize(
    "change",
    [
        lambda head, strokes: (head, strokes[:-8]),
        lambda head, strokes: (head, strokes[:-1]),
        lambda head, strokes: (head.replace(b'"version":2', b'"version":1'), strokes),
        lambda head, strokes: (head.replace(b'"bars":[', b'"bars":[],"was":['), strokes),
        lambda head, strokes: (head[:-1], strokes),
        lambda head, strokes: (b"[" * 100_000, strokes),
        lambda head, strokes: (head, b"\x7f" * len(strokes)),
    ],
    ids=["a number short", "a byte short", "another version", "no bars", "no JSON", "deep", "no surfaces"],
)
def test_bytes_that_were_never_a_record(change: object) -> None:
    assert isinstance(read_record(packed(*parts())), Record)
    assert callable(change)
    with pytest.raises(FormatError):
        read_record(packed(*change(*parts())))
