"""The value that a drum tab is read into: its lines, and the groove that they write."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property

from grooveforge.core.groove import Groove
from grooveforge.core.meter import Meter
from grooveforge.errors import FormatError
from grooveforge.formats.tab_groove import bar_grid, build_groove
from grooveforge.formats.tab_marks import REST, STICKING_LINE, Stroke, legend, marks_of


@dataclass(frozen=True)
class Row:
    """One line of a tab.

    Parameters
    ----------
    label : its letters. marks : its columns, free characters left out.
    bars : columns between its bar lines; empty where it has none. line : the text's line, from 1.
    """

    label: str
    marks: str
    bars: tuple[int, ...] = ()
    line: int = field(default=0, compare=False)

    def __str__(self) -> str:
        return self.printed(len(self.label))

    def printed(self, width: int) -> str:
        """The line with its label padded to `width` letters."""
        cells, start = [], 0
        for size in self.bars:
            cells.append(self.marks[start : start + size])
            start += size
        body = "|" + "|".join(cells) + "|" if cells else self.marks
        return f"{self.label:{width}} {body}"


@dataclass(frozen=True)
class Tab:
    """A tab as it was written: its lines in order, without comments and spaces."""

    rows: tuple[Row, ...]

    def __str__(self) -> str:
        return self.printed()

    def printed(self, with_legend: bool = False) -> str:
        """The tab as text, each line closed by a line end; with a legend of its marks as comments."""
        width = max(len(row.label) for row in self.rows)
        lines = [row.printed(width) for row in self.rows]
        if with_legend:
            lines += legend((row.label, row.marks) for row in self.rows)
        return "".join(f"{line}\n" for line in lines)

    @property
    def columns(self) -> int:
        return len(self.rows[0].marks)

    @cached_property
    def sticking(self) -> str | None:
        """The marks of the line St, R and L under the strokes."""
        return next((row.marks for row in self.rows if row.label == STICKING_LINE), None)

    @cached_property
    def bars(self) -> frozenset[tuple[int, ...]]:
        """Columns between bar lines, of every line that has them; lines may differ."""
        return frozenset(row.bars for row in self.rows if row.bars)

    def strokes(self) -> list[tuple[int, str, Stroke]]:
        """Every stroke as (column, label, what it strikes), line by line."""
        return [
            (column, row.label, marks[mark])
            for row in self.rows
            if row.label != STICKING_LINE
            for marks in (marks_of(row.label) or {},)
            for column, mark in enumerate(row.marks)
            if mark != REST
        ]

    def grid(self, meter: Meter, whole: Fraction | None = None) -> int:
        """Steps to a whole note where the writer does not say.

        One bar between bar lines; without bar lines sixteenths if the columns make whole bars of them, else
        eighth triplets (12), else the whole tab is one bar.

        Parameters
        ----------
        meter : of the tab. whole : length in whole notes that it must have; None for any number of bars.

        Raises
        ------
        FormatError
            When the columns make no bars.
        """
        return bar_grid(self.columns, self.bars, meter, whole)

    def groove(
        self,
        meter: Meter,
        grid: int | None = None,
        timekeeper: str | None = None,
        feel: str | None = None,
        spelling: str | None = None,
        backbeats: tuple[Fraction, ...] | None = None,
    ) -> Groove:
        """The groove that the tab writes.

        Parameters
        ----------
        grid : steps to a whole note; None for the rule of `Tab.grid`.
        timekeeper : what the hand strikes; None for the line T (closed hi-hat), else the busiest hi-hat,
            cymbal or floor-tom line, else no hand.
        feel, spelling, backbeats : as in `Groove`.

        Raises
        ------
        FormatError
            When the columns make no whole bars, or the timekeeper has no stroke.
        MusicError
            When a value is none that a groove can have.
        """
        grid = self.grid(meter) if grid is None else grid
        steps = meter.steps(grid)
        if self.columns % steps:
            raise FormatError(
                f"{self.columns} columns are no whole bars of {meter} on a grid of {grid}",
                allowed=f"{steps} columns a bar",
                hint="another grid or meter",
            )
        shell = Groove(meter, grid, self.columns // steps, feel=feel, spelling=spelling, backbeats=backbeats)
        return build_groove(shell, self.strokes(), timekeeper)
