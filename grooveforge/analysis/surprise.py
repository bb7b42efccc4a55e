"""How unexpected bars are to someone who has heard the song so far, in bits a stroke.

A bar is a row of symbols: at each instant (position in the bar, set of surfaces), then the bar line. A model of
variable order says how likely each symbol is after the ones before it: counts of the longest context known, mixed
with those of every shorter one by the share of new symbols seen there (Witten and Bell, "The zero-frequency
problem", 1991), down to an equal chance for everything. It learns the song bar by bar.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import log2

import numpy as np
from numpy.typing import NDArray

from grooveforge.analysis.bars import bar_lines
from grooveforge.core.perform import Performance

Symbol = tuple[float, frozenset[int]]
"""Position from the bar line in whole notes, and the surface codes struck there; at the bar line's end no surface."""

Bar = tuple[Symbol, ...]

ORDER = 3
"""The longest context, in symbols (house rule)."""

BAR_LINE = frozenset[int]()

Ints = NDArray[np.int64]


@dataclass
class _Seen:
    """What followed one context: how often each symbol did."""

    counts: dict[Symbol, int] = field(default_factory=dict)
    total: int = 0


class Listener:
    """Someone who hears bars one by one and expects more of the same."""

    def __init__(self) -> None:
        self._seen: dict[Bar, _Seen] = {}
        self._last: Bar = ()

    def heard(self, bar: Bar) -> float:
        """Bits a stroke of a bar, which is then known."""
        bits = self.bits(bar)
        self.learn(bar)
        return bits

    def bits(self, bar: Bar) -> float:
        """Bits a stroke of a bar as the next one, which is not learned."""
        context, total = self._last, 0.0
        for symbol in bar:
            total -= log2(self._chance(symbol, context))
            context = (*context, symbol)[-ORDER:]
        strokes = sum(len(surfaces) for _, surfaces in bar)
        return total / max(strokes, 1)

    def learn(self, bar: Bar) -> None:
        context = self._last
        for symbol in bar:
            for size in range(len(context) + 1):
                seen = self._seen.setdefault(context[len(context) - size :], _Seen())
                seen.counts[symbol] = seen.counts.get(symbol, 0) + 1
                seen.total += 1
            context = (*context, symbol)[-ORDER:]
        self._last = context

    def _chance(self, symbol: Symbol, context: Bar) -> float:
        known = self._seen.get(())
        chance = 1.0 / (1 + (len(known.counts) if known else 0))
        for size in range(len(context) + 1):
            seen = self._seen.get(context[len(context) - size :])
            if seen is None:
                break
            new = len(seen.counts)
            chance = (seen.counts.get(symbol, 0) + new * chance) / (seen.total + new)
        return chance


def bar_of(places: Sequence[float], surfaces: Sequence[int], length: float) -> Bar:
    """A bar as symbols.

    Parameters
    ----------
    places : of its strokes, whole notes from the bar line. surfaces : their codes. length : of the bar.
    """
    struck: dict[float, set[int]] = {}
    for place, code in zip(places, surfaces):
        struck.setdefault(place, set()).add(code)
    return (*((place, frozenset(struck[place])) for place in sorted(struck)), (length, BAR_LINE))


def bars_of(performance: Performance) -> list[Bar]:
    """Every bar of a performance as symbols."""
    lines = bar_lines(performance)
    events = performance.events
    place = events.tick - events.offset
    order = np.argsort(place, kind="stable")
    place = np.maximum(place[order], 0)
    edges = np.searchsorted(place, lines).tolist()
    whole = 4 * performance.division
    surface = events.surface[order].tolist()
    bars = []
    for (start, end), (low, high) in zip(pairwise(lines.tolist()), pairwise(edges)):
        within = [(tick - start) / whole for tick in place[low:high].tolist()]
        bars.append(bar_of(within, surface[low:high], (end - start) / whole))
    return bars


def surprise(bars: Iterable[Bar]) -> NDArray[np.float64]:
    """(bars,) bits a stroke of each bar to someone who has heard those before it."""
    listener = Listener()
    return np.array([listener.heard(bar) for bar in bars], np.float64)
