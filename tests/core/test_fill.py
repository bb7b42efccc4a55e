"""Fills: which one comes, how it lies over the groove (house rules; that a fill lands on the 1 and fits the next
part's speed: published lessons)."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from grooveforge.core.arrange import Arrangement, Section, arrange
from grooveforge.core.figures import Fill, FillStroke, last_beats
from grooveforge.core.fill import LEAST_A_BEAT, STRAIGHT, TRIPLE, division_of, half_speed, onsets, plain_runs, together
from grooveforge.core.fill_choice import Chooser, Place
from grooveforge.core.fill_laying import with_fills
from grooveforge.core.groove import LANES
from grooveforge.core.kit import ACCENT, NORMAL, Kind
from grooveforge.core.meter import Meter
from grooveforge.core.section import Span
from grooveforge.errors import GrooveForgeError, MusicError
from grooveforge.project.library import library_fills
from grooveforge.project.sheets import arranged, sheet_from, song_from
from tests.bars import FOUR_FOUR, groove, sixteenths
from tests.laws.strategies import METERS
from tests.sheet_parts import PUSHED

QUARTER = Fraction(1, 4)
BAR = (QUARTER,) * 4

SHEET = """
title = "Fills"
tempo = 140
form = ["verse", "chorus", "verse", "chorus"]
[defaults]
groove = "plain"
bars = 8
fill = "1 bar"
""" + PUSHED + """\
[parts.verse]
[parts.chorus]
timekeeper = "ride"
"""


def song(text: str) -> Arrangement:
    return arrange(song_from(text, "x.toml"))


def last_bar(section: Section) -> dict[str, list[Fraction]]:
    """What the last bar strikes, in sixteenths."""
    bar = section.spans[-1].groove
    bar = bar.slice(bar.bars - 1, bar.bars)
    return {name: [Fraction(16 * int(step), bar.grid) for step in lane.struck] for name, lane in bar.voices}


def run(name: str, every: Fraction, beats: tuple[Fraction, ...] = BAR, surface: str = "snare") -> Fill:
    count = int(sum(beats) / every)
    return Fill(name, beats, tuple(FillStroke(number * every, surface, 94, Kind.PLAIN) for number in range(count)))


# -- what a fill is like ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("fill", library_fills(), ids=lambda fill: fill.name)
def test_every_shipped_fill_has_two_strokes_a_beat(fill: Fill) -> None:
    """At least two instants with a stroke in every beat, and none at or behind its end."""
    assert min(onsets(fill, fill.beats)) >= LEAST_A_BEAT
    assert all(0 <= stroke.place < fill.whole for stroke in fill.strokes)


def test_last_beats_of_bars() -> None:
    """Beats are the metre's: quarters, dotted quarters in compound time, groups in unequal ones."""
    assert last_beats("2 beats", [FOUR_FOUR]) == (QUARTER, QUARTER)
    assert last_beats("1 beat", [Meter(6, 8)]) == (Fraction(3, 8),)
    assert last_beats("2 beats", [Meter(7, 8)]) == (QUARTER, Fraction(3, 8))
    assert last_beats("2 bars", [Meter(3, 4), Meter(2, 4)]) == (QUARTER,) * 5
    assert last_beats("2 beats", [FOUR_FOUR, Meter(1, 4)]) == (QUARTER, QUARTER)
    with pytest.raises(MusicError, match="more than there is"):
        last_beats("2 bars", [FOUR_FOUR])


def test_straight_and_triple() -> None:
    assert division_of(BAR, (Fraction(1, 16), Fraction(1, 4))) == STRAIGHT
    assert division_of(BAR, (Fraction(1, 12), Fraction(1, 4))) == TRIPLE
    assert division_of(BAR, (Fraction(1, 24), Fraction(1, 12))) is None  # sixes go with both
    assert division_of(BAR, (Fraction(0), Fraction(1, 4))) is None
    assert division_of((Fraction(3, 8),), (Fraction(1, 8),)) is None  # a dotted beat has three parts anyway


def test_half_speed_and_together() -> None:
    slow = half_speed(replace(run("a", Fraction(1, 16)), tempo=(Fraction(70), Fraction(175))))
    assert slow.whole == 2
    assert slow.tempo == (Fraction(140), Fraction(350))
    assert onsets(slow, BAR * 2) == [2] * 8
    both = together(run("a", Fraction(1, 8), (QUARTER,)), run("b", Fraction(1, 16), (QUARTER,)))
    assert [stroke.place * 16 for stroke in both.strokes] == [0, 2, 4, 5, 6, 7]
    assert both.names == {"a", "b"}


