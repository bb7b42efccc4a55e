"""A return in one sentence: what changes, where it is first heard, and what stays."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import groupby
from types import MappingProxyType

import numpy as np

from grooveforge.core import detect_hand
from grooveforge.core.feel_table import BLAST, D_BEAT, feel_word
from grooveforge.core.groove import KICK, SNARE, Groove
from grooveforge.core.kick import FOLLOW
from grooveforge.core.kit import BACKBEAT_SURFACES, BANDS
from grooveforge.core.meter import Meter
from grooveforge.core.section import Section
from grooveforge.core.song import Level
from grooveforge.core.words import listed, many
from grooveforge.formats.bar_words import MOST_NAMED, named_beats

Places = frozenset[Fraction]

KEPT = ("kick", "surface", "snare")
"""What a return may keep, as reports call it."""

RATES: Mapping[str, str] = MappingProxyType(
    {"1/4": "quarters", "1/8": "eighths", "1/16": "sixteenths", "1/8T": "eighth triplets"}
)

LOUDEST_GHOST = BANDS[0].high


@dataclass(frozen=True)
class BarLanes:
    """What one bar plays: where kick and snare (without ghosts) and the hand are struck, and what the hand strikes."""

    kick: Places
    snare: Places
    hand: Places
    surface: str | None
    rate: str | None


def lanes_by_bar(section: Section) -> list[BarLanes]:
    """Every own bar of a section."""
    return [row for span in section.spans if span.own for row in _lanes(span.groove)]


@lru_cache(maxsize=512)
def _lanes(groove: Groove) -> tuple[BarLanes, ...]:
    width = groove.steps_per_bar
    lanes = {}
    for name, lane in ((KICK, groove.kick), (SNARE, groove.snare), ("hand", groove.hand)):
        struck = np.zeros(0, np.int64) if lane is None else lane.struck
        lanes[name] = struck[lane.velocity[struck] > LOUDEST_GHOST] if lane is not None and name == SNARE else struck
    for name, lane in groove.others:
        if name in BACKBEAT_SURFACES:
            lanes[SNARE] = np.union1d(lanes[SNARE], lane.struck)

    def inside(name: str, bar: int) -> Places:
        rows = lanes[name]
        steps = rows[(rows >= bar * width) & (rows < (bar + 1) * width)] - bar * width
        return frozenset(Fraction(step, groove.grid) for step in steps.tolist())

    rows = []
    for bar in range(groove.bars):
        hand = inside("hand", bar)
        steps = np.array(sorted(int(place * groove.grid) for place in hand), np.int64)
        rate = detect_hand.subdivision_of(steps, groove.meter, groove.grid) if steps.size else None
        rows.append(BarLanes(inside(KICK, bar), inside(SNARE, bar), hand, groove.surface if hand else None, rate))
    return tuple(rows)


def sentence(before: Section, now: Section) -> tuple[str, tuple[str, ...]]:
    """What a return does otherwise than the statement before, in words, and which of `KEPT` stays.

    The statement before is begun again where it is shorter. The last bar has no say in what stays where the section
    has an ending or a fill.
    """
    told = Telling(before, now)
    return ", ".join(told.parts()), told.kept


@dataclass(frozen=True)
class Telling:
    """Two statements of a part side by side."""

    before: Section
    now: Section

    @property
    def rows(self) -> list[tuple[BarLanes, BarLanes]]:
        old, new = lanes_by_bar(self.before), lanes_by_bar(self.now)
        return [(old[bar % len(old)], row) for bar, row in enumerate(new)]

    @property
    def body(self) -> list[tuple[BarLanes, BarLanes]]:
        """The bars that neither an ending, a fill nor an arrival that is heard again is in."""
        rows, length = self.rows, len(lanes_by_bar(self.before))
        numbered = [(bar, row) for bar, row in enumerate(rows) if not (bar and bar % length == 0)]  # begun again
        if any(said.ending or said.fill for said in (self.before.settings, self.now.settings)):
            numbered = [(bar, row) for bar, row in numbered if (bar + 1) % length and bar + 1 < len(rows)]
        return [row for _, row in numbered] or rows

    @property
    def kept(self) -> tuple[str, ...]:
        same: Mapping[str, Callable[[BarLanes], object]] = {
            "kick": lambda row: row.kick,
            "surface": lambda row: row.surface,
            "snare": lambda row: row.snare,
        }
        return tuple(name for name in KEPT if all(same[name](old) == same[name](new) for old, new in self.body))

    def first(self, pick: Callable[[BarLanes], object]) -> tuple[int, BarLanes, BarLanes] | None:
        """The first bar, from 1, in which something differs, with both sides of it."""
        for number, (old, new) in enumerate(self.rows, 1):
            if pick(old) != pick(new) and (old, new) in self.body:
                return number, old, new
        return None

    def parts(self) -> Iterator[str]:
        said = [*self.snare(), *self.hand(), *self.kick(), *self.rest()]
        yield from said or ["the strokes of its last beats move"]
        yield from self.stays()

    def snare(self) -> Iterator[str]:
        found = self.first(lambda row: row.snare)
        if found is None:
            return
        number, old, new = found
        feels = self.before.feel, self.now.feel
        changed = feels[1] is not None and feels[0] != feels[1]
        figure = feels[1] in (BLAST, D_BEAT) or len(new.snare) > MOST_NAMED or not new.snare
        words = _snare_words(old.snare, new.snare, self.now.meter)
        if changed and figure:
            instead = f" instead of {feel_word(str(feels[0]))}" if feels[0] else ""
            words = f"{feel_word(str(feels[1]))}{instead}"
        elif changed:
            words = f"{feel_word(str(feels[1]))}, {words}"
        yield f"{words} from bar {number}"

    def hand(self) -> Iterator[str]:
        found = self.first(lambda row: row.surface)
        if found is not None:
            number = found[0]
            where = [row.surface for _, row in self.rows]
            yield _moves(where[number - 1 :], number)
        rate = self.first(lambda row: row.hand)
        if rate is not None:
            number = rate[0]
            heard = self.rows[min(number, len(self.rows) - 1)]  # the bar after it has no arrival
            yield f"the hand {_rate_words(*heard)} from bar {number}"

    def kick(self) -> Iterator[str]:
        found = self.first(lambda row: row.kick)
        if found is not None:
            number, old, new = found
            if self.now.settings.kick == FOLLOW and self.now.settings.riff != self.before.settings.riff:
                yield "the kick follows another riff"
                return
            gone, come = old.kick - new.kick, new.kick - old.kick
            meter = self.now.meter
            if len(gone | come) > MOST_NAMED:
                yield f"{len(new.kick)} kicks a bar instead of {len(old.kick)} from bar {number}"
            elif come:
                yield f"kick also on {named_beats(come, meter)} from bar {number}"
            else:
                yield f"no kick on {named_beats(gone, meter)} from bar {number}"

    def rest(self) -> Iterator[str]:
        """Ending and level, the tempo where it differs."""
        if self.before.settings.ending != self.now.settings.ending:
            length = self.now.settings.ending
            how = "no ending of its own" if not length else f"another turn in the last {_length(length)}"
            yield f"{how} in bar {self.now.own_bars}"
        level = (self.now.settings.level or EVEN).top - (self.before.settings.level or EVEN).top
        if level:
            yield f"{many(abs(level), 'step')} {'louder' if level > 0 else 'softer'}"

    def stays(self) -> Iterator[str]:
        kept = self.kept
        if "kick" in kept:
            yield "the kick stays" + (" with the riff" if self.now.settings.kick == FOLLOW else "")
        if "surface" in kept and self.now.timekeepers:
            yield f"the hand stays on {listed(self.now.timekeepers)}"
        if "snare" in kept:
            yield "the snare stays"


EVEN = Level(0, 0)


def _length(ending: bool | str) -> str:
    return "2 beats" if ending is True else str(ending).removeprefix("1 ")


def _snare_words(old: Places, new: Places, meter: Meter) -> str:
    if not new:
        return "no snare"
    where = named_beats(new, meter) if len(new) <= MOST_NAMED else f"{len(new)} places"
    before = named_beats(old, meter) if len(old) <= MOST_NAMED else f"{len(old)} places"
    return f"snare on {where}" + (f" instead of {before}" if old else "")


def _rate_words(old: BarLanes, new: BarLanes) -> str:
    if not new.hand:
        return "rests"
    words = RATES.get(str(new.rate), "")
    if words and old.rate != new.rate:
        return f"in {words}"
    times = {len(old.hand) * 2: "twice as often", len(old.hand) / 2: "half as often"}
    return times.get(len(new.hand), "in another rhythm")


def _moves(where: Sequence[str | None], first: int) -> str:
    """ "the hand moves to china from bar 1, to crash from bar 7"."""
    runs, bar = [], first
    for name, group in groupby(where):
        runs.append((name, bar))
        bar += len(list(group))
    said = [f"to {name} from bar {number}" if name else f"rests from bar {number}" for name, number in runs]
    return f"the hand moves {listed(said)}"
