"""Drum tab: what its lines and marks mean, what is refused, and that reading and printing are inverse."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grooveforge.core.groove import Groove, Lane, empty
from grooveforge.core.kit import ACCENT, GHOST, NORMAL, SURFACE_CODES, SURFACE_NAMES, TAP, Kind, sounding
from grooveforge.core.meter import Meter
from grooveforge.errors import FormatError, MusicError
from grooveforge.formats.tab import needs_hand_line, read_tab, steps_text, tab_from, tab_of
from grooveforge.formats.tab_marks import HAND_LINE, HAND_MARKS, LINES, STICKING_MARKS, mark_of, marks_of, order_of
from tests.laws.strategies import grooves

FOUR = Meter(4, 4)

PLAIN = """\
HH x-x-x-x-x-x-x-x-
SN ----O-------O---
BD o-------o-------
"""


def groove(text: str, meter: Meter = FOUR, grid: int | None = None, timekeeper: str | None = None) -> Groove:
    return read_tab(text).groove(meter, grid, timekeeper)


def places(text: str) -> list[str]:
    with pytest.raises(FormatError) as caught:
        read_tab(text)
    return [fault.place for fault in caught.value.faults]


def hand_of(made: Groove) -> tuple[str | None, list[Kind], list[int]]:
    """The hand's surface and the kinds and levels of its strokes in order."""
    assert made.hand is not None
    struck = made.hand.struck
    return made.surface, [Kind(int(k)) for k in made.hand.kind[struck]], made.hand.velocity[struck].tolist()


# -- marks ----------------------------------------------------------------------------------------------


def test_a_plain_tab_gives_hand_snare_and_kick() -> None:
    """HH, SN and BD become the timekeeping hand, the snare and the kick, one column a sixteenth."""
    made = groove(PLAIN)
    assert made.kick is not None and made.snare is not None and made.hand is not None
    assert (made.grid, made.bars, made.surface) == (16, 1, "closed hi-hat")
    assert made.kick.struck.tolist() == [0, 8]
    assert made.snare.struck.tolist() == [4, 12]
    assert made.hand.struck.tolist() == list(range(0, 16, 2))


@pytest.mark.parametrize(
    ("mark", "kind", "velocity"),
    [
        ("o", Kind.PLAIN, NORMAL),
        ("O", Kind.ACCENT, ACCENT),
        ("g", Kind.GHOST, GHOST),
        ("f", Kind.FLAM, NORMAL),
        ("d", Kind.DRAG, NORMAL),
        ("t", Kind.PLAIN, TAP),
        ("F", Kind.FLAM, ACCENT),
        ("D", Kind.DRAG, ACCENT),
    ],
)
def test_drum_marks(mark: str, kind: Kind, velocity: int) -> None:
    """o normal, O accent, g ghost, f flam, d drag (article "Drum tablature"); t tap, F and D louder (house)."""
    snare = groove(f"SN {mark}---").snare
    assert snare is not None
    assert (Kind(int(snare.kind[0])), int(snare.velocity[0])) == (kind, velocity)


@pytest.mark.parametrize(
    ("line", "surface"),
    [
        ("SN @", "side stick"),
        ("CC c", "china"),
        ("CC s", "splash"),
        ("C2 x", "second crash"),
        ("R2 x", "second ride"),
        ("Rd b", "ride bell"),
        ("HH h", "half-open hi-hat"),
        ("HH o", "open hi-hat"),
        ("Hf x", "pedal hi-hat"),
        ("CB x", "cowbell"),
        ("T1 o", "high tom"),
        ("T2 o", "hi-mid tom"),
        ("T3 o", "low-mid tom"),
        ("T4 o", "low tom"),
        ("F1 o", "high floor tom"),
        ("FT o", "floor tom"),
        ("HC x", "hand clap"),
        ("TB x", "tambourine"),
        ("VS x", "vibraslap"),
        ("61 x", "note 61"),
    ],
)
def test_every_line_and_colour_names_its_surface(line: str, surface: str) -> None:
    """Each line letter, and each coloured mark, stands for the surface of the tab table."""
    struck = [name for name, _ in groove(f"{line}---").voices]
    assert struck == [surface]


