"""What no one can play: where, with which limbs, why, and up to which tempo it would do."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from grooveforge.analysis.chains import Breach
from grooveforge.analysis.changes import Change
from grooveforge.analysis.instants import LETTERS
from grooveforge.analysis.limbs import HANDS, Assigned
from grooveforge.analysis.options import HAND_LETTERS, KICK, NOTHING, PEDAL


class Reason(IntEnum):
    """Why, in the order in which one is given where several apply."""

    THREE_HANDS = 0
    TWO_SURFACES = 1
    RATE = 2
    HI_HAT_FOOT = 3
    TRAVEL = 4
    CHOKE = 5
    STICKING = 6

    @property
    def words(self) -> str:
        return WORDS[self]


WORDS = {
    Reason.THREE_HANDS: "more strokes at one instant than two hands have",
    Reason.TWO_SURFACES: "one hand on two surfaces at once",
    Reason.RATE: "faster than the limb can go for so long",
    Reason.HI_HAT_FOOT: "the hi-hat's pedal moves while both feet are on the kicks",
    Reason.TRAVEL: "too far for one hand in so short a time",
    Reason.CHOKE: "no hand is free to damp the cymbal",
    Reason.STICKING: "the written sticking cannot be played",
}


@dataclass(frozen=True)
class Place:
    """Something that cannot be played, as the search found it.

    Parameters
    ----------
    reason : why. first, last : instants of the passage. limbs : leading (0) and other (1) of the pair `name`.
    wrong : the instants of it at which a stroke is one too many.
    """

    reason: Reason
    first: int
    last: int
    limbs: tuple[int, ...]
    name: str
    wrong: frozenset[int]

    @classmethod
    def at(cls, reason: Reason, instant: int, limbs: tuple[int, ...], name: str) -> Place:
        """One of a single instant."""
        return cls(reason, instant, instant, limbs, name, frozenset((instant,)))


@dataclass(frozen=True)
class Finding:
    """Something that the drummer cannot play.

    Parameters
    ----------
    bar, beat : where it begins, from 1; beats count quarter notes. pair : `HANDS` or `FEET`. limbs : which of
        them. reason : why.
    tick, end : of its first and last instant, on the grid. last_bar : of the last one.
    bpm : tempo there, in quarter notes a minute. fits : the tempo, in whole numbers, up to which it can be played;
        None where none helps. change : the smallest one that removes it; None where none is that small.
    """

    bar: int
    beat: float
    pair: str
    limbs: tuple[str, ...]
    reason: Reason
    tick: int
    end: int
    last_bar: int
    bpm: float
    fits: int | None = None
    change: Change | None = None

    @property
    def in_words(self) -> str:
        """The reason in words, with the tempo up to which it fits."""
        return self.reason.words + (f"; fits up to {self.fits} bpm" if self.fits else "")

    def facts(self) -> dict[str, object]:
        """The finding as `check --json` gives it."""
        return {
            "bar": self.bar,
            "beat": self.beat,
            "limbs": list(self.limbs),
            "reason": self.in_words,
            "change": None if self.change is None else self.change.in_words,
            "fits_up_to": self.fits,
            "last_bar": self.last_bar,
        }


def places(parts: Iterable[Assigned]) -> list[Place]:
    """Everything that some limbs cannot play, in order; of several reasons at one instant the first."""
    by_name = {part.name: part for part in parts}
    found = [place for part in by_name.values() for place in _of(part)]
    if not found:
        return []
    found.sort(key=lambda place: (place.reason, place.first))
    kept: list[Place] = []
    taken: set[int] = set()
    for place in found:
        spots = set(_instants(place, by_name[place.name]))
        if not place.wrong <= taken:
            kept.append(place)
        taken |= spots
    return sorted(kept, key=lambda place: place.first)


def _instants(place: Place, assigned: Assigned) -> Iterable[int]:
    return (at for at in assigned.work.group.tolist() if place.first <= at <= place.last)


def _of(assigned: Assigned) -> Iterator[Place]:
    """The places of one chain; passages of too fast strokes that overlap are one."""
    yield from _unlike(assigned)
    if not assigned.steps:
        return
    runs: list[Place] = []
    begun, grabbed = [0, 0], [0, 0]
    for at, (option, steps) in enumerate(zip(assigned.taken, assigned.steps)):
        instant = int(assigned.work.group[at])
        if (dropped := _dropped(option.dropped, assigned.name)) is not None:
            yield Place.at(dropped, instant, _limbs_of(dropped), assigned.name)
        for limb, step in enumerate(steps):
            for breach, reason in _REASONS:
                if not step.breach & breach:
                    continue
                if reason == Reason.RATE:
                    wrong = frozenset((instant,))
                    runs.append(Place(reason, begun[limb], instant, (limb,), assigned.name, wrong))
                else:
                    where = grabbed[limb] if reason == Reason.CHOKE else instant
                    yield Place.at(reason, where, (limb,), assigned.name)
            if option.zones[limb] != NOTHING and step.limb.strokes == 1:
                begun[limb] = instant
            if option.grabs[limb] != NOTHING:
                grabbed[limb] = instant
    yield from _merged(runs)


def _unlike(assigned: Assigned) -> Iterator[Place]:
    """The instants at which no way to play is as the sticking asks."""
    for at in np.flatnonzero(assigned.work.written).tolist():
        if HAND_LETTERS.get(assigned.taken[at].mask) != LETTERS[int(assigned.work.written[at])]:
            instant = int(assigned.work.group[at])
            yield Place.at(Reason.STICKING, instant, (0, 1), assigned.name)


_REASONS = (
    (Breach.SURFACES, Reason.TWO_SURFACES),
    (Breach.RATE, Reason.RATE),
    (Breach.TRAVEL, Reason.TRAVEL),
    (Breach.CHOKE, Reason.CHOKE),
)


def _dropped(codes: tuple[int, ...], name: str) -> Reason | None:
    if not codes:
        return None
    if name == HANDS:
        return Reason.THREE_HANDS
    return Reason.RATE if KICK in codes else Reason.HI_HAT_FOOT if PEDAL in codes else None


def _limbs_of(reason: Reason) -> tuple[int, ...]:
    if reason == Reason.THREE_HANDS:
        return 0, 1
    return (1,) if reason == Reason.HI_HAT_FOOT else (0,)


def _merged(runs: list[Place]) -> Iterator[Place]:
    """Passages that overlap as one, with the limbs of all."""
    current: Place | None = None
    for run in sorted(runs, key=lambda place: place.first):
        if current is not None and run.first <= current.last:
            limbs = tuple(sorted({*current.limbs, *run.limbs}))
            last, wrong = max(current.last, run.last), current.wrong | run.wrong
            current = Place(Reason.RATE, current.first, last, limbs, run.name, wrong)
            continue
        if current is not None:
            yield current
        current = run
    if current is not None:
        yield current