# -- which one ----------------------------------------------------------------------------------------------------

POOL = tuple(run(f"runs of {parts}", QUARTER / parts) for parts in (2, 3, 4, 6, 8))


def chosen(place: Place, draw: float = 0.5, before: str | None = None, pool: tuple[Fill, ...] = POOL) -> str:
    found = Chooser(pool).choose(place, draw, frozenset({before} if before else ()))
    assert found is not None
    return found.fill.name


def test_it_grows_with_the_step_in_level() -> None:
    """A higher next part never gets a smaller fill, and two steps more a larger one."""
    straight = tuple(run(f"runs {number}", QUARTER / parts) for number, parts in enumerate((2, 4, 8)))
    for draw in (0.0, 0.3, 0.6, 0.99):
        by_step = [chosen(Place(BAR, Fraction(120), 3.0, step=step), draw, pool=straight) for step in range(-4, 5)]
        assert by_step == sorted(by_step)
        assert by_step[0] < by_step[-1]


def test_it_fits_the_speed_of_the_next_part() -> None:
    """A part with more strokes a second gets the busier fill."""
    straight = tuple(run(f"runs {number}", QUARTER / parts) for number, parts in enumerate((2, 4, 8)))
    names = [chosen(Place(BAR, Fraction(120), strokes), pool=straight) for strokes in (1.0, 3.0, 12.0)]
    assert names == ["runs 0", "runs 1", "runs 2"]


def test_a_triplet_part_gets_triplets() -> None:
    assert chosen(Place(BAR, Fraction(120), division=TRIPLE)) in ("runs of 3", "runs of 6")
    assert chosen(Place(BAR, Fraction(120), division=STRAIGHT)) != "runs of 3"


def test_never_the_one_before() -> None:
    place = Place(BAR, Fraction(120), 4.0)
    for draw in (0.0, 0.25, 0.5, 0.75, 0.99):
        assert chosen(place, draw, before=chosen(place, draw)) != chosen(place, draw)


def test_a_fill_sits_at_the_tempo() -> None:
    """A fill for slow songs is not played fast."""
    slow, fast = ((Fraction(40), Fraction(110)), (Fraction(70), Fraction(175)))
    pool = (replace(POOL[0], tempo=slow), replace(POOL[2], tempo=fast))
    assert chosen(Place(BAR, Fraction(150)), pool=pool) == "runs of 4"
    assert chosen(Place(BAR, Fraction(50)), pool=pool) == "runs of 2"


def test_no_fill_strikes_a_crash_or_what_the_hand_stood_on() -> None:
    """The hand leaves the timekeeper, and the crash is kept for the arrival."""
    pool = (run("crashes", QUARTER / 4, surface="second crash"), run("china", QUARTER / 4, surface="china"), POOL[2])
    for draw in (0.0, 0.5, 0.99):
        assert chosen(Place(BAR, Fraction(120), hands=("china",)), draw, pool=pool) == "runs of 4"


@pytest.mark.parametrize("meter", METERS, ids=str)
@pytest.mark.parametrize("length", ["1 beat", "2 beats", "1 bar", "2 bars"])
@pytest.mark.parametrize("bpm", [40, 140, 210, 390])
def test_every_metre_and_length_has_a_fill(meter: Meter, length: str, bpm: int) -> None:
    """From the library or made; exactly as long as asked, two strokes a beat, and another one beside it."""
    beats = last_beats(length, (meter, meter, meter))
    chooser = Chooser(library_fills())
    first = chooser.choose(Place(beats, Fraction(bpm)), 0.5)
    assert first is not None
    assert first.fill.whole == sum(beats)
    assert min(onsets(first.fill, beats)) >= LEAST_A_BEAT
    assert first.fill.name in {fill.name for fill in library_fills()} or first.note
    second = chooser.choose(Place(beats, Fraction(bpm)), 0.5, first.fill.names)
    assert second is not None
    assert not second.fill.names & first.fill.names


def test_the_lanes_that_play() -> None:
    """Under a riff the feet are taken: the hands alone make the fill. Where nothing can fill there is none."""
    kickless = frozenset(LANES) - {"kick"}
    found = Chooser(library_fills()).choose(Place(BAR, Fraction(140), lanes=kickless), 0.5)
    assert found is not None
    assert all(stroke.surface != "kick" for stroke in found.fill.strokes)
    assert min(onsets(found.fill, BAR)) >= LEAST_A_BEAT
    assert Chooser(library_fills()).choose(Place(BAR, Fraction(140), lanes=frozenset({"timekeeper"})), 0.5) is None