def test_a_choke_is_a_kind_of_crash() -> None:
    """# on a crash line is a choked stroke of that crash (article "Drum tablature")."""
    made = groove("HH xxxx\nCC #---")
    assert int(made.lane_on("crash").kind[0]) == Kind.CHOKE


@pytest.mark.parametrize("name", SURFACE_CODES)
def test_every_surface_has_a_mark(name: str) -> None:
    """There is no surface that a tab could not print, unknown notes among them."""
    label, mark = mark_of(name, Kind.PLAIN, NORMAL)
    marks = marks_of(label)
    assert marks is not None and marks[mark].surface == name


@pytest.mark.parametrize(("label", "mark"), [(label, mark) for label, marks in LINES.items() for mark in marks])
def test_every_mark_prints_as_itself(label: str, mark: str) -> None:
    """The stroke that a mark stands for is printed as that mark on that line."""
    stroke = LINES[label][mark]
    assert mark_of(stroke.surface, stroke.kind, stroke.velocity) == (label, mark)


def test_levels_print_as_the_mark_of_their_band() -> None:
    """Velocities between the flat ones print as ghost, tap, normal or accent."""
    assert [mark_of("snare", Kind.PLAIN, level)[1] for level in (1, 45, 46, 84, 85, 104, 105, 127)] == list("ggttooOO")


# -- the timekeeping hand -----------------------------------------------------------------------------------


def test_open_and_closed_hi_hat_are_one_hand() -> None:
    """On HH the more frequent surface names the hand, the other strokes are kinds."""
    surface, kinds, levels = hand_of(groove("HH xoxXhx--"))
    assert surface == "closed hi-hat"
    assert kinds == [Kind.PLAIN, Kind.OPEN, Kind.PLAIN, Kind.ACCENT, Kind.HALF_OPEN, Kind.PLAIN]
    assert levels == [NORMAL, NORMAL, NORMAL, ACCENT, NORMAL, NORMAL]


def test_a_mostly_open_hand_has_closed_strokes() -> None:
    """Where open strokes are more, the hand stands on the open hi-hat and x is a closed stroke."""
    surface, kinds, _ = hand_of(groove("HH oooxO---"))
    assert (surface, kinds) == ("open hi-hat", [Kind.PLAIN] * 3 + [Kind.CLOSED, Kind.ACCENT])


def test_a_tie_is_closed() -> None:
    """As many closed as open strokes make a hand on the closed hi-hat."""
    assert groove("HH xoxo").surface == "closed hi-hat"


def test_bells_are_strokes_of_a_hand_on_the_ride() -> None:
    """b among x on Rd is the bell as a kind; a line of b alone is a hand on the bell."""
    assert hand_of(groove("Rd b-x-"))[:2] == ("ride", [Kind.BELL, Kind.PLAIN])
    assert hand_of(groove("Rd b-b-"))[:2] == ("ride bell", [Kind.PLAIN, Kind.PLAIN])


def test_the_busiest_line_keeps_time() -> None:
    """Of hi-hat, cymbal and floor-tom lines the busiest is the hand; the others are lanes of their own."""
    made = groove("HH x-o-----\nFT oooo----\nCB xxxxxxxx")
    assert made.surface == "floor tom"
    assert [name for name, _ in made.others] == ["closed hi-hat", "open hi-hat", "cowbell"]


def test_the_busiest_surface_of_a_cymbal_line_keeps_time() -> None:
    """Crash and china share the line CC; the more frequent one is the hand's."""
    made = groove("CC x-c-c-c-")
    assert made.surface == "china"
    assert made.lane_on("crash").struck.tolist() == [0]


def test_without_such_a_line_no_hand_keeps_time() -> None:
    """A tab of drums and cowbell has no timekeeping hand."""
    assert groove("SN o---\nT1 -o--\nCB --x-").hand is None


def test_a_given_timekeeper_wins() -> None:
    """The surface that the writer names is the hand's, however busy another line is."""
    made = groove("HH xxxxxxxx\nRd x-------", timekeeper="ride")
    assert made.surface == "ride"
    assert made.lane_on("closed hi-hat").struck.size == 8


def test_a_timekeeper_without_a_stroke_is_refused() -> None:
    """A tab must strike the surface that is said to keep time."""
    with pytest.raises(FormatError, match="no stroke on it") as caught:
        groove(PLAIN, timekeeper="china")
    assert caught.value.faults[0].path == ("timekeeper",)


