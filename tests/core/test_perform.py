"""From an arrangement to events: ticks, levels, grace strokes, tempo and metre maps, cuts.

Bytes of a file's division: Standard MIDI File 1.0 (MMA RP-001). Other numbers are house rules.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.core.arrange import Arrangement, arrange
from grooveforge.core.groove import Groove, Lane
from grooveforge.core.kit import ACCENT, GHOST, NORMAL, SURFACE_CODES, SURFACE_NAMES, TAP, Kind
from grooveforge.core.meter import Meter
from grooveforge.core.perform import Performance, division_for, perform, seconds_at, section_ticks
from grooveforge.core.song import Entry, Settings, Song, TempoRamp
from grooveforge.core.strokes import Events
from grooveforge.errors import MusicError
from tests.bars import FOUR_FOUR, groove
from tests.laws.strategies import grooves

HATS = "x-x-x-x-x-x-x-x-"
PLAIN = groove("x-------x-------", "----X-------X---", HATS)
SNARE, KICK = SURFACE_CODES["snare"], SURFACE_CODES["kick"]
AT_125 = Fraction(125)
"""A quarter of 0.48 s: at 480 ticks to a quarter a tick is a millisecond."""


def _arranged(*sections: tuple[Groove, dict[str, Any]], tempo: Fraction = AT_125) -> Arrangement:
    """A song of the grooves in order, at flat levels, without arrivals, each part named by its number."""
    parts, named = {}, {}
    for number, (of, settings) in enumerate(sections):
        said = {"arrival": False, "levels": "flat", "meter": of.meter, "grouping": of.meter.grouping, **settings}
        parts[f"part {number}"] = Settings(groove=f"groove {number}", **said)
        named[f"groove {number}"] = of
    form = tuple(Entry(part) for part in parts)
    return arrange(Song("Salt Road", form, parts, named, tempo=tempo))


def _played(*of: Groove, tempo: Fraction = AT_125, **settings: Any) -> Performance:
    return perform(_arranged(*((each, settings) for each in of), tempo=tempo))


def _rows(performance: Performance, surface: str) -> list[tuple[int, int]]:
    """(tick, velocity) of one surface's events."""
    events = performance.events
    chosen = events.surface == SURFACE_CODES[surface]
    return list(zip(events.tick[chosen].tolist(), events.velocity[chosen].tolist()))


def _ticks(performance: Performance, surface: str) -> list[int]:
    return [tick for tick, _ in _rows(performance, surface)]


def _tempos(performance: Performance) -> list[tuple[int, Fraction | int]]:
    """Tempo events as (tick, quarter notes a minute)."""
    return list(performance.tempos)


def _equal(first: Events, second: Events) -> bool:
    """Whether all columns of two tables are equal."""
    pairs = (
        (first.tick, second.tick),
        (first.surface, second.surface),
        (first.velocity, second.velocity),
        (first.kind, second.kind),
        (first.offset, second.offset),
    )
    return all(np.array_equal(one, two) for one, two in pairs)


def _on(steps: list[int], length: int, grid: int, meter: Meter = FOUR_FOUR, bars: int = 1) -> Groove:
    return Groove(meter, grid, bars, snare=Lane.of(length, steps, ACCENT, Kind.ACCENT))


# -- ticks -------------------------------------------------------------------------------------------------


def test_a_quarter_is_480_ticks() -> None:
    """Where the music needs no more."""
    found = _played(PLAIN)
    assert found.division == 480
    assert _ticks(found, "kick") == [0, 960]
    assert _ticks(found, "snare") == [480, 1440]
    assert _ticks(found, "closed hi-hat") == list(range(0, 1920, 240))
    assert found.end == 1920


@pytest.mark.parametrize("grid", [4, 6, 8, 12, 16, 24, 32, 48, 64, 96])
def test_grids_of_twos_and_threes_need_no_more(grid: int) -> None:
    """480 holds every step of them."""
    source = _on(list(range(grid)), grid, grid)
    assert _played(source).division == 480


