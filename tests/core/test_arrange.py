"""From a song to what every bar plays: layers of settings, feels, hands, arrivals, rests, statements.

House rules of the song sheet unless a source stands beside the check. Steps count sixteenths from 0.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from grooveforge.core.arrange import Arrangement, Section, arrange, arrival, bars_of, section_loop, statements
from grooveforge.core.groove import Groove, empty
from grooveforge.core.kit import ACCENT, Kind
from grooveforge.core.meter import Meter
from grooveforge.core.song import Entry, Settings, Song, Tempo, TempoRamp, TempoRatio
from grooveforge.errors import MusicError
from tests.bars import groove, line_of, sixteenths
from tests.core.test_arrival import ARRIVALS

HATS = "x-x-x-x-x-x-x-x-"
PLAIN = groove("x-------x-------", "----X-------X---", HATS)
HALF = groove("x---------------", "--------X-------", HATS)
D_BEAT_V2 = groove("o----o--o--o-o--", "--o---o---o---o-", HATS)
LONG = PLAIN.then(groove("x-x-----x-------", "----X-------X---", HATS))
SEVEN = groove("x-------x-----", "----X---------", "x-x-x-x-x-x-x-", meter=Meter(7, 8))
SEVEN_HATS = groove("x-------------", hand="x-x-x-x-x-x-x-", meter=Meter(7, 8))
KICKS_ALONE = groove("x-----x---x-----", hand=HATS)
GROOVES = {
    "plain": PLAIN,
    "half": HALF,
    "v2": D_BEAT_V2,
    "long": LONG,
    "seven": SEVEN,
    "seven hats": SEVEN_HATS,
    "kicks": KICKS_ALONE,
}

SONG = Fraction(132)


def _entry(part: str = "verse", name: str | None = None, repeat: int = 1, **settings: Any) -> Entry:
    return Entry(part, Settings(**settings), name, repeat)


def _song(*form: Entry, parts: dict[str, Settings] | None = None, **fields: Any) -> Song:
    """A song whose part "verse" is four bars of the plain groove without an arrival."""
    parts = {"verse": Settings(groove="plain", bars=4, arrival=False), **(parts or {})}
    return Song("Salt Road", form or (Entry("verse"),), parts, GROOVES, **{"tempo": SONG, **fields})


def _section(part: Settings, entry: Settings | None = None, **fields: Any) -> Section:
    """One section of a part, without an arrival unless it says one."""
    part = replace(part, arrival=False if part.arrival is None else part.arrival)
    song = _song(Entry("verse", entry or Settings()), parts={"verse": part}, **fields)
    return arrange(song).sections[0]


def _bars(section: Section) -> Groove:
    """All bars of a section whose hand stands on one surface."""
    assert len(section.spans) == 1
    return section.spans[0].groove


def _first(section: Section, name: str) -> list[Fraction]:
    """Where a lane strikes in a section's first bar."""
    return sixteenths(section.spans[0].groove.slice(0, 1), name)


def _numbers(section: Section) -> list[tuple[Fraction | int, Fraction | int]]:
    """The tempo steps of a section."""
    return list(section.tempo)


# -- tempo layers ------------------------------------------------------------------------------------------

TEMPI: list[tuple[Tempo | None, Tempo | None, list[tuple[int, int]]]] = [
    (None, None, [(0, 132)]),
    (Fraction(150), None, [(0, 150)]),
    (Fraction(150), Fraction(170), [(0, 170)]),
    (Fraction(150), TempoRatio(Fraction(2, 3)), [(0, 100)]),
    (None, TempoRatio(Fraction(2, 3)), [(0, 88)]),
    (TempoRatio(Fraction(1, 2)), TempoRatio(Fraction(2)), [(0, 132)]),
    (TempoRamp(Fraction(180), 4), TempoRatio(Fraction(1, 2)), [(0, 66)]),
    (Fraction(100), TempoRamp(Fraction(140), 2), [(0, 100), (1, 120), (2, 140)]),
]


@pytest.mark.parametrize(("part", "entry", "steps"), TEMPI)
def test_a_tempo_is_the_entry_s_over_the_part_s_over_the_song_s(
    part: Tempo | None, entry: Tempo | None, steps: list[tuple[int, int]]
) -> None:
    """A number holds; a ratio is of the part's tempo, over a ramp of its first; a ramp begins at the part's."""
    section = _section(Settings(groove="plain", bars=4, tempo=part), Settings(tempo=entry))
    assert _numbers(section) == steps


