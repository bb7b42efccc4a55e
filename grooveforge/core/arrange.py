"""From a song to what every bar plays: groove, feel, kick, timekeeper and arrival, section by section.

Each stage is a value; a section's bars depend on its own settings alone (and, under a running riff, on how
long that riff has run), so a change in one place leaves every other bar as it was.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction

from grooveforge.core import feel_table, kick, tempo, timekeeper
from grooveforge.core.differences import Difference, differences
from grooveforge.core.feel import FeelChange, set_feel, target_feel
from grooveforge.core.groove import KICK, LANES, TIMEKEEPER, Groove, Lane, empty
from grooveforge.core.kit import ACCENT, Kind
from grooveforge.core.kit import surface as surface_row
from grooveforge.core.meter import Meter
from grooveforge.core.riff import follow, typed_riff
from grooveforge.core.roles import read_feel
from grooveforge.core.song import MOST_SONG_BARS, Entry, Settings, Song, TempoRamp
from grooveforge.errors import Fault, GrooveForgeError, MusicError

DEFAULT_RIFF_GRID = 16
FOOT = "pedal hi-hat"


@dataclass(frozen=True)
class Span:
    """Bars of a section under one surface.

    `bar` is the song's bar number of the first; `tight` are steps whose strokes stand exactly in time whatever
    the looseness (arrivals, stops).
    """

    bar: int
    groove: Groove
    tight: tuple[int, ...] = ()


@dataclass(frozen=True)
class Section:
    """One statement of a part, arranged.

    Parameters
    ----------
    name, part, statement : the entry's name, its part, and the how-manieth of that part this is (from 1).
    bar, bars : the song's bar number of its first bar (from 1), and how many there are.
    meter : its metre. tempo : (quarters from its start, quarter notes a minute) steps.
    settings : what holds in it. feel : as played; None where nothing beats back.
    spans : its bars. backbeats : how many backbeats it has. differences : what its entry changes.
    """

    name: str
    part: str
    statement: int
    bar: int
    bars: int
    meter: Meter
    tempo: tuple[tempo.TempoStep, ...]
    settings: Settings
    spans: tuple[Span, ...]
    feel: str | None = None
    backbeats: int = 0
    differences: tuple[Difference, ...] = ()

    @property
    def quarters(self) -> Fraction:
        return self.bars * self.meter.quarters

    @property
    def timekeepers(self) -> tuple[str, ...]:
        """The surfaces that the hand stands on, in order."""
        names = (span.groove.surface for span in self.spans)
        return tuple(dict.fromkeys(name for name in names if name is not None))


@dataclass(frozen=True)
class Arrangement:
    """A song whose every bar is known."""

    title: str
    seed: int
    sections: tuple[Section, ...] = field(default_factory=tuple)

    @property
    def bars(self) -> int:
        return sum(section.bars for section in self.sections)

    @property
    def seconds(self) -> float:
        """Length of the song in seconds."""
        return sum(tempo.seconds(section.tempo, section.quarters) for section in self.sections)


def statements(song: Song) -> Iterator[tuple[int, Entry, int]]:
    """Every section as (index in the form, entry, statement number), repeats written out."""
    counts: dict[str, int] = {}
    for index, entry in enumerate(song.form):
        for _ in range(entry.repeat):
            counts[entry.part] = counts.get(entry.part, 0) + 1
            yield index, entry, counts[entry.part]


def arrange(song: Song) -> Arrangement:
    """The arrangement of a song.

    Raises
    ------
    MusicError
        With every fault of every section: a metre that does not fit, a feel off the ladder, a tempo out of
        range. Each fault has the key path of what caused it.
    """
    _check_length(song)
    sections: list[Section] = []
    faults: dict[Fault, None] = {}
    running: dict[tuple[str, int], Fraction] = {}
    loops: dict[tuple[object, ...], Groove] = {}
    bar = 1
    for index, entry, statement in statements(song):
        builder = _Builder(song, index, entry, loops)
        try:
            section = builder.section(statement, bar, running)
        except GrooveForgeError as error:
            faults |= dict.fromkeys(builder.placed(fault) for fault in error.faults)
            continue
        sections.append(section)
        bar += section.bars
    if faults:
        raise MusicError(faults)
    return Arrangement(song.title, song.seed, tuple(sections))


def bars_of(song: Song, settings: Settings) -> int:
    """How many bars a section with these settings has."""
    if settings.bars is not None:
        return settings.bars
    if settings.groove is None:
        raise MusicError("a section without a groove needs a number of bars", hint="bars = 4")
    return song.grooves[settings.groove].bars


def _check_length(song: Song) -> None:
    total = sum(bars_of(song, song.settings_of(entry)) * entry.repeat for entry in song.form)
    if total > MOST_SONG_BARS:
        raise MusicError(f"the song has {total} bars", allowed=f"at most {MOST_SONG_BARS}", path=("form",))


def section_loop(song: Song, entry: Entry) -> Groove:
    """What an entry's section plays as a loop: groove, feel and rate, before riff, hand, lanes and arrival."""
    builder = _Builder(song, 0, entry, {})
    loop = builder._loop(builder._meter())
    return builder._with_foot(loop, bars_of(song, builder.settings)) if builder.settings.hi_hat_foot else loop


