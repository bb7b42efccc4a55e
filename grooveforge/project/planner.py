"""The search for plans: earlier returns in a few ways, then the kinds of last change that the arc allows.

The arc (house rules): first statements stay plain; earlier returns change little; one clear change stands at the last
return. The energy's last peak is no lower than any before it; crash and china together are the riding surface in at
most a third of the bars; neighbours of different parts differ in surface, feel or level; nothing fixed changes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import islice
from typing import Any

from grooveforge.core.arrange import Arrangement, arrange
from grooveforge.core.song import Level, Song
from grooveforge.formats.keymap import KeyMap
from grooveforge.project.arc import Arc, wash_bars
from grooveforge.project.choices import AMOUNTS, LARGE, MEDIUM, Field
from grooveforge.project.last_change import KINDS, candidates
from grooveforge.project.options import MOST_LEVEL, Search
from grooveforge.project.plans import AS_WRITTEN, EARLIER, HELD, Givens, Plan
from grooveforge.project.return_choices import said_of
from grooveforge.project.returns import FRAME_KEYS, Return, returns_of
from grooveforge.project.trying import Tried, Trier

MOST_KINDS, TRIES_A_KIND, TRIES_EARLIER = 4, 3, 4
"""So many kinds of a last change are looked for in each way that earlier returns go, with so many tries."""


@dataclass(eq=False)
class Start:
    """A song up to its last return: what earlier ones say, the last one in it, and the arc so far."""

    givens: Givens
    back: Return
    arc: Arc
    _field: Field | None = None

    def field(self, planner: Planner) -> Field:
        """The candidates for the last return."""
        if self._field is None:
            self._field = Field.of(self.back, planner.kit, planner.trier.profile, AMOUNTS[LARGE])
        return self._field


@dataclass(eq=False)
class Planner:
    """Looks for plans: earlier returns in a few ways, then the kinds of last change that the arc allows."""

    song: Song
    arrangement: Arrangement
    trier: Trier
    kit: KeyMap
    progress: Callable[[float], None] | None = None

    @cached_property
    def returns(self) -> dict[int, Return]:
        """Every return by its section."""
        return {row.number: row for row in returns_of(self.song, self.arrangement)}

    @cached_property
    def open_returns(self) -> list[int]:
        """Sections of returns of which nothing is fixed."""
        return [number for number, row in self.returns.items() if not row.entry.fixed]

    @property
    def wash_now(self) -> int:
        """Bars that ride on crash or china in the sheet as it is."""
        return sum(map(wash_bars, self.arrangement.sections))

    def plans(self, wash: int = 0) -> Iterator[Plan]:
        """Plans that keep the arc, slower last changes first.

        Parameters
        ----------
        wash : how many bars may ride on crash or china, where that is more than a third.
        """
        found = []
        for number, earlier in enumerate(EARLIER):
            for kind, row in enumerate(self.plans_after(earlier, wash)):
                found.append(row)
                if self.progress is not None:
                    self.progress((number + (kind + 1) / MOST_KINDS) / len(EARLIER))
        kinds = list(KINDS)
        yield from sorted(found, key=lambda row: kinds.index(row.kind))

    def plans_after(self, earlier: str, wash: int = 0) -> Iterator[Plan]:
        """Plans whose earlier returns go one way."""
        start = self.starts[earlier]
        if start is None:
            return
        arrangement, last = start.arc.arrangement, start.arc.last
        others = sum(wash_bars(row) for number, row in enumerate(arrangement.sections) if number != last)
        room = max(start.arc.bars_to_wash, wash) - others
        if room < 0 and earlier != HELD:
            return  # the cymbals are spent before the last return
        first = arrangement.sections[last].bar - 1
        needed = float(start.arc.energy[:first].max(initial=0.0))
        kinds = candidates(start.field(self), AMOUNTS[LARGE], max(room, 0), needed)
        good = (
            row
            for kind, rows in kinds
            for row in islice(self._tried(start.back, kind, rows, (start.givens, earlier)), 1)
        )
        yield from islice(good, MOST_KINDS)

    @cached_property
    def starts(self) -> dict[str, Start | None]:
        """What stands before the last return, for each way that earlier ones go; None where a way is none."""
        return {earlier: self._start(earlier) for earlier in EARLIER}

    def _start(self, earlier: str) -> Start | None:
        givens = self.earlier(earlier)
        if givens is None:
            return None
        song = _with(self.song, givens)
        arrangement = self.arrangement if not givens else arrange(song)
        last = self.open_returns[-1]
        return Start(givens, _return_at(last, song, arrangement), Arc(arrangement, last))

    def _tried(
        self, back: Return, kind: str, rows: Iterator[dict[str, Any]], before: tuple[Givens, str]
    ) -> Iterator[Plan]:
        """The plans that candidates for the last change make, those that keep every rule."""
        givens, earlier = before
        for given in islice(rows, TRIES_A_KIND):
            tried = self._raised(back, given)
            if tried is None or not self._keeps(tried, sorted(self._changed(givens) | {back.number})):
                continue
            whole = {**givens, back.index: tried.given}
            yield Plan(self.returns, whole, tried.arrangement, kind, earlier, back.number)

    def _changed(self, givens: Givens) -> set[int]:
        return {number for number, row in self.returns.items() if row.index in givens}

    def _raised(self, back: Return, given: Mapping[str, Any]) -> Tried | None:
        """A choice tried, louder where the last peak would else be lower than one before; None where that fails."""
        level = back.song.settings_of(back.entry).level or Level(0, 0)
        for step in range(MOST_LEVEL - level.top + 1):
            louder = {} if not step else {"level": Level(level.start + step, level.end + step)}
            tried = self.trier.tried(back, {**given, **louder})
            if tried is not None and Arc(tried.arrangement, back.number).peak_is_last:
                return tried
        return None

    def _keeps(self, tried: Tried, changed: list[int]) -> bool:
        amount = AMOUNTS[LARGE]
        inside = amount.low <= tried.difference.distance <= amount.high
        arc = Arc(tried.arrangement, tried.back.number)
        return inside and not arc.like_neighbours(changed) and self.trier.playable(tried, changed)

    # -- earlier returns ----------------------------------------------------------------------------------

    def earlier(self, way: str) -> Givens | None:
        """What the returns before the last one say; None where that way leads nowhere new."""
        givens: dict[int, Mapping[str, Any]] = {}
        if way == AS_WRITTEN:
            return givens
        song, arrangement = self.song, self.arrangement
        for number in self.open_returns[:-1]:
            back = _return_at(number, song, arrangement)
            given = _held(back) if way == HELD else self._opened(back)
            tried = self.trier.tried(back, given) if back.changes(given) else None
            if tried is not None and self.trier.playable(tried):
                givens[back.index] = given
                song, arrangement = back.song_with(given), tried.arrangement
        return givens or None

    def _opened(self, back: Return) -> Mapping[str, Any]:
        """The hand elsewhere, on crash and china no longer than in the statement before."""
        search = Search(back, self.trier, self.kit, AMOUNTS[MEDIUM])
        spent = wash_bars(back.statement_before)
        for given in islice(search.field.spread(AMOUNTS[MEDIUM], TRIES_EARLIER), TRIES_EARLIER):
            tried = search.good(given)
            if tried is not None and wash_bars(tried.section) <= spent:
                return given
        return _held(back)


def _return_at(number: int, song: Song, arrangement: Arrangement) -> Return:
    return next(row for row in returns_of(song, arrangement) if row.number == number)


def _held(back: Return) -> dict[str, Any]:
    """A return as the statement before, but for its ending, riff and groove."""
    stood = back.stood_before()
    hand = {"timekeeper": said_of([str(name) for name in stood])} if all(stood) else {}
    return {**back.as_before(FRAME_KEYS), **hand}


def _with(song: Song, givens: Givens) -> Song:
    form = [
        replace(entry, settings=replace(entry.settings, **givens[index])) if index in givens else entry
        for index, entry in enumerate(song.form)
    ]
    return replace(song, form=tuple(form))