def test_a_part_s_ratio_is_of_the_song_s_tempo() -> None:
    """And under [defaults] too."""
    half = Settings(tempo=TempoRatio(Fraction(1, 2)))
    assert _numbers(_section(replace(half, groove="plain"))) == [(0, 66)]
    assert _numbers(_section(Settings(groove="plain"), defaults=half)) == [(0, 66)]


def test_a_tempo_belongs_to_its_section() -> None:
    """The next section has its own again."""
    song = _song(_entry(), _entry(tempo=Fraction(180)), _entry(tempo=TempoRamp(Fraction(98), 4)), _entry())
    assert [section.tempo[0][1] for section in arrange(song).sections] == [132, 180, 132, 132]


def test_a_ramp_is_cut_at_its_section_s_end() -> None:
    """One bar of 4/4 holds four of eight steps."""
    section = _section(Settings(groove="plain", bars=1), Settings(tempo=TempoRamp(Fraction(92), 8)))
    assert _numbers(section) == [(0, 132), (1, 127), (2, 122), (3, 117)]


def test_a_slower_section_changes_no_stroke() -> None:
    """Tempo and feel are independent: every bar is the same value."""
    sections = arrange(_song(_entry(), _entry(tempo=TempoRatio(Fraction(1, 2))))).sections
    assert _bars(sections[0]) == _bars(sections[1])


def test_a_song_lasts_as_long_as_its_sections() -> None:
    """Four bars of 4/4 at 120 are 8 s, at 60 they are 16 s."""
    song = _song(_entry(), _entry(tempo=Fraction(60)), tempo=Fraction(120))
    assert arrange(song).seconds == 24.0


# -- feel layers -------------------------------------------------------------------------------------------

FEELS = [
    # groove, the part's feel, the entry's, what is played
    ("plain", None, None, "full"),
    ("plain", "half", None, "half"),
    ("plain", "half", "double", "double"),
    ("plain", "/2", None, "half"),  # in a part: from the groove's
    ("half", "x2", None, "full"),
    ("half", "/2", None, "quarter"),
    ("plain", None, "/2", "half"),
    ("plain", "half", "/2", "quarter"),  # in an entry: from the part's
    ("plain", "half", "x2", "full"),
    ("plain", "half", "x4", "double"),
    ("plain", "double", "/4", "half"),
    ("plain", "/2", "/2", "quarter"),  # the part's own relative feel is resolved first
    ("half", "double", "x2", "blast"),
    ("v2", None, "x2", "blast"),  # on the ladder a d-beat counts as double
    ("v2", None, "/2", "full"),
]


@pytest.mark.parametrize(("name", "part", "entry", "played"), FEELS)
def test_a_feel_is_relative_to_the_layer_below(name: str, part: str | None, entry: str | None, played: str) -> None:
    """In a form entry from the part's feel, in a part from the groove's."""
    section = _section(Settings(groove=name, bars=4, feel=part), Settings(feel=entry))
    assert section.feel == played


@pytest.mark.parametrize(("part", "entry"), [("quarter", "/2"), ("half", "/4"), ("blast", "x2"), ("double", "x4")])
def test_a_feel_off_the_ladder_is_an_error_at_the_entry(part: str, entry: str) -> None:
    """Off the ladder's ends is an error; its path is the entry's key."""
    with pytest.raises(MusicError, match="ladder") as caught:
        _section(Settings(groove="plain", bars=4, feel=part), Settings(feel=entry))
    assert caught.value.faults[0].path == ("form", 0, "feel")


def test_a_relative_feel_of_a_groove_without_backbeats_is_an_error() -> None:
    """There is nothing to move from."""
    with pytest.raises(MusicError, match="backbeat") as caught:
        _section(Settings(groove="kicks", feel="/2"))
    assert caught.value.faults[0].path == ("parts", "verse", "feel")


def test_a_feel_never_wears_off() -> None:
    """A feel is always applied to the part's own groove: double time by way of an entry in half time's part is
    the double time of the groove itself, kicks and all."""
    direct = _section(Settings(groove="long", bars=4, feel="double"))
    over_half = _section(Settings(groove="long", bars=4, feel="half"), Settings(feel="double"))
    assert _bars(direct) == _bars(over_half)


def test_the_feel_that_the_groove_has_changes_nothing() -> None:
    """The bars are the groove's, stroke by stroke."""
    for name, feel in (("plain", "full"), ("half", "half"), ("v2", "d-beat")):
        assert _bars(_section(Settings(groove=name, feel=feel))) == GROOVES[name]