# -- how it lies --------------------------------------------------------------------------------------------------


def test_the_groove_is_silent_inside() -> None:
    """From the fill's start to its end nothing of the groove sounds; before it all does."""
    source = groove("x---x---x---x---" * 2, "----X-------X---" * 2, "x-x-x-x-x-x-x-x-" * 2)
    spans = with_fills((Span(1, source),), [(Fraction(2), run("a", Fraction(1, 16), (QUARTER, QUARTER)))])
    assert [span.bar for span in spans] == [1, 2]
    assert spans[0].groove == source.slice(0, 1)
    assert sixteenths(spans[1].groove, "kick") == [0, 4]
    assert sixteenths(spans[1].groove, "hand") == [0, 2, 4, 6]
    assert sixteenths(spans[1].groove, "snare") == [4, 8, 9, 10, 11, 12, 13, 14, 15]


def test_a_kept_kick_plays_on() -> None:
    source = groove("x--x--x--x--x--x", "----X-------X---", "x-x-x-x-x-x-x-x-")
    (span,) = with_fills((Span(1, source),), [(Fraction(1), run("a", Fraction(1, 12)))], frozenset({"kick"}))
    assert sixteenths(span.groove, "kick") == sixteenths(source, "kick")
    assert span.groove.hand is None
    assert len(span.groove.lane_on("snare").struck) == 12


def test_two_bars_over_different_metres() -> None:
    """A fill may begin in one span and end in the next."""
    first, last = groove("x---------------", None, "x-x-x-x-x-x-x-x-"), groove(None, None, "x-x-x-x-", Meter(2, 4))
    spans = with_fills((Span(1, first), Span(2, last)), [(Fraction(3, 2), run("a", Fraction(1, 8), (QUARTER,) * 4))])
    assert sixteenths(spans[0].groove, "snare") == [8, 10, 12, 14]
    assert sixteenths(spans[1].groove, "snare") == [0, 2, 4, 6]
    assert sixteenths(spans[0].groove, "hand") == [0, 2, 4, 6]
    assert spans[1].groove.hand is None


def test_a_fill_longer_than_its_section_is_a_fault() -> None:
    text = SHEET.replace('[parts.chorus]', '[parts.chorus]\nbars = 1\nfill = "2 bars"')
    with pytest.raises(GrooveForgeError, match=r"x.toml: parts.chorus.fill, line 18: 2 bars are more than there is"):
        arranged(sheet_from(text.encode(), "x.toml"))


def test_a_fill_and_a_riff_that_share_no_grid_are_a_fault() -> None:
    lines = '[parts.verse]\nkick = "follow"\nriff = "xxxxx"\nriff_grid = 20\nfill = "bar of triplets"\n'
    text = SHEET.replace("[parts.verse]\n", lines)
    with pytest.raises(GrooveForgeError, match="steps to a whole note"):
        song(text)


# -- in a song ----------------------------------------------------------------------------------------------------


def test_at_the_end_of_each_section_but_the_last() -> None:
    """The last section's fill is left out with a line, unless a final hit takes it."""
    made = song(SHEET)
    assert [section.spans[-1].groove.hand is None for section in made.sections] == [True, True, True, False]
    assert made.notes == ('chorus, bar 32: the fill is left out: nothing comes after it but the end (final = "hit")',)
    hit = song(SHEET.replace("tempo = 140", 'tempo = 140\nfinal = "hit"'))
    assert not hit.notes
    assert hit.sections[-1].spans[-2].groove.hand is None


def test_every_four_bars() -> None:
    """Inside a section as well; bars between play on."""
    made = song(SHEET.replace('fill = "1 bar"', 'fill = "1 beat"\nfill_every = 4'))
    spans = made.sections[0].spans
    full = [span.bar + bar for span in spans for bar in range(span.groove.bars) if _hands(span, bar) == 8]
    assert full == [2, 3, 5, 6, 7]  # in bar 1 a crash stands for a hat


def _hands(span: Span, bar: int) -> int:
    hand = span.groove.slice(bar, bar + 1).hand
    return 0 if hand is None else len(hand.struck)


