"""`plan`: whole-song answers, as unlike one another as possible, each with its reason.

The arc (house rules): first statements stay plain; earlier returns change little; one clear change stands at the last
return. The energy's last peak is no lower than any before it; crash and china together are the riding surface in at
most a third of the bars; neighbours of different parts differ in surface, feel or level; nothing fixed changes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import islice
from typing import Any

import numpy as np

from grooveforge.analysis.candidates import spread
from grooveforge.analysis.distance import Strokes, difference, joined
from grooveforge.core.arrange import Arrangement, arrange
from grooveforge.core.song import Level, Song
from grooveforge.errors import UsageError
from grooveforge.formats.entry_values import written
from grooveforge.formats.keymap import KeyMap
from grooveforge.formats.option_words import sentence
from grooveforge.formats.sheetedit import Changes
from grooveforge.project.arc import Arc, wash_bars
from grooveforge.project.choices import AMOUNTS, LARGE, MEDIUM, Field
from grooveforge.project.last_change import KINDS, candidates
from grooveforge.project.options import MOST_LEVEL, Search
from grooveforge.project.returns import FRAME_KEYS, Return, own_strokes, returns_of, said_of
from grooveforge.project.sheets import Sheet, arranged
from grooveforge.project.taking import entry_changes, numbered, taken_text
from grooveforge.project.trying import Tried, Trier

AS_WRITTEN, HELD, OPENED = "as written", "held", "opened"
EARLIER: Mapping[str, str] = {
    AS_WRITTEN: "the returns before it stay as the sheet has them",
    HELD: "the returns before it are held at the statement before, so that the last one stands alone",
    OPENED: "the returns before it only move the hand, a step at a time",
}
"""What earlier returns do, in words."""

MOST_KINDS, TRIES_A_KIND, TRIES_EARLIER = 4, 3, 4
"""So many kinds of a last change are looked for in each way that earlier returns go, with so many tries."""

Givens = Mapping[int, Mapping[str, Any]]
"""What entries say, by their place in the form."""


@dataclass(frozen=True, eq=False)
class Plan:
    """One answer for the whole song.

    Parameters
    ----------
    returns : every return by its section, as the sheet has it. givens : what the changed ones say.
    arrangement : of the song with all of them. kind : of the last change; earlier : of those before.
    last : index of the section with the last change.
    """

    returns: Mapping[int, Return]
    givens: Givens
    arrangement: Arrangement
    kind: str
    earlier: str
    last: int

    @cached_property
    def arc(self) -> Arc:
        return Arc(self.arrangement, self.last)

    @property
    def strokes(self) -> Strokes:
        """The strokes of every return."""
        return joined(own_strokes(self.arrangement.sections[number]) for number in self.returns)

    def changes(self, number: int) -> dict[str, object]:
        """What the sheet's entry of a section says otherwise then."""
        back = self.returns.get(number)
        given = {} if back is None else self.givens.get(back.index, {})
        if back is None or not given:
            return {}
        return written(back.changes(given), self.arrangement.sections[number])

    @property
    def in_words(self) -> str:
        """The plan's reason, in a sentence or two."""
        back = self.returns[self.last]
        sections = self.arrangement.sections
        said, _ = sentence(sections[back.before[0]], sections[self.last])
        top = int(np.flatnonzero(self.arc.energy == self.arc.energy.max())[-1]) + 1
        return f"{KINDS[self.kind]} in {back.name}: {said}; {EARLIER[self.earlier]}; the energy peaks in bar {top}"

    def facts(self) -> dict[str, Any]:
        """The plan as `plan --json` gives it."""
        sections = self.arrangement.sections
        return {
            "sections": [
                {"name": row.name, "bar": row.bar, "changes": self.changes(number)}
                for number, row in enumerate(sections)
            ],
            "energy": [round(float(value), 3) for value in self.arc.energy],
            "in_words": self.in_words,
            "last_change": self.kind,
        }


