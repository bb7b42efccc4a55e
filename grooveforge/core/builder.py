"""One section of a song: metre, tempo, groove, feel, kick, timekeeper, inserted beats or stops.

Fills, endings and arrivals need the neighbours or come last; `phrases` puts them on.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from grooveforge.core import feel_table, kick, tempo, timekeeper
from grooveforge.core.differences import differences
from grooveforge.core.feel import FeelChange, set_feel, target_feel
from grooveforge.core.fit import RUN, fitted
from grooveforge.core.groove import LANES, Groove, Lane, empty
from grooveforge.core.insert import bars_behind, with_inserts
from grooveforge.core.meter import Meter
from grooveforge.core.phrases import is_silent, lanes_of
from grooveforge.core.riff import ALL, DEFAULT_RIFF_GRID, at_grid, chosen, follow, typed_riff
from grooveforge.core.roles import read_feel
from grooveforge.core.section import Followed, Section, Span
from grooveforge.core.song import Entry, Riff, Settings, Song, TempoRamp
from grooveforge.core.spans import Spans, numbered
from grooveforge.core.stops import stops_groove, struck_steps
from grooveforge.errors import Fault, MusicError


def bars_of(song: Song, settings: Settings) -> int:
    """How many bars of its own a section with these settings has, inserted ones not counted."""
    if settings.bars is not None:
        return settings.bars
    if settings.groove is None:
        raise MusicError("a section without a groove needs a number of bars", hint="bars = 4")
    return song.grooves[settings.groove].bars

FOOT = "pedal hi-hat"


def _same_figures(one: Meter, other: Meter) -> bool:
    return (one.upper, one.lower) == (other.upper, other.lower)


def _grouped(groove: Groove, meter: Meter) -> Groove:
    """The groove under the grouping of a section in its own metre, where the section is."""
    return replace(groove, meter=meter) if groove.meter != meter and _same_figures(groove.meter, meter) else groove


class SectionBuilder:
    """Builds one section; knows which key of the sheet each choice came from."""

    def __init__(self, song: Song, index: int, entry: Entry, loops: dict[tuple[object, ...], Groove]) -> None:
        self.song, self.index, self.entry, self.loops = song, index, entry, loops
        self.plain = song.plain_settings_of(entry.part)
        self.settings = entry.settings.over(self.plain)
        self.key = "groove"
        self.followed: Followed | None = None

    def placed(self, fault: Fault) -> Fault:
        return fault if fault.path or fault.place else replace(fault, path=self.path(self.key))

    def path(self, key: str) -> tuple[str | int, ...]:
        """Where the sheet says a key that holds in this section."""
        if getattr(self.entry.settings, key, None) is not None:
            return ("form", self.index, key)
        if getattr(self.song.parts[self.entry.part], key, None) is not None:
            return ("parts", self.entry.part, key)
        if getattr(self.song.defaults, key, None) is not None:
            return ("defaults", key)
        return ("parts", self.entry.part)

    def loop(self) -> Groove:
        """The section's groove as a loop at its feel and rate, before riff, hand, lanes and arrival."""
        loop = self._loop(self._meter(), bars_of(self.song, self.settings))
        return self._with_foot(loop, bars_of(self.song, self.settings)) if self.settings.hi_hat_foot else loop

    def section(self, statement: int, bar: int, running: dict[tuple[str, int], Fraction]) -> Section:
        self.key = "bars"
        bars = bars_of(self.song, self.settings)
        self.key = "meter"
        meter = self._meter()
        inserts = self.settings.insert or ()
        self.key = "tempo"
        steps = self._tempo(bars * meter.quarters + sum(row.beats for row in inserts))
        start = self._riff_start(running, bars * meter.whole)
        if is_silent(self.settings):
            own = self._silence(meter, bars)
            spans: Spans = (Span(1, own, struck_steps(own)),)
            groove = empty(meter, own.grid, bars + bars_behind(inserts, meter))
            played = None
        else:
            groove = self._groove(meter, bars, start)
            own = groove.bars_of(bars)
            played = read_feel(own)
            self.key = "timekeeper"
            spans = self._spans(own, bars)
        self.key = "insert"
        spans = with_inserts(spans, groove, inserts, bar) if inserts else numbered(spans, bar)
        return Section(
            self.entry.name or self.entry.part,
            self.entry.part,
            statement,
            bar,
            bars + len(inserts),
            meter,
            steps,
            self.settings,
            spans,
            played.feel if played else None,
            len(played.backbeats) if played else 0,
            differences(self.plain, self.entry.settings, self._resolved(steps, bars)),
            self.followed,
        )

    # -- metre and tempo ------------------------------------------------------------------------------

    def _meter(self) -> Meter:
        said = self.settings.meter or self.song.meter
        grouping = self.settings.grouping
        if grouping is None and self.settings.meter is None:
            grouping = self.song.grouping
        if grouping is not None:
            self.key = "grouping"
            return Meter(said.upper, said.lower, grouping)
        groove = self.song.grooves.get(self.settings.groove or "")
        return groove.meter if groove is not None and _same_figures(groove.meter, said) else said

    def _tempo(self, quarters: Fraction) -> tuple[tempo.TempoStep, ...]:
        part = self.song.parts[self.entry.part].tempo
        layers = (self.song.defaults.tempo, part, self.entry.settings.tempo)
        return tempo.resolve(self.song.tempo, layers, quarters)

    def _resolved(self, steps: tuple[tempo.TempoStep, ...], bars: int) -> dict[str, tuple[object, object]]:
        """What held before and what holds now, for keys whose text alone does not tell."""
        plain = replace(self.entry, settings=Settings())
        before = SectionBuilder(self.song, self.index, plain, self.loops)
        found: dict[str, tuple[object, object]] = {"feel": self._feels()}
        if not isinstance(self.entry.settings.tempo, TempoRamp):
            found["tempo"] = (before._tempo(Fraction(1))[0][1], steps[0][1])
        if self.plain.groove is not None:
            found["bars"] = (bars_of(self.song, self.plain), bars)
        return found

    # -- what is played -------------------------------------------------------------------------------

    def _silence(self, meter: Meter, bars: int) -> Groove:
        """Rests, or stops with rests between."""
        said = self.settings
        if said.stops is None or said.tacet:
            return empty(meter, bars=bars)
        self.key = "stops"
        return stops_groove(meter, bars, said.stops, bool(said.choke), lanes_of(said))

    def _groove(self, meter: Meter, bars: int, start: Fraction) -> Groove:
        """All bars of the section before the hand moves, and those behind it that inserted beats reach into."""
        said = self.settings
        bars += bars_behind(said.insert or (), meter)
        loop = self._loop(meter, bars)
        if said.kick == kick.FOLLOW:
            self.followed = Followed(self._riff(), start, bars_of(self.song, said) * meter.whole)
            loop = follow(loop.bars_of(bars), self.followed.riff, start, bool(said.riff_downbeat))
        if said.hi_hat_foot:
            loop = self._with_foot(loop, bars)
        lanes = lanes_of(said)
        played = loop.bars_of(bars)
        return played if lanes == frozenset(LANES) else played.mask(lanes)

    def _with_foot(self, loop: Groove, bars: int) -> Groove:
        """The loop with the foot on the hi-hat; all bars of it where the hand moves on its way through them."""
        where = self.settings.timekeeper
        if where is None or isinstance(where, str):
            return timekeeper.add_hi_hat_foot(loop if where is None else loop.move_hand(where))
        self.key = "timekeeper"
        whole = loop.bars_of(bars)
        foot = Lane.rests(0)
        for count, surface in timekeeper.surface_spans(where, bars):
            first = len(foot) // whole.steps_per_bar
            footed = timekeeper.add_hi_hat_foot(whole.move_hand(surface)).slice(first, first + count)
            foot = foot.then(footed.lane_on(FOOT))
        return whole.with_lane(FOOT, foot)

    def _loop(self, meter: Meter, bars: int) -> Groove:
        """The groove at its feel and rate, as a loop; the same for all sections that say the same."""
        said = self.settings
        feels = self._feels()
        cached = (said.groove, said.spelling, said.backbeats, said.kick, said.subdivision, said.riff is None)
        over = bars if said.fit == RUN else 0
        name = (meter, *feels, *cached, self.entry.settings.backbeats, said.fit, over)
        if name not in self.loops:
            self.loops[name] = self._new_loop(meter, bars, *feels)
        return self.loops[name]

    def _new_loop(self, meter: Meter, bars: int, plain_feel: str | None, feel: str | None) -> Groove:
        said = self.settings
        groove = self._own_groove(meter)
        self.key = "feel" if said.feel is not None else "spelling" if said.spelling is not None else "backbeats"
        if said.feel is None and said.spelling is None and said.backbeats is None:
            self.key = "kick"
        change = FeelChange(
            feel,
            self._spelling(feel),
            kick.KEEP if said.kick == kick.FOLLOW else said.kick or kick.ADAPT,
            said.backbeats,
            feel if self.entry.settings.backbeats is not None else plain_feel,
            said.riff is not None,
            said.subdivision is not None,
        )
        groove = set_feel(groove, change)
        self.key = "subdivision"
        groove = timekeeper.set_subdivision(groove, said.subdivision or timekeeper.KEEP)
        if groove.meter == meter:
            return groove
        self.key = "fit"
        return fitted(groove, meter, said.fit or "", bars)

    def _own_groove(self, meter: Meter) -> Groove:
        """The groove in the section's metre; in its own where `fit` says how it comes into that."""
        groove = self.song.grooves[self.settings.groove or ""]
        self.key = "groove"
        if _same_figures(groove.meter, meter):
            return _grouped(groove, meter)
        if self.settings.fit is None:
            raise MusicError(
                f"the groove {self.settings.groove!r} is in {groove.meter}, the section in {meter}",
                hint=f'meter = "{groove.meter}" for the section, a groove in {meter}, or fit = "cut"',
            )
        return groove

    def _feels(self) -> tuple[str | None, str | None]:
        """The feel of the part and that of this section, relative ones resolved."""
        part_groove = self.song.grooves.get(self.plain.groove or self.settings.groove or "")
        if part_groove is None or self.settings.tacet:
            return None, None
        meter = self._meter()
        self.key = "feel"
        reading = read_feel(_grouped(part_groove, meter))
        plain = target_feel(reading, self.plain.feel)
        wanted = self.entry.settings.feel
        if wanted is None:
            own_feel = self.plain.feel is None and self.settings.groove != self.plain.groove
            groove = self.song.grooves[self.settings.groove or ""]
            return plain, read_feel(_grouped(groove, meter)).feel if own_feel else plain
        section = target_feel(replace(reading, feel=plain), wanted)
        if section is None and self.settings.backbeats is not None:
            section = feel_table.FULL
        return plain, section

    def _spelling(self, feel: str | None) -> str | None:
        """The spelling that holds; one said for the feel of a layer below falls away with that feel."""
        held = self.settings.spelling
        for layer in (self.entry.settings, self.song.parts[self.entry.part], self.song.defaults):
            if layer.spelling is not None:
                return held
            if layer.feel is not None:
                return held if feel is not None and held in feel_table.SPELLINGS.get(feel, ()) else None
        return held

    def _riff(self) -> Riff:
        """The section's riff, its chosen attacks alone."""
        said = self.settings
        self.key = "riff_mode"
        name, grid = said.riff or "", said.riff_grid or DEFAULT_RIFF_GRID
        played = self.song.riffs.get(name)
        riff = typed_riff(name, grid) if played is None else at_grid(played, grid)
        kept = chosen(riff, said.riff_mode or ALL)
        self.key = "riff_grid" if said.riff_grid else "riff"
        return kept

    def _riff_start(self, running: dict[tuple[str, int], Fraction], length: Fraction) -> Fraction:
        """How long the section's riff has run before it, in whole notes; counts this section too."""
        said = self.settings
        if said.riff is None:
            return Fraction(0)
        riff = (said.riff, said.riff_grid or DEFAULT_RIFF_GRID)
        start = running.get(riff, Fraction(0)) if said.riff_restart is False else Fraction(0)
        running[riff] = start + length
        return start

    # -- the hand ---------------------------------------------------------------------------------------

    def _spans(self, groove: Groove, bars: int) -> Spans:
        """The section's own bars by surface, numbered from 1."""
        where = self.settings.timekeeper
        if where is None or groove.hand is None:
            return (Span(1, groove),)
        if isinstance(where, str):
            return (Span(1, groove.move_hand(where)),)
        spans = []
        first = 0
        for count, surface in timekeeper.surface_spans(where, bars):
            spans.append(Span(1 + first, groove.slice(first, first + count).move_hand(surface)))
            first += count
        return tuple(spans)
