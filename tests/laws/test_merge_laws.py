"""Laws of merging: three versions of a bar, any strokes; and whole songs with any edits, through bytes and back."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from grooveforge.analysis.merge import BarLanes, changed_lanes, merge_bar, sounds
from grooveforge.core.groove import LANES
from grooveforge.core.hands import lane_of
from grooveforge.core.kit import SURFACE_CODES, Kind
from grooveforge.core.meter import Meter
from grooveforge.core.perform import perform
from grooveforge.core.played import with_changes
from grooveforge.core.played_bar import ChangedBar, Place, Sounded
from grooveforge.formats.changes_file import read_changes
from grooveforge.formats.changes_text import changed_bar_text, with_tables
from grooveforge.project.rendering import render
from grooveforge.project.sheets import Sheet, arranged, song_from
from tests.laws.strategies import METERS

SURFACES = (
    "kick", "snare", "side stick", "closed hi-hat", "open hi-hat", "ride", "ride bell", "crash", "china", "floor tom"
)  # fmt: skip


@st.composite
def strokes(draw: st.DrawFn) -> frozenset[Sounded]:
    """Strokes of a bar of 4/4 in 480 ticks: on sixteenths, some off them, no two of a surface on one tick."""
    found = {}
    for _ in range(draw(st.integers(0, 8))):
        place = draw(st.integers(0, 15)) * 120
        tick = place + draw(st.sampled_from((0, 0, 0, -7, 13)))
        surface = draw(st.sampled_from(SURFACES))
        found[tick, surface] = Sounded(tick, place, surface, draw(st.sampled_from((30, 72, 94, 114))), int(Kind.PLAIN))
    return frozenset(found.values())


def bars() -> st.SearchStrategy[BarLanes]:
    """A bar whose hand stands on the closed hi-hat, on the ride, or nowhere."""
    return st.builds(BarLanes, strokes(), st.sampled_from((None, "closed hi-hat", "ride")))


def changed(bar: BarLanes, lane: str, by: BarLanes) -> BarLanes:
    """A bar with one lane of another one, the hand left where it is."""
    kept = frozenset(row for row in bar.strokes if lane_of(row.surface, bar.hand) != lane)
    taken = frozenset(row for row in by.strokes if lane_of(row.surface, bar.hand) == lane)
    return replace(bar, strokes=kept | taken)


@given(base=bars(), sheet=bars())
def test_what_the_file_did_not_change_is_the_sheets(base: BarLanes, sheet: BarLanes) -> None:
    """An unedited file changes nothing, whatever the writer did."""
    merged = merge_bar(base, sheet, base)
    assert (merged.bar, merged.changed, merged.conflicts) == (sheet, (), ())


@given(base=bars(), file=bars())
def test_without_a_change_of_the_sheet_the_file_wins(base: BarLanes, file: BarLanes) -> None:
    """No later change of the writer: the merged bar is the file's, and there is no conflict."""
    file = replace(file, hand=base.hand)
    merged = merge_bar(base, base, file)
    assert sounds(merged.bar.strokes) == sounds(file.strokes)
    assert merged.conflicts == ()
    assert merged.taken == changed_lanes(base, file)


@given(base=bars(), mine=bars(), theirs=bars(), order=st.permutations(LANES), cut=st.integers(0, 4))
def test_disjoint_lanes_combine(
    base: BarLanes, mine: BarLanes, theirs: BarLanes, order: list[str], cut: int
) -> None:
    """Each side changed lanes of its own: all changes are in the merged bar, and there is no conflict."""
    sheet, file = base, base
    for lane in order[:cut]:
        sheet = changed(sheet, lane, mine)
    for lane in order[cut:]:
        file = changed(file, lane, theirs)
    merged = merge_bar(base, sheet, file)
    assert merged.conflicts == ()
    for lane in order:
        side = sheet if lane in order[:cut] else file
        assert sounds(merged.bar.lane(lane)) == sounds(side.lane(lane))


