"""Three versions of a song's bars brought together: what was rendered, what the sheet gives now, what came back.

A bar is four lanes of strokes. In each lane whoever changed it wins; where both did, and not alike, it is a
conflict that only a human can decide.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from grooveforge.core.groove import LANES, TIMEKEEPER
from grooveforge.core.hands import lane_of
from grooveforge.core.kit import Kind, band_of
from grooveforge.core.played_bar import Sounded

Strokes = frozenset[Sounded]


class Outcome(StrEnum):
    """What becomes of a lane of a bar."""

    same = "same"
    file = "file"
    conflict = "conflict"


@dataclass(frozen=True)
class BarLanes:
    """One bar of one version.

    Parameters
    ----------
    strokes : ticks from the bar line; all versions count in the same ticks.
    hand : the surface that the timekeeping hand stands on. played : whether a drummer's strokes stand there as they
        are, so that the least difference counts; else levels and timing are the sheet's to shape.
    """

    strokes: Strokes = frozenset()
    hand: str | None = None
    played: bool = False

    def lane(self, name: str) -> Strokes:
        """The strokes of one lane."""
        return frozenset(stroke for stroke in self.strokes if lane_of(stroke.surface, self.hand) == name)

    def with_lane(self, name: str, other: BarLanes) -> BarLanes:
        """The bar with one lane of another version; with its hand where the lane is the hand's."""
        kept = frozenset(stroke for stroke in self.strokes if lane_of(stroke.surface, self.hand) != name)
        hand = other.hand if name == TIMEKEEPER else self.hand
        return BarLanes(kept | other.lane(name), hand, self.played)


def sounds(strokes: Iterable[Sounded]) -> frozenset[tuple[int, str, int, bool]]:
    """What there is to hear of strokes: tick, surface, level, whether it is choked."""
    return frozenset((row.tick, row.surface, row.velocity, row.kind == Kind.CHOKE) for row in strokes)


def written(strokes: Iterable[Sounded]) -> frozenset[tuple[int, str, str]]:
    """What a writer would write of strokes: place, surface, band of levels."""
    return frozenset((row.place, row.surface, band_of(row.velocity).name) for row in strokes)


def changed_lanes(before: BarLanes, now: BarLanes) -> tuple[str, ...]:
    """The lanes whose strokes are not the same to the tick and level."""
    return tuple(name for name in LANES if sounds(before.lane(name)) != sounds(now.lane(name)))


def outcome(lane: str, base: BarLanes, sheet: BarLanes, file: BarLanes) -> Outcome:
    """What becomes of a lane: as the sheet has it, as the file has it, or a conflict.

    The sheet has changed a lane where it writes another one: shaped levels and timing alone are no change, unless a
    drummer's strokes stood there.
    """
    old, mine, theirs = base.lane(lane), sheet.lane(lane), file.lane(lane)
    if sounds(theirs) in (sounds(old), sounds(mine)):
        return Outcome.same
    if sounds(mine) == sounds(old):
        return Outcome.file
    if not (base.played or sheet.played) and written(mine) in (written(old), written(theirs)):
        return Outcome.file
    return Outcome.conflict


@dataclass(frozen=True)
class MergedBar:
    """One bar brought together.

    Parameters
    ----------
    bar : the sheet's bar with the file's lanes that are taken over. taken : those lanes. conflicts : lanes that both
        sides changed, left as the sheet has them. changed : the lanes that the file has otherwise than the base.
    """

    bar: BarLanes
    changed: tuple[str, ...] = ()
    taken: tuple[str, ...] = ()
    conflicts: tuple[str, ...] = ()


def merge_bar(
    base: BarLanes,
    sheet: BarLanes,
    file: BarLanes,
    fixed: Iterable[str] = (),
    decided: Mapping[str, bool] | None = None,
) -> MergedBar:
    """Three versions of one bar brought together.

    Parameters
    ----------
    fixed : lanes that stay as the sheet has them. decided : for lanes in conflict, whether the file has its way.
    """
    said = decided or {}
    changed = changed_lanes(base, file)
    taken, conflicts, bar = [], [], sheet
    for name in (name for name in changed if name not in set(fixed)):
        found = outcome(name, base, sheet, file)
        if found is Outcome.conflict and name in said:
            found = Outcome.file if said[name] else Outcome.same
        if found is Outcome.conflict:
            conflicts.append(name)
        elif found is Outcome.file:
            taken.append(name)
            bar = bar.with_lane(name, file)
    return MergedBar(bar, changed, tuple(taken), tuple(conflicts))
