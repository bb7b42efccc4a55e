"""A song as it is written down: bars of strokes at exact places, with tempo and what stands above the staff."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate, pairwise
from typing import TypeVar

from grooveforge.core.kit import BANDS, GRACE_STROKES, SURFACE_CODES, SURFACE_NAMES, Kind, band_of, surface
from grooveforge.core.meter import Meter
from grooveforge.core.perform import Performance, perform
from grooveforge.core.section import Arrangement, Section
from grooveforge.core.strokes import Events
from grooveforge.core.swing import STRAIGHT

Row = TypeVar("Row")

DRUM_FAMILIES = ("kick", "snare", "tom", "floor tom")
"""Where a soft stroke is a ghost note; on a cymbal it is just soft (common practice)."""

GHOST_BAND, ACCENT_BAND = BANDS[0].name, BANDS[-1].name


@dataclass(frozen=True)
class Hit:
    """One stroke with the grace strokes before it.

    Parameters
    ----------
    place : whole notes from the bar line. velocity : as the writer means it, flat where levels are shaped.
    graces : grace strokes before it; each is a stroke of its own in every count.
    sticking : "R" or "L", the hand or foot that plays it, or empty.
    """

    place: Fraction
    surface: str
    kind: Kind
    velocity: int
    graces: int = 0
    sticking: str = ""

    @property
    def accented(self) -> bool:
        return band_of(self.velocity).name == ACCENT_BAND

    @property
    def ghosted(self) -> bool:
        soft = self.kind == Kind.GHOST or band_of(self.velocity).name == GHOST_BAND
        return soft and surface(self.surface).family in DRUM_FAMILIES

    @property
    def choked(self) -> bool:
        return self.kind == Kind.CHOKE


@dataclass(frozen=True)
class ScoreBar:
    """One bar.

    Parameters
    ----------
    number : the song's. hits : by place, then in the order of the kit.
    tempos : (whole notes from the bar line, quarter notes a minute) where the tempo changes.
    section : its name, where one begins here. words : short directions that hold from its start.
    """

    number: int
    meter: Meter
    hits: tuple[Hit, ...] = ()
    tempos: tuple[tuple[Fraction, Fraction], ...] = ()
    section: str | None = None
    words: tuple[str, ...] = ()

    @property
    def strokes(self) -> int:
        """How many strokes it has, grace strokes counted."""
        return sum(1 + hit.graces for hit in self.hits)

    def repeats(self, before: ScoreBar) -> bool:
        """Whether it is played exactly as the bar before it, with nothing new above the staff."""
        said = self.section is not None or self.words or self.tempos
        return not said and self.hits == before.hits and bool(self.hits) and self.meter == before.meter


@dataclass(frozen=True)
class Score:
    """A whole song, its bars in order."""

    title: str
    bars: tuple[ScoreBar, ...]

    @property
    def surfaces(self) -> tuple[str, ...]:
        """What is struck, in the order of the kit."""
        used = {hit.surface for bar in self.bars for hit in bar.hits}
        return tuple(sorted(used, key=SURFACE_CODES.__getitem__))

    @property
    def sections(self) -> Iterator[tuple[ScoreBar, ...]]:
        """The bars of each section; those before the first name are one of their own."""
        starts = [index for index, bar in enumerate(self.bars) if bar.section is not None]
        edges = sorted({0, *starts, len(self.bars)})
        return (self.bars[low:high] for low, high in pairwise(edges))


def joined_hits(strokes: Iterable[tuple[Fraction, int, Kind, int]]) -> tuple[Hit, ...]:
    """The strokes of one bar, those that share place and surface made one with grace strokes.

    Parameters
    ----------
    strokes : (place, surface code, kind, velocity). The one that is a flam or drag, else the loudest, is the
        stroke; the others stand before it as grace strokes, so that no stroke is lost.
    """
    together: defaultdict[tuple[Fraction, int], list[tuple[bool, int, Kind]]] = defaultdict(list)
    for place, code, kind, velocity in strokes:
        together[place, code].append((kind in GRACE_STROKES, velocity, kind))
    hits = []
    for (place, code), found in sorted(together.items()):
        _, velocity, kind = max(found)
        hits.append(Hit(place, SURFACE_NAMES[code], kind, velocity, len(found) - 1))
    return tuple(hits)


def song_score(arrangement: Arrangement, performance: Performance) -> Score:
    """The score of an arrangement: the strokes of its performance on their places, levels as written."""
    division = performance.division
    meters = [
        meter
        for section in arrangement.sections
        for span in section.spans
        for meter in (span.groove.meter,) * span.groove.bars
    ]
    lines = list(accumulate((int(meter.quarters * division) for meter in meters), initial=0))
    heads = dict(_heads(arrangement.sections))
    placed = _placed(performance, perform(arrangement, plain=True).events)
    strokes = _by_bar(((tick, (code, kind, velocity)) for tick, code, kind, velocity in placed), lines, division)
    tempos = _by_bar(_tempos(arrangement.sections, division), lines, division)
    bars = []
    for number, meter in enumerate(meters, 1):
        name, words = heads.get(number, (None, ()))
        hits = joined_hits((place, *row) for place, row in strokes[number])
        bars.append(ScoreBar(number, meter, hits, tuple(tempos[number]), name, words))
    return Score(arrangement.title, tuple(bars))


def _heads(sections: Iterable[Section]) -> Iterator[tuple[int, tuple[str, tuple[str, ...]]]]:
    """Bar number -> name and short directions of each section."""
    swung = STRAIGHT
    for section in sections:
        settings = section.settings
        ratio = settings.swing.ratio if settings.swing else STRAIGHT
        words = ["tacet"] if settings.tacet else ["stops"] if settings.stops else []
        if ratio != swung:
            words.append(f"swing {ratio.numerator}:{ratio.denominator}" if ratio != STRAIGHT else "straight")
        swung = ratio
        yield section.bar, (section.name, tuple(words))


def _tempos(sections: Iterable[Section], division: int) -> Iterator[tuple[int, Fraction]]:
    """(tick, quarter notes a minute) of each change; a ramp has its first step even where nothing changes yet."""
    start, held = Fraction(0), None
    for section in sections:
        for place, bpm in section.tempo:
            if bpm != held or len(section.tempo) > 1:
                yield int((start + place) * division), bpm
            held = bpm
        start += section.quarters


def _placed(performance: Performance, plain: Events) -> Iterator[tuple[int, int, Kind, int]]:
    """(tick of the place, surface code, kind, written velocity) of every event, grace strokes too."""
    written: dict[tuple[int, int], int] = {}
    for place, code, velocity in _columns(plain):
        written[place, code] = max(velocity, written.get((place, code), 0))
    kinds = performance.events.kind.tolist()
    loudest: dict[tuple[int, int], int] = {}
    rows = list(_columns(performance.events))
    for place, code, velocity in rows:
        loudest[place, code] = max(velocity, loudest.get((place, code), 0))
    for (place, code, velocity), kind in zip(rows, kinds):
        main = velocity == loudest[place, code]
        yield place, code, Kind(kind), written.get((place, code), velocity) if main else velocity


def _columns(events: Events) -> Iterator[tuple[int, int, int]]:
    return zip((events.tick - events.offset).tolist(), events.surface.tolist(), events.velocity.tolist())


def _by_bar(
    rows: Iterable[tuple[int, Row]], lines: list[int], division: int
) -> Mapping[int, list[tuple[Fraction, Row]]]:
    """Bar number from 1 -> its rows, each tick made a place in whole notes from the bar line."""
    found: defaultdict[int, list[tuple[Fraction, Row]]] = defaultdict(list)
    for tick, row in rows:
        bar = bisect_right(lines, tick)
        found[bar].append((Fraction(tick - lines[bar - 1], 4 * division), row))
    return found


# -- sticking --------------------------------------------------------------------------------------------

NEAR = Fraction(1, 32)
"""Whole notes: a limb's stroke this far from a hit of its bar and surface is that hit; both stand on grids."""

BOTH = "B"


def with_sticking(score: Score, strokes: Iterable[tuple[int, Fraction, str, str]]) -> Score:
    """The score with the limb of each stroke.

    Parameters
    ----------
    strokes : (bar, whole notes from its line, surface, "R" or "L"). Strokes of one limb that the score has not,
        and hits that no limb plays, stay as they are.
    """
    known: defaultdict[tuple[int, str], list[tuple[Fraction, str]]] = defaultdict(list)
    for bar, place, name, letter in strokes:
        known[bar, name].append((place, letter))

    def stuck(bar: ScoreBar, hit: Hit) -> Hit:
        near = min(known.get((bar.number, hit.surface), ()), key=lambda row: abs(row[0] - hit.place), default=None)
        return hit if near is None or abs(near[0] - hit.place) > NEAR else replace(hit, sticking=near[1])

    bars = (replace(bar, hits=tuple(stuck(bar, hit) for hit in bar.hits)) for bar in score.bars)
    return replace(score, bars=tuple(bars))


def limbs_at(hits: Iterable[Hit]) -> str:
    """The letter under hits of one voice that sound together: R, L, or B for both."""
    letters = {hit.sticking for hit in hits} - {""}
    return BOTH if len(letters) > 1 else next(iter(letters), "")
