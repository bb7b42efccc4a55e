"""Inserted beats, and grooves of another metre (house rules of the song sheet)."""

from __future__ import annotations

from fractions import Fraction

import pytest

from grooveforge.core.arrange import Arrangement, Section, arrange
from grooveforge.core.fit import fitted
from grooveforge.core.following import section_following
from grooveforge.core.meter import Meter
from grooveforge.core.perform import perform
from grooveforge.core.roles import read_feel
from grooveforge.errors import MusicError
from grooveforge.formats.midi import beats, tempo_table
from grooveforge.project.sheets import arranged, sheet_from, song_from
from tests.bars import FOUR_FOUR, groove, sixteenths

SHEET = """
tempo = 120
form = ["verse", "chorus"]
[defaults]
arrival = false
[grooves.plain]
tab = '''
HH x-x-x-x-x-x-x-x-|x-x-x-x-x-x-x-x-
SN ----O-------O---|----O-------O---
BD o-------o-------|o-o-----o-o-----
'''
[parts.chorus]
groove = "plain"
bars = 4
[parts.verse]
groove = "plain"
bars = 8
"""


def song(lines: str) -> Arrangement:
    return arrange(song_from(SHEET + lines, "x.toml"))


def kicks(section: Section) -> list[Fraction]:
    """Sixteenths from the section's start."""
    return [16 * start + place for start, span in section.placed_spans for place in sixteenths(span.groove, "kick")]