def test_an_entry_with_another_groove_has_that_groove_s_feel() -> None:
    """Where the part says no feel, the entry's groove keeps its own."""
    assert _section(Settings(groove="plain", bars=4), Settings(groove="half")).feel == "half"


def test_a_part_s_feel_holds_for_an_entry_s_groove() -> None:
    """A feel that the part says goes with any groove."""
    assert _section(Settings(groove="plain", bars=4, feel="double"), Settings(groove="half")).feel == "double"


def test_a_section_that_is_no_whole_number_of_cycles_is_cut() -> None:
    """Three bars of quarter time: one backbeat, on the second bar's downbeat; never stretched."""
    section = _section(Settings(groove="plain", bars=3, feel="quarter"))
    assert _bars(section).bars == 3
    assert sixteenths(_bars(section), "snare") == [16]
    assert section.backbeats == 1


BACKBEATS = [("quarter", 4), ("half", 8), ("full", 16), ("double", 32), ("blast", 64)]


@pytest.mark.parametrize(("feel", "count"), BACKBEATS)
def test_a_section_counts_its_backbeats(feel: str, count: int) -> None:
    """Eight bars at 1/2, 1, 2, 4, 8 a bar (quarter time derived; article "Half-time (music)")."""
    assert _section(Settings(groove="plain", bars=8, feel=feel)).backbeats == count


def test_a_section_without_backbeats_has_no_feel() -> None:
    """Feel null, and nothing counted."""
    section = _section(Settings(groove="kicks", bars=2))
    assert (section.feel, section.backbeats) == (None, 0)


# -- spellings and backbeats -------------------------------------------------------------------------------


def test_a_spelling_goes_with_its_feel() -> None:
    """Kick of the second published d-beat (encyclopaedia article "D-beat")."""
    section = _section(Settings(groove="plain", feel="d-beat", spelling="v2"))
    assert _first(section, "kick") == [0, 5, 8, 11, 13]


@pytest.mark.parametrize("feel", ["full", "double", "blast", "x2", "/2"])
def test_a_spelling_said_for_the_part_s_feel_falls_away_with_it(feel: str) -> None:
    """An entry's feel of another name is played as if the part said no spelling."""
    spelled = _section(Settings(groove="plain", bars=4, feel="d-beat", spelling="v2"), Settings(feel=feel))
    plain = _section(Settings(groove="plain", bars=4, feel="d-beat"), Settings(feel=feel))
    assert _bars(spelled) == _bars(plain)


def test_a_spelling_said_for_the_defaults_feel_falls_away_too() -> None:
    """A part's feel over that of [defaults]."""
    below = Settings(feel="d-beat", spelling="v2")
    assert _section(Settings(groove="plain", feel="half"), defaults=below).feel == "half"
    assert _section(Settings(groove="plain", feel="half"), Settings(feel="blast"), defaults=below).feel == "blast"


def test_a_spelling_of_the_layer_below_that_fits_stays() -> None:
    """The entry names the feel that the part spells."""
    section = _section(Settings(groove="plain", feel="d-beat", spelling="v2"), Settings(feel="d-beat"))
    assert _first(section, "kick") == [0, 5, 8, 11, 13]


def test_a_spelling_that_does_not_fit_its_own_layer_is_an_error() -> None:
    """Full time has no spellings."""
    with pytest.raises(MusicError, match="spelling"):
        _section(Settings(groove="plain"), Settings(feel="full", spelling="v2"))


def test_an_entry_may_change_the_spelling_alone() -> None:
    """Another spelling counts as another feel."""
    section = _section(Settings(groove="plain", feel="d-beat"), Settings(spelling="v3"))
    assert _first(section, "kick") == [0, 3, 5, 8, 11, 13]


def test_backbeats_of_a_part_overrule_the_feel_s() -> None:
    """ "2 4&" stands in the bar, and goes down the ladder by stretching."""
    own = (Fraction(1, 4), Fraction(7, 8))
    part = Settings(groove="plain", bars=4, feel="full", backbeats=own)
    assert _first(_section(part), "snare") == [4, 14]
    assert sixteenths(_bars(_section(part, Settings(feel="half"))).slice(0, 2), "snare") == [8, 28]


# -- metre -------------------------------------------------------------------------------------------------


