"""`options`: a handful of real alternatives for a return, how different each is, and why.

Thousands of candidates are laid out as arrays, filtered, ranked by surprise and spread; the few that are shown are
built as `render` builds them, measured again and tried by a drummer.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import islice
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from grooveforge.analysis.candidates import Frames, Grid, Measured, measured, pairwise, playable, rows_of, spread
from grooveforge.analysis.distance import difference
from grooveforge.analysis.surprise import Listener, bar_of, bars_of
from grooveforge.core.arrange import Arrangement
from grooveforge.core.figures import LENGTHS
from grooveforge.core.groove import Groove
from grooveforge.core.kit import SURFACE_CODES, Kind, sounding
from grooveforge.core.roles import read_feel
from grooveforge.core.song import Level, Song
from grooveforge.errors import UsageError
from grooveforge.formats.entry_values import written
from grooveforge.formats.option_words import sentence
from grooveforge.project.checking import performance_to_check
from grooveforge.project.recounting import entry_of
from grooveforge.project.returns import (
    Return,
    buildable,
    find_return,
    frame_choices,
    hand_choices,
    said_of,
)
from grooveforge.project.sheets import Sheet, arranged
from grooveforge.project.trying import Tried, Trier

SMALL, MEDIUM, LARGE = "small", "medium", "large"


@dataclass(frozen=True)
class Amount:
    """How much a return may differ.

    Parameters
    ----------
    low, high : of the distance from the statement before. apart : least distance of two that are shown.
    hand, snare : whether the hand, and feel with kick and snare, may change; else the ending alone does.
    """

    low: float
    high: float
    apart: float
    hand: bool = False
    snare: bool = False


AMOUNTS: Mapping[str, Amount] = MappingProxyType(
    {
        SMALL: Amount(0.0, 0.1, 0.0),
        MEDIUM: Amount(0.05, 0.2, 0.05, hand=True),
        LARGE: Amount(0.2, 0.5, 0.2, hand=True, snare=True),
    }
)
"""The bands (house rule)."""

SLACK = 0.02
"""How far from the band's edges and from one another bare bars must be, so that endings and arrivals may add."""

PER_FRAME, POOL = 4, 400
"""Of each frame at least so many assignments, and so many candidates in all, the most surprising, are spread."""

MOST_TRIES = 40
"""So many candidates are built to find those that are shown."""


@dataclass(frozen=True, eq=False)
class Option:
    """One alternative.

    Parameters
    ----------
    rank : from 1. tried : the song with it. surprise : bits a stroke. changes : keys of the sheet's entry with their
        new values as a sheet says them. in_words : one sentence. keeps : what stays of kick, surface, snare.
    """

    rank: int
    tried: Tried
    surprise: float
    changes: Mapping[str, object]
    in_words: str
    keeps: tuple[str, ...]

    @property
    def distance(self) -> float:
        return self.tried.difference.distance

    def facts(self) -> dict[str, Any]:
        """The option as `options --json` gives it."""
        found = self.tried.difference
        return {
            "rank": self.rank,
            "distance": round(found.distance, 4),
            "lanes": {name: round(value, 4) for name, value in found.lanes.items()},
            "surface": round(found.surface, 4),
            "surprise": round(self.surprise, 2),
            "playable": True,
            "changes": dict(self.changes),
            "in_words": self.in_words,
            "keeps": list(self.keeps),
        }


@dataclass(frozen=True, eq=False)
class Options:
    """What there is for a return.

    Parameters
    ----------
    section : its name. amount : small, medium or large. considered : how many candidates there were.
    notes : what there is to say where fewer are shown than were asked for.
    """

    section: str
    amount: str
    options: tuple[Option, ...]
    considered: int
    notes: tuple[str, ...] = ()

    def facts(self) -> dict[str, Any]:
        """The options as `options --json` gives them."""
        return {
            "section": self.section,
            "options": [option.facts() for option in self.options],
            "amount": self.amount,
            "considered": self.considered,
            "notes": list(self.notes),
        }


