"""The feels as one table: where kick and snare stand for each feel in each class of metre.

One idea carries it: a feel is the metrical level at which kick and snare alternate. A cycle of C beats has
its backbeat half-way; C = 8, 4, 2, 1 is quarter, half, full, double time (encyclopaedia article "Half-time
(music)"; quarter time derived by the same halving). D-beat figures: encyclopaedia article "D-beat", three
tabs. Blasts: encyclopaedia article "Blast beat", four tabs. 3/4: S. Hanenberg, "Drumbeats", Open Music Theory.
5/4 and 12/8: J. Rothman, "5/4 Rock", Modern Drummer, March 2018. Rows for five, seven and unequal groups
without a source of their own are house rules.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import ceil
from types import MappingProxyType

from grooveforge.core.meter import EVEN, GROUPS, ODD, THREE, Meter
from grooveforge.errors import MusicError

QUARTER, HALF, FULL, DOUBLE, D_BEAT, BLAST = "quarter", "half", "full", "double", "d-beat", "blast"
FEELS = (QUARTER, HALF, FULL, DOUBLE, D_BEAT, BLAST)
"""Every feel by name, slow to fast."""

LADDER = (QUARTER, HALF, FULL, DOUBLE, BLAST)
"""The feels that a relative feel steps through; d-beat stands on double's rung."""

RUNG: Mapping[str, int] = MappingProxyType(
    {**{feel: rung for rung, feel in enumerate(LADDER)}, D_BEAT: LADDER.index(DOUBLE)}
)

RELATIVE: Mapping[str, int] = MappingProxyType({"/4": -2, "/2": -1, "x2": 1, "x4": 2})
"""Relative feels and how many rungs they move."""

CYCLE_BEATS: Mapping[str, int] = MappingProxyType({QUARTER: 8, HALF: 4, FULL: 2, DOUBLE: 1})
"""Beats from one skeleton kick to the next in metres of equal beats; the backbeat stands half-way."""

BARS_APART: Mapping[str, int] = MappingProxyType({HALF: 1, QUARTER: 2})
"""Where a bar of three beats or of unequal groups is not halved: bars from the kick's downbeat to the backbeat's."""


@dataclass(frozen=True)
class FeelPattern:
    """One cycle of a feel in a metre.

    Parameters
    ----------
    bars : length of the cycle.
    kicks, backbeats : positions in whole notes from the cycle's start, rising.
    hand : the rhythm that the feel brings for the timekeeping hand, or None where it leaves it alone.
    is_figure : whether the kicks are a whole figure (d-beat, blast) and not a skeleton for others to join.
    """

    bars: int
    kicks: tuple[Fraction, ...]
    backbeats: tuple[Fraction, ...]
    hand: tuple[Fraction, ...] | None = None
    is_figure: bool = False

    def over(self, bars: int, meter: Meter) -> FeelPattern:
        """The pattern run on over `bars` bars, cut at the end."""

        def run(places: tuple[Fraction, ...]) -> tuple[Fraction, ...]:
            length, end = self.bars * meter.whole, bars * meter.whole
            turns = ceil(Fraction(bars, self.bars))
            return tuple(t * length + place for t in range(turns) for place in places if t * length + place < end)

        hand = None if self.hand is None else run(self.hand)
        return FeelPattern(bars, run(self.kicks), run(self.backbeats), hand, self.is_figure)


SIXTEENTH = Fraction(1, 16)

D_BEAT_FIGURES: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "v1": ("x-x-x-x-x-x-x-x-", "o---oo--o---oo--"),
        "v2": ("x-x-x-x-x-x-x-x-", "o----o--o--o-o--"),
        "v3": ("x--x-x--x--x-x--", "o--o-o--o--o-o--"),
    }
)
"""Hand and kick of one 4/4 bar in sixteenths; the snare is double time's (article "D-beat", three tabs)."""

D_BEAT_SNARE = "--o---o---o---o-"


@dataclass(frozen=True)
class BlastSpelling:
    """A blast as the parts of a small step pair: `kick` and `snare` on "even", "odd" or "all" steps."""

    kick: str
    snare: str
    thirds: bool = False


BLASTS: Mapping[str, BlastSpelling] = MappingProxyType(
    {
        "alternating": BlastSpelling("even", "odd"),
        "unison": BlastSpelling("even", "even"),
        "double-kick": BlastSpelling("all", "even"),
        "one-hand-roll": BlastSpelling("even", "all"),
        "triplet": BlastSpelling("all", "all", thirds=True),
    }
)
"""The blasts of the article "Blast beat" (tabs 1-4) and its triplet blast; the hand plays the even steps,
in the triplet blast all of them."""

