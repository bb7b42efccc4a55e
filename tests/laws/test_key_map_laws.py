"""Laws of key maps: whatever a kit lacks or shares, every stroke is written or told as left out (house rule)."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.core.kit import SURFACE_CODES, SURFACES
from grooveforge.core.meter import Meter
from grooveforge.core.perform import Performance
from grooveforge.core.strokes import Events
from grooveforge.formats.keymap import NOTES, KeyMap
from grooveforge.formats.midi import MidiOptions, song_midi
from tests import read_back

NAMES = [row.name for row in SURFACES]
SIXTEENTH = 120

Stroke = tuple[int, str, int]
"""tick, surface, velocity"""

STROKES = st.lists(
    st.tuples(st.integers(0, 15).map(lambda step: step * SIXTEENTH), st.sampled_from(NAMES), st.integers(1, 127)),
    max_size=40,
    unique_by=lambda stroke: stroke[:2],
)


@st.composite
def whole_maps(draw: st.DrawFn) -> KeyMap:
    """A map that has a note or a stand-in for every surface; few notes, so that many are shared."""
    note = st.integers(40, 46) | st.integers(0, NOTES - 1)
    notes = draw(st.dictionaries(st.sampled_from(NAMES), note.map(lambda one: (one,)), min_size=1))
    instead = {name: draw(st.sampled_from(sorted(notes))) for name in NAMES if name not in notes}
    return KeyMap("kit", notes, instead)


def played(strokes: list[Stroke]) -> Performance:
    """A bar of strokes, no surface twice on one tick."""
    rows = sorted((tick, SURFACE_CODES[name], velocity) for tick, name, velocity in strokes)
    tick, surface, velocity = np.array(rows, np.int64).reshape(-1, 3).T
    none = np.zeros(len(rows), np.uint8)
    events = Events(tick, surface, velocity.astype(np.uint8), none, np.zeros(len(rows), np.int64))
    return Performance(480, events, ((0, Fraction(120)),), ((0, Meter(4, 4)),), (), 16 * SIXTEENTH)


@given(STROKES, whole_maps(), st.booleans())
def test_every_stroke_is_written_or_told(strokes: list[Stroke], kit: KeyMap, split: bool) -> None:
    """The notes and the strokes that met others are all strokes; what is replaced is counted once each."""
    made = song_midi(played(strokes), "Any", MidiOptions(key_map=kit, split_surfaces=split))
    found = read_back.strokes(made.data)
    assert len(found) + sum(row.count for row in made.meetings) == len(strokes)
    wanted = Counter((tick, kit.note_of(name)) for tick, name, _ in strokes)
    assert {(tick, note) for tick, note, _ in found} == set(wanted)
    lost: Counter[int] = Counter()
    for (_, note), count in wanted.items():
        lost[note] += count - 1
    told: Counter[int] = Counter()
    for row in made.meetings:
        told[row.note] += row.count
        assert row.of_the_map
    assert told == +lost
    gone = Counter(name for _, name, _ in strokes if name not in kit.notes)
    assert {row.surface: row.count for row in made.replacements} == gone


@given(STROKES, whole_maps())
def test_of_strokes_that_meet_the_loudest_stays(strokes: list[Stroke], kit: KeyMap) -> None:
    """The velocity of each note is the greatest of its strokes (softer ones as they are struck)."""
    loudest: dict[tuple[int, int], int] = {}
    for tick, name, velocity in strokes:
        notes, levels, _ = kit.apply([SURFACE_CODES[name]], [velocity])
        place = tick, int(notes[0])
        loudest[place] = max(loudest.get(place, 0), int(levels[0]))
    found = read_back.strokes(song_midi(played(strokes), "Any", MidiOptions(key_map=kit)).data)
    assert {(tick, note): velocity for tick, note, velocity in found} == loudest