def _same_figures(one: Meter, other: Meter) -> bool:
    return (one.upper, one.lower) == (other.upper, other.lower)


def _grouped(groove: Groove, meter: Meter) -> Groove:
    """The groove under the grouping of a section in its own metre, where the section is."""
    return replace(groove, meter=meter) if groove.meter != meter and _same_figures(groove.meter, meter) else groove


class _Builder:
    """Builds one section; knows which key of the sheet each choice came from."""

    def __init__(self, song: Song, index: int, entry: Entry, loops: dict[tuple[object, ...], Groove]) -> None:
        self.song, self.index, self.entry, self.loops = song, index, entry, loops
        self.plain = song.plain_settings_of(entry.part)
        self.settings = entry.settings.over(self.plain)
        self.key = "groove"

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

    def section(self, statement: int, bar: int, running: dict[tuple[str, int], Fraction]) -> Section:
        self.key = "bars"
        bars = bars_of(self.song, self.settings)
        self.key = "meter"
        meter = self._meter()
        self.key = "tempo"
        steps = self._tempo(bars * meter.quarters)
        groove = self._groove(meter, bars, running)
        played = read_feel(groove) if self.settings.groove and not self.settings.tacet else None
        self.key = "timekeeper"
        spans = self._spans(groove, bar, bars)
        self.key = "arrival"
        if self._arrives():
            spans = (replace(spans[0], groove=arrival(spans[0].groove, self._lanes()), tight=(0,)), *spans[1:])
        return Section(
            self.entry.name or self.entry.part,
            self.entry.part,
            statement,
            bar,
            bars,
            meter,
            steps,
            self.settings,
            spans,
            played.feel if played else None,
            len(played.backbeats) if played else 0,
            differences(self.plain, self.entry.settings, self._resolved(steps, bars)),
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
        before = _Builder(self.song, self.index, plain, self.loops)
        found: dict[str, tuple[object, object]] = {"feel": self._feels()}
        if not isinstance(self.entry.settings.tempo, TempoRamp):
            found["tempo"] = (before._tempo(Fraction(1))[0][1], steps[0][1])
        if self.plain.groove is not None:
            found["bars"] = (bars_of(self.song, self.plain), bars)
        return found

    # -- what is played -------------------------------------------------------------------------------

    def _groove(self, meter: Meter, bars: int, running: dict[tuple[str, int], Fraction]) -> Groove:
        """All bars of the section before the hand moves."""
        said = self.settings
        start = self._riff_start(running, bars * meter.whole)
        if said.tacet or said.groove is None:
            return empty(meter, bars=bars)
        loop = self._loop(meter)
        if said.kick == kick.FOLLOW:
            self.key = "riff_grid" if said.riff_grid else "riff"
            riff = typed_riff(said.riff or "", said.riff_grid or DEFAULT_RIFF_GRID)
            loop = follow(loop.bars_of(bars), riff, start, bool(said.riff_downbeat))
        if said.hi_hat_foot:
            loop = self._with_foot(loop, bars)
        lanes = self._lanes()
        whole = loop.bars_of(bars)
        return whole if lanes == frozenset(LANES) else whole.mask(lanes)

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

    def _loop(self, meter: Meter) -> Groove:
        """The groove at its feel and rate, as a loop; the same for all sections that say the same."""
        said = self.settings
        feels = self._feels()
        cached = (said.groove, said.spelling, said.backbeats, said.kick, said.subdivision, said.riff is None)
        name = (meter, *feels, *cached, self.entry.settings.backbeats)
        if name not in self.loops:
            self.loops[name] = self._new_loop(meter, *feels)
        return self.loops[name]

    def _new_loop(self, meter: Meter, plain_feel: str | None, feel: str | None) -> Groove:
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
        return timekeeper.set_subdivision(groove, said.subdivision or timekeeper.KEEP)

    def _own_groove(self, meter: Meter) -> Groove:
        groove = self.song.grooves[self.settings.groove or ""]
        self.key = "groove"
        if not _same_figures(groove.meter, meter):
            raise MusicError(
                f"the groove {self.settings.groove!r} is in {groove.meter}, the section in {meter}",
                hint=f'meter = "{groove.meter}" for the section, or a groove in {meter}',
            )
        return _grouped(groove, meter)

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

    def _riff_start(self, running: dict[tuple[str, int], Fraction], length: Fraction) -> Fraction:
        """How long the section's riff has run before it, in whole notes; counts this section too."""
        said = self.settings
        if said.riff is None:
            return Fraction(0)
        riff = (said.riff, said.riff_grid or DEFAULT_RIFF_GRID)
        start = running.get(riff, Fraction(0)) if said.riff_restart is False else Fraction(0)
        running[riff] = start + length
        return start

    # -- the hand and the first stroke ------------------------------------------------------------------

    def _spans(self, groove: Groove, bar: int, bars: int) -> tuple[Span, ...]:
        where = self.settings.timekeeper
        if where is None or groove.hand is None:
            return (Span(bar, groove),)
        if isinstance(where, str):
            return (Span(bar, groove.move_hand(where)),)
        spans = []
        first = 0
        for count, surface in timekeeper.surface_spans(where, bars):
            spans.append(Span(bar + first, groove.slice(first, first + count).move_hand(surface)))
            first += count
        return tuple(spans)

    def _lanes(self) -> frozenset[str]:
        return frozenset(LANES if self.settings.play is None else self.settings.play)

    def _arrives(self) -> bool:
        said = self.settings
        return said.arrival is not False and not said.tacet and said.groove is not None


def arrival(groove: Groove, lanes: frozenset[str] = frozenset(LANES)) -> Groove:
    """The groove with a crash in place of the hand's first stroke and a kick on its 1.

    Which crash goes by the surface that the hand stands on (`kit.SURFACES`). A kick that is there stays as it
    is. Only the lanes named play: the crash is the timekeeping hand's.
    """
    arrived = groove
    if TIMEKEEPER in lanes:
        crash = surface_row(groove.surface).arrival if groove.surface is not None else "crash"
        if groove.hand is not None:
            arrived = replace(arrived, hand=groove.hand.put((0,), 0, Kind.PLAIN))
        arrived = arrived.with_lane(crash, arrived.lane_on(crash).put((0,), ACCENT, Kind.ACCENT))
    if KICK in lanes and not groove.lane_on(KICK).velocity[0]:
        arrived = arrived.with_lane(KICK, arrived.lane_on(KICK).put((0,), ACCENT, Kind.ACCENT))
    return arrived
