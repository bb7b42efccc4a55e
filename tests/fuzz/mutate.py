"""Spoilt copies of good inputs, and inputs made from nothing but the words of a format."""

from __future__ import annotations

import random
import re
from collections.abc import Sequence

EDGES = (0, 1, 2, 3, 4, 7, 8, 9, 15, 16, 23, 31, 32, 35, 36, 63, 64, 96, 127, 128, 129, 192, 223, 240, 247, 254, 255)
"""Bytes at the edges of what formats give a meaning to."""

NUMBERS = (
    "0", "1", "-1", "2", "3", "7", "16", "31", "64", "127", "128", "255", "256", "1000", "32767", "65536", "100000",
    "999999999", "9223372036854775808", "1" + "0" * 400, "0.0", "0.5", "-0.0", "1e-9", "1e308", "1e999", "nan", "inf",
    "-inf", "0x7f", "1_000", "true", "false", '""', "[]", "{}", "2024-02-30", "2024-02-29",
)  # fmt: skip

SIGNS = (
    "\n", " ", "\t", "=", "[", "]", "{", "}", '"', "'", '"""', "'''", "#", ",", ".", "|", "-", "\\", "\r\n", "\0",
    "\N{ZERO WIDTH NO-BREAK SPACE}", "\N{COMBINING ACUTE ACCENT}", "é", "\N{DRUM WITH DRUMSTICKS}", "\x1b", "\x7f",
)  # fmt: skip

_TOKEN = re.compile(r"[A-Za-z_]+|\d+(?:\.\d+)?|\s+|.", re.DOTALL)
_MOST = 20_000
"""Bytes of an input, but for the few that are made large."""


def spoil_bytes(data: bytes, other: bytes, rng: random.Random) -> bytes:
    """A few changes to bytes: replace, flip, insert, remove, repeat, cut, and join with another input."""
    out = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 3, 8, 30))):
        at = rng.randrange(len(out) + 1)
        size = rng.choice((1, 1, 1, 2, 4, 16, 100))
        kind = rng.randrange(9)
        if kind <= 1:
            out[at : at + 1] = bytes((rng.choice(EDGES),))
        elif kind == 2 and at < len(out):
            out[at] ^= 1 << rng.randrange(8)
        elif kind == 3:
            out[at:at] = rng.randbytes(size)
        elif kind == 4:
            del out[at : at + size]
        elif kind == 5:
            out[at:at] = out[max(0, at - size) : at] * rng.choice((1, 2, 30))
        elif kind == 6:
            out[at : at + 4] = rng.choice((0, 1, 127, 255, 0x7FFFFFFF, 0xFFFFFFFF)).to_bytes(4, "big")
        elif kind == 7 and rng.random() < 0.2:
            del out[at:]
        elif other:
            start = rng.randrange(len(other))
            out[at:at] = other[start : start + rng.choice((8, 40, 400))]
    return bytes(out[:_MOST])


def spoil_text(data: bytes, other: bytes, words: Sequence[str], rng: random.Random) -> bytes:
    """A few changes to text: words for words, numbers for numbers, lines moved, signs put in, halves joined."""
    way = rng.random()
    if way < 0.05:
        return spoil_bytes(data, other, rng)
    if way < 0.6:
        return _other_values(data, other, words, rng)
    tokens = _TOKEN.findall(data.decode("utf-8", "replace")) or [""]
    for _ in range(rng.choice((1, 1, 1, 2, 2, 4, 12))):
        at = rng.randrange(len(tokens))
        kind = rng.randrange(8)
        if kind == 0:
            tokens[at] = rng.choice(words)
        elif kind == 1:
            tokens[at] = rng.choice(NUMBERS)
        elif kind == 2:
            tokens[at] = rng.choice(SIGNS)
        elif kind == 3:
            tokens.insert(at, rng.choice(rng.choice((words, NUMBERS, SIGNS))))
        elif kind == 4:
            del tokens[at : at + rng.choice((1, 1, 2, 10))]
            tokens = tokens or [""]
        elif kind == 5:
            size = rng.choice((1, 3, 12))
            tokens[at:at] = tokens[at : at + size] * rng.choice((1, 2, 40))
        elif kind == 6:
            numbers = [place for place, token in enumerate(tokens) if token[0:1].isdigit()]
            tokens[rng.choice(numbers) if numbers else at] = rng.choice(NUMBERS)
        else:
            foreign = _TOKEN.findall(other.decode("utf-8", "replace")) or [""]
            start = rng.randrange(len(foreign))
            tokens[at:at] = foreign[start : start + rng.choice((3, 10, 60))]
    return "".join(tokens).encode("utf-8", "replace")[:_MOST]