SPELLINGS: Mapping[str, tuple[str, ...]] = MappingProxyType({D_BEAT: tuple(D_BEAT_FIGURES), BLAST: tuple(BLASTS)})
"""Which spellings a feel has; the others have none."""


def default_spelling(feel: str, meter: Meter) -> str | None:
    """The spelling that stands where none is given; in compound time a blast is the triplet one."""
    if feel == BLAST:
        return "triplet" if meter.compound else "alternating"
    return "v1" if feel == D_BEAT else None


TIMES = frozenset((QUARTER, HALF, FULL, DOUBLE))
"""The feels that are said with the word time: half time, but a d-beat (common practice)."""


def feel_word(feel: str) -> str:
    """A feel as it is said: "half time", "blast"."""
    return f"{feel} time" if feel in TIMES else feel


def check_feel(feel: str) -> str:
    """The feel itself, or a MusicError that lists the feels."""
    if feel not in FEELS:
        raise MusicError("no such feel", found=repr(feel), allowed=", ".join((*FEELS, *RELATIVE)))
    return feel


def check_spelling(feel: str, spelling: str | None) -> str | None:
    """The spelling itself, or a MusicError that lists those of the feel."""
    allowed = SPELLINGS.get(feel, ())
    if spelling is not None and spelling not in allowed:
        if not allowed:
            raise MusicError(f"the feel {feel!r} has no spellings", found=repr(spelling), hint="d-beat or blast")
        raise MusicError(f"no such spelling of {feel}", found=repr(spelling), allowed=", ".join(allowed))
    return spelling


def step_feel(feel: str, relative: str) -> str:
    """The feel that a relative one ("/2", "x4") leads to.

    Raises
    ------
    MusicError
        When it steps off the ladder's end.
    """
    target = RUNG[feel] + RELATIVE[relative]
    if not 0 <= target < len(LADDER):
        raise MusicError(
            f"the relative feel {relative} leads off the ladder from {feel}",
            allowed=" - ".join(LADDER),
            hint=f"one of {', '.join(step for step, by in RELATIVE.items() if 0 <= RUNG[feel] + by < len(LADDER))}",
        )
    return LADDER[target]


@lru_cache(maxsize=1024)
def pattern(meter: Meter, feel: str, spelling: str | None = None) -> FeelPattern:
    """One cycle of a feel by the table.

    Raises
    ------
    MusicError
        When the feel or spelling is unknown, or has no meaning in this metre (d-beat in compound time).
    """
    check_feel(feel)
    chosen = check_spelling(feel, spelling) or default_spelling(feel, meter)
    if feel == D_BEAT:
        return _d_beat(meter, chosen or "v1")
    if feel == BLAST:
        return _blast(meter, chosen or "alternating")
    return _ROWS[meter.kind](meter, feel)


