"""One change to a drum MIDI file: what must change does, and nothing else. Read back by mido."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.core.kit import ACCENT, NORMAL
from grooveforge.errors import GrooveForgeError, MusicError, UsageError
from grooveforge.formats.smf_read import read_smf
from grooveforge.formats.smf_write import write_raw
from grooveforge.formats.vary_midi import Variation, vary_part, write_back
from tests.drumfiles import (
    BELL,
    CHINA,
    CLOSED,
    CRASH,
    DIVISION,
    KICK,
    OPEN,
    PEDAL,
    RIDE,
    SNARE,
    Note,
    all_but_drums,
    bars_file,
    heard,
    meter,
    midi,
    notes_of,
    part_of,
    places,
    rows,
    tempo,
    track,
)

BAR = 4 * DIVISION
FULL = {CLOSED: "x-x-x-x-x-x-x-x-", SNARE: "----X-------X---", KICK: "X-------X-------"}


def varied(data: bytes, channel: int | None = None, **change: Any) -> bytes:
    """The bytes of a file with one change."""
    file = read_smf(data)
    return write_back(file, vary_part(part_of(data, channel), Variation(**change)))


def warnings(data: bytes, **change: Any) -> tuple[str, ...]:
    return vary_part(part_of(data), Variation(**change)).warnings


def repeated(lines: dict[int, str], times: int) -> dict[int, str]:
    return {note: line * times for note, line in lines.items()}


# -- nothing asked ---------------------------------------------------------------------------------------

MANY = st.lists(
    st.tuples(st.integers(0, 4 * BAR), st.integers(30, 62), st.integers(1, 127), st.integers(0, 300)), max_size=50
)


@given(MANY)
def test_no_change_is_the_identity(notes: list[Note]) -> None:
    """Onsets, notes, velocities, doubles: every event as it was."""
    data = midi(track(notes, extra=[(0, meter(4, 4)), (BAR + 7, meter(3, 4))]), track(notes[:5], 3))
    assert heard(varied(data)) == heard(data)
    assert all_but_drums(varied(data)) == all_but_drums(data)
    assert varied(data) == write_raw(read_smf(data))


def rich_file() -> bytes:
    """Drums among other things: controllers, a program, a bass on the same track and on another, markers."""
    extra = [
        (0, meter(4, 4)),
        (0, tempo(140)),
        (0, mido.Message("program_change", channel=9, program=3)),
        (0, mido.MetaMessage("marker", text="verse")),
        (0, mido.Message("control_change", channel=9, control=4, value=90)),
        (700, mido.Message("control_change", channel=9, control=4, value=10)),
        (1000, mido.Message("sysex", data=[1, 2, 3])),
        (BAR, tempo(150.5)),
        (1234, mido.Message("note_on", channel=1, note=40, velocity=80)),
        (1300, mido.Message("note_off", channel=1, note=40, velocity=3)),
        (1301, mido.Message("aftertouch", channel=9, value=3)),
    ]
    drums = [*notes_of(repeated({**FULL, KICK: "X--x----X-x-----"}, 2)), (60, 61, 50, 500), (100, CRASH, 127, 1000)]
    return midi(track(drums, 10, "Drums", 2 * BAR + 17, extra), track([(0, 40, 90, 100)], 2, "bass"))


@pytest.mark.parametrize(
    "change",
    [{"timekeeper": "china"}, {"feel": "half"}, {"feel": "blast"}, {"subdivision": "x2"}, {"kick": "figure"}],
    ids=str,
)
def test_all_else_in_the_file_stays(change: dict[str, Any]) -> None:
    """Other channels in the same track, other tracks, controllers, tempi, markers, the end of each track."""
    data = rich_file()
    assert heard(varied(data, **change)) != heard(data)
    assert all_but_drums(varied(data, **change)) == all_but_drums(data)
    assert heard(varied(data, **change), 2) == heard(data, 2)


def test_tracks_without_a_change_keep_their_bytes() -> None:
    """Moving the hand touches the track that holds it; kick and snare on tracks of their own stay to the byte."""
    split = [track(notes_of({note: line})) for note, line in FULL.items()]
    data = midi(*split)
    before, after = mido_bytes(data), mido_bytes(varied(data, timekeeper="ride"))
    assert after[1:] == before[1:]
    assert after[0] != before[0]


def mido_bytes(data: bytes) -> list[bytes]:
    return data.split(b"MTrk")[1:]


# -- the hand's surface ----------------------------------------------------------------------------------


def test_moving_the_hand_changes_its_notes_alone() -> None:
    """42 becomes 51; ticks, velocities and lengths stay, kick and snare are as they were (common practice)."""
    data = bars_file(repeated(FULL, 4))
    before, after = rows(part_of(data)), rows(part_of(varied(data, timekeeper="ride")))
    moved = [(tick, RIDE if note == CLOSED else note, vel, dur) for tick, note, vel, dur in before]
    assert sorted(after) == sorted(moved)


COLOURED = {CLOSED: "x-x-x-x-x-x-----", OPEN: "------------x-x-", SNARE: "----X-------X---", PEDAL: "----x-------x---"}


def test_open_strokes_become_the_bell_of_a_ride() -> None:
    """The colours of the hand: open on a hi-hat is the bell on a ride; the foot stays on its pedal."""
    data = bars_file(COLOURED)
    after = varied(data, timekeeper="ride")
    assert places(after, RIDE) == [0, 2, 4, 6, 8, 10]
    assert places(after, BELL) == [12, 14]
    assert places(after, PEDAL) == [4, 12]


def test_open_strokes_become_accents_where_there_is_no_colour() -> None:
    """On a china: at least an accent; a louder stroke keeps its level."""
    data = bars_file(COLOURED | {OPEN: "------------x-x-"})
    moved = varied(data, timekeeper="china")
    after = [(tick // 120, velocity) for tick, note, velocity in heard(moved) if note == CHINA]
    assert after == [(0, 90), (2, 90), (4, 90), (6, 90), (8, 90), (10, 90), (12, ACCENT), (14, ACCENT)]


@given(st.lists(st.sampled_from("x-XnO"), min_size=16, max_size=16), st.sampled_from(["ride"]))
def test_there_and_back_is_the_identity_for_surfaces_that_know_the_same_colours(marks: list[str], over: str) -> None:
    """Closed and open strokes to ride and bell and back: every onset, note and velocity."""
    closed = "".join(mark if mark in "xXn" else "-" for mark in marks)
    opened = "".join("x" if mark == "O" else "-" for mark in marks)
    data = bars_file({CLOSED: "x---x---x---x---" + closed, OPEN: "-" * 16 + opened, KICK: "x" + "-" * 31})
    there = varied(data, timekeeper=over)
    back = varied(there, timekeeper="closed hi-hat")
    if opened.count("x") <= sum(mark != "-" for mark in closed):  # else the hand is named by its open strokes
        assert heard(back) == heard(data)
    assert heard(back)[:4] == heard(data)[:4]


def test_moving_the_hand_to_where_it_is_changes_nothing() -> None:
    """Also where the hand mixes surfaces: a bell among ride strokes stays."""
    data = bars_file({RIDE: "----x-------x---", BELL: "x-x---x-x-x---x-"})
    assert varied(data, timekeeper="ride bell") == write_raw(read_smf(data))


def test_bars_without_a_hand_stay() -> None:
    """A fill over toms between two bars of groove."""
    lines = {note: line + "-" * 16 + line for note, line in FULL.items()} | {47: "-" * 16 + "x" * 16}
    data = bars_file(lines | {CLOSED: FULL[CLOSED] + "x---------------" + FULL[CLOSED]})
    after = varied(data, timekeeper="china")
    assert places(after, CLOSED) == [16]
    assert len(places(after, CHINA)) == 16
    assert warnings(bars_file({KICK: "x-x-"}), timekeeper="china") == (
        "no hand keeps time in these bars: they are left as they are",
    )


def test_the_crash_that_the_hand_meets() -> None:
    """Hand and arrival on one note and tick are one stroke: the louder stays, a warning says so."""
    data = bars_file(FULL | {CRASH: "X---------------"})
    assert [v for tick, note, v in heard(varied(data, timekeeper="crash")) if (tick, note) == (0, CRASH)] == [114]
    assert warnings(data, timekeeper="crash") == (
        "1 stroke met another of the same note on the same tick: the louder stays",
    )


def test_half_open_in_general_midi_is_open_and_says_so() -> None:
    """GM has one note for both."""
    data = bars_file(FULL)
    assert places(varied(data, timekeeper="half-open hi-hat"), OPEN) == [0, 2, 4, 6, 8, 10, 12, 14]
    assert warnings(data, timekeeper="half-open hi-hat") == (
        "the kit has no half-open hi-hat: open hi-hat instead (8 times)",
    )


def test_moved_notes_never_overlap() -> None:
    """A ride note that rings on into the moved hand ends where the next begins."""
    data = midi(track([*notes_of(FULL), (130, RIDE, 80, 1000)], end=BAR))
    lasting = [(tick, dur) for tick, note, _, dur in rows(part_of(varied(data, timekeeper="ride"))) if note == RIDE]
    assert all(tick + length <= after for (tick, length), (after, _) in pairwise(lasting))
    assert (130, 110) in lasting


@pytest.mark.parametrize("surface", ["kick", "snare", "gong"])
def test_where_no_hand_can_stand_is_refused(surface: str) -> None:
    """Before any file is looked at."""
    with pytest.raises(MusicError):
        Variation(timekeeper=surface)


# -- the feel --------------------------------------------------------------------------------------------

STEPS = {
    "half": [8],
    "full": [4, 12],
    "double": [2, 6, 10, 14],
    "d-beat": [2, 6, 10, 14],
    "blast": [1, 3, 5, 7, 9, 11, 13, 15],
}
"""Backbeats of a 4/4 bar in sixteenths (encyclopaedia articles "Half-time (music)", "D-beat", "Blast beat")."""

KICKS = {
    "half": [0],
    "full": [0, 8],
    "double": [0, 4, 8, 12],
    "d-beat": [0, 4, 5, 8, 12, 13],
    "blast": [*range(0, 16, 2)],
}


@pytest.mark.parametrize("feel", STEPS)
def test_the_backbeats_move_in_every_bar(feel: str) -> None:
    """To the published steps, whatever the feel was; the hand is left alone."""
    for old in ("half", "full", "double"):
        line = "".join("X" if step in STEPS[old] else "-" for step in range(16))
        kick = "".join("X" if step in KICKS[old] else "-" for step in range(16))
        data = bars_file(repeated({CLOSED: FULL[CLOSED], SNARE: line, KICK: kick}, 3))
        after = varied(data, feel=feel)
        assert places(after, SNARE) == [bar * 16 + step for bar in range(3) for step in STEPS[feel]]
        assert places(after, KICK) == [bar * 16 + step for bar in range(3) for step in KICKS[feel]]
        assert places(after, CLOSED) == places(data, CLOSED)


def test_quarter_time_takes_two_bars() -> None:
    """The backbeat on every second downbeat; a single last bar has the kick alone."""
    after = varied(bars_file(repeated(FULL, 5)), feel="quarter")
    assert places(after, SNARE) == [16, 48]
    assert places(after, KICK) == [0, 32, 64]


@pytest.mark.parametrize("feel", [*STEPS, "quarter"])
def test_the_feel_that_it_has_changes_nothing(feel: str) -> None:
    """Twice is once."""
    once = varied(bars_file(repeated(FULL, 4)), feel=feel)
    assert heard(varied(once, feel=feel)) == heard(once)


def test_new_strokes_have_the_levels_and_notes_of_the_old() -> None:
    """A file that plays its kick on 35 and its backbeats at 101 goes on doing so."""
    data = midi(track([(t, 35, 77, 9) for t in (0, 960)] + [(t, 40, 101, 9) for t in (480, 1440)], end=BAR))
    after = heard(varied(data, feel="double"))
    assert {(note, velocity) for _, note, velocity in after} == {(35, 77), (40, 101)}
    assert [tick for tick, note, _ in after if note == 40] == [240, 720, 1200, 1680]


def test_new_strokes_stand_in_the_track_of_their_surface() -> None:
    """One track a surface stays one track a surface."""
    data = midi(*(track(notes_of({note: line})) for note, line in FULL.items()))
    part = part_of(varied(data, feel="double"))
    assert {(n, t) for n, t in zip(part.note.tolist(), part.track.tolist())} == {(CLOSED, 0), (SNARE, 1), (KICK, 2)}


def test_what_stays_keeps_its_tick_level_and_length() -> None:
    """Kept kicks, ghosts and the hand are the very notes, played off the grid as they were."""
    loose = [(tick + (7 if tick else 0), note, vel - 3, dur + 1) for tick, note, vel, dur in notes_of(FULL)]
    loose += [(120 * 7 - 11, SNARE, 33, 17)]
    before = rows(part_of(midi(track(loose, end=BAR))))
    after = rows(part_of(varied(midi(track(loose, end=BAR)), feel="half")))
    stays = [row for row in before if (row[0], row[1]) not in ((487, SNARE), (1447, SNARE), (967, KICK))]
    assert set(stays) <= set(after)
    assert [row for row in after if row not in stays] == [(960, SNARE, 111, 120)]


def test_a_ghost_on_a_new_backbeat_is_played_as_one() -> None:
    """It keeps its tick and gets the backbeat's level; other ghosts stay ghosts."""
    data = bars_file(FULL | {SNARE: "--g-X---g---X-g-"})
    after = [(tick // 120, velocity) for tick, note, velocity in heard(varied(data, feel="half")) if note == SNARE]
    assert after == [(2, 30), (8, 114), (14, 30)]


def test_a_flam_on_a_backbeat_makes_new_backbeats_flams() -> None:
    """Grace strokes go and come with their strokes: 30 ms before, at ghost level."""
    gap = round(0.030 * 2 * DIVISION)
    flams = [(480 - gap, SNARE, 32, 20), (1440 - gap, SNARE, 32, 20)]
    after = varied(midi(track([*notes_of(FULL), *flams], end=BAR)), feel="half")
    assert [(tick, velocity) for tick, note, velocity in heard(after) if note == SNARE] == [(960 - gap, 32), (960, 114)]


def test_a_missing_backbeat_is_no_reason_to_miss_one() -> None:
    """A played bar that leaves one out goes by the table like its neighbours."""
    data = bars_file(repeated(FULL, 4) | {SNARE: "----X-------X---" * 3 + "----X-----------"})
    assert places(varied(data, feel="half"), SNARE) == [8, 24, 40, 56]
    assert len(places(varied(data, feel="double"), SNARE)) == 16


def test_a_feel_heard_among_other_bars_holds_for_the_bar_alone() -> None:
    """A roll that runs over the bar line is none of the next bar's backbeats, also when that bar stands alone."""
    rest = "-" * 16
    lines = {47: "X-X-------------" + rest, SNARE: "------------XXXX" + "X---X-------X---", KICK: rest + FULL[KICK]}
    assert places(varied(bars_file(lines), feel="half", bars=(2, 2)), SNARE) == [12, 13, 14, 15, 16, 24]
    lines[SNARE] = "--------------XX" + "X-X-------X-----"
    after = varied(bars_file(lines), feel="blast", bars=(2, 2))
    assert places(after, SNARE)[2:] == [*range(17, 32, 2)]


def test_six_quarters_in_threes_keep_their_own_backbeats() -> None:
    """3 and 6 in 6/4 are full time: that changes nothing, half time stretches them, double squeezes them."""
    six = {SNARE: "--------X-----------X---" * 2, KICK: "X-----------X-----------" * 2}
    data = midi(track(notes_of(six), end=12 * DIVISION, extra=[(0, meter(6, 4))]))
    assert places(varied(data, feel="full"), SNARE) == [8, 20, 32, 44]
    assert places(varied(data, feel="half"), SNARE) == [16, 40]
    assert places(varied(data, feel="double"), SNARE) == [4, 10, 16, 22, 28, 34, 40, 46]


def test_a_feel_over_two_bars_is_changed_in_both() -> None:
    """Half time in 3/4: the bar without a backbeat has no feel of its own and takes part all the same."""
    three = {RIDE: "x---x---x---" * 4, SNARE: "------------X-----------" * 2, KICK: "X-----------------------" * 2}
    data = midi(track(notes_of(three), end=12 * DIVISION, extra=[(0, meter(3, 4))]))
    assert warnings(data, feel="full") == ()
    assert places(varied(data, feel="full"), SNARE) == [8, 20, 32, 44]
    assert places(varied(data, feel="full"), KICK) == [0, 12, 24, 36]


def test_fills_and_stops_stay_and_are_named() -> None:
    """One warning with the bars that have no feel; everything else moves."""
    fill = {SNARE: "XXXXXXXXXXXXXXXX", KICK: "X---------------", CLOSED: "-" * 16}
    lines = {note: FULL[note] * 3 + fill[note] + FULL[note] + "X" + "-" * 15 for note in (SNARE, KICK, CLOSED)}
    lines[SNARE] = lines[SNARE][:80] + "-" * 16
    data = bars_file(lines)
    after = varied(data, feel="half")
    fourth = [row for row in heard(data) if 3 * BAR <= row[0] < 4 * BAR]
    assert [row for row in heard(after) if 3 * BAR <= row[0] < 4 * BAR] == fourth
    assert warnings(data, feel="half") == ("no feel is heard in bars 4, 6: left as they are",)


def test_a_file_without_any_feel_gets_it_everywhere() -> None:
    """Kick and hand alone: a snare comes, on the key map's note."""
    data = bars_file(repeated({CLOSED: FULL[CLOSED], KICK: "X---X---X---X---"}, 2))
    assert places(varied(data, feel="full"), SNARE) == [4, 12, 20, 28]
    with pytest.raises(MusicError, match=r"bars 1-2: a relative feel \(/2\)"):
        varied(data, feel="/2")


def test_relative_feels_go_from_what_each_bar_has() -> None:
    """Two bars of full and two of double, one rung down."""
    double = {SNARE: "--X---X---X---X-", KICK: "X---X---X---X---", CLOSED: FULL[CLOSED]}
    lines = {note: FULL[note] * 2 + double[note] * 2 for note in FULL}
    after = varied(bars_file(lines), feel="/2")
    assert places(after, SNARE) == [8, 24, 36, 44, 52, 60]
    with pytest.raises(MusicError, match=r"bars 3-4: the relative feel x4 leads off the ladder from double"):
        varied(bars_file(lines), feel="x4")


def test_blast_brings_the_rate_of_its_hand() -> None:
    """Eighths (encyclopaedia article "Blast beat"), at the hand's own level; a crash on 1 stays alone."""
    data = bars_file(repeated({CLOSED: "--n---n---n---n-", SNARE: FULL[SNARE], KICK: FULL[KICK]}, 2) | {CRASH: "X"})
    after = [(tick // 120, velocity) for tick, note, velocity in heard(varied(data, feel="blast")) if note == CLOSED]
    assert after == [(step, 70) for step in range(2, 32, 2)]
    both = varied(data, feel="blast", subdivision="1/4")
    assert places(both, CLOSED) == [4, 8, 12, 16, 20, 24, 28]


@pytest.mark.parametrize(
    ("policy", "kicks"),
    [("adapt", [0, 3, 6]), ("figure", [0]), ("keep", [0, 3, 6, 8])],
)
def test_kick_policies(policy: str, kicks: list[int]) -> None:
    """House rule: the skeleton moves and the riff stays; the skeleton alone; not one kick changes."""
    data = bars_file(FULL | {KICK: "X--X--X-X-------"})
    assert places(varied(data, feel="half", kick=policy), KICK) == kicks


def test_the_figure_alone_leaves_the_snare() -> None:
    """No feel is asked for: the kick of the feel that each bar has, and nothing else."""
    data = bars_file(FULL | {KICK: "XX-X--X-XX----X-", SNARE: "----X-----x-X---"})
    after = varied(data, kick="figure")
    assert places(after, KICK) == [0, 8]
    assert [row for row in heard(after) if row[1] != KICK] == [row for row in heard(data) if row[1] != KICK]


def test_the_figure_of_a_bar_that_misses_a_backbeat() -> None:
    """The kick is made the figure; the snare is left as it was played."""
    lines = {SNARE: "----X-------X---" * 2 + "----X-----------", KICK: "X--X----X-X-----" * 3}
    data = bars_file(repeated(FULL, 3) | lines)
    after = varied(data, kick="figure")
    assert places(after, KICK) == [0, 8, 16, 24, 32, 40]
    assert places(after, SNARE) == places(data, SNARE)


def test_bars_of_another_metre_have_their_own_table() -> None:
    """3/4 has its backbeat on 3 (S. Hanenberg, Open Music Theory); half time takes two of its bars."""
    three = notes_of({CLOSED: "x-x-x-x-x-x-" * 4, SNARE: "--------X---" * 4, KICK: "X-----------" * 4}, start=BAR)
    data = midi(track([*notes_of(FULL), *three], extra=[(0, meter(4, 4)), (BAR, meter(3, 4))]))
    after = varied(data, feel="half")
    assert places(after, SNARE) == [8, 28, 52]


def test_only_the_named_bars() -> None:
    """Counted from 1, both included; past the end is an error."""
    data = bars_file(repeated(FULL, 4))
    assert places(varied(data, feel="half", bars=(2, 3)), SNARE) == [4, 12, 24, 40, 52, 60]
    assert places(varied(data, timekeeper="china", bars=(4, 9)), CHINA) == [48 + step for step in range(0, 16, 2)]
    with pytest.raises(UsageError, match="the file has 4 bars"):
        varied(data, feel="half", bars=(5, 6))


@pytest.mark.parametrize(
    "wrong",
    [
        {"feel": "triple"},
        {"kick": "follow"},
        {"kick": "louder"},
        {"subdivision": "1/5"},
        {"bars": (0, 2)},
        {"bars": (3, 2)},
    ],
    ids=str,
)
def test_impossible_changes_are_refused(wrong: dict[str, Any]) -> None:
    """With what is allowed, before a file is looked at."""
    with pytest.raises(GrooveForgeError):
        Variation(**wrong)


def test_a_spelling_needs_its_feel() -> None:
    """The place names the bars."""
    with pytest.raises(MusicError, match=r"bars 1-2: the feel 'full' has no spellings"):
        varied(bars_file(repeated(FULL, 2)), spelling="unison")


# -- the hand's rate -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rate", "steps"),
    [
        ("1/4", [0, 4, 8, 12]),
        ("/2", [0, 4, 8, 12]),
        ("1/16", [*range(16)]),
        ("x2", [*range(16)]),
        ("offbeat 1/8", [2, 6, 10, 14]),
        ("1/16 two hands", [step for step in range(16) if step not in (4, 12)]),
        ("keep", [*range(0, 16, 2)]),
    ],
)
def test_rates_of_the_hand(rate: str, steps: list[int]) -> None:
    """Kick and snare stay; sixteenths by two hands leave the backbeats, 14 strokes a bar (published lessons)."""
    data = bars_file(repeated(FULL, 2))
    after = varied(data, subdivision=rate)
    assert places(after, CLOSED) == [bar * 16 + step for bar in range(2) for step in steps]
    assert [row for row in heard(after) if row[1] != CLOSED] == [row for row in heard(data) if row[1] != CLOSED]


def test_doubling_keeps_every_stroke_and_puts_weaker_ones_between() -> None:
    """Loose strokes stay where they are played, open ones stay open."""
    notes = [(tick + (5 if tick else 0), note, vel, dur) for tick, note, vel, dur in notes_of(COLOURED)]
    data = midi(track(notes, end=BAR))
    after = varied(data, subdivision="x2")
    assert set(heard(data)) <= set(heard(after))
    new = [(tick, note, velocity) for tick, note, velocity in heard(after) if (tick, note, velocity) not in heard(data)]
    assert [(tick // 120, note) for tick, note, _ in new] == [(step, CLOSED) for step in range(1, 16, 2)]
    assert all(velocity < NORMAL for _, _, velocity in new)


def test_a_bar_that_leaves_the_grid_does_not_hold_up_the_others() -> None:
    """Doubling strokes on 96ths is refused for that bar alone; where no bar can be done it is an error."""
    odd = [(0, CLOSED, 90, 9), (500, CLOSED, 90, 9), (960, CLOSED, 90, 9), (1460, CLOSED, 90, 9)]
    plain = notes_of({CLOSED: FULL[CLOSED]}, start=BAR)
    data = midi(track([*odd, *plain], end=2 * BAR))
    assert [place for place in places(varied(data, subdivision="x2"), CLOSED) if place >= 16] == [*range(16, 32)]
    assert any("left as they are" in said for said in warnings(data, subdivision="x2"))
    with pytest.raises(MusicError, match="bar 1"):
        varied(midi(track(odd, end=BAR)), subdivision="x2")


# -- what the file is ------------------------------------------------------------------------------------


def test_the_file_keeps_its_division_and_format() -> None:
    """Nothing is rounded: a file of 96 ticks and format 0 stays one."""
    notes = [(tick // 5, note, vel, dur // 5) for tick, note, vel, dur in notes_of(repeated(FULL, 2))]
    data = midi(track(notes), division=96, form=0)
    after = read_smf(varied(data, feel="half"))
    assert (after.division, after.format) == (96, 0)
    assert [tick for tick, note, _ in heard(varied(data, feel="half")) if note == SNARE] == [192, 576]


def test_doubles_stay_with_their_stroke() -> None:
    """Two equal notes on one tick: both stay where nothing changes, both are gone where the stroke is."""
    data = midi(track([*notes_of(FULL), (0, KICK, 50, 5), (0, CLOSED, 50, 5)], end=BAR))
    after = heard(varied(data, timekeeper="ride"))
    assert [row for row in after if row[:2] == (0, KICK)] == [(0, KICK, 50), (0, KICK, 114)]
    assert [row for row in after if row[0] == 0 and row[1] in (CLOSED, RIDE)] == [(0, RIDE, 90)]
    assert part_of(varied(data, timekeeper="ride")).duplicates == 1


def test_doubles_keep_the_length_of_their_stroke() -> None:
    """Which of the two ends first is the same after as before."""
    for lengths in ((200, 5), (5, 200)):
        data = midi(track([(0, KICK, 100, lengths[0]), (0, KICK, 50, lengths[1]), *notes_of({CLOSED: FULL[CLOSED]})]))
        before, after = part_of(data), part_of(varied(data, timekeeper="ride"))
        assert [row for row in rows(after) if row[1] == KICK] == [row for row in rows(before) if row[1] == KICK]


def test_drums_on_another_channel_stay_there() -> None:
    """New strokes too."""
    data = midi(track(notes_of(FULL), 3, end=BAR), track(notes_of(FULL), 10, end=BAR))
    after = varied(data, 3, feel="half")
    assert heard(after, 10) == heard(data, 10)
    assert [tick // 120 for tick, note, _ in heard(after, 3) if note == SNARE] == [8]


@given(MANY, st.sampled_from(["half", "full", "double", "blast"]), st.sampled_from(["china", "ride"]))
def test_whatever_the_file_what_is_written_is_what_was_meant(notes: list[Note], feel: str, surface: str) -> None:
    """Any heap of notes: no crash, no note twice on a tick, and reading the result gives the part."""
    data = midi(track(sorted(set(notes)), extra=[(0, meter(4, 4))]))
    changed = vary_part(part_of(data), Variation(feel=feel, timekeeper=surface))
    found = part_of(write_back(read_smf(data), changed))
    assert [row[:3] for row in rows(found)] == [row[:3] for row in rows(changed)]
    assert len({row[:2] for row in rows(changed)}) == len(changed)