def _other_values(data: bytes, other: bytes, words: Sequence[str], rng: random.Random) -> bytes:
    """Changes that mostly leave the syntax whole: words for words, numbers for numbers, lines taken from elsewhere."""
    lines = data.decode("utf-8", "replace").split("\n")
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        row = rng.randrange(len(lines))
        kind = rng.randrange(5)
        if kind == 0:
            lines.insert(row, rng.choice(other.decode("utf-8", "replace").split("\n")))
        elif kind == 1 and len(lines) > 1:
            del lines[row]
        elif kind == 2:
            lines.insert(rng.randrange(len(lines)), lines[row])
        else:
            tokens = _TOKEN.findall(lines[row])
            places = [place for place, token in enumerate(tokens) if token[:1].isalnum()]
            for place in rng.sample(places, min(len(places), 1)):
                tokens[place] = rng.choice(NUMBERS[:17] if tokens[place][0].isdigit() else words)
            lines[row] = "".join(tokens)
    return "\n".join(lines).encode("utf-8", "replace")[:_MOST]


def _quantity(value: int) -> bytes:
    """A variable-length quantity (SMF 1.0)."""
    out = bytes((value & 127,))
    while value := value >> 7:
        out = bytes((value & 127 | 128,)) + out
    return out


def random_midi(rng: random.Random) -> bytes:
    """A MIDI file of events drawn at random; most are well formed, any may lie."""
    tracks = b""
    count = rng.choice((0, 1, 1, 2, 3, 6))
    for _ in range(count):
        body = b"".join(_event(rng) for _ in range(rng.choice((0, 1, 5, 20, 80))))
        body += b"\0\xff\x2f\0" if rng.random() < 0.8 else b""
        length = len(body) if rng.random() < 0.9 else rng.choice((0, len(body) + 1, len(body) // 2, 0xFFFFFFFF))
        tracks += (b"MTrk" if rng.random() < 0.97 else rng.randbytes(4)) + length.to_bytes(4, "big") + body
    form = rng.choice((0, 1, 1, 1, 2, 3)) if rng.random() < 0.5 else 1
    division = rng.choice((480, 480, 96, 24, 1, 120, 89, 32767, 0, 0xE728))
    declared = count if rng.random() < 0.9 else rng.choice((0, 1, 65535))
    numbers = b"".join(value.to_bytes(2, "big") for value in (form, declared, division))
    return b"MThd\0\0\0\x06" + numbers + tracks


def _event(rng: random.Random) -> bytes:
    far = rng.random() < 0.002
    delta = _quantity(rng.choice((100_000, 0x0FFFFFFF) if far else (0, 0, 0, 1, 30, 60, 120, 120, 240, 480, 1920)))
    channel = rng.choice((9, 9, 9, 0, 15))
    kind = rng.randrange(10)
    if kind <= 4:
        note, velocity = rng.choice((36, 38, 42, 49, 51, rng.randrange(256))), rng.choice((0, 1, 20, 90, 127, 200))
        return delta + bytes((0x90 + channel, note, velocity))
    if kind == 5:
        return delta + bytes((0x80 + channel, rng.choice((36, 38, 42, 200)), 64))
    if kind == 6:
        return delta + bytes((rng.choice((0xA0, 0xB0, 0xC0, 0xD0, 0xE0)) + channel, rng.randrange(128)))
    if kind == 7:
        payload = bytes((rng.randrange(20), rng.randrange(9), 24, 8)) if rng.random() < 0.7 else rng.randbytes(4)
        return delta + b"\xff\x58\x04" + payload
    if kind == 8:
        return delta + b"\xff\x51\x03" + rng.choice((b"\x07\xa1\x20", rng.randbytes(3), b"\0\0\1"))
    payload = rng.randbytes(rng.choice((0, 1, 5, 200)))
    return delta + bytes((0xFF, rng.choice((1, 3, 6, 7, 0x2F, 0x59, 0x54, 0x7F)))) + _quantity(len(payload)) + payload