def test_a_bar_of_its_own_with_its_own_metre() -> None:
    """Two quarters before bar 5: nine bars, the fifth in 2/4; the next section begins two quarters later."""
    made = song("insert = [{ before_bar = 5, beats = 2 }]")
    verse, chorus = made.sections
    assert (verse.bars, verse.own_bars, chorus.bar, made.bars) == (9, 8, 10, 13)
    assert verse.quarters == 34
    meters = perform(made).meters
    assert [(tick // 480, str(meter)) for tick, meter in meters] == [(0, "4/4"), (16, "2/4"), (18, "4/4")]
    assert perform(made).markers == ((0, "verse"), (34 * 480, "chorus"))
    assert perform(made).end == 50 * 480
    assert len(beats(perform(made))) == 50


def test_what_the_inserted_bar_plays() -> None:
    """The groove plays on as the next bar begins, then that bar begins from its 1 all the same."""
    plain = kicks(song("").sections[0])
    verse = song("insert = [{ before_bar = 6, beats = 2 }]").sections[0]
    edge = 5 * 16
    wanted = [
        *(place for place in plain if place < edge),
        *(place for place in plain if edge <= place < edge + 8),
        *(place + 8 for place in plain if place >= edge),
    ]
    assert kicks(verse) == wanted


@pytest.mark.parametrize(("before_bar", "beats", "bar"), [(1, 1, 1), (9, 3, 9), (4, 4, 4), (3, 6, 3)])
def test_anywhere_in_the_section(before_bar: int, beats: int, bar: int) -> None:
    """Before the first bar, behind the last, a bar as long as the others, one longer than them."""
    verse = song(f"insert = [{{ before_bar = {before_bar}, beats = {beats} }}]").sections[0]
    inserted = next(span for span in verse.spans if not span.own)
    assert (inserted.bar, inserted.groove.bars) == (bar, 1)
    assert 4 * inserted.groove.whole == beats
    assert verse.quarters == 32 + beats
    assert verse.own_bar_numbers == tuple(number for number in range(1, 10) if number != bar)
    assert any(True for _ in inserted.groove.voices)


def test_several_places() -> None:
    verse = song("insert = [{ before_bar = 7, beats = 1 }, { before_bar = 3, beats = 2 }]").sections[0]
    assert [(span.bar, str(span.groove.meter)) for span in verse.spans] == [
        (1, "4/4"), (3, "2/4"), (4, "4/4"), (8, "1/4"), (9, "4/4"),
    ]  # fmt: skip


def test_the_hand_stays_where_it_was() -> None:
    """Beats inserted where the hand moves belong to the surface before."""
    lines = 'timekeeper = ["ride", "china"]\ninsert = [{ before_bar = 5, beats = 2 }]'
    assert [span.groove.surface for span in song(lines).sections[0].spans] == ["ride", "ride", "china"]


def test_quarters_in_a_metre_of_eighths() -> None:
    """In 7/8 too quarters are inserted."""
    tab = "HH x-x-x-x-x-x-x-\nSN ----O-------O-\nBD o-------o-----\n"
    start, end = SHEET.index("HH"), SHEET.index("'''\n[parts")
    text = (SHEET[:start] + tab + SHEET[end:]).replace("tempo = 120", 'tempo = 120\nmeter = "7/8"')
    made = arrange(song_from(text + "insert = [{ before_bar = 2, beats = 1 }]", "x.toml"))
    assert [str(meter) for _, meter in perform(made).meters] == ["7/8", "1/4", "7/8"]
    assert made.sections[0].quarters == 8 * Fraction(7, 2) + 1


def test_a_ramp_runs_on_through_inserted_beats() -> None:
    """`over` counts quarters, inserted ones too."""
    made = song("tempo = { to = 86, over = 34 }\ninsert = [{ before_bar = 5, beats = 2 }]")
    steps = made.sections[0].tempo
    assert [len(steps), *steps[-1]] == [34, 33, 87]
    assert "2/4" in tempo_table(perform(made))


def test_a_riff_waits_in_inserted_beats() -> None:
    """Kicks in inserted beats are outside the riff: precision and recall of the part's own bars are 1."""
    lines = 'kick = "follow"\nriff = "x--x--x-"\ninsert = [{ before_bar = 3, beats = 2 }]'
    verse = song(lines).sections[0]
    found = section_following(verse)
    assert (found.precision, found.recall, found.attacks) == (1, 1, 48)
    assert found.meets == (2, 4, 5, 6, 7, 8, 9)  # bar 3 is the inserted one
    inserted = next(span for span in verse.spans if not span.own)
    assert sixteenths(inserted.groove, "kick") == [0, 3, 6]


def test_a_bar_that_the_section_does_not_have() -> None:
    text = SHEET + "insert = [{ before_bar = 10, beats = 2 }]\n"
    with pytest.raises(MusicError, match=r"parts.verse.insert, line 18.*before bar 10 of a section of 8"):
        arranged(sheet_from(text.encode(), "x.toml"))


def test_stops_are_silent_in_inserted_beats() -> None:
    verse = song('stops = "1.1 5.1"\ninsert = [{ before_bar = 5, beats = 2 }]').sections[0]
    assert kicks(verse) == [0, 72]


# -- grooves of another metre -----------------------------------------------------------------------------------

WALTZ = groove("x-----x-----", "--x---------", "x-x-x-x-x-x-", meter=Meter(3, 4), grid=16)


def test_cut_begins_anew_on_each_bar_line() -> None:
    """A bar of 3/4 under 4/4 plays on into its own beginning; under 2/4 its last beat is cut."""
    longer = fitted(WALTZ, FOUR_FOUR, "cut", 8)
    assert (longer.bars, longer.meter) == (1, FOUR_FOUR)
    assert sixteenths(longer, "kick") == [0, 6, 12]
    shorter = fitted(WALTZ, Meter(2, 4), "cut", 8)
    assert sixteenths(shorter, "kick") == [0, 6]


def test_cut_takes_each_bar_of_the_groove_in_turn() -> None:
    two = groove("x---------------|x-x-------------", meter=FOUR_FOUR)
    after = fitted(two, Meter(7, 8), "cut", 8)
    assert sixteenths(after, "kick") == [0, 14, 16]


def test_run_goes_over_the_bar_lines() -> None:
    """3/4 runs under 4/4 for three bars, four times the groove; no further than the section."""
    over = fitted(WALTZ, FOUR_FOUR, "run", 8)
    assert over.bars == 3
    assert sixteenths(over, "kick") == [0, 6, 12, 18, 24, 30, 36, 42]
    assert fitted(WALTZ, FOUR_FOUR, "run", 2).bars == 2


def test_backbeats_stay_backbeats() -> None:
    """A fitted groove keeps its feel, its backbeats where its snare plays them."""
    source = groove("x-------x-------", "----X-------X---", "x-x-x-x-x-x-x-x-", feel="full")
    reading = read_feel(fitted(source, Meter(7, 8), "cut", 8))
    assert (reading.feel, reading.backbeats) == ("full", (("snare", 4), ("snare", 12)))


@pytest.mark.parametrize("fit", ["cut", "run"])
def test_in_a_sheet(fit: str) -> None:
    """Feel, hand and length are the section's own; without `fit` the error names both metres."""
    lines = f'meter = "7/8"\nfit = "{fit}"\nfeel = "half"\ntimekeeper = "ride"'
    verse = song(lines).sections[0]
    assert (verse.feel, verse.bars, verse.timekeepers) == ("half", 8, ("ride",))
    assert verse.quarters == 28
    with pytest.raises(MusicError, match=r"is in 4/4, the section in 7/8"):
        song('meter = "7/8"')
