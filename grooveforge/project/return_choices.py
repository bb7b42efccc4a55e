"""All that a return could be: frames of feel, backbeats, kick and the hand's rate, and where the hand stands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import combinations, groupby
from types import MappingProxyType
from typing import Any

from grooveforge.core import feel_table, kick, timekeeper
from grooveforge.core.groove import Groove
from grooveforge.core.meter import EVEN
from grooveforge.errors import GrooveForgeError
from grooveforge.formats.keymap import KeyMap
from grooveforge.project.returns import FRAME_KEYS, Given, Return

SURFACES = (
    "floor tom", "closed hi-hat", "half-open hi-hat", "ride", "ride bell", "open hi-hat", "crash", "china",
)  # fmt: skip
"""Surfaces that a return's hand may move to (common practice of heavy music), contained to open."""

SYNCOPATED = ((Fraction(1, 4), Fraction(7, 8)), (Fraction(3, 8), Fraction(3, 4)))
"""Backbeats of a bar of four quarters with one of the two pushed: 2 4& and 2& 4 (house rule)."""

STRAIGHT_RATES = ("1/4", "1/8", "1/16", timekeeper.TWO_HANDS, "offbeat 1/8", timekeeper.DOUBLED, timekeeper.HALVED)
TRIPLE_RATES = ("1/8T", timekeeper.DOUBLED, timekeeper.HALVED)
"""Rates of the hand that a return may have, where beats are halved and where they are cut in three."""

LAST_BARS = 2
"""Bars at a section's end for which the hand may turn to another surface, beside its last quarter (house rule)."""


def frame_choices(back: Return, moves_snare: bool) -> Iterator[dict[str, Any]]:
    """Feel, spelling, backbeats, kick and rate of the hand, each as the statement before or otherwise.

    Parameters
    ----------
    moves_snare : whether feel, backbeats and kick may change; else the hand's rate alone.
    """
    plain = back.as_before(FRAME_KEYS)
    meter = back.section.meter
    triple = meter.compound or back.bare({}).coarsest.grid % 3 == 0
    rates = [plain["subdivision"], *(TRIPLE_RATES if triple else STRAIGHT_RATES)]
    frames = list(_beats(back, triple, plain)) if moves_snare else [plain]
    for frame in frames:
        for rate in dict.fromkeys(rates):
            yield {**frame, "subdivision": rate}


def _beats(back: Return, triple: bool, plain: Given) -> Iterator[dict[str, Any]]:
    """Feels with their spellings, and pushed backbeats, each under every kick that the riff leaves free."""
    follows = back.song.settings_of(back.entry).kick == kick.FOLLOW
    kicks = [plain["kick"]] if follows else [plain["kick"], kick.ADAPT, kick.KEEP, kick.FIGURE]
    beats: list[dict[str, Any]] = [dict(plain)]
    for feel in feel_table.FEELS:
        spellings = [name for name in feel_table.SPELLINGS.get(feel, (None,)) if triple or name != "triplet"]
        beats += [{**plain, "feel": feel, "spelling": spelling, "backbeats": None} for spelling in spellings]
    meter = back.section.meter
    if meter.kind == EVEN and (meter.upper, meter.lower) == (4, 4):
        full = {**plain, "feel": feel_table.FULL, "spelling": None}
        beats += [{**full, "backbeats": places} for places in SYNCOPATED]
    for beat in beats:
        for policy in dict.fromkeys(kicks):
            yield {**beat, "kick": policy}


def hand_choices(back: Return, kit: KeyMap) -> Mapping[tuple[str, ...], Any]:
    """Where the hand may stand, bar by bar, with how a sheet says it; first of all as in the statement before.

    It stands on one surface, on two in equal parts, or on another for the last quarter or the last two bars, always
    from a contained one to a more open one. Surfaces that the kit lacks are left out.
    """
    bars = back.bars
    stood = back.stood_before()
    found: dict[tuple[str, ...], Any] = {}
    if back.bare({}).hand is None:
        return {(SURFACES[0],) * bars: back.before[1].settings.timekeeper}  # no hand: nothing to move
    if all(stood):
        names = tuple(str(name) for name in stood)
        found[names] = said_of(names)
    usable = [name for name in SURFACES if kit.used_for(name) == name]
    said: list[Any] = list(usable)
    if bars > 1:
        said += list(combinations(usable, 2))
    for last in sorted({bars // 4, LAST_BARS} if bars > LAST_BARS else (), reverse=True):
        said += [((bars - last, one), (last, two)) for one, two in combinations(usable, 2)]
    for hand in said:
        runs = ((bars, hand),) if isinstance(hand, str) else timekeeper.surface_spans(hand, bars)
        found.setdefault(tuple(name for count, name in runs for _ in range(count)), hand)
    return MappingProxyType(found)


def said_of(names: Sequence[str]) -> Any:
    """How a sheet says where the hand stands bar by bar: a surface, a list in equal parts, else runs of bars."""
    runs = [(len(list(group)), name) for name, group in groupby(names)]
    if len(runs) == 1:
        return runs[0][1]
    surfaces = tuple(name for _, name in runs)
    equal = timekeeper.surface_spans(surfaces, len(names))
    return surfaces if equal == tuple(runs) else tuple(runs)


def buildable(back: Return, choices: Iterator[dict[str, Any]]) -> Iterator[tuple[dict[str, Any], Groove]]:
    """The choices that make music, with their bare bars; of those that sound alike the first alone."""
    known = set()
    for given in choices:
        try:
            groove = back.bare(given)
        except GrooveForgeError:
            continue  # a feel that the metre does not know, a grid too fine: no choice here
        shape = (groove.grid, groove.kick, groove.snare, groove.hand, groove.others)
        if shape not in known:
            known.add(shape)
            yield given, groove