def test_a_groove_of_another_metre_is_an_error_naming_both() -> None:
    """A groove in 7/8 in a section in 4/4."""
    with pytest.raises(MusicError, match=r"7/8.*4/4") as caught:
        _section(Settings(groove="seven"))
    assert caught.value.faults[0].path == ("parts", "verse", "groove")


def test_a_part_may_have_a_metre_of_its_own() -> None:
    """And its bars are as long as that metre's."""
    section = _section(Settings(groove="seven", bars=4, meter=Meter(7, 8)))
    assert str(section.meter) == "7/8"
    assert section.quarters == 14


def test_the_song_s_metre_holds_where_none_is_said() -> None:
    """A song in 7/8."""
    assert _section(Settings(groove="seven"), meter=Meter(7, 8)).meter == Meter(7, 8)


def test_a_grouping_of_the_song_moves_the_backbeats() -> None:
    """7/8 as 3+2+2: full time beats back on the second group's first eighth (published lesson)."""
    part = Settings(groove="seven hats", feel="full")
    section = _section(part, meter=Meter(7, 8, (3, 2, 2)), grouping=(3, 2, 2))
    assert section.meter.grouping == (3, 2, 2)
    assert _first(section, "snare") == [6]


def test_a_grouping_of_a_part_holds_for_its_metre() -> None:
    """2+3+2."""
    section = _section(Settings(groove="seven", meter=Meter(7, 8), grouping=(2, 3, 2)))
    assert section.meter.grouping == (2, 3, 2)


def test_a_groove_s_grouping_holds_where_no_layer_says_one() -> None:
    """The grouping that the user writes with the groove overrules the default."""
    grouped = replace(SEVEN, meter=Meter(7, 8, (3, 2, 2)))
    song = Song("Salt Road", (Entry("a"),), {"a": Settings(groove="g", meter=Meter(7, 8))}, {"g": grouped})
    assert arrange(song).sections[0].meter.grouping == (3, 2, 2)


def test_another_grouping_moves_no_stroke_by_itself() -> None:
    """Where no feel is said the bars are the groove's, whatever grouping the section counts in."""
    for groups in ((2, 2, 3), (2, 3, 2), (3, 2, 2)):
        section = _section(Settings(groove="seven", meter=Meter(7, 8), grouping=groups))
        assert replace(_bars(section), meter=SEVEN.meter) == SEVEN
        assert section.feel == ("full" if groups[0] == 2 else None)


def test_a_grouping_that_does_not_add_up_is_an_error() -> None:
    """2+2+2 are no seven."""
    with pytest.raises(MusicError, match="add up") as caught:
        _section(Settings(groove="seven", meter=Meter(7, 8), grouping=(2, 2, 2)))
    assert caught.value.faults[0].path == ("parts", "verse", "grouping")


# -- bars --------------------------------------------------------------------------------------------------


def test_bars_default_to_the_groove_s_length() -> None:
    """A groove of two bars makes a section of two, also when its feel needs a longer cycle."""
    assert _section(Settings(groove="long")).bars == 2
    assert _section(Settings(groove="plain", feel="quarter")).bars == 1


def test_a_section_repeats_its_groove_and_cuts_it() -> None:
    """Three bars of a groove of two: first, second, first."""
    played = _bars(_section(Settings(groove="long", bars=3)))
    assert played == LONG.bars_of(3)
    assert played.slice(2, 3) == LONG.slice(0, 1)


def test_a_section_without_a_groove_needs_bars() -> None:
    """Nothing else says how long it is."""
    assert bars_of(_song(), Settings(bars=3)) == 3
    with pytest.raises(MusicError, match="bars"):
        bars_of(_song(), Settings(tacet=True))


def test_bars_are_numbered_through_the_song() -> None:
    """From 1, repeats counted."""
    found = arrange(_song(_entry(bars=3), _entry(repeat=2, bars=2), _entry()))
    assert [section.bar for section in found.sections] == [1, 4, 6, 8]
    assert found.bars == 11


def test_a_song_has_at_most_ten_thousand_bars() -> None:
    """Repeats counted."""
    assert arrange(_song(_entry(repeat=5, bars=2000))).bars == 10_000
    with pytest.raises(MusicError, match="10001"):
        arrange(_song(_entry(repeat=5, bars=2000), _entry(bars=1)))


# -- statements --------------------------------------------------------------------------------------------