def options(sheet: Sheet, section: str, amount: str = MEDIUM, count: int = 5) -> Options:
    """Alternatives for a return, as unlike one another as may be; nothing is changed.

    Parameters
    ----------
    section : its name, with its number where several share it. amount : how different from the statement before.

    Raises
    ------
    UsageError
        When there is no such section, it is no return, it is fixed, or the amount or count is none.
    """
    if amount not in AMOUNTS:
        raise UsageError("no such amount", found=repr(amount), allowed=", ".join(AMOUNTS))
    if count < 1:
        raise UsageError("at least one option can be asked for", found=str(count))
    back = find_return(sheet.song, arranged(sheet), entry_of(sheet, section), section)
    search = Search(back, sheet, AMOUNTS[amount])
    shown = search.shown(count)
    notes = () if len(shown) == count else (_fewer(back, AMOUNTS[amount], len(shown)),)
    return Options(back.name, amount, shown, search.considered, notes)


def _fewer(back: Return, amount: Amount, found: int) -> str:
    number = "none is" if not found else f"only {found} {'is' if found == 1 else 'are'}"
    band = f"{amount.low:g} to {amount.high:g} from the statement before"
    apart = f", {amount.apart:g} from one another" if amount.apart else ""
    kept = f", leave{'s' if found < 2 else ''} what the sheet keeps fixed" if back.entry.fixed else ""
    return f"{number} {band}{apart}{kept} and can be played by this drummer"


def _apart(one: Tried, other: Tried) -> float:
    return difference(one.strokes, other.strokes).distance


# -- the search ------------------------------------------------------------------------------------------


@dataclass(eq=False)
class Search:
    """The candidates for one return, and the few that are shown."""

    back: Return
    sheet: Sheet
    amount: Amount

    @property
    def song(self) -> Song:
        return self.sheet.song

    @cached_property
    def trier(self) -> Trier:
        return Trier(self.song, self.sheet.profile)

    @cached_property
    def field(self) -> Field:
        """The candidates as arrays."""
        return Field.of(self.back, self.sheet, self.amount)

    @property
    def considered(self) -> int:
        return len(self.ending_choices) if not self.amount.hand else self.field.measured.distance.size * len(LEVELS)

    def shown(self, count: int) -> tuple[Option, ...]:
        """The options, the most surprising first."""
        found: list[Tried] = []
        taken: list[int] = []
        for tried in self.tried(count):
            found.append(tried)
            if all(_apart(tried, found[one]) >= self.amount.apart for one in taken):
                taken.append(len(found) - 1)
            if len(taken) == count:
                break
        if len(taken) < count:
            distances = np.array([_apart(one, other) for one in found for other in found])
            distances = distances.reshape(len(found), len(found))
            taken = spread(distances, count, self.amount.apart)
        ranked = sorted((-found[one].surprise, one) for one in taken)
        return tuple(self.option(rank, found[one], -bits) for rank, (bits, one) in enumerate(ranked, 1))

    def tried(self, count: int) -> Iterator[Tried]:
        """Candidates built as `render` builds them, in the band and playable, far ones first."""
        choices = self.field.spread(self.amount, count) if self.amount.hand else self.ending_choices
        for given in islice(choices, MOST_TRIES):
            tried = self.good(given)
            if tried is not None:
                yield tried

    def good(self, given: Mapping[str, Any]) -> Tried | None:
        """A candidate with the level that it needs, if it is in the band, keeps what is fixed and can be played."""
        tried = self.trier.tried(self.back, given)
        if tried is None or not self.back.changes(given):
            return None
        inside = self.amount.low <= tried.difference.distance <= self.amount.high and tried.difference.distance > 0
        if not inside or tried.breaks(self.back.entry.fixed) or not self.trier.playable(tried):
            return None
        return self.levelled(tried)

    def levelled(self, tried: Tried) -> Tried:
        """One step louder, where the return would else have less energy than the statement before, and may."""
        before = tried.mean_energy(tried.section_before)
        level = self.song.settings_of(self.back.entry).level or Level(0, 0)
        was = tried.section_before.settings.level or Level(0, 0)
        if not self.amount.snare or self.back.entry.fixed or level.top > was.top or level.top >= MOST_LEVEL:
            return tried
        if tried.mean_energy(tried.section) >= before:
            return tried
        louder = {**tried.given, "level": Level(level.start + 1, level.end + 1)}
        return self.trier.tried(self.back, louder) or tried

    @cached_property
    def ending_choices(self) -> list[dict[str, Any]]:
        """The statement before with another ending."""
        back = self.back
        keys = [key for key in back.entry.settings.given() | back.before[1].settings.given() if key not in OWN_KEYS]
        plain = back.as_before(keys)
        stood = back.stood_before()
        if "timekeeper" in plain and all(stood):
            plain["timekeeper"] = said_of([str(name) for name in stood])
        held = back.song.settings_of(back.entry).ending
        return [{**plain, "ending": length} for length in ENDINGS if length != held]

    def option(self, rank: int, tried: Tried, bits: float) -> Option:
        changes = written(self.back.changes(tried.given), tried.section)
        said, kept = sentence(tried.section_before, tried.section)
        return Option(rank, tried, bits, changes, said, kept)