def test_no_hand_stands_on_the_kick() -> None:
    """A surface on which no hand keeps time is refused with the list of those that may."""
    with pytest.raises(MusicError, match="cannot stand there"):
        groove(PLAIN, timekeeper="kick")


def test_line_t_is_the_hand_whatever_it_strikes() -> None:
    """T stands for the timekeeper: closed hi-hat where nothing says, else the surface that is named."""
    text = "T  x-Xo\nHH xxxx"
    assert groove(text).surface == "closed hi-hat"
    made = groove(text, timekeeper="floor tom")
    assert hand_of(made)[:2] == ("floor tom", [Kind.PLAIN, Kind.ACCENT, Kind.OPEN])
    assert made.lane_on("closed hi-hat").struck.size == 4


# -- the grid ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("columns", "meter", "grid", "bars"),
    [
        ("x" * 16, FOUR, 16, 1),
        ("x" * 32, FOUR, 16, 2),
        ("x" * 12, FOUR, 12, 1),
        ("x" * 24, FOUR, 12, 2),
        ("x" * 8, FOUR, 8, 1),
        ("x" * 20, FOUR, 20, 1),
        ("x" * 12, Meter(3, 4), 16, 1),
        ("x" * 14, Meter(7, 8), 16, 1),
        ("x" * 7, Meter(7, 8), 8, 1),
        ("x" * 12, Meter(12, 8), 8, 1),
        ("|xxxxxxxx|xxxxxxxx|", FOUR, 8, 2),
        ("|" + "x" * 32 + "|", FOUR, 32, 1),
        ("xxxxxxxx|xxxxxxxx", FOUR, 8, 2),
    ],
)
def test_the_columns_tell_the_grid(columns: str, meter: Meter, grid: int, bars: int) -> None:
    """One bar between bar lines; else sixteenths, else eighth triplets, else the whole tab is one bar."""
    made = groove(f"HH {columns}", meter)
    assert (made.grid, made.bars) == (grid, bars)


def test_a_given_grid_makes_bar_lines_free() -> None:
    """With a grid the bar lines mean nothing and may stand between groups."""
    assert groove("HH |xxxx|xxxx|xxxxxx|", Meter(7, 8), 16).bars == 1


def test_columns_that_make_no_bar_are_refused() -> None:
    """A tab that fills no whole bars on the given grid is an error that says how many columns a bar has."""
    with pytest.raises(FormatError, match="15 columns are no whole bars of 4/4") as caught:
        groove("HH xxxxxxxxxxxxxxx", grid=16)
    assert caught.value.faults[0].allowed == "16 columns a bar"


def test_bars_of_unequal_length_are_refused() -> None:
    """Bar lines at unequal distances tell no grid."""
    with pytest.raises(FormatError, match="of different length"):
        groove("HH |xxxxxxxx|xxxxxxx|")


def test_a_grid_too_fine_is_refused() -> None:
    """More than 96 columns a whole note are no grid."""
    with pytest.raises(FormatError, match="make no bars"):
        groove("HH " + "x" * 97)


# -- faults -------------------------------------------------------------------------------------------------


def test_all_faults_come_at_once_with_line_and_column() -> None:
    """A wrong mark, an unknown label and a ragged line are told together, each with its line."""
    assert places("HH x-q-\nSN o-\n\nXX o---\nBD o---") == ["line 1, column 3", "line 4", "line 2"]


def test_a_ragged_line_says_how_many_columns_it_has() -> None:
    """The line that differs from the others is named with its columns and theirs."""
    with pytest.raises(FormatError, match="the line SN has 3 columns where the line HH has 4"):
        read_tab("HH xxxx\nSN o--\nBD o---")


def test_columns_are_counted_without_free_characters() -> None:
    """Bar lines and spaces are no columns: the wrong mark is in the third."""
    assert places("HH |x -|? x|") == ["line 1, column 3"]


def test_an_unknown_label_names_the_nearest() -> None:
    """A label in the wrong case is answered with the right one."""
    with pytest.raises(FormatError) as caught:
        read_tab("hh x-x-")
    assert caught.value.faults[0].hint == "HH"


@pytest.mark.parametrize("text", ["", "\n\n", "# a comment", "HH", "HH |", "HHx-x-", "129 x---", "007 x---"])
def test_a_text_without_a_line_of_tab_is_refused(text: str) -> None:
    """No lines, a label without columns, a label that touches its marks, a number that is no note."""
    assert places(text)


