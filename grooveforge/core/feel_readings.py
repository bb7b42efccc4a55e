"""The ways in which a bar may have a feel: the feel table's patterns, and the same feels placed otherwise.

Players place the backbeats of a feel in more ways than the table has rows. Those that real music was found to
use stand here as one table; they are house rules derived from the table's one idea (a feel is the level at
which kick and snare alternate), and only detection knows them: a feel that is asked for goes by the table.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType

from grooveforge.core import feel_table
from grooveforge.core.feel_table import DOUBLE, FULL, FeelPattern, pattern
from grooveforge.core.meter import EVEN, Meter
from grooveforge.errors import MusicError

MATCH = 1 / 32 + 1e-9
"""How far a stroke may stand from a backbeat and still be it: half a sixteenth, in whole notes."""

MATCH_THIRDS = 1 / 96 + 1e-9
"""The same for thirds of a beat over straight beats: half of what parts a third from the next sixteenth."""

TABLE = ""
"""The variant of a reading that is the feel table's own."""

ON_EVERY_BEAT, IN_THREES, HALF_WAY = "every beat", "threes", "half-way"


@dataclass(frozen=True)
class Reading:
    """One way to have a feel.

    Parameters
    ----------
    feel, spelling : of the table. cycle : kicks and backbeats.
    struck : the snare strokes that it is known by; the backbeats, or more.
    variant : TABLE, or the row of `VARIANTS` it comes from.
    tolerance : how far its strokes may stand off, in whole notes.
    """

    feel: str
    spelling: str | None
    cycle: FeelPattern
    struck: tuple[Fraction, ...]
    variant: str = TABLE
    tolerance: float = MATCH


def _on_every_beat(meter: Meter) -> Reading | None:
    """Full time with the snare on 1 and 3 as well (a soul beat): kicks run between, the backbeats are the same."""
    if meter.kind != EVEN or meter.compound or len(meter.beats) != 4:
        return None
    return Reading(FULL, None, pattern(meter, FULL), meter.beats, ON_EVERY_BEAT)


def _in_threes(meter: Meter) -> Reading | None:
    """Six quarters or halves as two bars of three beats, each with the backbeat that the table gives such a bar."""
    if meter.lower > 4 or meter.upper != 6:
        return None
    three = pattern(Meter(3, meter.lower), FULL).over(2, Meter(3, meter.lower))
    return Reading(FULL, None, FeelPattern(1, three.kicks, three.backbeats), three.backbeats, IN_THREES)


def _half_way(meter: Meter) -> Reading | None:
    """Double time in compound metre with the backbeat half-way through the beat, as in simple metre."""
    if not meter.compound:
        return None
    places = tuple(start + size / 2 for start, size in zip(meter.beats, meter.beat_lengths))
    return Reading(DOUBLE, None, FeelPattern(1, meter.beats, places), places, HALF_WAY)


VARIANTS: Mapping[str, Callable[[Meter], Reading | None]] = MappingProxyType(
    {"every beat": _on_every_beat, "threes": _in_threes, "half-way": _half_way}
)
OWN_BACKBEATS = frozenset(("threes", HALF_WAY))


@lru_cache(maxsize=256)
def readings(meter: Meter) -> tuple[Reading, ...]:
    """Every way to have a feel in a metre: the table's feels and spellings, slow to fast, then the variants."""
    found = []
    for feel in feel_table.FEELS:
        for spelling in feel_table.SPELLINGS.get(feel, (None,)):
            try:
                cycle = pattern(meter, feel, spelling)
            except MusicError:
                continue  # a spelling that this metre does not know
            thirds = spelling == "triplet" and not meter.compound
            tolerance = MATCH_THIRDS if thirds else MATCH
            found.append(Reading(feel, spelling, cycle, cycle.backbeats, tolerance=tolerance))
    return (*found, *(reading for make in VARIANTS.values() if (reading := make(meter)) is not None))


def cycle_of(meter: Meter, feel: str, spelling: str | None, variant: str) -> FeelPattern:
    """The cycle of a reading by its names."""
    if variant == TABLE:
        return pattern(meter, feel, spelling)
    return next(reading.cycle for reading in readings(meter) if reading.variant == variant)
