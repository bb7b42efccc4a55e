"""One change to the drums of a MIDI file: feel, rate and surface of the hand, kick; all else stays as it was.

The file's bars become grooves, the core changes them, and the difference goes back to the strokes: what the
groove still has keeps its tick, level and length, what it no longer has goes, what is new stands on the grid.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from itertools import groupby
from math import ceil, lcm

import numpy as np
from numpy.typing import NDArray

from grooveforge.core import feel_table, timekeeper
from grooveforge.core.feel import FeelChange, set_feel, target_feel
from grooveforge.core.groove import Groove, Lane
from grooveforge.core.hands import hand_of, with_hand
from grooveforge.core.inspect import BarFacts, bar_facts
from grooveforge.core.kick import ADAPT, FOLLOW
from grooveforge.core.kit import GHOST, GRACE_STROKES, Kind, sounding, timekeeping_surface
from grooveforge.core.perform import GRACE_SECONDS
from grooveforge.core.roles import FeelReading
from grooveforge.errors import MusicError, UsageError
from grooveforge.formats.drum_part import COLUMNS, DrumPart
from grooveforge.formats.drums_groove import Run, grooves_of
from grooveforge.formats.drums_read import louder_of_doubles
from grooveforge.formats.smf import IntArray, SmfFile
from grooveforge.formats.smf_write import NotesOut, RawTrackOut, write_raw

Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Variation:
    """What is to change; None leaves it alone.

    Parameters
    ----------
    feel, spelling, timekeeper, subdivision, kick : as in a song sheet; `kick` never follows a riff here.
    bars : first and last bar, from 1, that the change is for; None for all.
    """

    feel: str | None = None
    spelling: str | None = None
    timekeeper: str | None = None
    subdivision: str | None = None
    kick: str | None = None
    bars: tuple[int, int] | None = None

    def __post_init__(self) -> None:
        if self.kick == FOLLOW:
            raise UsageError("the kick can only follow a riff", hint="a song sheet with a riff")
        if self.timekeeper is not None:
            object.__setattr__(self, "timekeeper", timekeeping_surface(self.timekeeper))
        if self.subdivision is not None and self.subdivision not in timekeeper.SUBDIVISIONS:
            allowed = ", ".join(timekeeper.SUBDIVISIONS)
            raise UsageError("no such subdivision", found=repr(self.subdivision), allowed=allowed)
        if self.bars is not None and not 1 <= self.bars[0] <= self.bars[1]:
            raise UsageError("bars are counted from 1, the first before the last", found=f"{self.bars[0]}-{self.bars[1]}")

    @property
    def moves_feel(self) -> bool:
        return self.feel is not None or self.spelling is not None or self.kick is not None

    @property
    def feel_change(self) -> FeelChange:
        """The change as the core takes it."""
        return FeelChange(
            self.feel, self.spelling, self.kick or ADAPT, keep_hand=self.subdivision is not None, by_table=True
        )


@dataclass
class _Edits:
    """The strokes of a part while they are changed: what stays, with which note and level, and what is new."""

    part: DrumPart
    keep: Bools = field(init=False)
    note: IntArray = field(init=False)
    velocity: IntArray = field(init=False)
    added: list[tuple[int, int, int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.keep = np.ones(len(self.part), bool)
        self.note = self.part.note.copy()
        self.velocity = self.part.velocity.copy()

    def finished(self) -> DrumPart:
        """The part with all changes; of two strokes of one note on one tick the louder stays."""
        part = self.part
        tick, note, velocity = np.array(self.added, np.int64).reshape(-1, 3).T
        new = np.full(len(tick), -1, np.int64)
        columns = {
            "tick": np.concatenate((part.tick[self.keep], tick)),
            "note": np.concatenate((self.note[self.keep], note)),
            "velocity": np.concatenate((self.velocity[self.keep], velocity)),
            "duration": np.concatenate((part.duration[self.keep], np.full(len(tick), max(1, part.division // 4)))),
            "track": np.concatenate((part.track[self.keep], np.full(len(tick), _main_track(part)))),
            "origin": np.concatenate((part.origin[self.keep], new)),
        }
        rows = louder_of_doubles(columns["tick"], columns["note"], columns["velocity"])
        chosen = {name: columns[name][rows] for name in COLUMNS}
        lasts = _cut_durations(chosen, self._is_changed(chosen))
        met = len(columns["tick"]) - len(rows)
        said = (f"{met} strokes met another of the same note and were left out",) if met else ()
        return replace(
            part,
            tick=chosen["tick"],
            note=chosen["note"],
            velocity=chosen["velocity"],
            duration=lasts,
            track=chosen["track"],
            origin=chosen["origin"],
            warnings=(*part.warnings, *said),
        )

    def _is_changed(self, columns: dict[str, IntArray]) -> Bools:
        before = dict(zip(zip(self.part.track.tolist(), self.part.origin.tolist()), self.part.note.tolist()))
        keys = zip(columns["track"].tolist(), columns["origin"].tolist(), columns["note"].tolist())
        return np.array([before.get((track, origin)) != note for track, origin, note in keys], bool)


def _main_track(part: DrumPart) -> int:
    """The track that new strokes go to: the one with most strokes."""
    if not len(part):
        return part.tracks[0] if part.tracks else 0
    return int(np.bincount(part.track).argmax())


def _cut_durations(columns: dict[str, IntArray], changed: Bools) -> IntArray:
    """Lengths that end at the next onset of their note, where one of the two strokes was changed."""
    order = np.lexsort((columns["tick"], columns["note"]))
    tick, note, lasts = columns["tick"][order], columns["note"][order], columns["duration"][order].copy()
    if len(order) > 1:
        touched = changed[order]
        gap = np.diff(tick)
        cut = (np.diff(note) == 0) & (lasts[:-1] > gap) & (touched[:-1] | touched[1:])
        lasts[:-1][cut] = gap[cut]
    result = np.empty_like(lasts)
    result[order] = lasts
    return result


def vary_part(part: DrumPart, change: Variation) -> DrumPart:
    """The drums with one change.

    Raises
    ------
    MusicError
        When the change is impossible in some bars (a relative feel off the ladder): the place names them.
    """
    if change.bars is not None and change.bars[0] > len(part.bars):
        raise UsageError(f"the file has {len(part.bars)} bars", found=f"bars {change.bars[0]}-{change.bars[1]}")
    warnings: tuple[str, ...] = ()
    if change.moves_feel:
        part, warnings = _vary_feel(part, change)
    if change.subdivision is not None:
        part = _vary_hands(part, change, _set_rate)
    if change.timekeeper is not None:
        part = _vary_hands(part, change, _move_hand)
    return replace(part, warnings=(*part.warnings, *warnings))


@dataclass(frozen=True)
class _Stretch:
    """Bars in a row of one run: `first` up to but without `last`, counted in the run from 0."""

    run: Run
    first: int
    last: int
    facts: BarFacts

    @property
    def groove(self) -> Groove:
        return self.run.groove.slice(self.first, self.last)

    @property
    def words(self) -> str:
        start, end = self.run.first_bar + self.first + 1, self.run.first_bar + self.last
        return f"bars {start}-{end}" if end > start else f"bar {start}"


def _stretches(part: DrumPart, change: Variation, key: tuple[str, ...]) -> Iterator[_Stretch]:
    """Stretches of wanted bars whose facts named in `key` are alike ("timekeeper" alike in the hand)."""
    for run in grooves_of(part):
        facts = bar_facts(run.groove)

        def told(bar: int, run: Run = run, facts: tuple[BarFacts, ...] = facts) -> tuple[object, ...]:
            number = run.first_bar + bar + 1
            wanted = change.bars is None or change.bars[0] <= number <= change.bars[1]
            values = [getattr(facts[bar], name) for name in key]
            return wanted, *(hand_of(v) if n == "timekeeper" and v else v for n, v in zip(key, values))

        for (wanted, *_), bars in groupby(range(run.groove.bars), key=told):
            listed = list(bars)
            if wanted:
                yield _Stretch(run, listed[0], listed[-1] + 1, facts[listed[0]])


# -- feel and kick ---------------------------------------------------------------------------------------


def _vary_feel(part: DrumPart, change: Variation) -> tuple[DrumPart, tuple[str, ...]]:
    with_rate = change.feel in (feel_table.D_BEAT, feel_table.BLAST, *feel_table.RELATIVE)
    key = ("feel", "spelling", "timekeeper") if with_rate else ("feel", "spelling")
    stretches = list(_stretches(part, change, key))
    felt = [stretch for stretch in stretches if stretch.facts.feel is not None]
    left = [stretch.words for stretch in stretches if stretch.facts.feel is None] if felt else []
    edits = _Edits(part)
    for stretch in felt or stretches:
        before = stretch.groove
        if stretch.facts.timekeeper is not None and with_rate:
            before = with_hand(before, stretch.facts.timekeeper)
        try:
            if change.feel is not None:
                target_feel(FeelReading(stretch.facts.feel), change.feel)
            after = set_feel(before, change.feel_change).slice(0, before.bars)
        except MusicError as error:
            raise error.at(stretch.words) from error
        _write(edits, stretch, before, after)
    said = (f"no feel is heard in {', '.join(left)}: left as they are",) if left else ()
    return edits.finished(), said


# -- the hand --------------------------------------------------------------------------------------------


_Work = Callable[[_Edits, _Stretch, Groove, Variation], None]


def _vary_hands(part: DrumPart, change: Variation, work: _Work) -> DrumPart:
    edits = _Edits(part)
    for stretch in _stretches(part, change, ("timekeeper",)):
        if stretch.facts.timekeeper is not None:
            before = with_hand(stretch.groove, stretch.facts.timekeeper)
            try:
                work(edits, stretch, before, change)
            except MusicError as error:
                raise error.at(stretch.words) from error
    return edits.finished()


def _set_rate(edits: _Edits, stretch: _Stretch, before: Groove, change: Variation) -> None:
    after = timekeeper.set_subdivision(before, change.subdivision or timekeeper.KEEP)
    _write(edits, stretch, before, after)


def _move_hand(edits: _Edits, stretch: _Stretch, before: Groove, change: Variation) -> None:
    """The notes of the hand, and of nothing else, get the note of the new surface."""
    if before.hand is None or before.surface is None or change.timekeeper is None:
        return
    for kind in np.unique(before.hand.kind[before.hand.struck]):
        steps = before.hand.struck[before.hand.kind[before.hand.struck] == kind]
        target, accent = sounding(change.timekeeper, Kind(int(kind)), 1)
        for name in hand_of(before.surface):
            rows = stretch.run.rows_at(name, steps + stretch.first * before.steps_per_bar)
            edits.note[rows] = edits.part.key_map.note_of(target)
            edits.velocity[rows] = np.maximum(edits.velocity[rows], accent)


# -- the difference --------------------------------------------------------------------------------------


def _write(edits: _Edits, stretch: _Stretch, before: Groove, after: Groove) -> None:
    """Put what two grooves of the same bars differ in into the edits."""
    for name in dict.fromkeys((*_lane_names(before), *_lane_names(after))):
        _write_lane(edits, stretch, name, (before, after))


HAND = "the hand"


def _lane_names(groove: Groove) -> list[str]:
    hand = [HAND] if groove.hand is not None else []
    named = ("kick", groove.kick), ("snare", groove.snare)
    return [*hand, *(name for name, lane in named if lane is not None), *(name for name, _ in groove.others)]


def _lane(groove: Groove, name: str) -> Lane:
    return (groove.hand or Lane.rests(groove.steps)) if name == HAND else groove.lane_on(name)


def _write_lane(edits: _Edits, stretch: _Stretch, name: str, grooves: tuple[Groove, Groove]) -> None:
    before, after = grooves
    grid = lcm(before.grid, after.grid)
    old, new = _lane(before, name), _lane(after, name)
    old_places = old.struck * (grid // before.grid)
    new_places = new.struck * (grid // after.grid)
    gone = ~np.isin(old_places, new_places)
    both, at_old, at_new = np.intersect1d(old_places, new_places, return_indices=True)
    changed = (old.velocity[old.struck[at_old]] != new.velocity[new.struck[at_new]]) | (
        old.kind[old.struck[at_old]] != new.kind[new.struck[at_new]]
    )
    base = before.surface or ""
    surfaces = hand_of(base) if name == HAND else (name,)
    removed = np.concatenate((old.struck[gone], old.struck[at_old[changed]]))
    for surface in surfaces:
        edits.keep[stretch.run.rows_at(surface, removed + stretch.first * before.steps_per_bar)] = False
    fresh = np.concatenate((new.struck[~np.isin(new_places, old_places)], new.struck[at_new[changed]]))
    for step in fresh.tolist():
        target, velocity = sounding(base if name == HAND else name, Kind(int(new.kind[step])), int(new.velocity[step]))
        _add(edits, stretch, (step, after.grid), (target, velocity, Kind(int(new.kind[step]))))


def _add(edits: _Edits, stretch: _Stretch, at: tuple[int, int], stroke: tuple[str, int, Kind]) -> None:
    """A new stroke on the tick of its step, with the grace strokes of a flam or drag before it."""
    part = edits.part
    surface, velocity, kind = stroke
    meter = stretch.run.groove.meter
    bar, step = divmod(at[0], meter.steps(at[1]))
    start = part.bars[stretch.run.first_bar + stretch.first + bar].start
    tick = ceil(start + part.division * 4 * step / at[1])
    note = part.key_map.note_of(surface)
    edits.added.append((tick, note, velocity))
    gap = max(1, round(GRACE_SECONDS / float(part.seconds_a_tick(np.array([tick]))[0])))
    for number in range(1, GRACE_STROKES.get(kind, 0) + 1):
        if tick - number * gap >= 0:
            edits.added.append((tick - number * gap, note, GHOST))


def write_back(file: SmfFile, part: DrumPart) -> bytes:
    """The file with the drums of `part` in the place of its own; every other event stays, in its place and bytes."""
    tracks = []
    for number, track in enumerate(file.tracks):
        if number not in part.tracks:
            tracks.append(RawTrackOut())
            continue
        chosen = part.track == number
        notes = NotesOut(
            part.tick[chosen], part.note[chosen], part.velocity[chosen], part.duration[chosen], part.channel - 1
        )
        tracks.append(RawTrackOut(track.rows_but_notes(part.channel - 1), notes))
    return write_raw(file, tracks)
