"""A drummer sits down and tries: who plays what, what no one can play, the hardest bar, how long it can be held."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from grooveforge.analysis.endurance import Endurance, endurance_of
from grooveforge.analysis.findings import Finding, Place, Reason, places
from grooveforge.analysis.instants import Floats, Passage, passage_of
from grooveforge.analysis.limbs import HANDS, Assigned, Player
from grooveforge.analysis.remedies import with_remedies
from grooveforge.analysis.sticking import Sticking, sticking_of
from grooveforge.core.groove import Groove
from grooveforge.core.loop import loop_performance
from grooveforge.core.perform import Performance
from grooveforge.core.profile import Profile


@dataclass(frozen=True, eq=False)
class Checked:
    """What a check finds.

    Parameters
    ----------
    profile : whose limits. findings : what cannot be played, in order. sticking : who plays what.
    loads : (bars,) how hard each bar is: what the limbs' cheapest way costs a second, 0 where all is comfortable.
    hardest_bar : from 1; None where nothing is played. endurance : how long it can be held.
    """

    profile: Profile
    findings: tuple[Finding, ...]
    sticking: Sticking
    loads: Floats
    hardest_bar: int | None
    endurance: Endurance
    bars: int

    @property
    def playable(self) -> bool:
        return not self.findings

    @property
    def bars_with_findings(self) -> frozenset[int]:
        """The bars, from 1, that a finding reaches into."""
        return frozenset(bar for row in self.findings for bar in range(row.bar, row.last_bar + 1))


def check(
    performance: Performance,
    profile: Profile,
    written: Mapping[int, str] | None = None,
    remedies: bool = True,
    player: Player | None = None,
) -> Checked:
    """What a drummer can and cannot play of a performance.

    Parameters
    ----------
    written : by tick the hand that a sticking asks for: "R" for the leading hand, "L", "B" for both.
    remedies : whether each finding has the tempo that it fits up to and the smallest change, which takes a while where
        there are many. player : one that has tried other performances for this profile, and remembers bars.
    """
    player = player or Player(profile)
    passage = passage_of(performance, written)
    hands, feet = player.hands.play(passage), player.feet.play(passage)
    found = places((hands, feet))
    if written and not hands.playable and player.hands.play(passage_of(performance)).playable:
        found = [replace(row, reason=Reason.STICKING) if row.name == HANDS else row for row in found]
    findings = tuple(_finding(passage, performance, place, player) for place in found)
    if remedies and findings:
        findings = with_remedies(performance, findings, player, written)
    loads = _loads(passage, hands, feet)
    return Checked(
        profile,
        findings,
        sticking_of(passage, (hands, feet), profile),
        loads,
        _hardest(passage, loads),
        endurance_of(passage, profile),
        passage.bars,
    )


def check_groove(
    groove: Groove, bpm: float, profile: Profile, written: Mapping[int, str] | None = None, remedies: bool = True
) -> Checked:
    """What a drummer can and cannot play of a groove as a loop: twice over at a tempo in quarter notes a minute.

    Parameters
    ----------
    written, remedies : as for `check`; ticks count over both times.
    """
    return check(groove_performance(groove, bpm), profile, written, remedies)


TIMES = 2
"""How often a groove is tried in a row: its end must go into its beginning."""


def groove_performance(groove: Groove, bpm: float, times: int = TIMES) -> Performance:
    """A groove as a loop, exactly on its grid, at a tempo in quarter notes a minute."""
    return loop_performance(groove, bpm, times, plain=True)


def _finding(passage: Passage, performance: Performance, place: Place, player: Player) -> Finding:
    tick = int(passage.place[place.first])
    bpm = next(float(bpm) for at, bpm in reversed(performance.tempos) if at <= tick or at == performance.tempos[0][0])
    names = player.limb_names(place.name)
    return Finding(
        int(passage.bar[place.first]) + 1,
        passage.beat(place.first),
        place.name,
        tuple(names[limb] for limb in place.limbs),
        place.reason,
        tick,
        int(passage.place[place.last]),
        int(passage.bar[place.last]) + 1,
        bpm,
    )


def _loads(passage: Passage, hands: Assigned, feet: Assigned) -> Floats:
    """(bars,) cost a second."""
    costs = hands.bar_costs + feet.bar_costs
    loads: Floats = costs / 1000 / np.maximum(passage.bar_seconds[: costs.size], 1e-3)
    return loads


def _hardest(passage: Passage, loads: Floats) -> int | None:
    """The bar that costs most a second; of equals the one with most strokes, then the first."""
    if not passage.place.size:
        return None
    strokes = np.bincount(passage.bar, minlength=passage.bars)[: loads.size] / np.maximum(passage.bar_seconds, 1e-3)
    return int(np.lexsort((-strokes, -loads))[0]) + 1
