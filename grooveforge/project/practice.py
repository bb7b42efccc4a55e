"""What to practise first: the hardest bars of a song, each with the bars beside it as a loop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

from grooveforge.analysis.playability import Checked
from grooveforge.core.count_in import with_count_in
from grooveforge.core.perform import Performance
from grooveforge.core.score import Score, ScoreBar
from grooveforge.core.section import Arrangement, Section
from grooveforge.core.strokes import Events
from grooveforge.core.words import bars_from_to

MOST_LOOPS = 3
"""Loops of a pack: what one sits down to in a day (house rule)."""

SPEEDS = (70, 80, 90, 100)
"""Percent of the tempo, slow to full."""

TIMES = 4
"""How often a loop is played behind its bar of clicks."""


@dataclass(frozen=True)
class Loop:
    """A hard bar and the one before it, as a loop.

    Parameters
    ----------
    hardest : the song's bar number. first, last : the bars of the loop. section : where it stands.
    bars : what is played in them. strokes : in the hardest bar.
    """

    hardest: int
    first: int
    last: int
    section: Section
    bars: tuple[ScoreBar, ...]

    @property
    def strokes(self) -> int:
        """How many strokes the hardest bar has."""
        return next(bar.strokes for bar in self.bars if bar.number == self.hardest)

    @property
    def in_words(self) -> str:
        return bars_from_to(self.first, self.last)


def loops(arrangement: Arrangement, checked: Checked, score: Score) -> tuple[Loop, ...]:
    """The loops of a song's hardest bars, the hardest first; bars that are played alike count once.

    A loop is the hard bar with the bar that leads into it, where that is of the same section and metre. Where no bar
    costs effort, the busiest ones are taken.
    """
    order = _by_load(checked, score)
    found: list[Loop] = []
    seen: list[frozenset[object]] = []
    taken: set[int] = set()
    for number in order:
        bar = score.bars[number - 1]
        shape = frozenset((hit.place, hit.surface) for hit in bar.hits)
        if not shape or shape in seen or number in taken or len(found) == MOST_LOOPS:
            continue
        section = next(row for row in arrangement.sections if row.bar <= number < row.bar + row.bars)
        leads = number > section.bar and score.bars[number - 2].meter == bar.meter
        first = number - 1 if leads else number
        seen.append(shape)
        taken.update(range(first, number + 1))
        found.append(Loop(number, first, number, section, score.bars[first - 1 : number]))
    return tuple(found)


def _by_load(checked: Checked, score: Score) -> list[int]:
    """Bar numbers, the hardest first; of equals the one with more strokes, then the earlier."""
    loads = dict(enumerate(checked.loads.tolist(), 1))

    def rank(bar: ScoreBar) -> tuple[float, int, int]:
        return -round(loads.get(bar.number, 0.0), 6), -bar.strokes, bar.number

    return [bar.number for bar in sorted(score.bars, key=rank)]


def loop_performance(performance: Performance, bars: Sequence[int], times: int = TIMES) -> Performance:
    """Bars of a song as often as they are practised, behind one bar in which only a click sounds.

    Parameters
    ----------
    bars : ticks of the first bar line and of the one behind the last bar.
    """
    start, end = bars
    once = performance.between(start, end)
    length = end - start
    pieces = [once.events._replace(tick=once.events.tick + turn * length) for turn in range(times)]
    repeated = replace(
        once,
        events=Events.joined(pieces),
        tempos=tuple((at + turn * length, bpm) for turn in range(times) for at, bpm in once.tempos),
        meters=tuple((at + turn * length, meter) for turn in range(times) for at, meter in once.meters),
        markers=(),
        end=times * length,
    )
    return with_count_in(repeated, 1)


def bar_ticks(arrangement: Arrangement, division: int) -> list[int]:
    """The tick of every bar line, the last one too."""
    lengths = [
        int(span.groove.meter.quarters * division)
        for section in arrangement.sections
        for span in section.spans
        for _ in range(span.groove.bars)
    ]
    return list(accumulate(lengths, initial=0))