def _equal_beats(meter: Meter, feel: str) -> FeelPattern:
    if feel == DOUBLE:
        return _between_beats(meter)
    beat = meter.beat_lengths[0]
    size = CYCLE_BEATS[feel]
    count = len(meter.beats)
    bars = next(bars for bars in range(1, size + 1) if bars * count % size == 0)
    starts = range(0, bars * count, size)
    return FeelPattern(bars, tuple(beat * s for s in starts), tuple(beat * (s + size // 2) for s in starts))


def _between_beats(meter: Meter) -> FeelPattern:
    """Kick on every beat, snare on its & (in compound time on its last third)."""
    late = Fraction(2, 3) if meter.compound else Fraction(1, 2)
    snares = tuple(start + late * size for start, size in zip(meter.beats, meter.beat_lengths))
    return FeelPattern(1, meter.beats, snares)


def _bars_apart(meter: Meter, apart: int) -> FeelPattern:
    """Kick on the downbeat of one bar, backbeat on that of the bar `apart` bars on."""
    return FeelPattern(2 * apart, (Fraction(0),), (apart * meter.whole,))


def _three_beats(meter: Meter, feel: str) -> FeelPattern:
    if feel in BARS_APART:
        return _bars_apart(meter, BARS_APART[feel])
    full = FeelPattern(1, (Fraction(0),), (meter.beats[2],))
    if feel == FULL:
        return full
    small = meter.whole / 2  # double time: two small bars of half the length
    return FeelPattern(
        1,
        tuple(turn * small + place / 2 for turn in (0, 1) for place in full.kicks),
        tuple(turn * small + place / 2 for turn in (0, 1) for place in full.backbeats),
    )


def _groups_of_beats(meter: Meter, feel: str) -> FeelPattern:
    if feel == FULL:
        return FeelPattern(1, meter.beats[::2], meter.beats[1::2])
    if feel == HALF:
        groups = meter.group_starts
        return FeelPattern(1, (Fraction(0), *groups[2:3]), groups[1:2])
    return _between_beats(meter) if feel == DOUBLE else _bars_apart(meter, 1)


def _unequal_groups(meter: Meter, feel: str) -> FeelPattern:
    if feel == FULL:
        return FeelPattern(1, meter.beats[::2], meter.beats[1::2])
    if feel == DOUBLE:
        return FeelPattern(1, meter.beats, tuple(start + meter.unit for start in meter.beats))
    return _bars_apart(meter, BARS_APART[feel])


_ROWS = MappingProxyType(
    {EVEN: _equal_beats, THREE: _three_beats, ODD: _groups_of_beats, GROUPS: _unequal_groups}
)


def _marks(line: str, meter: Meter) -> tuple[Fraction, ...]:
    """Positions of a 4/4 line of sixteenths begun anew in each bar, repeated or cut at the bar line."""
    steps = ceil(meter.whole / SIXTEENTH)
    return tuple(step * SIXTEENTH for step in range(steps) if line[step % len(line)] != "-")


def _d_beat(meter: Meter, spelling: str) -> FeelPattern:
    if meter.compound:
        raise MusicError(
            f"a d-beat has no meaning in {meter}: it is a figure of sixteenths in simple time",
            hint="double or blast",
        )
    hand, kick = D_BEAT_FIGURES[spelling]
    return FeelPattern(1, _marks(kick, meter), _marks(D_BEAT_SNARE, meter), _marks(hand, meter), is_figure=True)


def _blast_step(meter: Meter, thirds: bool) -> Fraction:
    """The step of a blast: a quarter-beat, a sixteenth over unequal groups, a third for triplets."""
    if meter.compound:
        return meter.beat_lengths[0] / (3 if thirds else 6)
    if thirds:
        return Fraction(1, 12)
    return SIXTEENTH if meter.kind == GROUPS else meter.beat_lengths[0] / 4


def _blast(meter: Meter, spelling: str) -> FeelPattern:
    shape = BLASTS[spelling]
    step = _blast_step(meter, shape.thirds)
    if shape.thirds and (meter.whole / step).denominator != 1:
        raise MusicError(f"a triplet blast does not fill a bar of {meter} evenly", hint="alternating")
    count = ceil(meter.whole / step)
    steps = {
        "all": tuple(step * index for index in range(count)),
        "even": tuple(step * index for index in range(0, count, 2)),
        "odd": tuple(step * index for index in range(1, count, 2)),
    }
    hand = steps["all" if shape.thirds else "even"]
    return FeelPattern(1, steps[shape.kick], steps[shape.snare], hand, is_figure=True)


@dataclass(frozen=True)
class OwnBackbeats:
    """Backbeats of a groove's own, as they stand at full time.

    Parameters
    ----------
    whole : length in whole notes after which they come again.
    backbeats, kicks : positions in whole notes, rising.
    """

    whole: Fraction
    backbeats: tuple[Fraction, ...]
    kicks: tuple[Fraction, ...]


def own_backbeats(meter: Meter, bars: int, places: tuple[Fraction, ...], feel: str) -> OwnBackbeats:
    """Own backbeats that stand at `places` of `bars` bars when played at `feel`, put at full time.

    The skeleton is the bar's first beat and each beat that follows a backbeat.
    """
    scale = Fraction(2) ** (RUNG[feel] - RUNG[FULL])
    length = bars * meter.whole * scale
    turns = (length / meter.whole).denominator  # a squeezed cycle is repeated until it fills bars
    full = tuple(turn * length + place * scale for turn in range(turns) for place in places)
    length *= turns
    count = int(length / meter.whole)
    beats = [bar * meter.whole + beat for bar in range(count) for beat in meter.beats] + [length]
    after = {next(beat for beat in beats if beat > place) for place in full}
    kicks = {bar * meter.whole for bar in range(count)} | {place for place in after if place < length}
    return OwnBackbeats(length, full, tuple(sorted(kicks - set(full))))


def own_pattern(own: OwnBackbeats, meter: Meter, feel: str) -> FeelPattern:
    """Own backbeats moved up or down the ladder: stretched, or squeezed and repeated."""
    scale = Fraction(2) ** (RUNG[FULL] - RUNG[feel])
    length = own.whole * scale
    turns = (length / meter.whole).denominator

    def move(places: tuple[Fraction, ...]) -> tuple[Fraction, ...]:
        return tuple(turn * length + place * scale for turn in range(turns) for place in places)

    bars = int(length * turns / meter.whole)
    kicks, backbeats = move(own.kicks), move(own.backbeats)
    return FeelPattern(bars, kicks, backbeats, kicks if feel == BLAST else None, feel == BLAST)
