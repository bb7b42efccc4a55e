"""The tolerant reader of Standard MIDI Files: what can be read is read, what was bent is a warning.

Source: Standard MIDI Files 1.0 (MMA RP-001). Only what is no MIDI file at all, and SMPTE time, is refused.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np

from grooveforge.errors import FormatError
from grooveforge.formats.smf import SmfFile, SmfTrack, SmfWarning, TempoTable
from grooveforge.formats.smf_events import CUE, MARKER, TEMPO, TEXT, TIME_SIGNATURE, decode_text
from grooveforge.formats.smf_track import TrackReader


def _no_midi(message: str, found: str) -> FormatError:
    return FormatError(
        message,
        found=found,
        allowed="a Standard MIDI File, which begins with MThd",
        hint="export it again as a Standard MIDI File (.mid)",
    )


def read_smf(data: bytes) -> SmfFile:
    """Read a Standard MIDI File of format 0, 1 or 2, bare or wrapped in RIFF.

    Format 2 holds patterns rather than parts: its tracks are laid one after the other, each begun on a bar
    line, with tempo and metre carried on; `SmfTrack.start_tick` takes them apart again.

    Raises
    ------
    FormatError
        When the bytes are no MIDI file, the header is cut short, or time is counted in SMPTE frames.
    """
    data = _unwrapped(bytes(data))
    form, division, declared, position = _header(data)
    chunks = _Chunks(data, form, division)
    chunks.read(position, declared)
    tracks, warnings = chunks.tracks, chunks.file_warnings
    if declared != len(tracks):
        warnings.append(SmfWarning(f"number of tracks: {declared} in the header, {len(tracks)} in the file"))
    if form == 0 and len(tracks) > 1:
        form = 1
        if declared == len(tracks):
            warnings.append(SmfWarning(f"format 0 with {len(tracks)} tracks was read as format 1"))
    return _gathered(SmfFile(form, division, tuple(tracks), (*warnings, *chunks.track_warnings)))


def _unwrapped(data: bytes) -> bytes:
    """The MIDI file inside a RIFF file of type RMID; any other bytes as they are."""
    if data[:4] != b"RIFF":
        return data
    position = 12 if data[8:12] == b"RMID" else len(data)
    while position + 8 <= len(data):
        size = int.from_bytes(data[position + 4 : position + 8], "little")
        if data[position : position + 4] == b"data":
            return data[position + 8 : position + 8 + size]
        position += 8 + size + size % 2
    raise _no_midi("a RIFF file without MIDI in it", _shown(data[:12]))


def _shown(data: bytes) -> str:
    return "an empty file" if not data else repr(data)[1:]


def _header(data: bytes) -> tuple[int, int, int, int]:
    """Format, division, declared number of tracks, and where the chunks begin."""
    if data[:4] != b"MThd":
        raise _no_midi("this is no MIDI file", _shown(data[:4]))
    length = int.from_bytes(data[4:8], "big")
    if len(data) < 14 or length < 6:
        found = f"{len(data)} bytes" if len(data) < 14 else f"a header of {length} bytes"
        raise _no_midi("the header of the MIDI file is cut short", found)
    form, declared, division = (int.from_bytes(data[at : at + 2], "big") for at in (8, 10, 12))
    if form > 2:
        raise FormatError("a format of MIDI file that does not exist", found=str(form), allowed="0, 1 or 2")
    if division & 0x8000:
        raise FormatError(
            "the file counts time in SMPTE frames, so it has no beats",
            place="header",
            found=f"{256 - (division >> 8)} frames a second, {division & 255} ticks a frame",
            allowed="ticks per quarter note",
            hint="export it with ticks per quarter note",
        )
    if not division:
        raise FormatError(
            "the file has no ticks to a quarter", place="header", found="0", allowed="1 to 32767"
        )
    return form, division, declared, 8 + length if 8 + length <= len(data) else 14


class _Chunks:
    """The chunks behind the header: tracks are read, others skipped, junk passed over."""

    def __init__(self, data: bytes, form: int, division: int) -> None:
        self.data, self.division = data, division
        self.bars = _BarLines(division) if form == 2 else None
        self.tracks: list[SmfTrack] = []
        self.file_warnings: list[SmfWarning] = []
        self.track_warnings: list[SmfWarning] = []

    def read(self, position: int, declared: int) -> None:
        data, end = self.data, len(self.data)
        unknown = junk = 0
        while position < end:
            tag, body = data[position : position + 4], position + 8
            length = int.from_bytes(data[position + 4 : body], "big")
            if tag == b"MTrk" and body <= end:
                position = self._track(body, body + length)
            elif body + length <= end and tag.isascii() and tag.decode("ascii").isprintable():
                unknown += 1
                position = body + length
            else:
                following = data.find(b"MTrk", position + 1)
                following = end if following < 0 else following
                if body <= end or len(self.tracks) >= declared:  # else the warning about the number says it
                    junk += following - position
                position = following
        if unknown:
            self.file_warnings.append(SmfWarning(f"chunks of an unknown kind were skipped: {unknown}"))
        if junk:
            self.file_warnings.append(SmfWarning(f"bytes that belong to no chunk were skipped: {junk}"))

    def _track(self, body: int, end: int) -> int:
        """Read the track whose events stand from `body` to `end`; returns where the next chunk begins."""
        number = len(self.tracks) + 1
        start = self.bars.next_line() if self.bars else 0
        reader = TrackReader(self.data, min(end, len(self.data)), number, start)
        stopped = reader.read(body)
        track, warnings = reader.track(self.division)
        self.tracks.append(track)
        if reader.closed and stopped < end:
            if end > len(self.data):
                end, message = stopped, "the track is shorter than its header says"
            else:
                message = "bytes behind the end of the track were skipped"
            warnings.append(SmfWarning(message, number, track.end_tick))
        self.track_warnings += warnings
        if self.bars:
            self.bars.go_on(track)
        return end


class _BarLines:
    """Where the next bar line stands, told track by track; a metre holds from the next bar line on."""

    def __init__(self, division: int) -> None:
        self._whole = 4 * division
        self._line = Fraction(0)
        self._bar = Fraction(self._whole)

    def go_on(self, track: SmfTrack) -> None:
        """Count the bars to the first bar line at or behind the end of the track and its last note."""
        for tick, kind, data in track.events.metas():
            if kind == TIME_SIGNATURE:
                self._count_to(tick)
                self._bar = Fraction(self._whole * data[0], 1 << data[1])
        ends = track.notes.tick + track.notes.duration
        self._count_to(int(ends.max(initial=track.end_tick)))

    def _count_to(self, tick: int) -> None:
        self._line += self._bar * max(0, -((self._line - tick) // self._bar))

    def next_line(self) -> int:
        """The bar line, moved to the next whole tick when it stands between two."""
        self._line = Fraction(-(-self._line // 1))
        return int(self._line)


def _gathered(file: SmfFile) -> SmfFile:
    """The file with tempi, metres and markers gathered from all tracks, by tick and then by track."""
    tempos = file.metas(TEMPO)
    texts = file.metas(MARKER) or file.metas(CUE) or file.metas(TEXT)
    return replace(
        file,
        tempos=TempoTable(
            np.array([tick for tick, _ in tempos], np.int64),
            np.array([int.from_bytes(data, "big") for _, data in tempos], np.int64),
        ),
        meters=tuple((tick, data[0], 1 << data[1]) for tick, data in file.metas(TIME_SIGNATURE)),
        markers=tuple((tick, decode_text(data)) for tick, data in texts),
    )