def test_a_label_may_stand_twice_for_two_surfaces() -> None:
    """Crash and china on one step are two lines CC."""
    made = groove("HH xxxx\nCC x---\nCC c---")
    assert [name for name, _ in made.others] == ["crash", "china"]
    assert tab_of(made, bar_lines=False) == "CC x---\nCC c---\nHH xxxx\n"


def test_a_label_twice_may_not_strike_one_surface_in_one_column() -> None:
    """A line that was copied by mistake is an error at the first column where both strike."""
    assert places("SN --o-\nBD o---\nSN --O-") == ["line 3, column 3"]


def test_a_text_full_of_faults_lists_only_the_first() -> None:
    """A text that is no tab at all gives a list of bearable length."""
    assert len(places("what is this\n" * 500)) == 21


def test_comments_and_count_lines_are_ignored() -> None:
    """Lines that begin with # and count lines (article "Drum tablature") are no voices."""
    text = "# legend: x strike\n" + PLAIN + "   1 + 2 + 3 + 4 +\n   |1 e & a 2 e & a 3 e & a 4 e & a |\n"
    assert read_tab(text) == read_tab(PLAIN)


def test_windows_line_ends_are_read() -> None:
    """A file with carriage returns is the same tab."""
    assert read_tab(PLAIN.replace("\n", "\r\n")) == read_tab(PLAIN)


def test_sticking_is_kept_beside_the_strokes() -> None:
    """The line St holds R and L under the columns, and strikes nothing."""
    tab = read_tab("SN oooo\nSt RLRR")
    assert tab.sticking == "RLRR"
    assert tab.groove(FOUR) == groove("SN oooo")


# -- printing -------------------------------------------------------------------------------------------------


def test_a_printed_tab_is_the_tab_that_was_read() -> None:
    """Reading a tab and printing it gives the same tab; only spaces are free."""
    assert str(read_tab(PLAIN)) == PLAIN
    assert str(read_tab("HH  x- x-|x-x-")) == "HH |x-x-|x-x-|\n"


def test_printing_a_groove_gives_its_tab() -> None:
    """A tab in the order of lines comes back from its groove."""
    assert tab_of(groove(PLAIN)) == PLAIN


def test_lines_are_printed_cymbals_first() -> None:
    """The order is CC C2 HH Rd R2 CB SN T1 T2 T3 T4 F1 FT BD Hf, house lines, then unknown notes."""
    order = "CC C2 HH Rd R2 CB SN T1 T2 T3 T4 F1 FT BD Hf HC TB VS T 61 100 St"
    assert " ".join(sorted(sorted(order.split(" ")), key=order_of)) == order


def test_bar_lines_are_printed_where_the_grid_needs_them() -> None:
    """Two bars of eighths would read as one bar of sixteenths, so bar lines stand between them."""
    eighths = Groove(FOUR, 8, 2, kick=Lane.of(16, [0, 8]))
    assert tab_of(eighths) == "BD |o-------|o-------|\n"
    assert groove(tab_of(eighths)) == eighths


def test_a_printed_tab_carries_its_legend() -> None:
    """The legend says what each mark means, as comments that reading skips."""
    made = groove("HH x-o-\nSN O-g-")
    text = tab_of(made, legend=True)
    assert "# HH closed hi-hat: x stroke, o open hi-hat\n# SN snare: O accent, g ghost\n" in text
    assert read_tab(text) == read_tab(tab_of(made))


def test_an_empty_groove_prints_rests() -> None:
    """A groove without a stroke is a line of rests that reads back as one."""
    rests = empty(FOUR, 16, 1)
    assert groove(tab_of(rests)) == rests


def test_the_line_t_keeps_a_tap_on_a_china() -> None:
    """A china has no mark for a tap; written on the line T the hand keeps its levels, and a flam is none of its."""
    hand = Lane.of(16, [0, 8], NORMAL).put([4, 12], TAP, Kind.PLAIN)
    made = Groove(FOUR, 16, 1, hand=hand, surface="china")
    assert needs_hand_line(made)
    text = str(tab_from(made, hand_line=True))
    assert text == "T x---t---x---t---\n"
    assert groove(text, timekeeper="china") == made