@dataclass(frozen=True, eq=False)
class Plans:
    """The answers, with what there is to say where they are fewer than were asked for."""

    plans: tuple[Plan, ...]
    notes: tuple[str, ...] = ()

    def facts(self) -> dict[str, Any]:
        """The plans as `plan --json` gives them."""
        return {"plans": [row.facts() for row in self.plans], "notes": list(self.notes)}


def plan(sheet: Sheet, count: int = 3) -> Plans:
    """Answers for all returns of a song, each with another last change; nothing is changed.

    Raises
    ------
    UsageError
        When the song has no return that may change, or the count is none.
    """
    if count < 1:
        raise UsageError("at least one plan can be asked for", found=str(count))
    planner = Planner(sheet.song, arranged(sheet), Trier(sheet.profile), sheet.key_map)
    if not planner.open_returns:
        fixed = "every return is fixed" if planner.returns else "no part with a groove is played a second time"
        raise UsageError(f"the song has no return to plan: {fixed}", file=sheet.path)
    chosen, notes = _chosen(list(planner.plans()), count), []
    if len(chosen) < count:
        wash = planner.wash_now
        if wash > Arc(planner.arrangement, 0).bars_to_wash:
            looser = _chosen(list(planner.plans(wash)), count)
            if len(looser) > len(chosen):
                chosen = looser
                notes.append(f"crash and china may ride in {wash} bars here, as in the sheet: over a third of the song")
    if len(chosen) < count:
        notes.append(f"only {len(chosen)} different plans keep the arc and can be played by this drummer")
    return Plans(tuple(chosen), tuple(notes))


def _chosen(found: list[Plan], count: int) -> list[Plan]:
    """Plans as unlike one another as may be, with different kinds of last change where there are so many."""
    distances = np.array([_unlike(one, other) for one in found for other in found]).reshape(len(found), len(found))
    kinds = np.array([row.kind for row in found])
    chosen = spread(distances * (kinds[:, None] != kinds), count, LEAST_UNLIKE)
    if len(chosen) < count:  # fewer kinds than were asked for: the same kind twice is better than none
        chosen = spread(distances, count, LEAST_UNLIKE)
    return [found[one] for one in chosen]


LEAST_UNLIKE = 1e-6


def _unlike(one: Plan, other: Plan) -> float:
    """How far two plans are apart over all returns; 0 where the last change is the same."""
    last = (own_strokes(row.arrangement.sections[row.last]) for row in (one, other))
    if not difference(*last).distance:
        return 0.0
    return difference(one.strokes, other.strokes).distance


def take_plan(sheet: Sheet, found: Plans, number: int) -> str:
    """The sheet's text with one of its plans taken.

    Raises
    ------
    UsageError
        When there are not so many plans.
    """
    chosen = found.plans[numbered("plan", number, len(found.plans))]
    changes: Changes = {}
    for back in chosen.returns.values():
        if back.index in chosen.givens:
            changes |= entry_changes(back, chosen.givens[back.index], chosen.arrangement)
    return taken_text(sheet, changes, chosen.arrangement)


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
        found = [row for earlier in EARLIER for row in self.plans_after(earlier, wash)]
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
        back = next(row for row in returns_of(song, arrangement) if row.number == last)
        return Start(givens, back, Arc(arrangement, last))

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
        return inside and not arc.like_neighbours(changed) and self.trier.playable_song(tried)

    # -- earlier returns ----------------------------------------------------------------------------------

    def earlier(self, way: str) -> Givens | None:
        """What the returns before the last one say; None where that way leads nowhere new."""
        givens: dict[int, Mapping[str, Any]] = {}
        if way == AS_WRITTEN:
            return givens
        song, arrangement = self.song, self.arrangement
        for number in self.open_returns[:-1]:
            back = next(row for row in returns_of(song, arrangement) if row.number == number)
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
