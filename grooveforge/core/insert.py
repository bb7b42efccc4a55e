"""Beats put between the bars of a section: bars of their own, with a metre of their own.

House rule: in them the groove plays on, as what would come next begins; then the next bar begins from its own
1 all the same. The hand stays where it was in the bar before.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import ceil

from grooveforge.core.figures import Insert
from grooveforge.core.groove import Groove
from grooveforge.core.meter import Meter
from grooveforge.core.section import Span
from grooveforge.core.spans import Spans, cut_at_bar, numbered
from grooveforge.errors import MusicError


def bars_behind(inserts: Sequence[Insert], meter: Meter) -> int:
    """How many bars behind the section's end the inserted beats may reach into."""
    return max((ceil(row.beats / meter.quarters) for row in inserts), default=0)


def with_inserts(spans: Spans, source: Groove, inserts: Sequence[Insert], bar: int) -> Spans:
    """The spans of a section with beats inserted, numbered from the song's bar `bar` on.

    Parameters
    ----------
    spans : the section's own bars, numbered from 1. source : the same bars before the hand moved, and at least
        `bars_behind` more.

    Raises
    ------
    MusicError
        When beats are put before a bar that the section does not have.
    """
    bars = sum(span.groove.bars for span in spans)
    wrong = next((row.before_bar for row in inserts if row.before_bar > bars + 1), None)
    if wrong is not None:
        message = f"beats are put before bar {wrong} of a section of {bars}"
        raise MusicError(message, allowed=f"1 to {bars + 1}, which stands behind the last")
    found: list[Span] = []
    rest = spans
    for row in sorted(inserts, key=lambda row: row.before_bar):
        before, rest = cut_at_bar(rest, row.before_bar)
        found += before
        near = found[-1] if found else rest[0]
        piece = opening(source, row.before_bar - 1, row.beats)
        if near.groove.surface is not None:
            piece = piece.move_hand(near.groove.surface)
        found.append(Span(row.before_bar, piece, own=False))
    return numbered((*found, *rest), bar)


def opening(source: Groove, bar: int, beats: int) -> Groove:
    """The first `beats` quarters from a bar of a groove on (from 0), as one bar; what follows runs on into them."""
    length = Fraction(beats, 4)
    meter = source.meter if length == source.meter.whole else Meter(beats, 4)
    finer = source.fit_grid((length,))
    first = bar * finer.steps_per_bar
    cut = slice(first, first + int(length * finer.grid))
    return finer.map_lanes(
        lambda lane: lane.at(cut), meter=meter, bars=1, feel=None, spelling=None, backbeats=None
    )