def test_repeats_are_written_out() -> None:
    """`repeat = 3` is three sections of one entry."""
    found = list(statements(_song(_entry(repeat=3), _entry())))
    assert [(index, number) for index, _, number in found] == [(0, 1), (0, 2), (0, 3), (1, 4)]


def test_statements_are_numbered_among_their_part_s() -> None:
    """Another part's sections, and an entry's own name, do not count."""
    chorus = {"chorus": Settings(groove="half", bars=2)}
    form = (_entry(), _entry("chorus"), _entry(name="last verse"), _entry("chorus", repeat=2))
    found = arrange(_song(*form, parts=chorus)).sections
    assert [(section.part, section.statement) for section in found] == [
        ("verse", 1), ("chorus", 1), ("verse", 2), ("chorus", 2), ("chorus", 3)
    ]  # fmt: skip
    assert [section.name for section in found] == ["verse", "chorus", "last verse", "chorus", "chorus"]


def test_a_change_in_one_entry_leaves_every_other_section_alone() -> None:
    """Their bars are equal values."""
    before = arrange(_song(_entry(), _entry(), _entry())).sections
    after = arrange(_song(_entry(), _entry(feel="half", timekeeper="china", tempo=Fraction(90)), _entry())).sections
    assert [section.spans for section in (before[0], before[2])] == [section.spans for section in (after[0], after[2])]
    assert before[1].spans != after[1].spans


def test_every_fault_of_a_song_comes_at_once() -> None:
    """Each with the key path of what caused it; a repeated entry's fault once."""
    fast = _entry(tempo=TempoRatio(Fraction(9)), repeat=2)
    form = (_entry(groove="seven"), _entry(), fast, _entry(feel="x2", bars=2))
    with pytest.raises(MusicError) as caught:
        arrange(_song(*form, parts={"verse": Settings(groove="plain", bars=4, feel="blast")}))
    paths = [fault.path for fault in caught.value.faults]
    assert paths == [("form", 0, "groove"), ("form", 2, "tempo"), ("form", 3, "feel")]


def test_a_fault_stands_where_its_key_is_said() -> None:
    """In [defaults], the part or the entry."""
    wrong = Settings(subdivision="1/5")
    places = []
    for layers in ({"defaults": wrong}, {"part": wrong}, {"entry": wrong}):
        part = layers.get("part", Settings()).over(Settings(groove="plain"))
        with pytest.raises(MusicError) as caught:
            _section(part, layers.get("entry"), defaults=layers.get("defaults", Settings()))
        places.append(caught.value.faults[0].path)
    assert places == [("defaults", "subdivision"), ("parts", "verse", "subdivision"), ("form", 0, "subdivision")]


# -- the timekeeping hand ----------------------------------------------------------------------------------


def test_the_hand_moves_and_kick_and_snare_stay() -> None:
    """Equal arrays before and after (common practice; used as an exact check)."""
    moved, plain = _bars(_section(Settings(groove="plain", timekeeper="ride"))), PLAIN
    assert moved.surface == "ride"
    assert (moved.kick, moved.snare, moved.hand) == (plain.kick, plain.snare, plain.hand)


def _surfaces(section: Section) -> list[tuple[int, int, str | None]]:
    return [(span.bar, span.groove.bars, span.groove.surface) for span in section.spans]


def test_surfaces_share_a_section_in_equal_parts() -> None:
    """Part i of k begins at bar floor(i * n / k): 7 bars by three are 2, 2, 3."""
    section = _section(Settings(groove="plain", bars=7, timekeeper=("closed hi-hat", "ride", "china")))
    assert _surfaces(section) == [(1, 2, "closed hi-hat"), (3, 2, "ride"), (5, 3, "china")]
    assert section.timekeepers == ("closed hi-hat", "ride", "china")


def test_surfaces_by_bars_hold_to_the_end() -> None:
    """The last of the list holds."""
    section = _section(Settings(groove="plain", bars=8, timekeeper=((5, "ride"), (1, "crash"))))
    assert _surfaces(section) == [(1, 5, "ride"), (6, 3, "crash")]


def test_too_many_bars_of_surfaces_are_an_error_at_the_list() -> None:
    """Nine bars in a section of eight."""
    with pytest.raises(MusicError) as caught:
        _section(Settings(groove="plain", bars=8, timekeeper=((5, "ride"), (4, "crash"))))
    assert caught.value.faults[0].path == ("parts", "verse", "timekeeper")


