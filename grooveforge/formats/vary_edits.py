"""The strokes of a drum part while they are changed, and the way back into the file.

A stroke that a change does not concern keeps tick, note, level and length; a new one stands on its grid tick.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from math import floor

import numpy as np
from numpy.typing import NDArray

from grooveforge.core.breathing import GRACE_SECONDS
from grooveforge.core.kit import GHOST, GRACE_STROKES, SURFACE_CODES, Kind
from grooveforge.formats.drum_part import COLUMNS, Bar, DrumPart
from grooveforge.formats.drums_read import gather_drums
from grooveforge.formats.keymap import ONE_BAND_SOFTER, Replacement
from grooveforge.formats.smf import IntArray, SmfFile, louder_of_doubles
from grooveforge.formats.smf_write import NotesOut, RawTrackOut, write_raw

Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class NewStroke:
    """A stroke to be added: on a step of a grid of a bar, with its surface, level and kind."""

    bar: Bar
    step: int
    grid: int
    surface: str
    velocity: int
    kind: Kind = Kind.PLAIN


class Edits:
    """What happens to the strokes of a part: which stay, with which note and level, and which are new."""

    def __init__(self, part: DrumPart) -> None:
        self.part = part
        self.keep = np.ones(len(part), bool)
        self.note = part.note.copy()
        self.velocity = part.velocity.copy()
        self._added: list[tuple[int, int, int, int]] = []
        self._targets: dict[str, tuple[int, int]] = {}
        self._replaced: dict[str, int] = {}

    def remove(self, rows: IntArray) -> None:
        """Take strokes away."""
        self.keep[rows] = False

    def move(self, rows: IntArray, surface: str, least: int = 1) -> None:
        """Put strokes on another surface, at least at the velocity `least`."""
        self.note[rows] = self._target(surface, len(rows))[0]
        self.velocity[rows] = self._levels(surface, np.maximum(self.velocity[rows], least))

    def add(self, stroke: NewStroke) -> None:
        """Add a stroke, with its grace strokes where it is a flam or drag."""
        tick = _tick(self.part, stroke)
        note, track = self._target(stroke.surface, 1)
        level = int(self._levels(stroke.surface, np.array([stroke.velocity]))[0])
        self._added.append((tick, note, level, track))
        self.add_graces(tick, note, track, stroke.kind)

    def add_graces(self, tick: int, note: int, track: int, kind: Kind) -> None:
        """Add the grace strokes of a flam or drag before a tick; none before the file begins."""
        if kind not in GRACE_STROKES:
            return
        gap = max(1, round(GRACE_SECONDS / float(self.part.seconds_a_tick(np.array([tick]))[0])))
        for number in range(1, GRACE_STROKES[kind] + 1):
            if tick >= number * gap:
                self._added.append((tick - number * gap, note, GHOST, track))

    def _levels(self, surface: str, velocity: IntArray) -> IntArray:
        """Velocities of strokes of a surface, softer where what stands in for it is struck softer."""
        return ONE_BAND_SOFTER[velocity].astype(np.int64) if self.part.key_map.softer(surface) else velocity

    def _target(self, surface: str, count: int) -> tuple[int, int]:
        """Note and track for strokes of a surface: those that most strokes of it have in this part."""
        if surface not in self._targets:
            self._targets[surface] = _usual(self.part, surface)
        if self.part.key_map.used_for(surface) != surface:
            self._replaced[surface] = self._replaced.get(surface, 0) + count
        return self._targets[surface]

    def finished(self) -> DrumPart:
        """The part with all changes; of two strokes of one note on one tick the louder stays, with a warning."""
        part, keep = self.part, self.keep
        changed = (self.note != part.note) | (self.velocity != part.velocity)
        if keep.all() and not changed.any() and not self._added:
            return part
        tick, note, velocity, track = np.array(self._added, np.int64).reshape(-1, 4).T
        count = len(tick)
        columns = {
            "tick": np.concatenate((part.tick[keep], tick)),
            "note": np.concatenate((self.note[keep], note)),
            "velocity": np.concatenate((self.velocity[keep], velocity)),
            "duration": np.concatenate((part.duration[keep], np.full(count, max(1, part.division // 4)))),
            "track": np.concatenate((part.track[keep], track)),
            "origin": np.concatenate((part.origin[keep], np.full(count, -1, np.int64))),
        }
        moved = np.concatenate(((self.note != part.note)[keep], np.ones(count, bool)))
        rows = louder_of_doubles(columns["tick"], columns["note"], columns["velocity"])
        chosen = {name: columns[name][rows] for name in COLUMNS}
        chosen["duration"] = _cut_durations(chosen, moved[rows])
        used = self.part.key_map.used_for
        replaced = tuple(Replacement(name, used(name), times) for name, times in self._replaced.items())
        said = [str(row) for row in replaced]
        if met := len(columns["tick"]) - len(rows):
            what = "stroke met another" if met == 1 else "strokes met others"
            said.append(f"{met} {what} of the same note on the same tick: the louder stays")
        return replace(
            part,
            tick=chosen["tick"],
            note=chosen["note"],
            velocity=chosen["velocity"],
            duration=chosen["duration"],
            track=chosen["track"],
            origin=chosen["origin"],
            warnings=(*part.warnings, *said),
            replacements=(*part.replacements, *replaced),
        )


def _tick(part: DrumPart, stroke: NewStroke) -> int:
    """The tick of a step, rounded where the division has none there."""
    place = stroke.bar.start + Fraction(4 * part.division * stroke.step, stroke.grid)
    return floor(place + Fraction(1, 2))


def _usual(part: DrumPart, surface: str) -> tuple[int, int]:
    """Note and track that most strokes of a surface have; the key map's note and the busiest track without any."""
    mine = part.surfaces == SURFACE_CODES[part.key_map.used_for(surface)]
    if mine.any():
        return int(np.bincount(part.note[mine]).argmax()), int(np.bincount(part.track[mine]).argmax())
    track = int(np.bincount(part.track).argmax()) if len(part) else (*part.tracks, 0)[0]
    return part.key_map.note_of(surface), track