@pytest.mark.parametrize(("surface", "kind"), [("ride", Kind.PLAIN), ("china", Kind.FLAM), ("floor tom", Kind.PLAIN)])
def test_the_line_t_is_not_needed_where_it_says_no_more(surface: str, kind: Kind) -> None:
    """A ride has a mark for a tap, and T has none for a flam: the line stays the surface's own."""
    made = Groove(FOUR, 16, 1, hand=Lane.of(16, [0, 8], TAP).put([4], NORMAL, kind), surface=surface)
    assert not needs_hand_line(made)


def test_steps_text_writes_marks_by_step() -> None:
    """Marks stand at their step, rests between."""
    assert steps_text({0: "x", 2: "X"}, 4) == "x-X-"


# -- laws -----------------------------------------------------------------------------------------------------


def _line(label: str, columns: int) -> st.SearchStrategy[str]:
    marks = HAND_MARKS if label == HAND_LINE else LINES.get(label, STICKING_MARKS)
    return st.lists(st.sampled_from([*marks, "-", "-", "-"]), min_size=columns, max_size=columns).map(
        lambda cells: f"{label:2} {''.join(cells)}\n"
    )


@st.composite
def tabs(draw: st.DrawFn, labels: tuple[str, ...] = (*LINES, HAND_LINE, "St")) -> str:
    columns = draw(st.sampled_from((12, 16, 32)))
    chosen = draw(st.lists(st.sampled_from(labels), min_size=1, max_size=6, unique=True))
    return "".join(draw(_line(label, columns)) for label in sorted(chosen, key=order_of))


@given(tabs())
def test_any_tab_prints_as_it_was_read(text: str) -> None:
    """str(read_tab(text)) is the text."""
    assert str(read_tab(text)) == text


@given(tabs(tuple(LINES)))
def test_any_tab_comes_back_from_its_groove(text: str) -> None:
    """A tab in canonical order is printed again from the groove, but for lines of rests."""
    played = "".join(line for line in text.splitlines(keepends=True) if line[3:].strip("-\n"))
    if played:
        assert tab_of(groove(text), bar_lines=False) == played


def _sounds(made: Groove) -> set[tuple[Fraction, str]]:
    """Every stroke as what it sounds like."""
    return {
        (made.position(step), sounding(name, Kind(int(lane.kind[step])), int(lane.velocity[step]))[0])
        for name, lane in made.voices
        for step in lane.struck.tolist()
    }


@given(grooves())
def test_any_groove_prints_and_sounds_the_same_when_read(made: Groove) -> None:
    """Whatever a groove holds, its tab strikes the same surfaces at the same places."""
    again = groove(tab_of(made), made.meter)
    assert _sounds(again) == _sounds(made)
    assert (again.grid, again.bars) == (made.grid, made.bars)


@given(grooves())
def test_printing_settles_at_once(made: Groove) -> None:
    """The tab of a groove read from a tab is that tab: nothing wears off."""
    text = tab_of(made)
    assert tab_of(groove(text, made.meter)) == text


SOME_LABELS = st.lists(st.sampled_from(["HH", "SN", "BD", "Rd", "61", "XX"]), min_size=1, max_size=3, unique=True)
SOME_MARKS = st.text("xX-", min_size=8, max_size=8) | st.text("xXogf-", min_size=8, max_size=8)
SOME_LINES = SOME_LABELS.flatmap(
    lambda labels: st.tuples(*(SOME_MARKS.map(f"{label} {{}}".format) for label in labels)).map("\n".join)
)
"""Mostly lines of a tab, so that what is read is compared with what is printed."""


@given(
    st.text(max_size=200)
    | st.text("HSBDTxXo-| \n#16", max_size=200)
    | SOME_LINES
)
def test_any_text_is_a_tab_or_a_format_error(text: str) -> None:
    """No text makes the reader fail in another way."""
    try:
        tab = read_tab(text)
    except FormatError:
        return
    assert read_tab(str(tab)) == tab


def test_unknown_notes_have_lines_by_number() -> None:
    """Notes that no key map knows print on a line with their number."""
    lane = Lane.of(16, [3])
    made = Groove(FOUR, 16, 1, others=((SURFACE_NAMES[100 + 61], lane),))
    assert tab_of(made) == "61 ---x------------\n"