def test_shared_surfaces_leave_the_strokes_as_they_are() -> None:
    """Cut where the surface changes, the bars are those of the groove on one surface."""
    shared = _section(Settings(groove="long", bars=5, timekeeper=("ride", "china")))
    alone = LONG.bars_of(5)
    first = 0
    for span in shared.spans:
        assert span.groove == alone.slice(first, first + span.groove.bars).move_hand(span.groove.surface or "")
        first += span.groove.bars
    assert first == 5


def test_a_groove_without_a_hand_gets_none() -> None:
    """A surface says where the hand stands, not what it plays."""
    bare = groove("x" + 15 * "-")
    song = Song("Salt Road", (Entry("a"),), {"a": Settings(groove="g", timekeeper="ride")}, {"g": bare})
    assert _bars(arrange(song).sections[0]).hand is None


def test_a_subdivision_leaves_kick_and_snare() -> None:
    """Five choices are independent."""
    played = _bars(_section(Settings(groove="plain", subdivision="1/4")))
    assert sixteenths(played, "hand") == [0, 4, 8, 12]
    assert sixteenths(played, "kick") == [0, 8]
    assert sixteenths(played, "snare") == [4, 12]


def test_a_subdivision_holds_in_a_blast_too() -> None:
    """D-beat and blast bring the rate of their hand unless `subdivision` is given."""
    assert _first(_section(Settings(groove="plain", feel="blast", subdivision="1/4")), "hand") == [0, 4, 8, 12]


# -- the foot on the hi-hat --------------------------------------------------------------------------------


def test_the_foot_plays_the_backbeats_while_the_hand_is_elsewhere() -> None:
    """On the ride; not on the hi-hat itself."""
    ride = _section(Settings(groove="plain", bars=2, timekeeper="ride", hi_hat_foot=True))
    assert sixteenths(_bars(ride), "pedal hi-hat") == [4, 12, 20, 28]
    hats = _section(Settings(groove="plain", bars=2, hi_hat_foot=True))
    assert sixteenths(_bars(hats), "pedal hi-hat") == []


@pytest.mark.parametrize(
    ("surfaces", "feet"),
    [
        (("closed hi-hat", "ride"), [[], [4, 12]]),
        (("ride", "closed hi-hat"), [[4, 12], []]),
        (((1, "china"), (1, "open hi-hat")), [[4, 12], []]),
    ],
)
def test_the_foot_goes_by_where_the_hand_is_in_each_bar(surfaces: Any, feet: list[list[int]]) -> None:
    """A section that shares surfaces has the foot in the bars of the others alone."""
    section = _section(Settings(groove="plain", bars=2, timekeeper=surfaces, hi_hat_foot=True))
    assert [sixteenths(span.groove, "pedal hi-hat") for span in section.spans] == feet


def test_a_section_s_loop_has_the_foot_where_the_section_has_it() -> None:
    """The loop that is written out plays what the section plays."""
    part = Settings(groove="plain", bars=2, timekeeper=("closed hi-hat", "ride"), hi_hat_foot=True)
    song = _song(Entry("verse"), parts={"verse": part})
    assert sixteenths(section_loop(song, Entry("verse")).bars_of(2), "pedal hi-hat") == [20, 28]


# -- kick and riff -----------------------------------------------------------------------------------------


def test_the_kick_follows_the_riff() -> None:
    """Exactly the attacks, restarted with each section by default."""
    part = {"verse": Settings(groove="plain", bars=2, kick="follow", riff="x--x---", arrival=False)}
    found = arrange(_song(_entry(), _entry(), parts=part)).sections
    expected = [0, 3, 7, 10, 14, 17, 21, 24, 28, 31]
    assert [sixteenths(_bars(section), "kick") for section in found] == [expected, expected]
    assert sixteenths(_bars(found[0]), "snare") == [4, 12, 20, 28]


def test_a_riff_that_runs_on_counts_its_own_sections_alone() -> None:
    """It pauses in the sections that do not use it."""
    running = Settings(groove="plain", bars=1, kick="follow", riff="x--x---", riff_restart=False, arrival=False)
    other = Settings(groove="half", bars=3, arrival=False)
    song = _song(_entry(), _entry("other"), _entry(), parts={"verse": running, "other": other})
    found = arrange(song).sections
    assert sixteenths(_bars(found[0]), "kick") == [0, 3, 7, 10, 14]
    assert sixteenths(_bars(found[2]), "kick") == [1, 5, 8, 12, 15]  # 16 steps on, 2 into the cycle of 7


