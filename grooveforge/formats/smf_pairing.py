"""Which note-off ends which note: arrays of events in, notes with their lengths out."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import numpy.typing as npt

from grooveforge.formats.smf import EventTable, IntArray, NoteTable

BoolArray = npt.NDArray[np.bool_]


NO_NOTES = NoteTable(*[np.empty(0, np.int64) for _ in fields(NoteTable)])
"""The notes of a track that has none."""


def pair_notes(events: EventTable, division: int) -> NoteTable:
    """The notes of a track.

    Per channel and note, the first note-on goes with the first note-off (first in, first out). A note-on of
    velocity 0 is a note-off. A note-off on the tick where the same note begins again ends the earlier one,
    whichever of the two stands first. A note-off that ends nothing is passed over. A note without note-off
    ends at the next onset of its note or after a sixteenth (`division` // 4 ticks, at least 1), whichever
    comes first; which of several notes it is that lacks one is found as brackets are matched, so that one
    lost note-off does not shift all later ones.
    """
    kind = events.status >> 4
    on = (kind == 9) & (events.data2 > 0)
    rows = np.flatnonzero(on | (kind == 8) | (kind == 9))
    if not len(rows):
        return NO_NOTES
    key = (events.status[rows] & 15).astype(np.int16) * 128 + events.data1[rows]
    rows = rows[np.argsort(key, kind="stable")]
    key = np.sort(key)
    partner = np.full(len(events), -1, np.int64)
    closing = events.tick + max(1, division // 4)
    _pair(rows, _bounds(key), on[rows], events.tick, (partner, closing))
    at = np.flatnonzero(on)
    ends = np.where(partner[at] >= 0, events.tick[partner[at]], closing[at]) if len(at) else at
    return NoteTable(
        tick=events.tick[at],
        note=events.data1[at].astype(np.int64),
        velocity=events.data2[at].astype(np.int64),
        channel=(events.status[at] & 15).astype(np.int64),
        duration=ends - events.tick[at],
        on_event=at,
        off_event=partner[at],
    )


def _bounds(key: npt.NDArray[np.int16]) -> IntArray:
    """Where each run of equal keys begins, and the end of the last."""
    if not len(key):
        return np.zeros(1, np.int64)
    return np.concatenate(([0], np.flatnonzero(np.diff(key)) + 1, [len(key)])).astype(np.int64)


def _pair(
    rows: IntArray, bounds: IntArray, on: BoolArray, tick: IntArray, out: tuple[IntArray, IntArray]
) -> None:
    """Fill in `out`: per event its note-off, and the tick where a note ends that has none.

    Nearly every note of nearly every file goes on, off, on, off: that is one step over the array. Only the
    notes that do not are walked one event at a time.
    """
    partner, closing = out
    place = np.arange(len(rows)) - np.repeat(bounds[:-1], np.diff(bounds))
    tidy = on == (place % 2 == 0)
    mates = np.flatnonzero(on[:-1] & (place[1:] > 0))
    partner[rows[mates]] = rows[mates + 1]
    for run in np.unique(np.searchsorted(bounds, np.flatnonzero(~tidy), side="right") - 1).tolist():
        inside = rows[bounds[run] : bounds[run + 1]]
        sounding = on[bounds[run] : bounds[run + 1]].tolist()
        ticks = tick[inside].tolist()
        found = _pair_untidy(ticks, sounding)
        partner[inside] = np.where(found >= 0, inside[found], -1)
        closing[inside] = np.minimum(closing[inside], _next_onsets(ticks, sounding, closing[inside].tolist()))


def _pair_untidy(ticks: list[int], sounding: list[bool]) -> IntArray:
    """For the events of one note: the place of each note-on's note-off, -1 where there is none."""
    found = np.full(len(ticks), -1, np.int64)
    open_notes: list[int] = []
    closed: list[int] = []
    closers: list[int] = []
    at, count = 0, len(ticks)
    while at < count:
        rest, now = [], ticks[at]
        while at < count and ticks[at] == now:
            if open_notes and not sounding[at]:
                closed.append(open_notes.pop())
                closers.append(at)
            else:
                rest.append(at)
            at += 1
        for place in rest:
            if sounding[place]:
                open_notes.append(place)
            elif open_notes:  # all notes of earlier ticks are closed by now: a note of length 0
                closed.append(open_notes.pop())
                closers.append(place)
    found[sorted(closed)] = closers
    return found


def _next_onsets(ticks: list[int], sounding: list[bool], default: list[int]) -> list[int]:
    """For each event the tick of the next later onset of the note, else the value in `default`."""
    out = list(default)
    onset: int | None = None
    later: int | None = None
    for place in range(len(ticks) - 1, -1, -1):
        if sounding[place]:
            if onset != ticks[place]:
                later, onset = onset, ticks[place]
            if later is not None:
                out[place] = later
    return out
