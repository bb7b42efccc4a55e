"""Setting the feel of a groove: the backbeats move, the kick goes by its policy, the rest stays.

House rules, with the feels of `feel_table`: ghosts stay in place, normal snare strokes stay at full time and
slower, double time and faster drop both. Tempo, bars, metre and the hand's surface are never touched.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from math import lcm

import numpy as np

from grooveforge.core import feel_table, kick
from grooveforge.core.feel_table import DOUBLE, RUNG, FeelPattern
from grooveforge.core.groove import Groove, Lane
from grooveforge.core.kit import ACCENT, BACKBEAT_SURFACES, NORMAL, Kind
from grooveforge.core.roles import FeelReading, closest_spelling, read_feel
from grooveforge.errors import MusicError


@dataclass(frozen=True)
class FeelChange:
    """A wanted feel.

    Parameters
    ----------
    feel : a feel, or a relative one ("/2"); None keeps the groove's.
    spelling : of a d-beat or blast; None for the default.
    kick : "adapt", "keep" or "figure".
    backbeats : own backbeats, whole notes inside one bar, as they stand at `backbeats_feel` (the wanted feel
        where that is None).
    has_riff : whether a guitar riff is known: riff kicks then stay on backbeats too.
    keep_hand : leave the timekeeper's rate alone even into d-beat and blast.
    """

    feel: str | None = None
    spelling: str | None = None
    kick: str = kick.ADAPT
    backbeats: tuple[Fraction, ...] | None = None
    backbeats_feel: str | None = None
    has_riff: bool = False
    keep_hand: bool = False


def target_feel(reading: FeelReading, wanted: str | None) -> str | None:
    """The feel that a wanted one means for a groove: itself, or some rungs from the groove's own."""
    if wanted is None:
        return reading.feel
    if wanted not in feel_table.RELATIVE:
        return feel_table.check_feel(wanted)
    if reading.feel is None:
        raise MusicError(
            f"a relative feel ({wanted}) needs a groove that has one, and this one has no backbeat",
            hint="a feel by name, such as full",
        )
    return feel_table.step_feel(reading.feel, wanted)


def set_feel(groove: Groove, change: FeelChange) -> Groove:
    """The groove, as a loop, at another feel; repeated to whole cycles of the feel where it needs to be.

    Raises
    ------
    MusicError
        When the feel does not exist, leads off the ladder, has no meaning in the metre or leaves the grid.
    """
    reading = _reading(groove, change)
    feel = target_feel(reading, change.feel)
    if change.kick not in kick.POLICIES:
        raise MusicError("no such kick policy", found=repr(change.kick), allowed=", ".join(kick.POLICIES))
    if feel is None:
        return _without_feel(groove, change)
    feel_table.check_spelling(feel, change.spelling)
    same = reading.feel == feel and change.spelling in (None, reading.spelling) and change.backbeats is None
    if same and change.kick != kick.FIGURE:
        return groove
    spelling = change.spelling or (reading.spelling if reading.feel == feel else None)
    spelling = spelling or feel_table.default_spelling(feel, groove.meter)
    new, own = _wanted_pattern(groove, reading, feel, spelling, change)
    moved = _repeated(groove, new)
    new = new.over(moved.bars, moved.meter)
    moved = moved.fit_grid((*new.kicks, *new.backbeats, *(new.hand or ())))
    if same:
        return replace(moved, kick=kick.laid(moved.lane_on("kick"), _steps(moved, new.kicks)))
    moved = _apply(moved, _repeated_reading(reading, groove, moved), new, replace(change, feel=feel))
    spelled = spelling if feel in feel_table.SPELLINGS else None
    return replace(moved, feel=feel, spelling=spelled, backbeats=new.backbeats if own else None)


def _reading(groove: Groove, change: FeelChange) -> FeelReading:
    """What the groove plays; where that is no feel by the table, the given backbeats tell which strokes are its own."""
    reading = read_feel(groove)
    anchor = change.backbeats_feel or change.feel
    if reading.feel is not None or change.backbeats is None or anchor not in feel_table.FEELS:
        return reading
    bars = range(groove.bars)
    places = tuple(bar * groove.meter.whole + place for bar in bars for place in change.backbeats)
    return read_feel(replace(groove, feel=anchor, spelling=None, backbeats=places))


def _without_feel(groove: Groove, change: FeelChange) -> Groove:
    if change.spelling is not None or change.backbeats is not None or change.kick == kick.FIGURE:
        raise MusicError("the groove has no feel: it has no backbeat", hint="a feel by name beside it, such as full")
    return groove


def _wanted_pattern(
    groove: Groove, reading: FeelReading, feel: str, spelling: str | None, change: FeelChange
) -> tuple[FeelPattern, bool]:
    """The pattern of the wanted feel, and whether it is own backbeats moved along the ladder (else the table's)."""
    figure = feel == feel_table.D_BEAT or (feel == feel_table.BLAST and spelling not in (None, "alternating"))
    if change.backbeats is not None and not figure:
        own = feel_table.own_backbeats(groove.meter, 1, change.backbeats, change.backbeats_feel or feel)
        return feel_table.own_pattern(own, groove.meter, feel), True
    if reading.own and reading.feel is not None and not figure:
        places = tuple(groove.position(step) for _, step in reading.backbeats)
        own = feel_table.own_backbeats(groove.meter, groove.bars, places, reading.feel)
        return feel_table.own_pattern(own, groove.meter, feel), True
    return feel_table.pattern(groove.meter, feel, spelling), False