def test_an_arrival_s_kick_comes_beside_the_riff_s() -> None:
    """It is counted apart."""
    part = Settings(groove="plain", bars=1, kick="follow", riff="--x-----", arrival=True)
    assert sixteenths(_bars(_section(part)), "kick") == [0, 2, 10]


# -- arrivals ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("surface", "crash"), ARRIVALS)
def test_which_crash_an_arrival_takes(surface: str, crash: str) -> None:
    """A hand on a hi-hat or floor tom takes the crash, one on ride, bell or china the second crash, one that
    rides a crash the other; anything else the crash."""
    section = _section(Settings(groove="plain", bars=2, timekeeper=surface, arrival=True))
    played = _bars(section)
    assert sixteenths(played, crash) == [0]
    assert sixteenths(played.slice(0, 1), "hand") == [2, 4, 6, 8, 10, 12, 14]
    assert sixteenths(played.slice(1, 2), "hand") == [0, 2, 4, 6, 8, 10, 12, 14]


def test_an_arrival_goes_by_the_first_surface_of_a_list() -> None:
    """The hand stands there on the section's 1."""
    section = _section(Settings(groove="plain", bars=4, timekeeper=("ride", "closed hi-hat"), arrival=True))
    assert [sixteenths(span.groove, "second crash") for span in section.spans] == [[0], []]


def test_an_arrival_is_a_crash_and_a_kick_on_1() -> None:
    """Both accents; the rest of the section is as it was."""
    late = groove("----x-----------", "--------X-------", HATS)
    arrived = arrival(late)
    assert int(arrived.lane_on("crash").velocity[0]) == ACCENT
    assert Kind(int(arrived.lane_on("crash").kind[0])) is Kind.ACCENT
    assert int(arrived.lane_on("kick").velocity[0]) == ACCENT
    assert sixteenths(arrived, "kick") == [0, 4]
    assert arrived.snare == late.snare


def test_a_kick_that_is_there_stays_as_it_is() -> None:
    """An arrival adds a kick only where none stands."""
    assert arrival(PLAIN).kick == PLAIN.kick


@pytest.mark.parametrize("hand", [None, "--x-x-x-x-x-x-x-"])
def test_an_arrival_s_crash_is_added_where_the_hand_has_no_stroke(hand: str | None) -> None:
    """A groove without a hand, or one whose hand rests on 1."""
    before = groove("x" + 15 * "-", "----X-------X---", hand)
    after = arrival(before)
    assert sixteenths(after, "crash") == [0]
    assert after.hand == before.hand


def test_arrivals_are_the_default() -> None:
    """`arrival = true` where nothing says otherwise."""
    found = arrange(_song(parts={"verse": Settings(groove="plain")})).sections[0]
    assert sixteenths(_bars(found), "crash") == [0]
    assert found.spans[0].tight == (0,)


def test_no_arrival_leaves_the_bars_alone() -> None:
    """`arrival = false`, in the part, the entry or the defaults."""
    for song in (
        _song(parts={"verse": Settings(groove="plain", arrival=False)}),
        _song(_entry(arrival=False), parts={"verse": Settings(groove="plain")}),
        _song(parts={"verse": Settings(groove="plain")}, defaults=Settings(arrival=False)),
    ):
        assert _bars(arrange(song).sections[0]) == PLAIN


# -- rests and building by layers --------------------------------------------------------------------------


def test_tacet_rests_and_has_no_arrival() -> None:
    """Every lane is silent for the section's length."""
    section = _section(Settings(groove="plain", bars=4, tacet=True, arrival=True))
    assert _bars(section) == empty(Meter(4, 4), bars=4)
    assert (section.feel, section.backbeats) == (None, 0)


@pytest.mark.parametrize(
    ("play", "kick", "snare", "hand"),
    [
        (("timekeeper",), [], [], list(range(0, 16, 2))),
        (("kick", "timekeeper"), [0, 8], [], list(range(0, 16, 2))),
        (("snare",), [], [4, 12], []),
    ],
)
def test_only_the_lanes_that_play_names_are_heard(
    play: tuple[str, ...], kick: list[int], snare: list[int], hand: list[int]
) -> None:
    """For a build by layers."""
    played = _bars(_section(Settings(groove="plain", play=play)))
    assert [sixteenths(played, name) for name in ("kick", "snare", "hand")] == [kick, snare, hand]


