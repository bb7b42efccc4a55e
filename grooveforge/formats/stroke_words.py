"""What changed from one bar to another in how loud and how exactly in time its strokes are, in words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction

from grooveforge.core.kit import GRACE_STROKES
from grooveforge.core.meter import Meter
from grooveforge.core.played_bar import Sounded
from grooveforge.formats.bar_words import MOST_NAMED, named_beats

Found = dict[tuple[str, int], list[Sounded]]

_GRACED = {count: kind.name.lower() for kind, count in GRACE_STROKES.items()}


def stroke_words(
    before: Iterable[Sounded], now: Iterable[Sounded], meter: Meter, ticks: int, quarter_ms: float
) -> list[str]:
    """Levels, timing and grace strokes that changed on places that both bars strike.

    Parameters
    ----------
    ticks : to a quarter note. quarter_ms : how long a quarter note lasts.
    """
    old, new = _by_place(before), _by_place(now)
    common = sorted(old.keys() & new.keys(), key=lambda key: key[1])
    changes: dict[tuple[str, str], list[int]] = {}
    shifts: dict[tuple[str, str], list[int]] = {}
    for key in common:
        surface, place = key
        was, is_ = old[key], new[key]
        if len(was) != len(is_):
            word = _GRACED.get(len(is_) - 1, "single stroke")
            changes.setdefault((surface, f"as a {word}"), []).append(place)
            continue
        loud = is_[-1].velocity - was[-1].velocity
        if loud:
            changes.setdefault((surface, "louder" if loud > 0 else "softer"), []).append(place)
        late = is_[-1].tick - was[-1].tick
        if late:
            what = (surface, "later" if late > 0 else "earlier")
            changes.setdefault(what, []).append(place)
            shifts.setdefault(what, []).append(abs(late))
        if not loud and not late and was != is_:
            changes.setdefault((surface, "with other grace strokes"), []).append(place)
    return list(_sentences(changes, shifts, meter, (ticks, quarter_ms)))


def _by_place(strokes: Iterable[Sounded]) -> Found:
    found: Found = {}
    for stroke in sorted(strokes):
        found.setdefault((stroke.surface, stroke.place), []).append(stroke)
    return found


def _sentences(
    changes: Mapping[tuple[str, str], list[int]],
    shifts: Mapping[tuple[str, str], list[int]],
    meter: Meter,
    at: tuple[int, float],
) -> Iterator[str]:
    ticks, quarter_ms = at
    for (surface, how), places in changes.items():
        if len(places) > MOST_NAMED:
            where = f"for {len(places)} strokes"
        else:
            where = f"on {named_beats((Fraction(place, 4 * ticks) for place in places), meter)}"
        moved = shifts.get((surface, how))
        by = f" by {max(1, round(max(moved) * quarter_ms / ticks))} ms" if moved else ""
        yield f"{surface} {how}{by} {where}"