@pytest.mark.parametrize(("grid", "division"), [(28, 3360), (56, 3360), (20, 480), (36, 1440), (44, 5280), (84, 3360)])
def test_other_grids_have_the_least_multiple_of_480(grid: int, division: int) -> None:
    """Sevens 3360: the least that puts every stroke on a whole tick."""
    source = _on(list(range(grid)), grid, grid)
    found = _played(source)
    assert found.division == division
    assert _ticks(found, "snare") == [step * 4 * division // grid for step in range(grid)]


def test_strokes_on_a_coarser_grid_ask_for_no_more() -> None:
    """A grid of 28 whose strokes all stand on quarters is held by 480."""
    assert _played(_on([0, 7, 14, 21], 28, 28)).division == 480


def test_the_division_is_the_same_for_the_whole_song() -> None:
    """Sevens in one section, nines in another: 480 * 7 * 3."""
    sevens, nines = _on(list(range(28)), 28, 28), _on(list(range(36)), 36, 36)
    assert division_for(_arranged((sevens, {}), (PLAIN, {}), (nines, {})).sections) == 480 * 7 * 3


def test_a_division_that_no_file_holds_is_an_error_naming_the_section() -> None:
    """15 bits: at most 32767 (Standard MIDI File 1.0, header chunk)."""
    sevens, elevens = _on(list(range(28)), 28, 28), _on(list(range(44)), 44, 44)
    with pytest.raises(MusicError, match=r"'part 2' \(bar 3\).*36960") as caught:
        _played(sevens, PLAIN, elevens)
    assert "32767" in caught.value.faults[0].allowed


@given(grooves(most_bars=2))
def test_every_stroke_has_its_exact_place(source: Groove) -> None:
    """Tick less offset is the step, on every grid and in every metre."""
    found = _played(source)
    whole = 4 * found.division
    places = {Fraction(step * whole, source.grid) for _, lane in source.voices for step in lane.struck.tolist()}
    assert set((found.events.tick - found.events.offset).tolist()) == places


@given(grooves(most_bars=2), st.integers(1, 3))
def test_events_are_sorted_and_read_only(source: Groove, times: int) -> None:
    """By tick, then surface; no surface twice on one tick; the columns cannot be changed."""
    events = _played(*[source] * times).events
    keys = list(zip(events.tick.tolist(), events.surface.tolist()))
    assert keys == sorted(set(keys))
    assert min((tick for tick, _ in keys), default=0) >= 0
    assert not any(column.flags.writeable for column in events)


def test_a_stroke_off_its_step_stands_off_it() -> None:
    """Offsets are quarters: a sixteenth of a quarter early or late are 30 ticks."""
    late = groove("x-------x-------")
    kick = late.lane_on("kick")
    offset = np.where(np.arange(16) == 8, -1 / 16, 1 / 16)
    found = _played(late.with_lane("kick", Lane(kick.velocity, kick.kind, offset)))
    assert _ticks(found, "kick") == [30, 930]
    assert found.events.offset.tolist() == [30, -30]


def test_nothing_stands_before_the_song() -> None:
    """A first stroke pulled early stands at tick 0, and its offset says so: its place is the bar line."""
    early = groove("x-------x-------")
    kick = early.lane_on("kick")
    found = _played(early.with_lane("kick", Lane(kick.velocity, kick.kind, np.full(16, -1 / 16))))
    assert _ticks(found, "kick") == [0, 930]
    assert (found.events.tick - found.events.offset).tolist() == [0, 960]


# -- levels and surfaces -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("velocity", "level"),
    [(1, GHOST), (45, GHOST), (46, TAP), (84, TAP), (85, NORMAL), (104, NORMAL), (105, ACCENT), (127, ACCENT)],
)
def test_levels_are_flat(velocity: int, level: int) -> None:
    """Each band has one velocity: ghost, tap, normal, accent (bands: common practice)."""
    source = groove("x" + 15 * "-")
    found = _played(source.with_lane("kick", Lane.of(16, [0], velocity)))
    assert _rows(found, "kick") == [(0, level)]