def _cut_durations(columns: dict[str, IntArray], moved: Bools) -> IntArray:
    """Lengths that end at the next onset of their note, where one of the two strokes is new there."""
    order = np.lexsort((columns["tick"], columns["note"]))
    tick, note, lasts = columns["tick"][order], columns["note"][order], columns["duration"][order].copy()
    if len(order) > 1:
        touched = moved[order]
        gap = np.diff(tick)
        cut = (np.diff(note) == 0) & (lasts[:-1] > gap) & (touched[:-1] | touched[1:])
        lasts[:-1][cut] = gap[cut]
    result = np.empty_like(lasts)
    result[order] = lasts
    return result


def write_back(file: SmfFile, part: DrumPart) -> bytes:
    """The file with the drums of `part` in the place of its own.

    Every other event stays in its place and bytes, and so does a track whose drums are as they were. Doubles
    (equal notes on one tick) stay with the stroke that they double.
    """
    before = gather_drums(file, part.channel, part.tracks, part.key_map)
    plans = []
    for number, track in enumerate(file.tracks):
        old, new = (_of_track(one, number) for one in (before, part))
        if number not in part.tracks or np.array_equal(old, new):
            plans.append(RawTrackOut())
            continue
        columns = np.concatenate((new[:4], _doubles(file, number, before, part)), axis=1)
        # Readers end the first of equal notes first: the shorter one of a double goes first.
        tick, note, velocity, duration = columns[:, np.lexsort((columns[3], columns[1], columns[0]))]
        notes = NotesOut(tick, note, velocity, duration, part.channel - 1)
        plans.append(RawTrackOut(track.rows_but_notes(part.channel - 1), notes))
    return write_raw(file, plans)


def _of_track(part: DrumPart, number: int) -> IntArray:
    """(5, n) tick, note, velocity, duration, origin of the strokes in one track."""
    chosen = part.track == number
    return np.stack([column[chosen] for column in (part.tick, part.note, part.velocity, part.duration, part.origin)])


def _doubles(file: SmfFile, number: int, before: DrumPart, after: DrumPart) -> IntArray:
    """(4, n) the doubles of a track whose stroke stands as it stood."""
    notes = file.tracks[number].notes
    strokes = before.origin[before.track == number]
    left = np.setdiff1d(np.flatnonzero(notes.channel == before.channel - 1), strokes)
    kept = after.origin >= 0
    stands = np.intersect1d(before.tick * 128 + before.note, (after.tick * 128 + after.note)[kept])
    left = left[np.isin(notes.tick[left] * 128 + notes.note[left], stands)]
    return np.stack([column[left] for column in (notes.tick, notes.note, notes.velocity, notes.duration)])
