"""How sections end and begin: fills, endings, arrivals and the song's final hit, once every section stands.

A fill looks at the section behind it (level, speed, division), everything else at its own section alone.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from fractions import Fraction

import numpy as np

from grooveforge.core.arrival import SOFT, arrival, arrives, final_hit, soft_arrival
from grooveforge.core.chance import generator
from grooveforge.core.ending import Endings, Tail
from grooveforge.core.figures import FULL_ENDING, LENGTHS, Fill, last_beats
from grooveforge.core.fill import STRAIGHT, TRIPLE, Chosen, Place, choose, division_of, played
from grooveforge.core.groove import KICK, LANES
from grooveforge.core.kick import FOLLOW
from grooveforge.core.section import Section, Span
from grooveforge.core.song import HIT, Settings, Song
from grooveforge.core.spans import Spans, bar_at, cut_at_bar, laid, meters, silenced, starts, whole
from grooveforge.errors import MusicError

NO_NAMES: frozenset[str] = frozenset()


def lanes_of(settings: Settings) -> frozenset[str]:
    """The lanes that play in a section."""
    return frozenset(LANES if settings.play is None else settings.play)


def is_silent(settings: Settings) -> bool:
    """Whether a section has no groove to fill or end: it rests, or stops."""
    return bool(settings.tacet) or settings.stops is not None or settings.groove is None


@dataclass
class Phrases:
    """Goes through a song's sections in order; `before` is what the last fill was made of.

    Parameters
    ----------
    song : with its fills. notes : what there is to say, in order.
    """

    song: Song
    notes: list[str] = field(default_factory=list)
    before: frozenset[str] = NO_NAMES

    def __post_init__(self) -> None:
        self.endings = Endings(self.song.seed)

    def finished(self, section: Section, after: Section | None) -> Section:
        """A section with its fills or ending, its arrival, and the final hit where nothing comes after it.

        Raises
        ------
        MusicError
            When a fill is longer than its section, or needs a grid over 96 steps to a whole note.
        """
        spans = section.spans
        said = section.settings
        if not is_silent(said):
            spans, filled = self._filled(section, after)
            if said.ending and not filled:
                spans = self._ended(section, spans)
        if arrives(said):
            change = soft_arrival if said.arrival == SOFT else arrival
            first = spans[0]
            spans = (replace(first, groove=change(first.groove, lanes_of(said)), tight=(0,)), *spans[1:])
        if after is None and self.song.final == HIT:
            hit = Span(section.bar + section.bars, final_hit(section.meter), (0,), own=False)
            return replace(section, spans=(*spans, hit), bars=section.bars + 1)
        return section if spans is section.spans else replace(section, spans=spans)

    # -- endings ----------------------------------------------------------------------------------------

    def _ended(self, section: Section, spans: Spans) -> Spans:
        length = FULL_ENDING if section.settings.ending is True else str(section.settings.ending)
        last = spans[-1]
        beats = last_beats(length, meters(spans))
        while len(beats) > 1 and sum(beats) > last.groove.whole:
            beats = beats[1:]
        start = whole(spans) - sum(beats, Fraction(0))
        head, tail = cut_at_bar(spans, bar_at(spans, start))
        groove = tail[-1].groove
        fixed = 1 if not head and arrives(section.settings) else 0
        follows = section.settings.kick == FOLLOW
        ended = self.endings.ending(section.part, section.statement, Tail(groove, beats, fixed, follows))
        return spans if ended is groove else (*head, replace(tail[-1], groove=ended))

    # -- fills ------------------------------------------------------------------------------------------

    def _filled(self, section: Section, after: Section | None) -> tuple[Spans, bool]:
        """The spans with fills, and whether there is one at the very end."""
        spans = section.spans
        said = section.settings
        if not said.fill:
            return spans, False
        chance = generator(self.song.seed, section.part, section.statement, "fill")
        at_end = False
        for end, leads_to in _fill_places(section, after):
            draw = float(chance.random())
            if leads_to is None and self.song.final != HIT:
                self._say(section, spans, end, 'is left out: nothing comes after it but the end (final = "hit")')
                continue
            filled = self._with_fill(section, spans, (end, leads_to), draw)
            at_end = at_end or (filled is not None and end == whole(section.spans))
            spans = filled or spans
        return spans, at_end

    def _say(self, section: Section, spans: Spans, end: Fraction, what: str) -> None:
        bar = bar_at(spans, end) - 1
        self.notes.append(f"{section.name}, bar {bar}: the fill {what}")

    def _with_fill(
        self, section: Section, spans: Spans, place: tuple[Fraction, Section | None], draw: float
    ) -> Spans | None:
        end, leads_to = place
        said = str(section.settings.fill)
        follows = section.settings.kick == FOLLOW
        lanes = lanes_of(section.settings) - ({KICK} if follows else set())
        named = self.song.fills.get(said)
        if said in LENGTHS:
            before_end, _ = cut_at_bar(spans, bar_at(spans, end))
            beats = last_beats(said, meters(before_end))
            chosen = choose(self.song.fill_pool, self._place(section, (end, leads_to), beats, lanes), draw, self.before)
        elif named is None:
            raise MusicError("no fill has this name", found=repr(said))
        else:
            chosen = Chosen(played(named, lanes))
        if chosen is None:
            alone = ", ".join(sorted(lanes)) or "nothing"
            self._say(section, spans, end, f"of {said} is left out: {alone} plays, and none fits that")
            return None
        if chosen.note:
            self._say(section, spans, end, f"is none of the library as it stands: {chosen.note}")
        self.before = chosen.fill.names
        return with_fill(spans, end, chosen.fill, frozenset({KICK} if follows else ()))

    def _place(
        self, section: Section, at: tuple[Fraction, Section | None], beats: tuple[Fraction, ...], lanes: frozenset[str]
    ) -> Place:
        end, leads_to = at
        start = end - sum(beats, Fraction(0))
        bpm = [rate for quarter, rate in section.tempo if quarter <= 4 * start][-1]
        target = section if leads_to is None or is_silent(leads_to.settings) else leads_to
        inside = leads_to is section
        step = 0 if leads_to is None or inside else _level(leads_to.settings, 0) - _level(section.settings, 1)
        strokes, division = _speed(target)
        return Place(beats, bpm, strokes, division, step, section.timekeepers, lanes)


def _level(settings: Settings, end: int) -> int:
    level = settings.level
    return 0 if level is None else level.end if end else level.start


def _fill_places(section: Section, after: Section | None) -> list[tuple[Fraction, Section | None]]:
    """Where fills end in a section, in whole notes, each with what it leads to (None: the song's end)."""
    end = whole(section.spans)
    every = section.settings.fill_every
    found: list[tuple[Fraction, Section | None]] = []
    if every:
        own = 0
        for begin, span in section.placed_spans:
            if not span.own:
                continue
            first = -own % every
            lines = range(first, span.groove.bars, every)
            found += [(begin + bar * span.groove.meter.whole, section) for bar in lines if own + bar]
            own += span.groove.bars
    return [*found, (end, after)]


def _speed(section: Section) -> tuple[float, str]:
    """How many instants a second a section strikes in its first span, and how it divides its beats."""
    groove = section.spans[0].groove
    struck = [lane.struck for _, lane in groove.voices]
    if not struck:
        return 0.0, STRAIGHT
    steps = np.unique(np.concatenate(struck))
    seconds = float(groove.whole * 240 / section.tempo[0][1])
    in_bar = {Fraction(int(step), groove.grid) for step in np.unique(steps % groove.steps_per_bar)}
    division = division_of(groove.meter.beat_lengths, in_bar)
    return steps.size / seconds, TRIPLE if division == TRIPLE else STRAIGHT


def with_fill(spans: Spans, end: Fraction, fill: Fill, kept: frozenset[str] = NO_NAMES) -> Spans:
    """The spans with a fill that ends at `end`, a bar line; the groove's lanes but the kept ones rest in it.

    Raises
    ------
    MusicError
        When the fill is longer than what stands before it, or needs a grid over 96 steps to a whole note.
    """
    start = end - fill.whole
    if start < 0:
        raise MusicError(f"the fill {fill.name!r} is longer than what it stands in", hint="a shorter fill")
    head, tail = cut_at_bar(spans, bar_at(spans, start))
    tail, rest = cut_at_bar(tail, bar_at(spans, end))
    begin = whole(head)
    changed = []
    for span, edge in zip(tail, starts(tail)):
        inside = start - begin - edge
        strokes = [
            replace(stroke, place=stroke.place + inside)
            for stroke in fill.strokes
            if 0 <= stroke.place + inside < span.groove.whole
        ]
        begun = span.groove.fit_grid((max(inside, Fraction(0)),))
        changed.append(replace(span, groove=laid(silenced(begun, inside, kept), strokes)))
    return (*head, *changed, *rest)
