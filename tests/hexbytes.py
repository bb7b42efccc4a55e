"""Bytes written out for tests: hexadecimal with comments behind #."""

from __future__ import annotations


def spelt(text: str) -> bytes:
    """The bytes of a text of hexadecimal figures; what stands behind # on a line is a comment."""
    return bytes.fromhex(" ".join(line.partition("#")[0] for line in text.splitlines()))


def chunk(body: str, tag: bytes = b"MTrk", longer: int = 0) -> bytes:
    """A chunk of spelt bytes; its header says that it is so much longer than it is."""
    data = spelt(body)
    return tag + (len(data) + longer).to_bytes(4, "big") + data


def header(form: int, tracks: int, division: int = 480) -> bytes:
    """MThd, six bytes: format, number of tracks, ticks a quarter note."""
    return b"MThd\0\0\0\6" + b"".join(value.to_bytes(2, "big") for value in (form, tracks, division))


def midi_of(*tracks: str, form: int = 1, division: int = 480, declared: int | None = None) -> bytes:
    """A file of tracks of spelt bytes."""
    count = len(tracks) if declared is None else declared
    return header(form, count, division) + b"".join(map(chunk, tracks))
