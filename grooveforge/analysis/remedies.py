"""For each finding the tempo that it fits up to and the smallest change that removes it; both are tried out.

Each of the proposals is made to the bars around the finding and played again; the first one that removes the finding
and makes no other is taken.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import islice

from grooveforge.analysis.bars import bar_lines
from grooveforge.analysis.changes import Change, Stroke, apply_change
from grooveforge.analysis.findings import Finding, Reason, places
from grooveforge.analysis.instants import Ints, Passage, passage_of
from grooveforge.analysis.limbs import FEET, Pair, Player
from grooveforge.analysis.proposals import Mark, candidates, lane_places, off_the_grid
from grooveforge.analysis.wording import change_words
from grooveforge.core.perform import Performance

WINDOW_BARS = 4
"""Bars of a finding that are played again; one that goes on for longer has shown by then what it is."""

SLOWEST_FIT = 20
"""Quarter notes a minute: what does not fit at this tempo fits at none."""

MOST_TRIED = 40
"""Changes that are tried at most; where so many do not help, a passage wants to be written anew."""


@dataclass(frozen=True)
class _Trial:
    """The bars around a finding, which are played again; `mark` counts ticks from their start."""

    window: Performance
    mark: Mark
    bpm: float
    before: frozenset[Mark]
    written: tuple[tuple[int, str], ...]
    pair: Pair

    def passage(self, performance: Performance, slower: float = 1.0) -> Passage:
        return passage_of(performance, dict(self.written), slower)

    def marks(self, passage: Passage) -> set[Mark]:
        """What the limbs of the finding cannot play of a passage."""
        found = places((self.pair.play(passage),))
        return {(row.reason, int(passage.place[row.first]), int(passage.place[row.last])) for row in found}

    @property
    def alone(self) -> bool:
        """Whether the finding is the only one of its bars; it is gone where they can be played."""
        return len(self.before) == 1 and not self.written

    def stands(self, marks: set[Mark]) -> bool:
        """Whether something is still wrong where the finding was, for whatever reason."""
        _, first, last = self.mark
        return any(row[1] <= last and row[2] >= first for row in marks)

    def removes(self, change: Change) -> bool:
        """Whether a change removes the finding and makes no other."""
        passage = self.passage(apply_change(self.window, change))
        if self.alone:
            return self.pair.playable(passage)
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
            return not self.pair.playable(passage)
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
    for number, finding in enumerate(findings):
        player.progress(number / len(findings))
        start, end = _around(finding, lines, performance.division)
        window = performance.between(start, end)
        key = (finding.reason, finding.tick - start, finding.end - start, finding.bpm, *_content(window))
        if key not in known:
            inside = tuple((tick - start, hand) for tick, hand in (written or {}).items() if start <= tick < end)
            known[key] = _tried(window, finding, start, inside, player)
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
    window: Performance, finding: Finding, start: int, written: tuple[tuple[int, str], ...], player: Player
) -> tuple[int | None, Change | None]:
    """The tempo that a finding fits up to, and the first change that removes it; `start` is the window's tick."""
    mark = (finding.reason, finding.tick - start, finding.end - start)
    pair = player.feet if finding.pair == FEET else player.hands
    trial = _Trial(window, mark, finding.bpm, frozenset(), written, pair)
    trial = replace(trial, before=frozenset(trial.marks(trial.passage(window))))
    tried = islice((row for row in candidates(window, finding, mark) if row.small), MOST_TRIED)
    change = next((row for row in tried if trial.removes(row)), None)
    return trial.fits(), change


def _placed(change: Change, performance: Performance, finding: Finding, start: int, lines: Ints) -> Change:
    """The change with ticks of the whole performance, and in words; a lane is thinned over the whole passage."""
    if change.thinned is not None:
        ticks = lane_places(performance, change.thinned, finding.tick, finding.end)
        removed = off_the_grid(ticks, change.spacing, lines)
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
