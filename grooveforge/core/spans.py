"""Runs of spans as one stretch of time: where they start, cutting them at bar lines.

Positions are whole notes from the first span's start.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate

from grooveforge.core.meter import Meter
from grooveforge.core.section import Span

Spans = tuple[Span, ...]


def whole(spans: Iterable[Span]) -> Fraction:
    """Length in whole notes."""
    return sum((span.groove.whole for span in spans), Fraction(0))


def starts(spans: Iterable[Span]) -> list[Fraction]:
    """Where each span begins, and where the last one ends."""
    return list(accumulate((span.groove.whole for span in spans), initial=Fraction(0)))


def meters(spans: Iterable[Span]) -> list[Meter]:
    """The metre of every bar."""
    return [span.groove.meter for span in spans for _ in range(span.groove.bars)]


def numbered(spans: Iterable[Span], bar: int) -> Spans:
    """The spans with bar numbers from `bar` on."""
    found = []
    for span in spans:
        found.append(span if span.bar == bar else replace(span, bar=bar))
        bar += span.groove.bars
    return tuple(found)


def cut_at_bar(spans: Sequence[Span], bar: int) -> tuple[Spans, Spans]:
    """The spans before and from the song's bar number `bar` on."""
    before: list[Span] = []
    after: list[Span] = []
    for span in spans:
        bars = span.groove.bars
        inside = bar - span.bar
        if inside >= bars:
            before.append(span)
        elif inside <= 0:
            after.append(span)
        else:
            edge = inside * span.groove.steps_per_bar
            first = tuple(step for step in span.tight if step < edge)
            second = tuple(step - edge for step in span.tight if step >= edge)
            before.append(replace(span, groove=span.groove.slice(0, inside), tight=first))
            after.append(replace(span, bar=bar, groove=span.groove.slice(inside, bars), tight=second))
    return tuple(before), tuple(after)


def bar_at(spans: Sequence[Span], position: Fraction) -> int:
    """The song's number of the bar that a position stands in."""
    for span, end in zip(spans, starts(spans)[1:]):
        if position < end:
            return span.bar + int((position - end + span.groove.whole) / span.groove.meter.whole)
    return spans[-1].bar + spans[-1].groove.bars