@pytest.mark.parametrize(
    ("surface", "kind", "struck", "level"),
    [
        ("closed hi-hat", Kind.OPEN, "open hi-hat", NORMAL),
        ("ride", Kind.OPEN, "ride bell", NORMAL),
        ("ride", Kind.BELL, "ride bell", NORMAL),
        ("crash", Kind.OPEN, "crash", ACCENT),
        ("floor tom", Kind.BELL, "floor tom", ACCENT),
    ],
)
def test_colours_of_the_hand_are_resolved_on_the_way_out(surface: str, kind: Kind, struck: str, level: int) -> None:
    """Open on a hi-hat is the bell of a ride, and an accent where there is neither."""
    source = Groove(FOUR_FOUR, 4, 1, hand=Lane.of(4, [1], NORMAL, kind), surface=surface)
    found = _played(source)
    assert [SURFACE_NAMES[code] for code in found.events.surface.tolist()] == [struck]
    assert _rows(found, struck) == [(480, level)]


def test_of_two_strokes_on_one_surface_the_louder_stays() -> None:
    """A crash of the hand under a louder crash of its own lane, either way round."""
    for hand, lane in ((NORMAL, ACCENT), (ACCENT, NORMAL)):
        source = Groove(FOUR_FOUR, 4, 1, hand=Lane.of(4, [0, 1], hand), surface="crash")
        found = _played(source.with_lane("crash", Lane.of(4, [0], lane)))
        assert _rows(found, "crash") == [(0, ACCENT), (480, hand)]


def test_strokes_of_two_surfaces_on_one_tick_both_sound() -> None:
    """Kick and hat on 1."""
    found = _played(PLAIN)
    assert np.count_nonzero(found.events.tick == 0) == 2


# -- grace strokes -----------------------------------------------------------------------------------------


def test_a_flam_has_one_grace_stroke_30_ms_before() -> None:
    """At ghost level on the same drum; the stroke itself stays on its step."""
    found = _played(groove(snare="----f-----------"))
    assert _rows(found, "snare") == [(450, GHOST), (480, NORMAL)]


def test_a_drag_has_two_30_ms_apart() -> None:
    """A drag is three notes (common practice)."""
    found = _played(groove(snare="----d-----------"))
    assert _rows(found, "snare") == [(420, GHOST), (450, GHOST), (480, NORMAL)]


@pytest.mark.parametrize(("bpm", "ticks"), [(60, 14), (90, 22), (125, 30), (200, 48), (250, 60)])
def test_grace_strokes_are_as_far_in_time_at_any_tempo(bpm: int, ticks: int) -> None:
    """30 ms in ticks, rounded: 0.03 * bpm / 60 * 480."""
    found = _played(groove(snare="----f-----------"), tempo=Fraction(bpm))
    assert _ticks(found, "snare") == [480 - ticks, 480]


def test_grace_strokes_go_by_the_tempo_at_their_stroke() -> None:
    """A second section twice as fast."""
    flam = groove(snare="----f-----------")
    found = perform(_arranged((flam, {}), (flam, {"tempo": Fraction(250)})))
    assert _ticks(found, "snare") == [450, 480, 1920 + 420, 1920 + 480]


def test_grace_strokes_before_the_song_are_left_out() -> None:
    """A drag on the song's first stroke has none, one on the next bar's 1 has both in the bar before."""
    found = _played(groove(snare="d---------------"), bars=2)
    assert _ticks(found, "snare") == [0, 1860, 1890, 1920]


def test_a_grace_stroke_that_fits_is_kept() -> None:
    """A drag half a step into the song has room for its nearer grace stroke alone."""
    source = Groove(FOUR_FOUR, 48, 1, snare=Lane.of(48, [1], NORMAL, Kind.DRAG))  # 40 ticks from the start
    assert _ticks(_played(source), "snare") == [10, 40]


def test_grace_strokes_know_their_place() -> None:
    """Tick less offset is the step of the stroke they belong to; they are ghosts."""
    events = _played(groove(snare="----d-----------")).events
    assert (events.tick - events.offset).tolist() == [480, 480, 480]
    assert [Kind(kind) for kind in events.kind.tolist()] == [Kind.GHOST, Kind.GHOST, Kind.DRAG]


