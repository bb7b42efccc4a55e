"""All candidates for a return as arrays: which are in the band and pass the rules, how surprising, how far apart."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from grooveforge.analysis.candidates import Frames, Grid, Measured, measured, pairwise, playable, rows_of, spread
from grooveforge.analysis.surprise import Listener, bar_of, bars_of
from grooveforge.core.arrange import Arrangement
from grooveforge.core.groove import TIMEKEEPER, Groove
from grooveforge.core.kit import SURFACE_CODES, Kind, sounding
from grooveforge.core.profile import Profile
from grooveforge.core.roles import read_feel
from grooveforge.formats.keymap import KeyMap
from grooveforge.project.checking import performance_to_check
from grooveforge.project.return_choices import buildable, frame_choices, hand_choices
from grooveforge.project.returns import Return, surfaces_by_bar

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

SLACK = 0.1
"""How much further inside the band, and from one another, bare bars must be, so that endings and arrivals may add: a
share of the band's lower edge, and of the least distance."""

PER_FRAME, POOL = 4, 400
"""Of each frame at least so many assignments, and so many candidates in all, the most surprising, are spread."""


@dataclass(eq=False)
class Field:
    """All frames and assignments of a return, measured.

    Parameters
    ----------
    choices, grooves : of each frame. before : the statement before. frames : the former, laid out.
    hands : how a sheet says each assignment; assigned : (assignments, bars) indices into `surfaces`.
    allowed : (frames,) whether the necessary limits of hands and feet are kept.
    """

    back: Return
    choices: list[dict[str, Any]]
    grooves: list[Groove]
    before: Groove
    frames: Frames
    surfaces: tuple[str, ...]
    hands: list[Any]
    assigned: NDArray[np.int64]
    measured: Measured
    allowed: NDArray[np.bool_]

    @classmethod
    def of(cls, back: Return, kit: KeyMap, profile: Profile, amount: Amount) -> Field:
        pairs = list(buildable(back, frame_choices(back, amount.snare)))
        choices, grooves = [given for given, _ in pairs], [groove for _, groove in pairs]
        base = back.bare_before()
        everything = [*grooves, base, back.bare({})]
        grid, rows = Grid.holding(everything, back.bars), rows_of(everything)
        frames, before = Frames.of(grooves, grid, rows), Frames.of([base], grid, rows)
        hands = hand_choices(back, kit)
        surfaces = tuple(dict.fromkeys(name for names in hands for name in names))
        index = {name: number for number, name in enumerate(surfaces)}
        assigned = np.array([[index[name] for name in names[: grid.bars]] for names in hands], np.int64)
        stood = [index.get(str(name), 0) for name in back.stood_before()[: grid.bars]]
        found = measured(frames, surfaces, assigned, before, np.array(stood, np.int64))
        fastest = max(float(bpm) for _, bpm in back.section.tempo)
        allowed = playable(frames, 240 / fastest, profile)
        return cls(back, choices, grooves, base, frames, surfaces, list(hands.values()), assigned, found, allowed)

    def given(self, frame: int, assignment: int) -> dict[str, Any]:
        """What the entry says for a candidate."""
        return {**self.choices[frame], "timekeeper": self.hands[assignment]}

    def spread(self, amount: Amount, count: int) -> Iterator[dict[str, Any]]:
        """Candidates in the band, those that are far from one another first."""
        frames, assignments = self.pool(amount)
        if not frames.size:
            return
        distances = pairwise(self.frames.picked(frames), self.surfaces, self.assigned[assignments])
        apart = amount.apart * (1 + SLACK)
        first, more = (spread(distances, number, apart) for number in (count, 3 * count))
        for number in dict.fromkeys([*first, *more, *range(frames.size)]):
            yield self.given(int(frames[number]), int(assignments[number]))

    def pool(self, amount: Amount) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Frames and assignments of the most surprising candidates that pass every rule, in order."""
        inside = self.inside(amount)
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

    def inside(self, amount: Amount, riff_stays: bool = False) -> NDArray[np.bool_]:
        """(frames, assignments) which are in the band and keep every rule.

        Parameters
        ----------
        riff_stays : whether a kick on its riff counts as one that stays, whatever the riff.
        """
        far, slack = self.measured.distance, SLACK * amount.low
        found: NDArray[np.bool_] = (far >= amount.low + slack) & (far <= amount.high - slack)
        found &= self.allowed[:, None] & (self.measured.keeps_one | riff_stays) & (self.told() <= MOST_TOLD)
        return found & ~self.like_a_neighbour() & self.leaves_fixed()

    def leaves_fixed(self) -> NDArray[np.bool_]:
        """(frames, assignments) which leave what the sheet keeps of the section as it is now."""
        found = np.ones(self.measured.distance.shape, bool)
        fixed = self.back.entry.fixed
        if not fixed:
            return found
        grid = self.frames.grid
        now = Frames.of([self.back.bare({})], grid, self.frames.rows)
        stood = surfaces_by_bar(self.back.section)[: grid.bars]
        rows = self.assigned.tolist()
        same = np.array([[self.surfaces[code] == name for code, name in zip(row, stood)] for row in rows], bool)
        hand = self.frames.hand == now.hand  # (frames, bars, width)
        if isinstance(fixed, tuple):
            for name in fixed:
                lane = hand if name == TIMEKEEPER else self.frames.lane(name) == now.lane(name)
                found &= np.all(lane, axis=(1, 2))[:, None]
            if TIMEKEEPER in fixed:
                found &= np.all(same, axis=1)[None, :]
            return found
        low, _, high = str(fixed).partition("-")
        bars = slice(int(low) - 1, int(high or low))
        strokes = np.all((self.frames.strokes == now.strokes)[:, :, bars], axis=(1, 2, 3))
        found &= (strokes & np.all(hand[:, bars], axis=(1, 2)))[:, None]
        found &= np.all(same[:, bars], axis=1)[None, :]
        return found

    def told(self) -> NDArray[np.int64]:
        """(frames, assignments) how many of feel, kick, rate and surface change."""
        before = self.choices[0]

        def differs(*keys: str) -> NDArray[np.bool_]:
            return np.array([any(row[key] != before[key] for key in keys) for row in self.choices], bool)

        # A kick that is told to stay, so that a feel does not move it, is no change that anyone hears.
        kick = differs("kick") & ~self.measured.kick
        changed = differs("feel", "spelling", "backbeats").astype(np.int64) + kick + differs("subdivision")
        found: NDArray[np.int64] = changed[:, None] + ~self.measured.surface
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


MOST_TOLD = 2
"""What a listener can tell from one hearing (house rule)."""

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
