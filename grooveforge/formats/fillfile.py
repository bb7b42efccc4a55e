"""Fills as their files say them: strokes over exactly one beat to two bars."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from grooveforge.core.figures import Fill, FillStroke, last_beats
from grooveforge.core.meter import Meter
from grooveforge.errors import FormatError, GrooveForgeError
from grooveforge.formats.keys import FILL
from grooveforge.formats.tab_marks import Stroke
from grooveforge.formats.tab_rows import Tab
from grooveforge.formats.toml_text import blamed

FOUR_FOUR = Meter(4, 4)

TempoRange = tuple[Fraction, Fraction]


@dataclass(frozen=True)
class TabFile:
    """What files of grooves and of fills say alike. Everything but the tab may be left out.

    Parameters
    ----------
    tab : as written. meter : with its grouping. grid : steps to a whole note, None where the columns tell.
    name, profile, sticking, about, tags : what the writer says about it.
    tempo : (lowest, highest) in quarter notes a minute.
    """

    tab: Tab
    meter: Meter = FOUR_FOUR
    grid: int | None = None
    name: str | None = None
    tempo: TempoRange | None = None
    profile: str | None = None
    sticking: str | None = None
    about: str | None = None
    tags: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class FillFile(TabFile):
    """What a fill file says: strokes over exactly `length`.

    Parameters
    ----------
    length : "1 beat" to "2 bars", in the metre's beats. The rest as in `TabFile`.

    Raises
    ------
    FormatError
        When the columns do not fill the length; the fault's path is the key.
    """

    length: str

    def __post_init__(self) -> None:
        _ = self.steps_to_whole

    @property
    def kind(self) -> str:
        return FILL

    @cached_property
    def whole(self) -> Fraction:
        """Length in whole notes; beats are the metre's last ones, as a fill ends at a bar line."""
        return length_in(self.length, self.meter)

    @cached_property
    def steps_to_whole(self) -> int:
        """The grid: steps to a whole note."""
        if self.grid is not None:
            if self.grid * self.whole != self.tab.columns:
                message = f"the tab has {self.tab.columns} columns, and {self.length} on a grid of {self.grid} has"
                raise FormatError(f"{message} {self.grid * self.whole}", path=("tab",))
            return self.grid
        try:
            return self.tab.grid(self.meter, self.whole)
        except GrooveForgeError as error:
            raise blamed(error, "tab") from error

    @cached_property
    def strokes(self) -> tuple[tuple[Fraction, Stroke], ...]:
        """Every stroke as (whole notes from the fill's start, what it strikes), rising."""
        strokes = sorted(self.tab.strokes(), key=lambda found: found[0])
        return tuple((Fraction(column, self.steps_to_whole), stroke) for column, _, stroke in strokes)

    def fill(self, name: str) -> Fill:
        """The fill that the file writes, under a name where it says none of its own."""
        if any(not stroke.surface for _, stroke in self.strokes):
            raise FormatError("a fill leaves the timekeeping hand and has no line T", path=("tab",))
        strokes = (FillStroke(at, row.surface, row.velocity, row.kind) for at, row in self.strokes)
        beats = last_beats(self.length, (self.meter, self.meter))
        return Fill(self.name or name, beats, tuple(strokes), self.tempo)


def length_in(length: str, meter: Meter) -> Fraction:
    """A length such as "2 beats" or "1 bar" at the end of a bar, in whole notes.

    Raises
    ------
    FormatError
        When it is longer than two bars.
    """
    count, unit = int(length.split()[0]), length.split()[1]
    if unit.startswith("bar"):
        return count * meter.whole
    beats = meter.beat_lengths * 2
    if count > len(beats):
        message = f"{length} are more than two bars of {meter}"
        raise FormatError(message, hint="at most 2 bars", path=("length",))
    return sum(beats[-count:], Fraction(0))
