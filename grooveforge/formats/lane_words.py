"""One bar of a song beside another version of it, in words."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from grooveforge.core.groove import SNARE
from grooveforge.core.hands import lane_of
from grooveforge.core.inspect import bar_facts
from grooveforge.core.kit import BANDS, Kind, sounding
from grooveforge.core.meter import Meter
from grooveforge.core.played_bar import Sounded
from grooveforge.formats.bar_words import BarView, bar_words, places_changed
from grooveforge.formats.changes_text import changed_bar_text, normalised
from grooveforge.formats.stroke_words import stroke_words


@dataclass(frozen=True)
class Bar:
    """A bar as the words need it.

    Parameters
    ----------
    strokes : ticks from the bar line. hand : the timekeeping hand's surface. meter, ticks (to a quarter note) and
        bpm are those of its time.
    """

    strokes: frozenset[Sounded]
    hand: str | None
    meter: Meter
    ticks: int
    bpm: float

    def ghosts(self) -> frozenset[int]:
        """Where the snare has ghost notes; grace strokes are none."""
        snares = [row for row in self.strokes if row.surface == SNARE]
        loud = {row.place for row in snares if not _is_ghost(row)}
        return frozenset(row.place for row in snares if row.place not in loud)

    def places(self, ticks: frozenset[int]) -> frozenset[Fraction]:
        """Places in whole notes from the bar line."""
        return frozenset(Fraction(place, 4 * self.ticks) for place in ticks)

    def view(self, ghosts: frozenset[int]) -> BarView:
        """The bar on the grid, lane by lane, without these ghost notes."""
        heard = [row for row in self.strokes if row.surface != SNARE or row.place not in ghosts]
        text = changed_bar_text(1, None, self.meter, heard, (self.ticks, self.hand))
        groove = normalised(1, text).bar.groove
        strokes = set()
        for name, lane in groove.voices:
            for step in lane.struck.tolist():
                surface = sounding(name, Kind(int(lane.kind[step])), 1)[0]
                strokes.add((lane_of(surface, self.hand), surface, Fraction(step, groove.grid)))
        return BarView(self.meter, None, bar_facts(groove)[0], frozenset(strokes))


def _is_ghost(stroke: Sounded) -> bool:
    return stroke.surface == SNARE and stroke.velocity <= BANDS[0].high


def words_between(before: Bar, now: Bar) -> str:
    """What one version of a bar has otherwise than another: places, ghost notes, then levels, timing, grace strokes."""
    ghosts, ghosts_now = before.ghosts(), now.ghosts()
    struck, struck_now = ({row.place for row in bar.strokes if row.surface == SNARE} for bar in (before, now))
    # A place that is a ghost note in one of them alone and struck in both is a stroke whose level changed.
    other = (ghosts ^ ghosts_now) & struck & struck_now
    ghosts, ghosts_now = ghosts - other, ghosts_now - other
    old, new = before.view(ghosts), now.view(ghosts_now)
    if len(old.backbeats) == len(new.backbeats):  # moved backbeats are no other feel
        new = replace(new, facts=replace(new.facts, feel=old.facts.feel))
    places = bar_words(old, new)
    soft = places_changed(
        "ghost notes", (before.places(ghosts), before.meter), (now.places(ghosts_now), now.meter)
    )
    rest = stroke_words(before.strokes, now.strokes, now.meter, now.ticks, 60_000 / now.bpm)
    return "; ".join([*([places] if places else []), *soft, *rest])
