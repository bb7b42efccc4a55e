"""`follow`: a groove whose kick follows a riff, over enough bars for cycle and bar line to meet."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from pathlib import Path
from typing import Any

from grooveforge import files
from grooveforge.core.arrange import arrange
from grooveforge.core.following import SectionFollowing, section_following
from grooveforge.core.groove import Groove
from grooveforge.core.loop import DEFAULT_TEMPO
from grooveforge.core.perform import perform
from grooveforge.core.riff import ALL, meeting_bars, turn_bars
from grooveforge.core.song import MOST_SECTION_BARS, Entry, Riff, Settings, Song
from grooveforge.errors import FormatError, GrooveForgeError
from grooveforge.formats.drums_groove import groove_of_midi
from grooveforge.formats.drums_read import read_drums
from grooveforge.formats.groovefile import GrooveFile, read_groove_file
from grooveforge.formats.midi import song_midi
from grooveforge.formats.riff_report import counts, following_facts, meets_facts, meets_words
from grooveforge.formats.smf_read import read_smf
from grooveforge.project.given_riff import in_range, riff_of
from grooveforge.project.library import ENDING, is_midi, library_groove

PART = "riff"


@dataclass(frozen=True)
class FollowedGroove:
    """A groove under a riff as a MIDI file, and how truly its kick follows.

    Parameters
    ----------
    data : the file. bars : how many it has. meets : bars on whose bar line the cycle begins anew, counted from
        1, with the bar line that ends the file.
    """

    data: bytes
    bars: int
    counts: SectionFollowing
    meets: tuple[int, ...]
    warnings: tuple[str, ...] = ()

    def facts(self) -> dict[str, Any]:
        """The report as `follow --json` gives it."""
        return {
            **following_facts(self.counts),
            "meets": meets_facts(self.meets),
            "bars": self.bars,
            "residue_ms": self.counts.residue_ms,
        }

    @property
    def in_words(self) -> str:
        off = f"; the riff stands {self.counts.residue_ms:g} ms off the grid on average"
        bars = f"{self.bars} bar" + ("s" if self.bars > 1 else "")
        said = f"{bars}, {counts(self.counts)}; {meets_words(self.meets)}"
        return said + (off if self.counts.residue_ms else "")


def follow(riff: str, under: str, mode: str = ALL, restart: bool = False) -> FollowedGroove:
    """A groove with its kick on a riff's attacks.

    Parameters
    ----------
    riff : a MIDI file, or a typed line of sixteenths. under : a groove's name, a groove file or a drum MIDI
        file. mode : which attacks count.
    restart : the riff begins anew with each pass of the groove; else it runs on until cycle and bar line meet.

    Raises
    ------
    GrooveForgeError
        When either cannot be read, the mode chooses no attack or the attacks do not fit the groove's grid.
    """
    read = riff_of(riff)
    groove, grooves_tempo = _groove(under)
    bars, warnings = _bars(read.riff, groove, restart)
    song = _song(read.riff, groove, bars, mode, read.bpm or grooves_tempo or Fraction(DEFAULT_TEMPO))
    arrangement = arrange(song)
    written = song_midi(perform(arrangement), song.title)
    meets = tuple(number + 1 for number in meeting_bars(read.riff.whole, groove.meter.whole, bars))
    return FollowedGroove(
        written.data,
        bars,
        section_following(arrangement.sections[0]),
        meets,
        (*read.warnings, *warnings, *written.warnings),
    )


def _bars(riff: Riff, groove: Groove, restart: bool) -> tuple[int, list[str]]:
    """Whole passes of the groove: until cycle and bar line meet, or with `restart` one that holds the cycle."""
    bar = groove.meter.whole
    needed = ceil(riff.whole / bar) if restart else turn_bars(riff.whole, bar)
    bars = groove.bars * ceil(needed / groove.bars)
    if bars <= MOST_SECTION_BARS:
        return bars, []
    fewer = groove.bars * ceil(ceil(riff.whole / bar) / groove.bars)
    if fewer > MOST_SECTION_BARS:
        raise FormatError(f"the riff is {fewer} bars long", allowed=f"at most {MOST_SECTION_BARS}")
    return fewer, [f"cycle and bar line meet only after {needed} bars; the file holds the riff once, {fewer} bars"]


def _song(riff: Riff, groove: Groove, bars: int, mode: str, tempo: Fraction) -> Song:
    """A song of one section: the groove under the riff, without an arrival."""
    settings = Settings(
        groove=PART, bars=bars, meter=groove.meter, kick="follow", riff=PART, riff_mode=mode, arrival=False
    )
    return Song(
        "riff and drums",
        (Entry(PART),),
        {PART: settings},
        {PART: groove},
        tempo=tempo,
        meter=groove.meter,
        riffs={PART: riff},
    )


def _groove(under: str) -> tuple[Groove, Fraction | None]:
    """A groove and its tempo: a drum MIDI's own, the middle of a groove file's range; None where it says none.

    A name stands for a file of this folder, then for a groove of the library.
    """
    file = Path(under)
    is_path = bool(file.suffix) or file.is_file() or under == files.STANDARD_STREAM
    named = under if is_path else f"{under}{ENDING}"
    if not is_path and not Path(named).is_file():
        return _of_file(library_groove(under))
    data = files.read_bytes(named)
    try:
        if is_midi(data):
            return groove_of_midi(data), in_range(read_drums(read_smf(data)).bars[0].bpm)
        return _of_file(read_groove_file(files.decode(data)))
    except GrooveForgeError as error:
        raise error.in_file(named) from error


def _of_file(file: GrooveFile) -> tuple[Groove, Fraction | None]:
    return file.groove, file.middle_tempo