# -- maps --------------------------------------------------------------------------------------------------


def test_sections_stand_one_after_the_other() -> None:
    """A bar of 4/4 and one of 7/8: markers, metres, ends."""
    seven = groove("x-------------", meter=Meter(7, 8))
    arrangement = _arranged((PLAIN, {}), (seven, {}), (PLAIN, {}))
    found = perform(arrangement)
    assert found.markers == ((0, "part 0"), (1920, "part 1"), (3600, "part 2"))
    assert found.meters == ((0, Meter(4, 4)), (1920, Meter(7, 8)), (3600, Meter(4, 4)))
    assert _ticks(found, "kick") == [0, 960, 1920, 3600, 4560]
    assert found.end == 5520
    assert section_ticks(arrangement, 480) == [(0, 1920), (1920, 3600), (3600, 5520)]


def test_a_metre_that_stays_is_told_once() -> None:
    """Events stand only where the metre changes."""
    assert _played(PLAIN, PLAIN, PLAIN).meters == ((0, Meter(4, 4)),)


def test_tempo_events_stand_only_where_the_tempo_changes() -> None:
    """A ramp's goal is told once, the next section's own tempo where it differs."""
    ramp = {"bars": 2, "tempo": TempoRamp(Fraction(145), 2)}
    found = perform(_arranged((PLAIN, {}), (PLAIN, ramp), (PLAIN, {"tempo": Fraction(145)}), (PLAIN, {})))
    assert _tempos(found) == [(0, 125), (2400, 135), (2880, 145), (7680, 125)]


def test_a_ramp_to_the_same_tempo_is_none() -> None:
    """Nothing changes."""
    assert _tempos(perform(_arranged((PLAIN, {"tempo": TempoRamp(AT_125, 4)})))) == [(0, 125)]


def test_surfaces_that_share_a_section_play_on_in_time() -> None:
    """The second surface begins at its bar."""
    found = _played(PLAIN, bars=2, timekeeper=("closed hi-hat", "ride"))
    assert _ticks(found, "closed hi-hat") == list(range(0, 1920, 240))
    assert _ticks(found, "ride") == list(range(1920, 3840, 240))


def test_a_song_performs_alike_twice() -> None:
    """Every column is equal."""
    arrangement = _arranged((PLAIN, {"bars": 3}), (PLAIN, {"feel": "half"}))
    first, second = perform(arrangement), perform(arrangement)
    assert _equal(first.events, second.events)
    assert (first.tempos, first.meters, first.markers) == (second.tempos, second.meters, second.markers)


# -- cutting -----------------------------------------------------------------------------------------------


def test_between_is_the_section_from_tick_0() -> None:
    """A cut section sounds as the section alone does."""
    half = {"feel": "half", "tempo": Fraction(90)}
    found = perform(_arranged((PLAIN, {}), (PLAIN, half), (PLAIN, {})))
    alone = perform(_arranged((PLAIN, half)))
    cut = found.between(1920, 3840)
    assert _equal(cut.events, alone.events)
    assert (cut.tempos, cut.meters, cut.end) == (alone.tempos, alone.meters, alone.end)
    assert cut.markers == ((0, "part 1"),)


def test_between_holds_tempo_and_metre_that_hold_at_its_start() -> None:
    """Inside a ramp and a metre told earlier; later changes follow, one at the end does not."""
    found = perform(_arranged((PLAIN, {"bars": 2, "tempo": TempoRamp(Fraction(145), 2)}), (PLAIN, {})))
    cut = found.between(720, 3840)
    assert _tempos(cut) == [(0, 135), (240, 145)]
    assert cut.meters == ((0, Meter(4, 4)),)
    assert cut.markers == ()
    assert cut.end == 3120


def test_between_takes_strokes_by_their_place() -> None:
    """One pulled before the cut belongs to it and stands at tick 0; one at the end belongs to what follows."""
    early = groove("x-------x-------")
    kick = early.lane_on("kick")
    early = early.with_lane("kick", Lane(kick.velocity, kick.kind, np.full(16, -1 / 16)))
    found = _played(early, bars=3)
    assert _ticks(found.between(1920, 3840), "kick") == [0, 930]
    assert _ticks(found.between(0, 1920), "kick") == [0, 930]


