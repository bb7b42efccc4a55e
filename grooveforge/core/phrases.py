"""How sections end and begin: fills, endings, arrivals and the song's final hit, once every section stands.

A fill looks at the section behind it (level, speed, division), everything else at its own section alone.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import lru_cache

from grooveforge.core.arrival import SOFT, arrival, arrives, final_hit, soft_arrival
from grooveforge.core.chance import generator
from grooveforge.core.ending import Endings, Tail
from grooveforge.core.figures import FULL_ENDING, LENGTHS, Fill, last_beats
from grooveforge.core.fill import STRAIGHT, TRIPLE, division_of, played
from grooveforge.core.fill_choice import NO_NAMES, Chosen, Place, chooser
from grooveforge.core.fill_laying import with_fills
from grooveforge.core.groove import KICK, LANES, Groove
from grooveforge.core.kick import FOLLOW
from grooveforge.core.section import Section, Span
from grooveforge.core.song import HIT, Settings, Song
from grooveforge.core.spans import Spans, bar_at, cut_at_bar, meters, whole
from grooveforge.core.stops import struck_steps
from grooveforge.core.words import listed
from grooveforge.errors import MusicError


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
        self.chooser = chooser(self.song.fill_pool)

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
        said = section.settings
        if not said.fill:
            return section.spans, False
        chance = generator(self.song.seed, section.part, section.statement, "fill")
        fills: list[tuple[Fraction, Fill]] = []
        for end, leads_to in _fill_places(section, after):
            draw = chance.random()
            if leads_to is None and self.song.final != HIT:
                self._say(section, end, 'is left out: nothing comes after it but the end (final = "hit")')
                continue
            fill = self._fill(section, end, leads_to, draw)
            if fill is not None:
                if fills and end - fill.whole < fills[-1][0]:
                    fills.pop()  # the later one leads on, and takes the place of what it reaches into
                fills.append((end, fill))
        kept = frozenset({KICK} if said.kick == FOLLOW else ())
        at_end = bool(fills) and fills[-1][0] == whole(section.spans)
        return with_fills(section.spans, fills, kept), at_end

    def _say(self, section: Section, end: Fraction, what: str) -> None:
        self.notes.append(f"{section.name}, bar {bar_at(section.spans, end) - 1}: the fill {what}")

    def _fill(self, section: Section, end: Fraction, leads_to: Section | None, draw: float) -> Fill | None:
        said = str(section.settings.fill)
        lanes = lanes_of(section.settings) - ({KICK} if section.settings.kick == FOLLOW else set())
        if said in LENGTHS:
            chosen = self.chooser.choose(_place(section, end, leads_to, lanes), draw, self.before)
        elif said in self.song.fills:
            chosen = Chosen(played(self.song.fills[said], lanes))
        else:
            raise MusicError("no fill has this name", found=repr(said))
        if chosen is None:
            lone = len(lanes) < 2
            alone = f"{listed(sorted(lanes)) or 'nothing'} {'plays' if lone else 'play'}"
            self._say(section, end, f"of {said} is left out: {alone}, and none fits that")
            return None
        if chosen.note:
            self._say(section, end, f"is none of the library as it stands: {chosen.note}")
        self.before = chosen.fill.names
        return chosen.fill


def _place(section: Section, end: Fraction, leads_to: Section | None, lanes: frozenset[str]) -> Place:
    spans = section.spans
    metres = meters(spans)[: bar_at(spans, end) - section.bar]
    beats = last_beats(str(section.settings.fill), metres)
    start = 4 * (end - sum(beats, Fraction(0)))
    bpm = [rate for quarter, rate in section.tempo if quarter <= start][-1]
    target = section if leads_to is None or is_silent(leads_to.settings) else leads_to
    step = 0
    if leads_to is not None and leads_to is not section:
        step = _level(leads_to.settings, 0) - _level(section.settings, 1)
    strokes, division = _speed(target.spans[0].groove)
    a_second = strokes * float(target.tempo[0][1]) / 60
    last_bar = len(metres[-1].beats) if len(beats) > len(metres[-1].beats) else 0
    return Place(beats, bpm, a_second, division, step, section.timekeepers, lanes, last_bar)


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


@lru_cache(maxsize=256)
def _speed(groove: Groove) -> tuple[float, str]:
    """How many instants a quarter a groove strikes, and how it divides its beats."""
    steps = struck_steps(groove)
    in_bar = {groove.position(step % groove.steps_per_bar) for step in steps}
    division = division_of(groove.meter.beat_lengths, in_bar)
    return len(steps) / float(4 * groove.whole), TRIPLE if division == TRIPLE else STRAIGHT
