"""`options`: a handful of real alternatives for a return, how different each is, and why.

Thousands of candidates are laid out as arrays, filtered, ranked by surprise and spread; the few that are shown are
built as `render` builds them, measured again and tried by a drummer.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import islice
from typing import Any

import numpy as np

from grooveforge.analysis.candidates import spread
from grooveforge.analysis.distance import difference
from grooveforge.core.figures import LENGTHS
from grooveforge.core.song import Level
from grooveforge.errors import UsageError
from grooveforge.formats.entry_values import written
from grooveforge.formats.keymap import KeyMap
from grooveforge.formats.option_words import sentence
from grooveforge.project.choices import AMOUNTS, MEDIUM, Amount, Field
from grooveforge.project.naming import entry_of
from grooveforge.project.return_choices import said_of
from grooveforge.project.returns import Return, find_return
from grooveforge.project.sheets import Sheet, arranged
from grooveforge.project.taking import entry_changes, numbered, taken_text
from grooveforge.project.trying import Tried, Trier

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
    section : its name. amount : small, medium or large. considered : how many candidates there were. count : how
        many were asked for; another number spreads them otherwise.
    notes : what there is to say where fewer are shown than were asked for.
    """

    section: str
    amount: str
    options: tuple[Option, ...]
    considered: int
    count: int
    notes: tuple[str, ...] = ()

    def facts(self) -> dict[str, Any]:
        """The options as `options --json` gives them."""
        return {
            "section": self.section,
            "options": [option.facts() for option in self.options],
            "amount": self.amount,
            "considered": self.considered,
            "count": self.count,
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
    return options_at(sheet, entry_of(sheet, section), section, amount, count)


def options_at(sheet: Sheet, entry: int, section: str, amount: str = MEDIUM, count: int = 5) -> Options:
    """As `options`, for the section of an entry of the form, from 0; errors call it `section`."""
    if amount not in AMOUNTS:
        raise UsageError("no such amount", found=repr(amount), allowed=", ".join(AMOUNTS))
    if count < 1:
        raise UsageError("at least one option can be asked for", found=str(count))
    back = find_return(sheet.song, arranged(sheet), entry, section)
    search = Search(back, Trier(sheet.profile), sheet.key_map, AMOUNTS[amount])
    shown = search.shown(count)
    notes = () if len(shown) == count else (_fewer(back, AMOUNTS[amount], len(shown)),)
    return Options(back.name, amount, shown, search.considered, count, notes)


def take_option(sheet: Sheet, found: Options, number: int) -> str:
    """The sheet's text with one of its options taken.

    Parameters
    ----------
    found : what `options` gave for this sheet. number : which, from 1.

    Raises
    ------
    UsageError
        When there are not so many.
    """
    option = found.options[numbered("option", number, len(found.options))]
    tried = option.tried
    return taken_text(sheet, entry_changes(tried.back, tried.given, tried.arrangement), tried.arrangement)


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
    trier: Trier
    kit: KeyMap
    amount: Amount

    @cached_property
    def field(self) -> Field:
        """The candidates as arrays."""
        return Field.of(self.back, self.kit, self.trier.profile, self.amount)

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
        level = self.back.song.settings_of(self.back.entry).level or Level(0, 0)
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