def test_between_leaves_out_grace_strokes_before_its_start() -> None:
    """A flam or drag on the cut's first stroke has none, as on a song's first."""
    for mark in "fd":
        found = _played(groove(snare=mark + 15 * "-"), bars=2)
        cut = found.between(1920, 3840)
        assert _rows(cut, "snare") == [(0, NORMAL)]
        assert cut.events.offset.tolist() == [0]
        assert Kind(int(cut.events.kind[0])) in (Kind.FLAM, Kind.DRAG)


def test_between_keeps_the_grace_strokes_of_its_own_strokes() -> None:
    """And those of the next bar's 1 belong to the next bar."""
    found = _played(groove(snare="d-------f-------"), bars=2)
    assert _ticks(found.between(0, 1920), "snare") == [0, 930, 960]


@given(grooves(most_bars=2), st.integers(1, 3))
def test_cuts_share_out_every_stroke(source: Groove, at: int) -> None:
    """Cut at a bar line, each stroke that is no grace stroke stands in one of the two pieces."""
    source = source.repeat(2)
    found = _played(source)
    line = min(at, source.bars - 1) * int(source.meter.quarters * found.division)
    pieces = found.between(0, line), found.between(line, found.end)

    def strokes(of: Performance, start: int) -> list[tuple[int, int]]:
        places = of.events.tick - of.events.offset + start
        return sorted(set(zip(places.tolist(), of.events.surface.tolist())))

    assert strokes(pieces[0], 0) + strokes(pieces[1], line) == strokes(found, 0)
    for piece in pieces:
        keys = list(zip(piece.events.tick.tolist(), piece.events.surface.tolist()))
        assert keys == sorted(set(keys))


# -- in seconds --------------------------------------------------------------------------------------------


def test_ticks_in_seconds() -> None:
    """At 125 a tick is a millisecond."""
    assert seconds_at(_played(PLAIN), np.array([0, 1, 480, 1920])).tolist() == pytest.approx([0, 0.001, 0.48, 1.92])


def test_seconds_run_on_over_tempo_changes() -> None:
    """A bar at 120 is 2 s, one at 60 4 s; after the last change the tempo holds."""
    slow = {"tempo": Fraction(60)}
    found = perform(_arranged((PLAIN, {}), (PLAIN, slow), (PLAIN, {}), tempo=Fraction(120)))
    ticks = np.array([0, 960, 1920, 2400, 3840, 5760])
    assert seconds_at(found, ticks).tolist() == pytest.approx([0, 1, 2, 3, 6, 8])


@given(st.integers(40, 200), st.integers(40, 200), st.integers(1, 12), st.integers(1, 4))
def test_the_end_in_seconds_is_the_song_s_length(first: int, last: int, over: int, bars: int) -> None:
    """Arrangement and performance agree on how long a song lasts, over any ramp."""
    ramp = {"bars": bars, "tempo": TempoRamp(Fraction(last), over)}
    arrangement = _arranged((PLAIN, ramp), (PLAIN, {}), tempo=Fraction(first))
    found = perform(arrangement)
    assert float(seconds_at(found, np.array([found.end]))[0]) == pytest.approx(arrangement.seconds, abs=1e-6)


def test_a_silent_song_has_no_events() -> None:
    """Only its maps and its end."""
    found = _played(PLAIN, bars=4, tacet=True)
    assert len(found) == 0
    assert found.end == 4 * 1920
    assert found.markers == ((0, "part 0"),)


def test_the_hand_s_place_changes_only_the_hand_s_events() -> None:
    """Kick and snare are equal, tick for tick and level for level (common practice; used as an exact check)."""
    plain, moved = _played(PLAIN), _played(replace(PLAIN, surface="china"))
    for code in (KICK, SNARE):
        rows = [np.flatnonzero(each.events.surface == code) for each in (plain, moved)]
        before, after = (each.events.rows(index) for each, index in zip((plain, moved), rows))
        assert _equal(before, after)