def test_play_drops_further_surfaces_unless_it_names_other() -> None:
    """`other` stands for every lane that is none of the three."""
    toms = PLAIN.with_lane("low tom", groove(line_of([15])).lane_on("kick"))
    for play, strokes in ((("kick",), []), (("kick", "other"), [15])):
        part = Settings(groove="g", play=play, arrival=False)
        song = Song("Salt Road", (Entry("a"),), {"a": part}, {"g": toms})
        assert sixteenths(_bars(arrange(song).sections[0]), "low tom") == strokes


@pytest.mark.parametrize(
    ("play", "kick", "crash"),
    [(("timekeeper",), [], [0]), (("kick",), [0, 4], []), (("snare",), [], []), (("kick", "timekeeper"), [0, 4], [0])],
)
def test_an_arrival_plays_only_the_lanes_that_play_names(
    play: tuple[str, ...], kick: list[int], crash: list[int]
) -> None:
    """The crash is the timekeeping hand's, the kick the kick's."""
    late = groove("----x-----------", "--------X-------", HATS)
    song = Song("Salt Road", (Entry("a"),), {"a": Settings(groove="g", play=play)}, {"g": late})
    played = _bars(arrange(song).sections[0])
    assert sixteenths(played, "kick") == kick
    assert sixteenths(played, "crash") == crash


# -- differences -------------------------------------------------------------------------------------------


def _differences(part: Settings, entry: Settings) -> list[tuple[str, object, object]]:
    return [(row.key, row.before, row.now) for row in _section(part, entry).differences]


PART = Settings(groove="plain", bars=8, feel="full", timekeeper="closed hi-hat")

DIFFERENCES: list[tuple[Settings, list[tuple[str, object, object]]]] = [
    (Settings(), []),
    (Settings(feel="half"), [("feel", "full", "half")]),
    (Settings(feel="/2"), [("feel", "full", "half")]),
    (Settings(feel="full", bars=8, timekeeper="closed hi-hat"), []),
    (Settings(bars=4), [("bars", 8, 4)]),
    (Settings(tempo=Fraction(150)), [("tempo", 132, 150)]),
    (Settings(tempo=TempoRatio(Fraction(2, 3))), [("tempo", 132, 88)]),
    (Settings(tempo=TempoRatio(Fraction(1))), []),
    (Settings(timekeeper="china"), [("timekeeper", "closed hi-hat", "china")]),
    (Settings(timekeeper=("ride", "china")), [("timekeeper", "closed hi-hat", ["ride", "china"])]),
    (Settings(kick="adapt", subdivision="keep", tacet=False), []),  # what holds anyway
    (Settings(kick="keep"), [("kick", "adapt", "keep")]),
    (Settings(tacet=True), [("tacet", False, True)]),
]


@pytest.mark.parametrize(("entry", "found"), DIFFERENCES)
def test_a_section_lists_what_its_entry_changes(entry: Settings, found: list[tuple[str, object, object]]) -> None:
    """Key by key, relative values resolved; a key that says what holds anyway is no difference."""
    assert _differences(PART, entry) == found


def test_a_ramp_is_a_difference_by_its_goal() -> None:
    """As the sheet writes it."""
    ramp = Settings(tempo=TempoRamp(Fraction(98), 8))
    assert _differences(PART, ramp) == [("tempo", None, {"to": 98, "over": 8})]


def test_differences_are_said_in_words() -> None:
    """One sentence a key."""
    rows = _section(PART, Settings(feel="half", timekeeper="china", bars=4)).differences
    words = {row.key: row.in_words for row in rows}
    assert words == {
        "feel": "half time instead of full",
        "timekeeper": "the hand on china",
        "bars": "4 bars",
    }


@pytest.mark.parametrize(("feel", "said"), [("double", "double time"), ("blast", "blast"), ("d-beat", "d-beat")])
def test_only_the_times_are_called_time(feel: str, said: str) -> None:
    """Half time, but a blast (common practice)."""
    rows = _section(PART, Settings(feel=feel)).differences
    assert [row.in_words for row in rows] == [f"{said} instead of full"]


# -- the same song gives the same arrangement --------------------------------------------------------------


def test_an_arrangement_is_a_value() -> None:
    """Arranged twice a song gives equal values."""
    song = _song(_entry(), _entry(feel="half", timekeeper=("ride", "china")), seed=7)
    first, second = arrange(song), arrange(song)
    assert isinstance(first, Arrangement)
    assert first == second
    assert (first.title, first.seed) == ("Salt Road", 7)