OWN_KEYS = frozenset({"bars", "meter", "grouping", "insert", "tempo", "looseness", "swing", "levels", "ending"})
"""Keys that a return keeps of its own where it is as the statement before but for its ending."""

ENDINGS: tuple[bool | str, ...] = (*LENGTHS[:-1], False)
LEVELS = (0, 1)
"""Steps that a candidate may be louder."""
MOST_LEVEL = 2


# -- arrays ----------------------------------------------------------------------------------------------


@dataclass(eq=False)
class Field:
    """All frames and assignments of a return, measured.

    Parameters
    ----------
    choices, grooves : of each frame. hands : how a sheet says each assignment; assigned : (assignments, bars).
    """

    back: Return
    choices: list[dict[str, Any]]
    grooves: list[Groove]
    frames: Frames
    surfaces: tuple[str, ...]
    hands: list[Any]
    assigned: NDArray[np.int64]
    measured: Measured
    allowed: NDArray[np.bool_]

    @classmethod
    def of(cls, back: Return, sheet: Sheet, amount: Amount) -> Field:
        pairs = list(buildable(back, frame_choices(back, amount.snare)))
        choices, grooves = [given for given, _ in pairs], [groove for _, groove in pairs]
        base = back.bare_before()
        everything = [*grooves, base]
        grid, rows = Grid.holding(everything, back.bars), rows_of(everything)
        frames, before = Frames.of(grooves, grid, rows), Frames.of([base], grid, rows)
        hands = hand_choices(back, sheet.key_map)
        surfaces = tuple(dict.fromkeys(name for names in hands for name in names))
        index = {name: number for number, name in enumerate(surfaces)}
        assigned = np.array([[index[name] for name in names[: grid.bars]] for names in hands], np.int64)
        stood = [index.get(str(name), 0) for name in back.stood_before()[: grid.bars]]
        found = measured(frames, surfaces, assigned, before, np.array(stood, np.int64))
        fastest = max(float(bpm) for _, bpm in back.section.tempo)
        allowed = playable(frames, 240 / fastest, sheet.profile)
        return cls(back, choices, grooves, frames, surfaces, list(hands.values()), assigned, found, allowed)

    def given(self, frame: int, assignment: int) -> dict[str, Any]:
        """What the entry says for a candidate."""
        return {**self.choices[frame], "timekeeper": self.hands[assignment]}

    def spread(self, amount: Amount, count: int) -> Iterator[dict[str, Any]]:
        """Candidates in the band, those that are far from one another first."""
        frames, assignments = self.pool(amount)
        if not frames.size:
            return
        distances = pairwise(self.frames.picked(frames), self.surfaces, self.assigned[assignments])
        first = spread(distances, count, amount.apart + SLACK * (amount.apart > SLACK))
        for number in dict.fromkeys([*first, *range(frames.size)]):
            yield self.given(int(frames[number]), int(assignments[number]))

    def pool(self, amount: Amount) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Frames and assignments of the most surprising candidates that pass every rule, in order."""
        far = self.measured.distance
        inside = (far >= amount.low + SLACK * (amount.low > 0)) & (far <= amount.high - SLACK)
        inside &= self.allowed[:, None] & self.measured.keeps_one & ~self.like_a_neighbour() & self.plain_enough()
        bits = self.bits(inside)
        rows = []
        frames = np.flatnonzero(inside.any(axis=1)).tolist()
        most = max(PER_FRAME, POOL // max(len(frames), 1))
        for frame in frames:
            passing = np.flatnonzero(inside[frame])
            best = passing[np.argsort(-bits[frame, passing], kind="stable")][:most]
            rows += [(-float(bits[frame, one]), frame, int(one)) for one in best]
        rows.sort()
        chosen = np.array([row[1:] for row in rows[:POOL]], np.int64).reshape(-1, 2)
        return chosen[:, 0], chosen[:, 1]

    def plain_enough(self) -> NDArray[np.bool_]:
        """(frames, assignments) in which at most two of feel, kick, rate and surface change: what a listener can tell
        from one hearing (house rule)."""
        before = self.choices[0]
        changed = np.array([sum(any(row[key] != before[key] for key in keys) for keys in TOLD) for row in self.choices])
        found: NDArray[np.bool_] = changed[:, None] + ~self.measured.surface <= MOST_TOLD
        return found

    def like_a_neighbour(self) -> NDArray[np.bool_]:
        """(frames, assignments) which have surface, feel and level of the part before or after them."""
        found = np.zeros(self.measured.distance.shape, bool)
        sections, number = self.back.arrangement.sections, self.back.number
        level = self.back.section.settings.level
        feels = np.array([str(read_feel(groove).feel) for groove in self.grooves])
        hands = [tuple(dict.fromkeys(self.surfaces[code] for code in row)) for row in self.assigned.tolist()]
        for other in (*sections[max(number - 1, 0) : number], *sections[number + 1 : number + 2]):
            if other.part != self.back.entry.part and other.settings.level == level:
                same = np.array([hand == other.timekeepers for hand in hands])
                found |= (feels == str(other.feel))[:, None] & same[None, :]
        return found

    def bits(self, wanted: NDArray[np.bool_]) -> NDArray[np.float64]:
        """(frames, assignments) how surprising the first bars are after the song so far, where it is wanted."""
        listener = Listener()
        for bar in bars_of(performance_to_check(arrange_before(self.back))):
            listener.learn(bar)
        used = np.zeros((len(self.grooves), len(self.surfaces)), bool)
        np.logical_or.at(used, (np.nonzero(wanted)[0][:, None], self.assigned[np.nonzero(wanted)[1]]), True)
        table = np.zeros(used.shape)
        for frame, surface in np.argwhere(used).tolist():
            table[frame, surface] = self.surface_bits(listener, frame, self.surfaces[surface])
        found: NDArray[np.float64] = table[:, self.assigned].mean(axis=2)
        return found

    def surface_bits(self, listener: Listener, frame: int, surface: str) -> float:
        """Bits a stroke of a frame's first bars with the hand on a surface."""
        rows = self.frames
        bars = min(SURPRISE_BARS, rows.grid.bars)
        total = 0.0
        for bar in range(bars):
            places, codes = _symbols(rows, frame, bar, surface)
            total += listener.bits(bar_of(places, codes, float(self.grooves[frame].meter.whole)))
        return total / bars


TOLD = (("feel", "spelling", "backbeats"), ("kick",), ("subdivision",))
"""Keys that a listener hears as one change each."""
MOST_TOLD = 2

SURPRISE_BARS = 2
"""Bars of a candidate that are listened to for its rank; the shown ones are heard whole."""


def _symbols(rows: Frames, frame: int, bar: int, surface: str) -> tuple[list[float], list[int]]:
    """Places in whole notes and codes of one bar."""
    places: list[float] = []
    codes: list[int] = []
    lanes = [(name, rows.strokes[frame, number, bar]) for number, (_, name) in enumerate(rows.rows)]
    for name, cells in (*lanes, (surface, rows.hand[frame, bar])):
        for step in np.flatnonzero(cells).tolist():
            places.append(step / rows.grid.grid)
            codes.append(SURFACE_CODES[sounding(name, Kind(int(cells[step]) - 1), 1)[0]])
    return places, codes


def arrange_before(back: Return) -> Arrangement:
    """The arrangement up to a return, as the song is now."""
    whole = back.arrangement
    return Arrangement(whole.title, whole.seed, whole.sections[: back.number])