def test_a_fill_takes_the_ending_s_place() -> None:
    """With a fill in the last bar no ending moves anything."""
    with_ending = song(SHEET.replace('fill = "1 bar"', 'fill = "1 bar"\nending = true'))
    without = song(SHEET)
    spans = [[section.spans for section in made.sections[:3]] for made in (with_ending, without)]
    assert spans[0] == spans[1]
    assert with_ending.sections[3].spans != without.sections[3].spans  # its fill is left out, so it has its ending


def test_by_name_and_off() -> None:
    made = song(SHEET.replace("[parts.verse]", '[parts.verse]\nfill = "round the kit"').replace(
        "[parts.chorus]", "[parts.chorus]\nfill = false"
    ))
    assert last_bar(made.sections[0]) == {
        "snare": [0, 1, 2, 3], "high tom": [4, 5, 6, 7], "low-mid tom": [8, 9, 10, 11], "floor tom": [12, 13, 14, 15],
    }  # fmt: skip
    assert made.sections[1].spans[-1].groove.hand is not None


def test_a_name_that_no_fill_has() -> None:
    text = SHEET.replace("[parts.verse]", '[parts.verse]\nfill = "round the kitt"')
    said = r"parts.verse.fill, line 16: no fill is called 'round the kitt'(.|\n)*round-the-kit"
    with pytest.raises(GrooveForgeError, match=said):
        sheet_from(text.encode(), "x.toml")


def test_no_fill_comes_twice_in_a_row() -> None:
    """Over any seed, also where a section has several."""
    for seed in range(12):
        text = SHEET.replace("tempo = 140", f"tempo = 140\nseed = {seed}").replace('1 bar"', '1 bar"\nfill_every = 4')
        bars = [span.groove for section in song(text).sections for span in section.spans if span.groove.hand is None]
        assert len(bars) == 7
        assert all(one != two for one, two in pairwise(bars))


def test_a_choice_depends_on_seed_part_number_and_neighbours() -> None:
    """A change that leaves level, speed and fills before it alone leaves a section's fill alone."""
    before = song(SHEET)
    after = song(SHEET.replace('timekeeper = "ride"', 'timekeeper = "ride"\nlooseness = 3'))
    assert [last_bar(section) for section in before.sections] == [last_bar(section) for section in after.sections]


def test_only_lanes_that_play() -> None:
    """A part without the drums' lanes has no fill, and the report says so."""
    made = song(SHEET.replace("[parts.verse]", '[parts.verse]\nplay = ["timekeeper"]'))
    assert made.notes[0].startswith("verse, bar 8: the fill of 1 bar is left out: timekeeper plays")
    assert made.sections[0].spans[-1].groove.hand is not None


def test_made_fills_are_told() -> None:
    """What the library does not hold is joined, and a line of the report says from what."""
    text = SHEET.replace("tempo = 140", 'tempo = 140\nmeter = "5/4"').replace('fill = "1 bar"', 'fill = "2 bars"')
    text = text.replace("x-x-x-x-x-x-x-x-", "x-x-x-x-x-x-x-x-x-x-").replace("----O-------O---", "----O-------O-------")
    made = song(text.replace("o--o--o-o-------", "o--o--o-o-----------"))
    assert len(made.notes) == 4  # three joined fills, and the last one that is left out
    assert all("is none of the library as it stands: it is joined from " in note for note in made.notes[:3])


@pytest.mark.parametrize(("bpm", "unit"), [(185, Fraction(1, 16)), (186, Fraction(1, 8))])
def test_a_plain_run_is_even_with_an_accent_on_every_beat(bpm: int, unit: Fraction) -> None:
    """In sixteenths up to 185, in eighths above (house rule); down the kit, or all on the snare."""
    down, snare = plain_runs(BAR, Fraction(bpm))
    for made in (down, snare):
        assert [stroke.place for stroke in made.strokes] == [number * unit for number in range(int(1 / unit))]
        on_beats = [stroke.place for stroke in made.strokes if stroke.kind == Kind.ACCENT]
        assert on_beats == [number * QUARTER for number in range(4)]
        assert {stroke.kind for stroke in made.strokes} == {Kind.ACCENT, Kind.PLAIN}
        levels = {stroke.kind: stroke.velocity for stroke in made.strokes}
        assert levels == {Kind.ACCENT: ACCENT, Kind.PLAIN: NORMAL}
    drums = [stroke.surface for stroke in down.strokes]
    assert list(dict.fromkeys(drums)) == ["snare", "high tom", "low-mid tom", "floor tom"]
    assert {drums.count(name) for name in set(drums)} == {len(drums) // 4}
    assert {stroke.surface for stroke in snare.strokes} == {"snare"}
