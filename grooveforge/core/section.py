"""The values of an arrangement: spans of bars under one surface, sections, the whole."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from itertools import accumulate

from grooveforge.core import tempo
from grooveforge.core.differences import Difference
from grooveforge.core.groove import Groove
from grooveforge.core.meter import Meter
from grooveforge.core.played_bar import PlayedBar
from grooveforge.core.song import Riff, Settings


@dataclass(frozen=True)
class Span:
    """Bars of a section of one metre and under one surface.

    Parameters
    ----------
    bar : the song's bar number of the first. groove : exactly what is played, bar by bar.
    tight : steps whose strokes stand exactly in time whatever the looseness (arrivals, stops).
    own : whether these are bars of the part itself; inserted beats and the song's final hit are none.
    """

    bar: int
    groove: Groove
    tight: tuple[int, ...] = ()
    own: bool = True


@dataclass(frozen=True)
class Followed:
    """The riff under a section's kick: the attacks chosen, how long it has run before, and for how long it runs.

    `start` and `length` are whole notes. The riff runs in the part's own bars and waits in inserted ones.
    """

    riff: Riff
    start: Fraction
    length: Fraction


@dataclass(frozen=True)
class Section:
    """One statement of a part, arranged.

    Parameters
    ----------
    name, part, statement : the entry's name, its part, and the how-manieth of that part this is (from 1).
    bar, bars : the song's bar number of its first bar (from 1), and how many there are, inserted ones and the
        song's final hit counted.
    meter : of its own bars. tempo : (quarters from its start, quarter notes a minute) steps.
    settings : what holds in it. feel : as played; None where nothing beats back.
    spans : its bars. backbeats : how many backbeats its own bars have. differences : what its entry changes.
    followed : the riff that its kick follows.
    played : bars that stand in `spans` just as a drummer played them, by the song's bar number (`core.played`).
    arranged : where there are such bars, all spans without them: the timing and levels of other bars go by these.
    """

    name: str
    part: str
    statement: int
    bar: int
    bars: int
    meter: Meter
    tempo: tuple[tempo.TempoStep, ...]
    settings: Settings
    spans: tuple[Span, ...]
    feel: str | None = None
    backbeats: int = 0
    differences: tuple[Difference, ...] = ()
    followed: Followed | None = None
    played: tuple[tuple[int, PlayedBar], ...] = ()
    arranged: tuple[Span, ...] = ()

    @property
    def as_arranged(self) -> Section:
        """The section without the bars that a drummer changed."""
        return replace(self, spans=self.arranged, played=(), arranged=()) if self.played else self

    @cached_property
    def quarters(self) -> Fraction:
        """Length in quarter notes."""
        return 4 * sum((span.groove.whole for span in self.spans), Fraction(0))

    @property
    def own_bars(self) -> int:
        """How many bars of the part itself it has."""
        return sum(span.groove.bars for span in self.spans if span.own)

    @property
    def own_bar_numbers(self) -> tuple[int, ...]:
        """The song's bar number of each bar of the part itself."""
        return tuple(span.bar + bar for span in self.spans if span.own for bar in range(span.groove.bars))

    @property
    def placed_spans(self) -> Iterator[tuple[Fraction, Span]]:
        """Every span with its start in whole notes from the section's."""
        starts = accumulate((span.groove.whole for span in self.spans), initial=Fraction(0))
        return zip(starts, self.spans)

    @property
    def timekeepers(self) -> tuple[str, ...]:
        """The surfaces that the hand stands on, in order."""
        names = (span.groove.surface for span in self.spans)
        return tuple(dict.fromkeys(name for name in names if name is not None))


@dataclass(frozen=True)
class Arrangement:
    """A song whose every bar is known; `notes` are lines of the report: what was left out or made up, and why."""

    title: str
    seed: int
    sections: tuple[Section, ...] = field(default_factory=tuple)
    notes: tuple[str, ...] = ()

    @property
    def bars(self) -> int:
        return sum(section.bars for section in self.sections)

    @property
    def seconds(self) -> float:
        """Length of the song in seconds."""
        return sum(tempo.seconds(section.tempo, section.quarters) for section in self.sections)