@given(base=bars(), both=bars())
def test_the_same_change_is_no_conflict(base: BarLanes, both: BarLanes) -> None:
    """Both sides made the same change."""
    merged = merge_bar(base, both, both)
    assert (merged.bar, merged.conflicts) == (both, ())


@given(base=bars(), sheet=bars(), file=bars())
def test_a_conflict_leaves_the_sheets_lane(base: BarLanes, sheet: BarLanes, file: BarLanes) -> None:
    """Conflicts are lanes that both changed; they stay as the sheet has them, and every lane is accounted for."""
    base, file = replace(base, hand=sheet.hand), replace(file, hand=sheet.hand)
    merged = merge_bar(base, sheet, file)
    assert set(merged.conflicts) | set(merged.taken) <= set(merged.changed)
    assert set(merged.conflicts) & set(merged.taken) == set()
    for lane in LANES:
        side = file if lane in merged.taken else sheet
        assert sounds(merged.bar.lane(lane)) == sounds(side.lane(lane))
    for lane in merged.conflicts:
        assert sounds(base.lane(lane)) != sounds(sheet.lane(lane))


@given(base=bars(), sheet=bars(), file=bars())
def test_merging_again_changes_nothing(base: BarLanes, sheet: BarLanes, file: BarLanes) -> None:
    """Merging the same file into the merged bar gives the merged bar."""
    base, file = replace(base, hand=sheet.hand), replace(file, hand=sheet.hand)
    once = merge_bar(base, sheet, file)
    twice = merge_bar(base, replace(once.bar, played=True), file)
    assert sounds(twice.bar.strokes) == sounds(once.bar.strokes)


@given(base=bars(), sheet=bars(), file=bars(), fixed=st.sets(st.sampled_from(LANES)))
def test_fixed_lanes_never_change(base: BarLanes, sheet: BarLanes, file: BarLanes, fixed: set[str]) -> None:
    """A lane that is fixed is the sheet's, and is no conflict."""
    base, file = replace(base, hand=sheet.hand), replace(file, hand=sheet.hand)
    merged = merge_bar(base, sheet, file, fixed)
    for lane in fixed:
        assert sounds(merged.bar.lane(lane)) == sounds(sheet.lane(lane))
    assert fixed.isdisjoint(merged.conflicts)


@given(base=bars(), sheet=bars(), file=bars())
def test_the_user_decides_conflicts(base: BarLanes, sheet: BarLanes, file: BarLanes) -> None:
    """With a word for each lane there is no conflict; the file's way is the file's lane."""
    base, file = replace(base, hand=sheet.hand), replace(file, hand=sheet.hand)
    undecided = merge_bar(base, sheet, file)
    merged = merge_bar(base, sheet, file, (), dict.fromkeys(LANES, True))
    assert merged.conflicts == ()
    for lane in undecided.conflicts:
        assert sounds(merged.bar.lane(lane)) == sounds(file.lane(lane))


# -- text ------------------------------------------------------------------------------------------------


@st.composite
def any_strokes(draw: st.DrawFn) -> tuple[Meter, frozenset[Sounded]]:
    """Strokes anywhere in a bar of any metre, in 480 ticks: graces before strokes, on no grid, close together."""
    meter = draw(st.sampled_from(METERS))
    length = int(4 * meter.whole * 480)
    found: dict[tuple[int, str], Sounded] = {}
    for _ in range(draw(st.integers(0, 14))):
        place = draw(st.integers(0, length - 1))
        place = place // 60 * 60 if draw(st.booleans()) else place
        surface = draw(st.sampled_from((*SURFACES, "note 61", "half-open hi-hat", "pedal hi-hat", "high tom")))
        late = draw(st.sampled_from((0, 0, 11, -23)))
        velocity = draw(st.integers(1, 127))
        found[place + late, surface] = Sounded(place + late, place, surface, velocity, int(Kind.PLAIN))
        if draw(st.booleans()):
            grace = Sounded(place + late - 29, place, surface, draw(st.integers(1, 45)), int(Kind.GHOST))
            found.setdefault((grace.tick, surface), grace)
    return meter, frozenset(row for row in found.values() if row.tick >= -200)


