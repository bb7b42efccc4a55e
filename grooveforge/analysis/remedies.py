"""For each finding the tempo that it fits up to and the smallest change that removes it; both are tried out.

Candidates come smallest first, those that a listener misses least before others. Each is made to the bars around the
finding and played again; the first one that removes the finding and makes no other is proposed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import chain, combinations, islice

import numpy as np

from grooveforge.analysis.changes import Change, Stroke, apply_change
from grooveforge.analysis.findings import Finding, Reason, places
from grooveforge.analysis.instants import CLOSE_SECONDS, Ints, Passage, bar_lines, passage_of, without_graces
from grooveforge.analysis.limbs import Player
from grooveforge.analysis.options import KICK, PEDAL, RANK
from grooveforge.analysis.profile import ZONE_OF_CODE
from grooveforge.analysis.wording import change_words
from grooveforge.core.kit import GRACE_STROKES, HI_HATS, SURFACE_CODES, SURFACE_NAMES, Kind
from grooveforge.core.perform import Performance

WINDOW_BARS = 4
"""Bars of a finding that are played again; one that goes on for longer has shown by then what it is."""

SLOWEST_FIT = 20
"""Quarter notes a minute: what does not fit at this tempo fits at none."""

SHORT = 12
"""Strokes of a passage up to which one or two of them are looked for; longer ones are thinned first."""

STRAIGHT, TRIPLE = (2,), (3, 2)
"""How many steps of a lane become one of the next slower subdivision: sixteenths to eighths, triplets to their beat."""

_NEAR = (
    ("crash", "second crash", "china", "splash"),
    ("ride", "second ride"),
    ("high tom", "hi-mid tom", "low-mid tom", "low tom", "high floor tom", "floor tom"),
)
"""Surfaces that stand in for one another when a hand cannot get there in time."""

_Mark = tuple[Reason, int, int]
"""A finding by its reason and the ticks of its first and last instant."""


@dataclass(frozen=True)
class _Trial:
    """The bars around a finding, which are played again; `mark` counts ticks from their start."""

    window: Performance
    mark: _Mark
    bpm: float
    before: frozenset[_Mark]
    written: tuple[tuple[int, str], ...]
    player: Player
    feet: bool

    def passage(self, performance: Performance, slower: float = 1.0) -> Passage:
        return passage_of(performance, dict(self.written), slower)

    def marks(self, passage: Passage) -> set[_Mark]:
        """What the limbs of the finding cannot play of a passage."""
        found = places((self.player.play_feet(passage) if self.feet else self.player.play_hands(passage),))
        return {(row.reason, int(passage.place[row.first]), int(passage.place[row.last])) for row in found}

    @property
    def alone(self) -> bool:
        """Whether the finding is the only one of its bars; it is gone where they can be played."""
        return len(self.before) == 1 and not self.written

    def stands(self, marks: set[_Mark]) -> bool:
        """Whether something is still wrong where the finding was, for whatever reason."""
        _, first, last = self.mark
        return any(row[1] <= last and row[2] >= first for row in marks)

    def removes(self, change: Change) -> bool:
        """Whether a change removes the finding and makes no other."""
        passage = self.passage(apply_change(self.window, change))
        if self.alone:
            return self.player.playable(passage, self.feet)
        marks = self.marks(passage)
        if self.stands(marks):
            return False
        before = {(reason, first) for reason, first, _ in self.before}
        return all((reason, first) in before for reason, first, _ in marks)

    def fits(self) -> int | None:
        """The largest whole tempo below the present one at which the finding is gone; None where there is none."""
        if self.mark[0] == Reason.THREE_HANDS or self._stands_at(SLOWEST_FIT):
            return None
        low, high = SLOWEST_FIT, int(-(-self.bpm // 1))
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if self._stands_at(middle) else (middle, high)
        return low

    def _stands_at(self, bpm: int) -> bool:
        if bpm >= self.bpm:
            return False
        passage = self.passage(self.window, self.bpm / bpm)
        if self.alone:
            return not self.player.playable(passage, self.feet)
        return self.stands(self.marks(passage))


def with_remedies(
    performance: Performance, findings: tuple[Finding, ...], player: Player, written: Mapping[int, str] | None = None
) -> tuple[Finding, ...]:
    """The findings with the tempo that each fits up to and the smallest change that removes it.

    Findings that are alike, as where a bar comes again, are tried once.
    """
    lines = bar_lines(performance)
    known: dict[object, tuple[int | None, Change | None]] = {}
    found = []
    for finding in findings:
        start, end = _around(finding, lines, performance.division)
        window = performance.between(start, end)
        key = (finding.reason, finding.tick - start, finding.end - start, finding.bpm, *_content(window))
        if key not in known:
            inside = tuple((tick - start, hand) for tick, hand in (written or {}).items() if start <= tick < end)
            known[key] = _tried(window, (finding, start), inside, player)
        fits, change = known[key]
        if change is not None:
            change = _placed(change, performance, finding, start, lines)
        found.append(replace(finding, fits=fits, change=change))
    return tuple(found)


def _around(finding: Finding, lines: Ints, division: int) -> tuple[int, int]:
    """Ticks of the bar lines round a finding that leave a second on both sides."""
    second = round(finding.bpm / 60 * division)
    last = min(finding.last_bar, finding.bar + WINDOW_BARS - 1)
    early = finding.tick - int(lines[finding.bar - 1]) < second
    late = finding.last_bar > last or int(lines[last]) - finding.end < second
    return int(lines[max(finding.bar - 1 - early, 0)]), int(lines[min(last + late, lines.size - 1)])


def _content(window: Performance) -> tuple[object, ...]:
    return (window.tempos, *(column.tobytes() for column in window.events[:2]), window.events.kind.tobytes())


def _tried(
    window: Performance, of: tuple[Finding, int], written: tuple[tuple[int, str], ...], player: Player
) -> tuple[int | None, Change | None]:
    finding, start = of
    mark = (finding.reason, finding.tick - start, finding.end - start)
    trial = _Trial(window, mark, finding.bpm, frozenset(), written, player, of_feet(finding))
    trial = replace(trial, before=frozenset(trial.marks(trial.passage(window))))
    tried = islice((row for row in candidates(window, finding, mark) if row.small), MOST_TRIED)
    change = next((row for row in tried if trial.removes(row)), None)
    return trial.fits(), change


def _placed(change: Change, performance: Performance, finding: Finding, start: int, lines: Ints) -> Change:
    """The change with ticks of the whole performance, and in words; a lane is thinned over the whole passage."""
    if change.thinned is not None:
        ticks = _lane(performance, change.thinned, finding.tick, finding.end)
        removed = _off(ticks, change.spacing, lines)
        moved = replace(change, removed=tuple((tick, change.thinned) for tick in removed))
    else:
        moved = replace(
            change,
            removed=_later(change.removed, start),
            moved=tuple(((tick + start, code), to) for (tick, code), to in change.moved),
            plain=_later(change.plain, start),
            ringing=_later(change.ringing, start),
        )
    return replace(moved, in_words=change_words(moved, lines, performance.division))


def _later(strokes: tuple[Stroke, ...], ticks: int) -> tuple[Stroke, ...]:
    return tuple((tick + ticks, code) for tick, code in strokes)


# -- candidates -----------------------------------------------------------------------------------------


def candidates(window: Performance, finding: Finding, mark: _Mark) -> Iterator[Change]:
    """Changes that may remove a finding, the smallest and least missed first.

    Parameters
    ----------
    mark : the finding's, in ticks of the window.
    """
    second = finding.bpm / 60 * window.division
    feet = of_feet(finding)
    there = [
        row
        for row in _strokes(window, mark[1], mark[2] + round(CLOSE_SECONDS * second))
        if _plays(row[0][1], feet)
    ]
    strokes = [stroke for stroke, _ in there]
    ornate = chain(
        (Change("", plain=(stroke,)) for stroke, kind in there if kind in GRACE_STROKES),
        (Change("", ringing=(stroke,)) for stroke, kind in there if kind == Kind.CHOKE),
    )
    hats = _hat_changes(window, mark) if finding.reason == Reason.HI_HAT_FOOT else ()
    moves = _moves(strokes) if finding.reason in (Reason.TRAVEL, Reason.TWO_SURFACES) else ()
    thinned = _thinned(window, mark, feet) if finding.reason == Reason.RATE else ()
    if len(strokes) > SHORT:
        return chain(thinned, hats, ornate)
    reach = round(REACH_SECONDS * second)
    around = [row for row, _ in _strokes(window, mark[1] - reach, mark[2] + reach) if _plays(row[1], feet)]
    ordered = [*sorted(strokes, key=_missed), *sorted(set(around) - set(strokes), key=_missed)]
    single = (Change("", removed=(stroke,)) for stroke in ordered)
    pairs = (Change("", removed=pair) for pair in combinations(ordered, 2))
    return chain(hats, ornate, moves, single, thinned, pairs)


def of_feet(finding: Finding) -> bool:
    """Whether a finding is of the feet."""
    return any("foot" in limb for limb in finding.limbs)


def _plays(code: int, feet: bool) -> bool:
    """Whether feet, or hands, play a surface."""
    return code in (KICK, PEDAL) if feet else int(ZONE_OF_CODE[code]) >= 0


REACH_SECONDS = 0.2
"""How far round an instant a stroke may stand whose absence frees a hand."""

MOST_TRIED = 40
"""Changes that are tried at most; where so many do not help, a passage wants to be written anew."""


def _missed(stroke: Stroke) -> tuple[int, int, int]:
    return RANK.get(stroke[1], 0), stroke[0], stroke[1]


def _strokes(window: Performance, first: int, last: int) -> list[tuple[Stroke, int]]:
    """The strokes, without grace strokes, whose places lie from `first` to `last`, with their kinds."""
    events = without_graces(window.events)
    place = np.maximum(events.tick - events.offset, 0)
    rows = np.flatnonzero((place >= first) & (place <= last))
    columns = (place[rows].tolist(), events.surface[rows].tolist(), events.kind[rows].tolist())
    return [((tick, code), kind) for tick, code, kind in zip(*columns)]


def _moves(strokes: list[Stroke]) -> Iterator[Change]:
    """Each stroke on the other surfaces that may stand in for its own, the nearest first."""
    for stroke in sorted(strokes, key=_missed):
        family = next((row for row in _NEAR if SURFACE_NAMES[stroke[1]] in row), ())
        others = [SURFACE_CODES[name] for name in family if SURFACE_CODES[name] != stroke[1]]
        zone = ZONE_OF_CODE[stroke[1]]
        for code in sorted(others, key=lambda code: abs(int(ZONE_OF_CODE[code] - zone))):
            if (stroke[0], code) not in strokes:
                yield Change("", moved=((stroke, code),))


def _hat_changes(window: Performance, mark: _Mark) -> Iterator[Change]:
    """A stroke of the pedal left out; a hi-hat left as open as it was, or opened or closed a stroke before."""
    pedal = [row for row, _ in _strokes(window, mark[1], mark[2]) if row[1] == PEDAL]
    yield from (Change("", removed=(row,)) for row in pedal)
    codes = [SURFACE_CODES[name] for name in HI_HATS]
    hats = [row for row, _ in _strokes(window, 0, window.end) if row[1] in codes]
    at = next((index for index, row in enumerate(hats) if row[0] >= mark[1]), 0)
    if at == 0 or pedal:
        return
    here, before = hats[at], hats[at - 1]
    yield Change("", moved=((here, before[1]),))
    yield Change("", moved=((before, here[1]),))
    after = hats[at + 1 : at + 2]
    yield from (Change("", moved=((here, before[1]), (row, before[1]))) for row in after if row[1] != before[1])
    earlier = hats[at - 2 : at - 1]
    yield from (Change("", moved=((before, here[1]), (row, here[1]))) for row in earlier if row[1] != here[1])


def _thinned(window: Performance, mark: _Mark, feet: bool) -> Iterator[Change]:
    """Each lane of the limbs on the next slower subdivision over the passage, the busiest lane first."""
    codes = {code for (_, code), _ in _strokes(window, mark[1], mark[2]) if _plays(code, feet)}
    lanes = {code: _lane(window, code, mark[1], mark[2]) for code in codes - {PEDAL}}
    lines = bar_lines(window)
    for code in sorted(lanes, key=lambda code: (-lanes[code].size, code)):
        ticks = lanes[code]
        if ticks.size < 2:
            continue
        step = int(np.diff(ticks).min())
        triple = window.division % step == 0 and window.division // step % 3 == 0
        for factor in TRIPLE if triple else STRAIGHT:
            spacing = factor * step
            off = _off(ticks, spacing, lines)
            if 0 < len(off) < ticks.size:
                yield Change("", removed=tuple((tick, code) for tick in off), thinned=code, spacing=spacing)


def _lane(performance: Performance, code: int, first: int, last: int) -> Ints:
    """The places of a surface's strokes from `first` to `last`, rising."""
    ticks: Ints = np.array([tick for (tick, row), _ in _strokes(performance, first, last) if row == code], np.int64)
    return ticks


def _off(ticks: Ints, spacing: int, lines: Ints) -> list[int]:
    """The ticks that are no multiple of `spacing` from their bar line."""
    within = ticks - lines[np.searchsorted(lines, ticks, side="right") - 1]
    off: list[int] = ticks[within % spacing != 0].tolist()
    return off
