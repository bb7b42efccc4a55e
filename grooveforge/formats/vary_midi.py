"""One change to the drums of a MIDI file: feel, rate and surface of the hand, kick; all else stays as it was.

The file's bars become grooves, the core changes them, and the difference goes back to the strokes: what the
groove still has keeps its tick, level and length, what it no longer has goes, what is new stands on the grid.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from grooveforge.core import detect, feel_table, timekeeper
from grooveforge.core.feel import FeelChange, set_feel, target_feel
from grooveforge.core.feel_fit import matches
from grooveforge.core.feel_table import FeelPattern
from grooveforge.core.groove import Groove
from grooveforge.core.hands import hand_of, with_hand
from grooveforge.core.inspect import BarFacts
from grooveforge.core.kick import ADAPT, FOLLOW, POLICIES
from grooveforge.core.kit import Kind, sounding, timekeeping_surface
from grooveforge.core.roles import FeelReading
from grooveforge.core.words import bars_from_to
from grooveforge.errors import MusicError, UsageError
from grooveforge.formats.drum_part import DrumPart
from grooveforge.formats.vary_edits import Edits, write_back
from grooveforge.formats.vary_stretch import Key, Stretch, bars_in_words, stretches_of, write_difference

FIGURES = (feel_table.D_BEAT, feel_table.BLAST)
"""The feels that bring the rate of their hand."""


@dataclass(frozen=True)
class Variation:
    """What is to change; None leaves it alone.

    Parameters
    ----------
    feel, spelling, timekeeper, subdivision, kick : as in a song sheet; `kick` never follows a riff here.
    bars : first and last bar, from 1, that the change is for; None for all.
    """

    feel: str | None = None
    spelling: str | None = None
    timekeeper: str | None = None
    subdivision: str | None = None
    kick: str | None = None
    bars: tuple[int, int] | None = None

    def __post_init__(self) -> None:
        if self.feel is not None and self.feel not in feel_table.RELATIVE:
            feel_table.check_feel(self.feel)
        if self.kick == FOLLOW:
            raise UsageError("the kick can only follow a riff", hint="a song sheet with a riff")
        if self.kick is not None and self.kick not in POLICIES:
            allowed = ", ".join(policy for policy in POLICIES if policy != FOLLOW)
            raise UsageError("no such kick policy", found=repr(self.kick), allowed=allowed)
        if self.timekeeper is not None:
            object.__setattr__(self, "timekeeper", timekeeping_surface(self.timekeeper))
        if self.subdivision is not None and self.subdivision not in timekeeper.SUBDIVISIONS:
            allowed = ", ".join(timekeeper.SUBDIVISIONS)
            raise UsageError("no such subdivision", found=repr(self.subdivision), allowed=allowed)
        if self.bars is not None and not 1 <= self.bars[0] <= self.bars[1]:
            found = f"{self.bars[0]}-{self.bars[1]}"
            raise UsageError("bars are counted from 1, the first before the last", found=found)

    @property
    def moves_feel(self) -> bool:
        return self.feel is not None or self.spelling is not None or self.kick is not None

    @property
    def feel_change(self) -> FeelChange:
        """The change as the core takes it."""
        return FeelChange(self.feel, self.spelling, self.kick or ADAPT, keep_hand=self.subdivision is not None)

    def names(self, bar: int) -> bool:
        """Whether the change is for a bar, counted from 1."""
        return self.bars is None or self.bars[0] <= bar <= self.bars[1]


_BARS = re.compile(r"(\d{1,6})(?:-(\d{1,6}))?", re.ASCII)


def bars_from(text: str | None) -> tuple[int, int] | None:
    """First and last bar of a text such as "9-12" or "9"; None for None."""
    if text is None:
        return None
    found = _BARS.fullmatch(text.strip())
    if found is None:
        raise UsageError("bars are written first-last", found=repr(text[:40]), hint="--bars 9-12")
    return int(found[1]), int(found[2] or found[1])


def vary_part(part: DrumPart, change: Variation) -> DrumPart:
    """The drums with one change: the feel first, then the hand's rate, then its surface.

    Raises
    ------
    MusicError
        When the change is impossible in some bars (a relative feel off the ladder): the place names them.
    """
    if change.bars is not None and change.bars[0] > len(part.bars):
        raise UsageError(f"the file has {len(part.bars)} bars", found=bars_from_to(*change.bars))
    if change.moves_feel:
        part = _vary_feel(part, change)
    if change.subdivision is not None:
        part = _vary_hands(part, change, _same_hand, _set_rate)
    if change.timekeeper is not None:
        part = _vary_hands(part, change, _same_surface, _move_hand)
    return part


def _same_surface(facts: BarFacts) -> object:
    return facts.timekeeper


def _same_hand(facts: BarFacts) -> object:
    return facts.timekeeper and hand_of(facts.timekeeper)


# -- feel and kick ---------------------------------------------------------------------------------------


def _vary_feel(part: DrumPart, change: Variation) -> DrumPart:
    """Every stretch of one feel at its new one; bars without a feel stay, unless no bar has any."""

    def key(facts: BarFacts) -> object:
        hand = _same_hand(facts) if _target(facts.heard.feel, change) in FIGURES else None
        return facts.heard.feel, facts.heard.spelling, facts.heard.own, hand

    stretches = list(stretches_of(part, change.names, key))
    felt = [stretch for stretch in stretches if stretch.heard.feel is not None]
    edits = Edits(part)
    for stretch in felt or stretches:
        try:
            _set_feel(edits, stretch, change)
        except MusicError as error:
            raise error.at(bars_in_words(stretch.numbers)) from error
    changed = edits.finished()
    left = [bar for one in stretches if one.heard.feel is None and any(one.groove.voices) for bar in one.numbers]
    if not felt or not left:
        return changed
    said = f"no feel is heard in {bars_in_words(left)}: left as they are"
    return replace(changed, warnings=(*changed.warnings, said))


def _target(feel: str | None, change: Variation) -> str | None:
    """The feel that the change means; None where it leads off the ladder (which is said later)."""
    try:
        return target_feel(FeelReading(feel), change.feel)
    except MusicError:
        return None


def _set_feel(edits: Edits, stretch: Stretch, change: Variation) -> None:
    heard = stretch.heard
    target = target_feel(FeelReading(heard.feel), change.feel)
    before = stretch.groove
    if stretch.hand is not None and target in FIGURES:
        before = with_hand(before, stretch.hand)
    said = replace(before, feel=heard.feel, spelling=heard.spelling)
    if (cycle := heard.cycle(before.meter)) is not None:
        if heard.own:
            said = replace(said, backbeats=cycle.over(before.bars, before.meter).backbeats)
        said = _completed(said, cycle)
    after = set_feel(said, change.feel_change)
    if after is said:
        return
    same = target == heard.feel and change.spelling in (None, heard.spelling)
    write_difference(edits, stretch, before, after.slice(0, before.bars), ("kick",) if same else None)


def _completed(groove: Groove, cycle: FeelPattern) -> Groove:
    """The groove with the backbeats put in that its feel has and the player left out.

    The feel was heard among the bars around; bars cut out of them could tell another story (half of a roll is
    no roll). Complete backbeats are the table's whatever else is played, and all of them go when a new feel
    is set.
    """
    strokes = detect.loud_strokes(groove)
    best: tuple[int, set[Fraction], list[int]] = (-1, set(), [])
    for phase in range(cycle.bars):
        shift = phase * groove.meter.whole
        run = cycle.over(groove.bars + phase, groove.meter)
        places = [place - shift for place in run.backbeats if place >= shift]
        pairs = matches([stroke[0] for stroke in strokes], [float(place) for place in places])
        if len(pairs) > best[0]:
            met = {place for _, place in pairs}
            missing = {place for number, place in enumerate(places) if number not in met}
            best = len(pairs), missing, [stroke for stroke, _ in pairs]
    missing, met_strokes = best[1], best[2]
    if not missing or not met_strokes:
        return groove
    _, voice, step = strokes[met_strokes[0]]
    model = groove.lane_on(voice)
    finer = groove.fit_grid(missing)
    steps = [finer.step(place) for place in missing]
    lane = finer.lane_on(voice).put(steps, int(model.velocity[step]), Kind(int(model.kind[step])))
    return finer.with_lane(voice, lane)


# -- the hand --------------------------------------------------------------------------------------------


_Work = Callable[[Edits, Stretch, Groove, Variation], None]


def _vary_hands(part: DrumPart, change: Variation, key: Key, work: _Work) -> DrumPart:
    """Every stretch of one hand changed; bars without a hand stay, and so do bars that leave the grid.

    A stretch that cannot be changed as a whole is changed bar by bar: one odd bar must not hold up a file.
    """
    edits = Edits(part)
    held = [stretch for stretch in stretches_of(part, change.names, key) if stretch.hand is not None]
    left: list[tuple[Stretch, MusicError]] = []
    for stretch in held:
        if error := _tried(edits, stretch, change, work):
            bars = stretch.single_bars()
            failed = [(bar, its) for bar in bars if (its := _tried(edits, bar, change, work))] if len(bars) > 1 else []
            left += failed or ([(stretch, error)] if len(bars) == 1 else [])
    numbers = [number for stretch, _ in left for number in stretch.numbers]
    if left and len(numbers) == sum(len(stretch.numbers) for stretch in held):
        raise left[0][1].at(bars_in_words(numbers)) from left[0][1]
    changed = edits.finished()
    said = ["no hand keeps time in these bars: they are left as they are"] if not held else []
    if left:
        said.append(f"{bars_in_words(numbers)}: {left[0][1].faults[0].message}: left as they are")
    return replace(changed, warnings=(*changed.warnings, *said))


def _tried(edits: Edits, stretch: Stretch, change: Variation, work: _Work) -> MusicError | None:
    """What stands against a change to a stretch; None when it is made."""
    try:
        work(edits, stretch, with_hand(stretch.groove, str(stretch.hand)), change)
    except MusicError as error:
        return error
    return None


def _set_rate(edits: Edits, stretch: Stretch, before: Groove, change: Variation) -> None:
    write_difference(edits, stretch, before, timekeeper.set_subdivision(before, change.subdivision or timekeeper.KEEP))


def _move_hand(edits: Edits, stretch: Stretch, before: Groove, change: Variation) -> None:
    """The notes of the hand, and of nothing else, get the note of the new surface."""
    if before.hand is None or change.timekeeper in (None, before.surface):
        return
    kinds = before.hand.kind[before.hand.struck]
    for kind in np.unique(kinds).tolist():
        target, least = sounding(str(change.timekeeper), Kind(kind), 1)
        for name in hand_of(str(before.surface)):
            rows = stretch.rows(name, before.hand.struck[kinds == kind])
            if len(rows):
                edits.move(rows, target, least)


__all__ = ["Variation", "vary_part", "write_back"]
