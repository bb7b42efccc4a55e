"""A groove as a loop that is performed: a song of one section."""

from __future__ import annotations

from fractions import Fraction

from grooveforge.core.arrange import arrange
from grooveforge.core.groove import Groove
from grooveforge.core.perform import Performance, perform
from grooveforge.core.song import Entry, Settings, Song

LOOP = "loop"
DEFAULT_TEMPO = 120.0


def loop_performance(groove: Groove, bpm: float = DEFAULT_TEMPO, times: int = 1, plain: bool = False) -> Performance:
    """A groove so many times in a row, at a tempo in quarter notes a minute; plain: on its grid, with flat levels."""
    settings = Settings(groove=LOOP, bars=times * groove.bars, meter=groove.meter, arrival=False)
    tempo = Fraction(bpm).limit_denominator(1000)
    song = Song(LOOP, (Entry(LOOP),), {LOOP: settings}, {LOOP: groove}, tempo=tempo, meter=groove.meter)
    return perform(arrange(song), plain)
