"""The small pieces of a Standard MIDI File: variable-length quantities, meta events, text.

Source: Standard MIDI Files 1.0 (MMA RP-001). Events are given without their delta time.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from grooveforge.core.meter import LOWER_FIGURES, MOST_BEATS
from grooveforge.errors import FormatError
from grooveforge.formats.smf import ByteArray, IntArray

LARGEST_VLQ = 0x0FFFFFFF
"""The largest variable-length quantity: four bytes of seven bits."""

SEQUENCE_NUMBER, TEXT, TRACK_NAME, MARKER, CUE = 0x00, 0x01, 0x03, 0x06, 0x07
CHANNEL_PREFIX, PORT, END_OF_TRACK, TEMPO = 0x20, 0x21, 0x2F, 0x51
SMPTE_OFFSET, TIME_SIGNATURE, KEY_SIGNATURE = 0x54, 0x58, 0x59

_LETTERS = str.maketrans(
    {
        "ß": "ss",
        "ẞ": "SS",
        "ø": "o",
        "Ø": "O",
        "ł": "l",
        "Ł": "L",
        "æ": "ae",
        "Æ": "AE",
        "œ": "oe",
        "Œ": "OE",
        "đ": "d",
        "Đ": "D",
        "ð": "d",
        "Ð": "D",
        "þ": "th",
        "Þ": "Th",
        "\u0131": "i",
        "\u2010": "-",
        "\u2011": "-",
        "\u2013": "-",
        "\u2014": "-",
        "\u2212": "-",
        "\u00d7": "x",
        "\u2018": "'",
        "\u2019": "'",
        "\u201c": '"',
        "\u201d": '"',
        "\u201e": '"',
    }
)
"""Letters and signs that do not come apart into a base letter and an accent."""


def encode_vlq(value: int) -> bytes:
    """A variable-length quantity in its shortest form; `value` is 0 to `LARGEST_VLQ`."""
    if not 0 <= value <= LARGEST_VLQ:
        raise FormatError(
            "a length or delta time that no MIDI file can hold",
            found=str(value),
            allowed=f"0 to {LARGEST_VLQ}",
        )
    out = [value & 127]
    while value := value >> 7:
        out.append(value & 127 | 128)
    return bytes(reversed(out))


def vlq_sizes(values: IntArray) -> IntArray:
    """(n,) number of bytes that each quantity takes, 1 to 4; `values` are 0 to `LARGEST_VLQ`."""
    sizes = np.ones(len(values), np.int64)
    for limit in (0x7F, 0x3FFF, 0x1FFFFF):
        sizes += values > limit
    return sizes


def put_vlqs(out: ByteArray, last: IntArray, sizes: IntArray, values: IntArray) -> None:
    """Write the quantities into `out`, the last byte of each at the index in `last`."""
    out[last] = values & 127
    for back in (1, 2, 3):
        longer = np.flatnonzero(sizes > back)
        if not len(longer):
            return
        out[last[longer] - back] = values[longer] >> 7 * back & 127 | 128


def encode_vlqs(values: npt.ArrayLike) -> bytes:
    """Many variable-length quantities, one behind the other."""
    array = np.asarray(values, dtype=np.int64).reshape(-1)
    for value in array[(array < 0) | (array > LARGEST_VLQ)][:1]:
        encode_vlq(int(value))
    sizes = vlq_sizes(array)
    out = np.empty(int(sizes.sum()), np.uint8)
    put_vlqs(out, np.cumsum(sizes) - 1, sizes, array)
    return out.tobytes()


def meta_event(kind: int, payload: bytes) -> bytes:
    """FF, the type, the length, the bytes."""
    return bytes((0xFF, kind)) + encode_vlq(len(payload)) + payload


def tempo_event(microseconds: int) -> bytes:
    """FF 51 03: microseconds a quarter, 1 to 16,777,215 (3.576 quarters a minute)."""
    if not 1 <= microseconds <= 0xFFFFFF:
        raise FormatError(
            "a tempo that no MIDI file can hold",
            found=f"{microseconds} microseconds a quarter",
            allowed="1 to 16777215 microseconds a quarter, which is 3.576 bpm and faster",
        )
    return meta_event(TEMPO, microseconds.to_bytes(3, "big"))


def meter_event(upper: int, lower: int) -> bytes:
    """FF 58 04: the metre, the MIDI clocks (24 a quarter) of its beat, 8 thirty-seconds a quarter.

    The beat is the lower figure; in compound time (upper a multiple of three, over three, over 8 or 16) it
    is three of them, so that 6/8 is 06 03 24 08 as in the specification's own example.
    """
    if lower not in LOWER_FIGURES or not 1 <= upper <= MOST_BEATS:
        raise FormatError(
            "a metre that cannot be written",
            found=f"{upper}/{lower}",
            allowed=f"1 to {MOST_BEATS} over {', '.join(map(str, LOWER_FIGURES))}",
        )
    compound = lower in (8, 16) and upper > 3 and upper % 3 == 0
    clocks = 96 // lower * (3 if compound else 1)
    return meta_event(TIME_SIGNATURE, bytes((upper, lower.bit_length() - 1, clocks, 8)))


def ascii_text(text: str, limit: int | None = None) -> str:
    """`text` in printable ASCII, at most `limit` characters: accents go, what has no like becomes "?"."""
    apart = unicodedata.normalize("NFKD", text.translate(_LETTERS))
    kept = (letter for letter in apart if not unicodedata.combining(letter))
    plain = "".join(" " if sign.isspace() else sign if " " <= sign <= "~" else "?" for sign in kept)
    return plain if limit is None else plain[:limit].rstrip()


def text_event(text: str, limit: int | None = None) -> bytes:
    """FF 01: a text."""
    return meta_event(TEXT, ascii_text(text, limit).encode("ascii"))


def name_event(text: str, limit: int | None = None) -> bytes:
    """FF 03: the track's name."""
    return meta_event(TRACK_NAME, ascii_text(text, limit).encode("ascii"))


