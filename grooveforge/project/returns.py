"""The returns of a song: which section comes back, what it was before, what a choice makes of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from grooveforge.analysis.distance import Strokes, joined, strokes_of
from grooveforge.core import kick
from grooveforge.core.arrange import Arrangement, statements
from grooveforge.core.builder import SectionBuilder, bars_of
from grooveforge.core.groove import LANES, Groove
from grooveforge.core.phrases import is_silent, lanes_of
from grooveforge.core.riff import follow
from grooveforge.core.section import Section
from grooveforge.core.song import Entry, Settings, Song
from grooveforge.errors import UsageError

FRAME_KEYS = ("feel", "spelling", "backbeats", "kick", "subdivision")
"""Keys of an entry that decide where kick, snare and hand are struck."""

LANE = "ride"
"""Where the hand stands while only its rhythm is asked for."""

Given = Mapping[str, Any]


@dataclass(frozen=True, eq=False)
class Return:
    """A section that its song has heard before.

    Parameters
    ----------
    song : the song. number : which section of it, from 0. index, entry, statement : where it stands in the form.
    before : the same of the statement before. arrangement : of the song as it is.
    """

    song: Song
    number: int
    index: int
    entry: Entry
    statement: int
    before: tuple[int, Entry, int]
    arrangement: Arrangement

    @property
    def section(self) -> Section:
        return self.arrangement.sections[self.number]

    @property
    def statement_before(self) -> Section:
        return self.arrangement.sections[self.before[0]]

    @property
    def bars(self) -> int:
        return bars_of(self.song, self.song.settings_of(self.entry))

    @property
    def name(self) -> str:
        return self.section.name

    @cached_property
    def loops(self) -> dict[tuple[object, ...], Groove]:
        """Loops that were built for one choice and serve the next."""
        return {}

    def settings(self, given: Given) -> Settings:
        """The entry's settings with what a choice gives; None takes a key away."""
        return replace(self.entry.settings, **given)

    def song_with(self, given: Given) -> Song:
        """The song with a choice taken."""
        form = list(self.song.form)
        form[self.index] = replace(self.entry, settings=self.settings(given))
        return replace(self.song, form=tuple(form))

    def as_before(self, keys: Sequence[str]) -> dict[str, Any]:
        """What the entry must say of some keys to be as the statement before."""
        return {key: getattr(self.before[1].settings, key) for key in keys}

    def changes(self, given: Given) -> dict[str, Any]:
        """What a choice changes in the sheet: keys whose value holds otherwise than now, with what will hold."""
        now, then = self.song.settings_of(self.entry), self.settings(given)
        then = then.over(self.song.plain_settings_of(self.entry.part))
        return {key: getattr(then, key) for key in given if getattr(then, key) != getattr(now, key)}

    # -- bare bars ----------------------------------------------------------------------------------------

    def bare(self, given: Given) -> Groove:
        """What a choice plays without fill, ending and arrival, the hand in one place; a loop, or all own bars."""
        return self._built(replace(self.entry, settings=self.settings(given)), self.section, self.bars)

    def bare_before(self) -> Groove:
        """The same of the statement before: all its own bars."""
        before = self.statement_before
        return self._built(self.before[1], before, before.own_bars).bars_of(before.own_bars)

    def _built(self, entry: Entry, section: Section, bars: int) -> Groove:
        settings = replace(entry.settings, timekeeper=LANE)
        builder = SectionBuilder(self.song, self.index, replace(entry, settings=settings), self.loops)
        loop = builder.loop()
        if section.followed is not None and builder.settings.kick == kick.FOLLOW:
            riff, downbeat = section.followed, bool(builder.settings.riff_downbeat)
            loop = follow(loop.bars_of(bars), riff.riff, riff.start, downbeat)
        lanes = lanes_of(builder.settings)
        return loop if lanes == frozenset(LANES) else loop.mask(lanes)

    def stood_before(self) -> tuple[str | None, ...]:
        """Where the hand stood in the statement before, bar by bar, begun again where this section is longer.

        In a bar of a fill it stands where it stood before; None where there is no hand at all.
        """
        names = surfaces_by_bar(self.statement_before)
        held = next((name for name in names if name), None)
        stood = []
        for name in names:
            held = name or held
            stood.append(held)
        return tuple(stood[bar % len(stood)] for bar in range(self.bars))

    def strokes_before(self, section: Section) -> Strokes:
        """The strokes of the statement before, begun again where this section is longer."""
        return own_strokes(section).looped(self.bars)


def surfaces_by_bar(section: Section) -> tuple[str | None, ...]:
    """Where the hand stands in each own bar of a section."""
    return tuple(span.groove.surface for span in section.spans if span.own for _ in range(span.groove.bars))


def own_strokes(section: Section) -> Strokes:
    """The strokes of a section's own bars, inserted ones and the song's final hit left out."""
    return joined(strokes_of(span.groove) for span in section.spans if span.own)


# -- which sections --------------------------------------------------------------------------------------


def returns_of(song: Song, arrangement: Arrangement) -> tuple[Return, ...]:
    """Every section of a song that comes back and can be varied: it plays a groove, and its entry no repeat."""
    last: dict[str, tuple[int, Entry, int]] = {}
    found = []
    for number, (index, entry, statement) in enumerate(statements(song)):
        playing = not is_silent(song.settings_of(entry))
        if entry.part in last and playing and entry.repeat == 1:
            found.append(Return(song, number, index, entry, statement, last[entry.part], arrangement))
        if playing:
            last[entry.part] = (number, entry, statement)
    return tuple(found)


def find_return(song: Song, arrangement: Arrangement, index: int, name: str) -> Return:
    """The return that stands at a place of the form.

    Raises
    ------
    UsageError
        When the section there is no return, rests, repeats, or is fixed; the error lists the song's returns.
    """
    found = returns_of(song, arrangement)
    here = next((row for row in found if row.index == index), None)
    if here is not None:
        if here.entry.fixed is True:
            raise UsageError(f"{name!r} is fixed in the sheet: it stays as it is", hint="take its key fixed away")
        return here
    listed = ", ".join(dict.fromkeys(row.name for row in found))
    if not listed:
        raise UsageError("the song has no return: no part with a groove is played a second time", found=repr(name))
    entry = song.form[index]
    if is_silent(song.settings_of(entry)):
        why = f"{name!r} rests or stops, so there is no groove to vary"
    elif entry.repeat > 1:
        why = f"{name!r} stands in an entry that repeats"
        listed += "; write the repeats out as entries of their own"
    else:
        why = f"{name!r} is the first statement of its part, so there is nothing that it could differ from"
    raise UsageError(why, allowed=f"returns: {listed}")
