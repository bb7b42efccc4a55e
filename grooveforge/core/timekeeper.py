"""The timekeeping hand: its rate, the surfaces it shares a section among, and the foot on the hi-hat.

Moving the hand replaces one field of a groove, so kick and snare lanes stay the same arrays. Rates follow
published lessons: quarters wide, eighths neutral, sixteenths busy; sixteenths by two hands leave the surface
where a hand plays the backbeat (14 strokes and 2 snares a bar in full time).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from types import MappingProxyType

from grooveforge.core.feel import with_rate
from grooveforge.core.groove import Groove, Lane
from grooveforge.core.kick import runs
from grooveforge.core.kit import GHOST, NORMAL, TAP, Kind
from grooveforge.core.kit import surface as surface_row
from grooveforge.core.roles import read_feel
from grooveforge.core.song import HandOn
from grooveforge.errors import MusicError

KEEP, DOUBLED, HALVED, TWO_HANDS = "keep", "x2", "/2", "1/16 two hands"

PULSES: Mapping[str, tuple[Fraction, Fraction]] = MappingProxyType(
    {
        "1/4": (Fraction(0), Fraction(1, 4)),
        "1/8": (Fraction(0), Fraction(1, 8)),
        "1/16": (Fraction(0), Fraction(1, 16)),
        "1/8T": (Fraction(0), Fraction(1, 12)),
        "offbeat 1/8": (Fraction(1, 8), Fraction(1, 4)),
    }
)
"""Regular rates: (first stroke, distance) in whole notes from each bar line."""

SUBDIVISIONS = (KEEP, DOUBLED, HALVED, *PULSES, TWO_HANDS)

LONGEST_GAP = Fraction(1, 2)
"""Strokes further apart than a half note have a rest between them; doubling puts nothing into it."""


def set_subdivision(groove: Groove, subdivision: str) -> Groove:
    """The groove, as a loop, with the timekeeping hand at another rate.

    Raises
    ------
    MusicError
        When the subdivision is none, or needs a grid over 96 steps to a whole note.
    """
    if subdivision not in SUBDIVISIONS:
        raise MusicError("no such subdivision", found=repr(subdivision), allowed=", ".join(SUBDIVISIONS))
    if groove.hand is None or subdivision == KEEP:
        return groove
    if subdivision == DOUBLED:
        return _doubled(groove)
    if subdivision == HALVED:
        return _halved(groove, groove.hand)
    return _regular(groove, subdivision)


def _doubled(groove: Groove) -> Groove:
    """Every stroke stays, a weaker one comes half-way to the next."""
    if groove.hand is None:
        return groove
    struck = groove.hand.struck.tolist()
    gaps = [after - step for step, after in zip(struck, [*struck[1:], struck[0] + groove.steps])]
    places = [
        Fraction(2 * step + gap, 2 * groove.grid) % groove.whole if groove.position(gap) <= LONGEST_GAP else None
        for step, gap in zip(struck, gaps)
    ]
    finer = groove.fit_grid(place for place in places if place is not None)
    hand = finer.hand or Lane.rests(finer.steps)
    levels = hand.velocity[hand.struck].tolist()
    softer = [_weaker(min(pair)) for pair in zip(levels, [*levels[1:], levels[0]])]
    added = [(finer.step(place), level) for place, level in zip(places, softer) if place is not None]
    for level in set(softer):
        hand = hand.put((step for step, its in added if its == level), level, Kind.PLAIN)
    return replace(finer, hand=hand)


def _weaker(velocity: int) -> int:
    """A level below a velocity: a tap, under a tap a ghost."""
    return next((level for level in (TAP, GHOST) if level < velocity), max(1, velocity - 1))


def _halved(groove: Groove, hand: Lane) -> Groove:
    """The weaker strokes half-way between two go where they alternate with the others all through (as doubling
    puts them); else the strokes of the finest metrical level go, or where all would, every second one."""
    bar = groove.meter.whole
    struck = hand.struck.tolist()
    strong = set(struck) - _between(groove, hand)
    if len(strong) == len(struck):
        levels = {step: groove.meter.level_of(groove.position(step) % bar) for step in struck}
        finest = max(levels.values())
        strong = {step for step in struck if levels[step] < finest} or set(struck[::2])
    return replace(groove, hand=with_rate(hand, strong))


def _between(groove: Groove, hand: Lane) -> set[int]:
    """The strokes that doubling may have put in: weaker than both neighbours, half-way between them, in every
    gap that is no rest. Empty where the hand is no doubled one."""
    struck = hand.struck.tolist()
    level = dict(zip(struck, hand.velocity[hand.struck].tolist()))
    before, after = [struck[-1], *struck[:-1]], [*struck[1:], struck[0]]
    longest = LONGEST_GAP * groove.grid
    found = {
        step
        for early, step, late in zip(before, struck, after)
        if level[step] < min(level[early], level[late])
        and (step - early) % groove.steps == (late - step) % groove.steps <= longest / 2
    }
    gaps = ((step, late, (late - step) % groove.steps) for step, late in zip(struck, after))
    doubled = all(step in found or late in found or gap > longest for step, late, gap in gaps)
    return found if doubled else set()


def _regular(groove: Groove, subdivision: str) -> Groove:
    first, distance = PULSES["1/16"] if subdivision == TWO_HANDS else PULSES[subdivision]
    bar = groove.meter.whole
    count = int((bar - first - Fraction(1, 10**6)) / distance) + 1 if first < bar else 0
    places = [number * bar + first + index * distance for number in range(groove.bars) for index in range(count)]
    finer = groove.fit_grid(places)
    steps = {finer.step(place) for place in places}
    if subdivision == TWO_HANDS:
        steps -= {step for _, step in read_feel(finer).backbeats}
    return replace(finer, hand=with_rate(finer.hand or Lane.rests(finer.steps), steps))


def surface_spans(timekeeper: Sequence[str] | HandOn, bars: int) -> HandOn:
    """Which surface holds for how many bars of a section.

    A list of surfaces is shared in equal parts: part i of k begins at bar floor(i * bars / k). A list of
    (bars, surface) runs in order and its last surface holds to the end.

    Raises
    ------
    MusicError
        When the list asks for more bars than the section has.
    """
    if all(isinstance(item, str) for item in timekeeper):
        names = [str(item) for item in timekeeper]
        starts = [index * bars // len(names) for index in range(len(names))] + [bars]
        return tuple((end - start, name) for start, end, name in zip(starts, starts[1:], names) if end > start)
    pairs = [(int(item[0]), str(item[1])) for item in timekeeper if not isinstance(item, str)]
    asked = sum(count for count, _ in pairs)
    if asked > bars:
        raise MusicError(f"the timekeeper's list asks for {asked} bars in a section of {bars}")
    count, last = pairs[-1]
    return (*pairs[:-1], (count + bars - asked, last))


def add_hi_hat_foot(groove: Groove) -> Groove:
    """The groove, as a loop, with the foot closing the hi-hat on the backbeats.

    Only while the hand is not on the hi-hat, and where one foot is free: a backbeat inside a run of kicks a
    sixteenth or less apart keeps both feet busy (common practice).
    """
    if groove.surface is not None and surface_row(groove.surface).family in ("hi-hat", "foot"):
        return groove
    kicks = groove.lane_on("kick").struck.tolist()
    fast = {step for step in runs(kicks, groove.grid, groove.steps) if _close_neighbour(step, kicks, groove)}
    reach = groove.grid // 16
    busy = {(step + by) % groove.steps for step in fast for by in range(-reach, reach + 1)}
    free = {step for _, step in read_feel(groove).backbeats} - busy
    foot = groove.lane_on("pedal hi-hat")
    missing = free - set(foot.struck.tolist())
    return groove.with_lane("pedal hi-hat", foot.put(sorted(missing), NORMAL, Kind.PLAIN))


def _close_neighbour(step: int, kicks: list[int], groove: Groove) -> bool:
    """Whether another kick stands a sixteenth or less away."""
    reach, length = groove.grid // 16, groove.steps
    return any(other != step and min((other - step) % length, (step - other) % length) <= reach for other in kicks)