def _repeated(groove: Groove, cycle: FeelPattern) -> Groove:
    return groove.bars_of(lcm(groove.bars, cycle.bars))


def _repeated_reading(reading: FeelReading, groove: Groove, moved: Groove) -> FeelReading:
    """What was read of a groove, for the same groove repeated and on another grid."""
    backbeats = tuple(
        (name, (turn * groove.steps + step) * moved.grid // groove.grid)
        for turn in range(moved.bars // groove.bars)
        for name, step in reading.backbeats
    )
    return replace(reading, backbeats=backbeats)


def _steps(groove: Groove, places: tuple[Fraction, ...]) -> set[int]:
    return {groove.step(place) for place in places}


def _apply(groove: Groove, reading: FeelReading, new: FeelPattern, change: FeelChange) -> Groove:
    """Put a pattern of the groove's own length and grid in the place of its old feel."""
    feel = change.feel or feel_table.FULL
    wanted = _steps(groove, new.backbeats)
    moved = _new_snare(groove, reading, wanted, feel)
    if change.kick != kick.KEEP:
        moved = replace(moved, kick=_new_kick(groove, reading, new, wanted, change))
    if new.hand is not None and groove.hand is not None and not change.keep_hand:
        moved = replace(moved, hand=with_rate(groove.hand, _steps(groove, new.hand)))
    return moved


def _new_snare(groove: Groove, reading: FeelReading, wanted: set[int], feel: str) -> Groove:
    old = reading.backbeats
    voice = _voice(reading)
    velocity, kind = _backbeat_stroke(groove, reading)
    drops_others = RUNG[feel] >= RUNG[DOUBLE]
    moved = groove
    for name in BACKBEAT_SURFACES:
        lane = groove.lane_on(name)
        if drops_others:
            lane = Lane.rests(groove.steps)
        else:
            lane = lane.put({step for surface, step in old if surface == name} | wanted, 0, Kind.PLAIN)
        if name == voice:
            lane = lane.put(wanted, velocity, kind)
        moved = moved.with_lane(name, lane)
    return moved


def _voice(reading: FeelReading) -> str:
    """What plays the backbeats: what plays most of them now, else the snare."""
    names = [name for name, _ in reading.backbeats]
    return max(BACKBEAT_SURFACES, key=names.count)


def _backbeat_stroke(groove: Groove, reading: FeelReading) -> tuple[int, Kind]:
    """Level and kind of the new backbeats: a flam or drag among the old, else the first old one's."""
    strokes = [
        (int(groove.lane_on(name).velocity[step]), Kind(int(groove.lane_on(name).kind[step])))
        for name, step in reading.backbeats
    ]
    ornaments = [stroke for stroke in strokes if stroke[1] in (Kind.FLAM, Kind.DRAG)]
    return next(iter(ornaments + strokes), (ACCENT, Kind.ACCENT))


def _new_kick(
    groove: Groove, reading: FeelReading, new: FeelPattern, wanted: set[int], change: FeelChange
) -> Lane:
    lane = groove.lane_on("kick")
    target = _steps(groove, new.kicks)
    if new.is_figure or change.kick == kick.FIGURE:
        return kick.laid(lane, target)
    struck = set(lane.struck.tolist())
    riff = struck - _old_skeleton(groove, reading, struck)
    under_own = {step for _, step in reading.backbeats}
    # Without backbeats of its own a groove tells nothing about kicks under them: all stay.
    avoids_backbeats = bool(under_own) and not struck & under_own
    if avoids_backbeats and not change.has_riff:
        riff -= wanted
    return kick.laid(lane, target | riff)


def _old_skeleton(groove: Groove, reading: FeelReading, struck: set[int]) -> set[int]:
    if reading.feel is None:
        return set()
    old = _old_pattern(groove, reading)
    scaled = {place * groove.grid for place in old.over(groove.bars, groove.meter).kicks}
    on_grid = {int(step) for step in scaled if step.denominator == 1}
    return kick.skeleton_steps(struck, on_grid, groove.grid, groove.steps, old.is_figure)


def _old_pattern(groove: Groove, reading: FeelReading) -> FeelPattern:
    feel = reading.feel or feel_table.FULL
    if reading.own and feel != feel_table.D_BEAT:
        places = tuple(groove.position(step) for _, step in reading.backbeats)
        own = feel_table.own_backbeats(groove.meter, groove.bars, places, feel)
        return feel_table.own_pattern(own, groove.meter, feel)
    return feel_table.pattern(groove.meter, feel, reading.spelling or closest_spelling(groove, feel))


def with_rate(hand: Lane, steps: set[int]) -> Lane:
    """A hand that strikes just these steps: its own strokes there are kept, missing ones are plain."""
    kept = hand.only(np.isin(np.arange(len(hand)), sorted(steps)))
    return kept.put(sorted(steps - set(kept.struck.tolist())), NORMAL, Kind.PLAIN)