def marker_event(text: str, limit: int | None = None) -> bytes:
    """FF 06: a marker."""
    return meta_event(MARKER, ascii_text(text, limit).encode("ascii"))


def decode_text(payload: bytes) -> str:
    """The text of a meta event: UTF-8, else Latin-1; NULs at the end are padding and go."""
    payload = payload.rstrip(b"\0")
    try:
        return payload.decode("utf-8")
    except UnicodeDecodeError:
        return payload.decode("latin-1")


def _good_meter(data: bytes) -> bool:
    return len(data) == 4 and 1 <= data[0] <= MOST_BEATS and data[1] < len(LOWER_FIGURES)


def _good_key(data: bytes) -> bool:
    return len(data) == 2 and (data[0] + 7) % 256 <= 14 and data[1] <= 1


def _good_smpte(data: bytes) -> bool:
    return len(data) == 5 and data[0] < 128 and max(data[1:3]) < 60 and data[4] < 100


_RULES: dict[int, tuple[str, Callable[[bytes], bool]]] = {
    SEQUENCE_NUMBER: ("sequence number", lambda data: len(data) in (0, 2)),
    CHANNEL_PREFIX: ("channel prefix", lambda data: len(data) == 1),
    PORT: ("port number", lambda data: len(data) in (0, 1)),
    TEMPO: ("tempo", lambda data: len(data) == 3 and any(data)),
    SMPTE_OFFSET: ("SMPTE offset", _good_smpte),
    TIME_SIGNATURE: ("metre", _good_meter),
    KEY_SIGNATURE: ("key signature", _good_key),
}
"""Type of a meta event -> its name and whether the bytes are well formed; texts always are."""


def meta_fault(kind: int, payload: bytes) -> str:
    """The name of a malformed meta event, or "" when nothing is wrong with it."""
    rule = _RULES.get(kind)
    return "" if rule is None or rule[1](payload) else rule[0]
