"""What changed from one bar to another, in the trade's words: the hand, the backbeat, the kick, the rest."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from grooveforge.core.feel_table import feel_word
from grooveforge.core.groove import KICK, OTHER, SNARE, TIMEKEEPER
from grooveforge.core.inspect import BarFacts
from grooveforge.core.meter import Meter
from grooveforge.core.words import listed, many
from grooveforge.errors import MusicError
from grooveforge.formats.beats import beat_text

MOST_NAMED = 6
"""Beats named one by one; of more their number is said."""

SHIFTS = {Fraction(1, 8): "an eighth", Fraction(1, 12): "a triplet", Fraction(1, 16): "a sixteenth",
          Fraction(1, 32): "a thirty-second"}  # fmt: skip

Places = frozenset[Fraction]


@dataclass(frozen=True)
class BarView:
    """One bar of one side.

    Parameters
    ----------
    bpm : quarter notes a minute; None where the side has no tempo of its own.
    facts : feel, backbeats and rate.
    strokes : (lane, surface, whole notes from the bar line) of every stroke.
    """

    meter: Meter
    bpm: float | None
    facts: BarFacts
    strokes: frozenset[tuple[str, str, Fraction]] = frozenset()

    def places(self, lane: str, surface: str | None = None) -> Places:
        """Where a lane is struck, or a surface of it."""
        return frozenset(at for own, name, at in self.strokes if own == lane and surface in (None, name))

    def surfaces(self, lane: str) -> list[str]:
        """The surfaces of a lane, the most frequent first."""
        names = [name for own, name, _ in self.strokes if own == lane]
        return sorted(set(names), key=lambda name: (-names.count(name), name))

    @property
    def backbeats(self) -> Places:
        """The backbeats that are strokes of the snare lane."""
        return frozenset(map(_place_of_quarter, self.facts.backbeats)) & self.places(SNARE)


def _place_of_quarter(quarter: float) -> Fraction:
    """A quarter note counted from 1.0 as whole notes from the bar line."""
    return (Fraction(quarter).limit_denominator(1_000) - 1) / 4


@lru_cache(maxsize=4096)
def bar_words(before: BarView | None, now: BarView | None) -> str:
    """What the bar `now` has otherwise than `before`; empty where nothing differs that is a stroke, metre or tempo.

    None stands for a bar that one side has not.
    """
    if before is None or now is None:
        view = before or now
        count = 0 if view is None else len(view.strokes)
        strokes = "a bar of rest" if not count else many(count, "stroke")
        return f"only in the {'first' if now is None else 'second'}: {strokes}"
    words = [*_frame(before, now), *_hand(before, now), *_snare(before, now)]
    words += _lane(KICK, before, now, KICK)
    for surface in dict.fromkeys((*before.surfaces(OTHER), *now.surfaces(OTHER))):
        words += _lane(surface, before, now, OTHER, surface)
    return "; ".join(words)


def _frame(before: BarView, now: BarView) -> Iterator[str]:
    if before.meter != now.meter:
        yield f"{now.meter} instead of {before.meter}"
    if None not in (before.bpm, now.bpm) and before.bpm != now.bpm:
        yield f"tempo {now.bpm:g} instead of {before.bpm:g}"


# -- the hand --------------------------------------------------------------------------------------------


def _hand(before: BarView, now: BarView) -> Iterator[str]:
    stood, stands = before.surfaces(TIMEKEEPER), now.surfaces(TIMEKEEPER)
    if not stood or not stands:
        if stood or stands:
            yield f"the hand keeps time on {stands[0]}, which it did not" if stands else "no hand keeps time"
        return
    rates = before.facts.subdivision, now.facts.subdivision
    old, new = before.places(TIMEKEEPER), now.places(TIMEKEEPER)
    rate = f"in {rates[1]} instead of {rates[0]}" if None not in rates and rates[0] != rates[1] and old != new else ""
    if stood[0] != stands[0]:
        yield f"the hand moves from {stood[0]} to {stands[0]}" + (f", {rate}" if rate else "")
    elif rate:
        yield f"the hand {rate}"
    if old != new and not rate:
        yield from places_changed("the hand", (old, before.meter), (new, now.meter))
    yield from _colours(before, now, TIMEKEEPER)


def _colours(before: BarView, now: BarView, lane: str) -> list[str]:
    """What changed on the surfaces of a lane beside its main one; on the main one where nothing else tells."""
    mains = [*before.surfaces(lane)[:1], *now.surfaces(lane)[:1]]
    words: list[str] = []
    for surface in dict.fromkeys((*before.surfaces(lane), *now.surfaces(lane))):
        if surface not in mains:
            words += _lane(surface, before, now, lane, surface)
    if not words and before.places(lane) == now.places(lane) and mains[:1] == mains[1:]:
        return _lane(mains[0], before, now, lane, mains[0])
    return words


# -- snare, kick and the rest ----------------------------------------------------------------------------


def _snare(before: BarView, now: BarView) -> Iterator[str]:
    old, new = before.places(SNARE), now.places(SNARE)
    beats = before.backbeats, now.backbeats
    shift = _shift(old, new)
    if shift:
        yield ("both backbeats" if old == beats[0] and len(old) == 2 else "snare") + f" {shift}"
    elif old != new:
        if beats[0] != beats[1]:
            yield _feel(before.facts.feel, now.facts.feel) + _backbeats(before, now)
        gone, come = (old - beats[0]) - new, (new - beats[1]) - old
        yield from places_changed("snare", ((new - come) | gone, before.meter), (new, now.meter))
    stood, stands = before.surfaces(SNARE), now.surfaces(SNARE)
    if stood and stands and stood[0] != stands[0]:
        yield f"{stands[0]} instead of {stood[0]}"
    if stood and stands:
        yield from _colours(before, now, SNARE)


def _feel(before: str | None, now: str | None) -> str:
    return f"{feel_word(now)} instead of {feel_word(before)}: " if before and now and before != now else ""


def _backbeats(before: BarView, now: BarView) -> str:
    old, new = named_beats(before.backbeats, before.meter), named_beats(now.backbeats, now.meter)
    if not old:
        return f"backbeat on {new}, before none"
    return f"backbeat on {new} instead of {old}" if new else f"no backbeat, before on {old}"


def _lane(name: str, before: BarView, now: BarView, lane: str, surface: str | None = None) -> list[str]:
    old, new = before.places(lane, surface), now.places(lane, surface)
    return places_changed(name, (old, before.meter), (new, now.meter))


def places_changed(name: str, before: tuple[Places, Meter], now: tuple[Places, Meter]) -> list[str]:
    """What changed where a lane is struck; nothing where it is struck at the same places."""
    (old, old_meter), (new, new_meter) = before, now
    if old == new:
        return []
    if not new:
        return [f"no {name}, before {_on(old, old_meter)}"]
    if not old:
        return [f"{name} {_on(new, new_meter)}, before none"]
    shift = _shift(old, new)
    if shift:
        return [f"{name} {shift}"]
    gone, come = old - new, new - old
    if len(gone) > MOST_NAMED or len(come) > MOST_NAMED:
        same = len(old) == len(new)
        return [f"{name}: {many(len(new), 'stroke')}" + (" elsewhere" if same else f" instead of {len(old)}")]
    if not gone:
        return [f"{name} also on {named_beats(come, new_meter)}"]
    if not come:
        return [f"{name} no more on {named_beats(gone, old_meter)}"]
    return [f"{name} on {named_beats(come, new_meter)} instead of {named_beats(gone, old_meter)}"]


def _shift(old: Places, new: Places) -> str:
    """ "an eighth later" where every stroke moved by the same small step."""
    if len(old) != len(new) or len(old) < 2:
        return ""
    steps = {b - a for a, b in zip(sorted(old), sorted(new))}
    step = steps.pop()
    if steps or abs(step) not in SHIFTS:
        return ""
    return f"{SHIFTS[abs(step)]} {'later' if step > 0 else 'earlier'}"


def _on(places: Places, meter: Meter) -> str:
    return f"on {named_beats(places, meter)}" if len(places) <= MOST_NAMED else many(len(places), "stroke")


def named_beats(places: Iterable[Fraction], meter: Meter) -> str:
    """Beats as musicians say them, "2 and 4&"; where a beat has no name, quarters from 1 as a decimal."""
    return listed([_beat(place, meter) for place in sorted(places)])


def _beat(place: Fraction, meter: Meter) -> str:
    try:
        return beat_text([place], meter)
    except MusicError:
        # The lower figure counts, as in the names: a sixteenth behind the second eighth of 7/8 is 2.5.
        return f"{float(1 + place / meter.unit):.2f}".rstrip("0")
