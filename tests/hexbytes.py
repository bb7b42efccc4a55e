"""Bytes written out for tests: hexadecimal with comments behind #."""

from __future__ import annotations

END = "00 FF 2F 00  # end of track\n"
TEMPO_120 = "00 FF 51 03 07 A1 20  # 500,000 microseconds a quarter note\n"


def spelt(text: str) -> bytes:
    """The bytes of a text of hexadecimal figures; what stands behind # on a line is a comment."""
    return bytes.fromhex(" ".join(line.partition("#")[0] for line in text.splitlines()))


def chunk(body: str, length: int | None = None, tag: bytes = b"MTrk") -> bytes:
    """A chunk of spelt bytes, a track's where no other is named; its header gives its own length, or another one."""
    data = spelt(body)
    return tag + (len(data) if length is None else length).to_bytes(4, "big") + data


def header(form: int, tracks: int, division: int = 480) -> bytes:
    """MThd, six bytes: format, number of tracks, ticks a quarter note."""
    return b"MThd\0\0\0\6" + b"".join(value.to_bytes(2, "big") for value in (form, tracks, division))


def midi_of(*tracks: str, form: int = 1, division: int = 480, declared: int | None = None) -> bytes:
    """A file of tracks of spelt bytes."""
    count = len(tracks) if declared is None else declared
    return header(form, count, division) + b"".join(map(chunk, tracks))
