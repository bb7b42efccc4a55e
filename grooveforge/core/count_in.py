"""Bars in front of bar 1: the song moved back behind a count-in."""

from __future__ import annotations

from dataclasses import replace

from grooveforge.core.perform import Performance

MARKER = "count-in"


def count_in_ticks(performance: Performance, bars: int) -> int:
    """The length of a count-in of `bars` bars of the first bar's metre."""
    return int(bars * performance.meters[0][1].quarters * performance.division)


def with_count_in(performance: Performance, bars: int) -> Performance:
    """The song behind `bars` bars in which nothing plays, in the metre and tempo of its first bar."""
    lead = count_in_ticks(performance, bars)
    if not lead:
        return performance
    ticks = performance.events.tick + lead
    ticks.flags.writeable = False
    return replace(
        performance,
        events=performance.events._replace(tick=ticks),
        tempos=tuple((at + lead if at else 0, bpm) for at, bpm in performance.tempos),
        meters=tuple((at + lead if at else 0, meter) for at, meter in performance.meters),
        markers=((0, MARKER), *((at + lead, name) for at, name in performance.markers)),
        end=performance.end + lead,
    )