@settings(max_examples=150)
@given(
    bar=any_strokes(),
    hand=st.sampled_from((None, "closed hi-hat", "half-open hi-hat", "ride", "ride bell", "china", "kick", "note 61")),
)
def test_any_strokes_come_through_the_text(bar: tuple[Meter, frozenset[Sounded]], hand: str | None) -> None:
    """What a table says is what sounds: every stroke at its tick, on its surface, at its level."""
    meter, struck = bar
    table = changed_bar_text(2, Place("a", 1, 2), meter, struck, (480, hand))
    text = with_tables("", {2: table})
    change = read_changes(text)[2]
    groups = ", ".join(map(str, meter.grouping))
    sheet = f'meter = "{meter}"\ngrouping = [{groups}]\nform = ["a"]\n[parts.a]\nbars = 3\ntacet = true\n'
    plain = arranged(Sheet("a.toml", sheet.encode(), song_from(sheet, "a.toml")))
    made = perform(with_changes(plain, {2: change}, "a.changes.toml"))
    line = int(4 * meter.whole * made.division)
    scale = made.division // 480
    got = {(tick, surface, velocity) for tick, surface, velocity, *_ in zip(*(c.tolist() for c in made.events))}
    assert got == {(line + row.tick * scale, SURFACE_CODES[row.surface], row.velocity) for row in struck}
    assert with_tables(text, {2: table}) == text


@settings(max_examples=60)
@given(numbers=st.lists(st.integers(1, 60), min_size=1, max_size=6, unique=True), data=st.data())
def test_tables_stand_in_order_and_comments_stay(numbers: list[int], data: st.DataObject) -> None:
    """Tables put in one after the other, in any order, stand rising; a replaced table leaves all others as they are."""
    text = ""
    bars_by_number = {number: data.draw(strokes(), label=f"bar {number}") for number in numbers}
    for number, struck in bars_by_number.items():
        text = with_tables(text, {number: changed_bar_text(number, None, Meter(4, 4), struck, (480, None))})
    assert list(read_changes(text)) == sorted(numbers)
    assert [line for line in text.split("\n") if line.startswith("[bars.")] == [f"[bars.{n}]" for n in sorted(numbers)]
    text = text.replace(f"[bars.{numbers[0]}]", f"# a word of the writer's\n[bars.{numbers[0]}]")
    others = {n: bar for n, bar in read_changes(text).items() if n != numbers[-1]}
    again = with_tables(text, {numbers[-1]: changed_bar_text(numbers[-1], None, Meter(4, 4), frozenset(), (480, None))})
    assert "# a word of the writer's" in again
    assert {n: bar for n, bar in read_changes(again).items() if n != numbers[-1]} == others


def test_a_changed_bar_touches_no_other_bar() -> None:
    """Levels and loose timing of all other strokes are what they are without it, runs over the bar line too."""
    text = (
        'looseness = 6\nform = ["a"]\n[parts.a]\nbars = 6\ngroove = "g"\n'
        "[grooves.g]\ntab = '''\nHH xxxxxxxxxxxxxxxx\nSN ----f-------O---\nBD oooooooooooooooo\n'''\n"
    )
    sheet = Sheet("a.toml", text.encode(), song_from(text, "a.toml"))
    table = changed_bar_text(3, None, Meter(4, 4), frozenset({Sounded(5, 0, "snare", 99, 0)}), (480, None))
    changes: dict[int, ChangedBar] = dict(read_changes(table))
    changed = replace(sheet, song=replace(sheet.song, changes=changes))
    before, after = render(sheet).performance, render(changed).performance
    rows = [
        {
            (tick, surface, velocity)
            for tick, surface, velocity, _, off in zip(*(column.tolist() for column in made.events))
            if not 2 * 1920 <= tick - off < 3 * 1920
        }
        for made in (before, after)
    ]
    assert rows[0] == rows[1]
    assert len(after) == len(rows[1]) + 1
