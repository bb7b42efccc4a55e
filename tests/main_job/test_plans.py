"""`plan` on the demo songs: three unlike answers, each an arc, measured on the sheets that they write."""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations, pairwise
from pathlib import Path

import numpy as np
import pytest

from grooveforge.analysis.distance import difference
from grooveforge.analysis.energy import energy_line
from grooveforge.core.arrange import Arrangement
from grooveforge.core.perform import perform
from grooveforge.errors import UsageError
from grooveforge.project.checking import check_sheet
from grooveforge.project.planning import plan, take_plan
from grooveforge.project.plans import Plans
from grooveforge.project.returns import own_strokes, surfaces_by_bar
from grooveforge.project.sheets import Sheet, arranged, data_with, read_sheet, sheet_from

SONGS = Path(__file__).parent.parent.parent / "patterns" / "songs"
DEMOS = sorted(path.name for path in SONGS.glob("*.toml"))
LAST = "last chorus"


@lru_cache(maxsize=8)
def planned(song: str) -> tuple[Sheet, Plans]:
    sheet = read_sheet(str(SONGS / song))
    return sheet, plan(sheet)


@lru_cache(maxsize=8)
def taken(song: str) -> list[tuple[Sheet, Arrangement]]:
    """The sheet with each plan taken, read anew and arranged."""
    sheet, found = planned(song)
    assert found.plans
    texts = [take_plan(sheet, found, number) for number in range(1, len(found.plans) + 1)]
    sheets = [sheet_from(data_with(sheet, text), sheet.path) for text in texts]
    return [(made, arranged(made)) for made in sheets]


def last_of(arrangement: Arrangement) -> int:
    return next(number for number, row in enumerate(arrangement.sections) if row.name == LAST)


@pytest.mark.parametrize("song", DEMOS)
def test_three_with_different_last_changes(song: str) -> None:
    """Three plans; what they play at the last return differs, and so does the kind of change."""
    plans = planned(song)[1].plans
    assert len(plans) == 3
    assert len({row.kind for row in plans}) == 3
    sections = [arrangement.sections[last_of(arrangement)] for _, arrangement in taken(song)]
    for one, other in combinations(sections, 2):
        assert difference(own_strokes(one), own_strokes(other)).distance > 0.1


@pytest.mark.parametrize("song", DEMOS)
def test_one_clear_change_at_the_last_return(song: str) -> None:
    """The last return is 0.2 to 0.5 from the statement before it."""
    for _, arrangement in taken(song):
        last = arrangement.sections[last_of(arrangement)]
        before = [row for row in arrangement.sections if row.part == last.part and row.bar < last.bar][-1]
        far = difference(own_strokes(before).looped(last.own_bars), own_strokes(last)).distance
        assert 0.2 <= far <= 0.5


@pytest.mark.parametrize("song", DEMOS)
def test_the_last_peak_is_no_lower_than_any_before(song: str) -> None:
    """The loudest bar from the last return on is at least as loud as every bar before it."""
    for plan_, (_, arrangement) in zip(planned(song)[1].plans, taken(song)):
        energy = energy_line(perform(arrangement))
        first = arrangement.sections[last_of(arrangement)].bar - 1
        assert energy[first:].max() >= energy[:first].max()
        assert np.allclose(plan_.facts()["energy"], energy, atol=6e-4)


@pytest.mark.parametrize("song", DEMOS)
def test_crash_and_china_in_a_third_of_the_bars(song: str) -> None:
    """At most one bar in three rides on them (none of the demo songs needs more elsewhere)."""
    for _, arrangement in taken(song):
        hands = [name for section in arrangement.sections for name in surfaces_by_bar(section)]
        assert 3 * sum(name in ("crash", "second crash", "china") for name in hands) <= len(hands)


@pytest.mark.parametrize("song", DEMOS)
def test_neighbours_differ(song: str) -> None:
    """A changed section and its neighbour of another part differ in surface, feel or level."""
    for plan_, (_, arrangement) in zip(planned(song)[1].plans, taken(song)):
        rows = list(enumerate(arrangement.sections))
        assert any(plan_.changes(at) for at, _ in rows)
        for (at, one), (after, two) in pairwise(rows):
            if one.part != two.part and (plan_.changes(at) or plan_.changes(after)):
                told = [(row.timekeepers, row.feel, row.settings.level) for row in (one, two)]
                assert told[0] != told[1]


@pytest.mark.parametrize("song", DEMOS)
def test_first_statements_stay_plain(song: str) -> None:
    """Nothing but returns changes: every first statement is stroke for stroke as the sheet has it, but for its fill,
    which leads into what comes after."""
    before = arranged(planned(song)[0])
    for plan_, (_, arrangement) in zip(planned(song)[1].plans, taken(song)):
        for number, (old, new) in enumerate(zip(before.sections, arrangement.sections)):
            if old.statement == 1:
                assert plan_.changes(number) == {}
                far = difference(own_strokes(old), own_strokes(new)).bars
                assert not far[: None if not old.settings.fill else -2].any()


@pytest.mark.parametrize("song", DEMOS)
def test_every_plan_is_playable(song: str) -> None:
    """No finding in the whole song with any plan taken."""
    for sheet, _ in taken(song):
        assert check_sheet(sheet).findings == ()


def test_a_half_time_last_chorus_is_among_them() -> None:
    """In every demo song one plan's last chorus is in half time, and its reason says so."""
    for song in DEMOS:
        halves = [
            plan_
            for plan_, (_, arrangement) in zip(planned(song)[1].plans, taken(song))
            if arrangement.sections[last_of(arrangement)].feel == "half"
        ]
        assert halves
        assert all("half time" in row.in_words for row in halves)


def test_deterministic() -> None:
    """The same sheet gives the same plans."""
    sheet, found = planned(DEMOS[0])
    assert plan(sheet).facts() == found.facts()


SHEET = """
tempo = 140
form = ["a", "b", {{ part = "a"{entry} }}, {{ part = "b"{entry} }}]
[parts.a]
groove = "driving eighths"
bars = 4
[parts.b]
groove = "crash chorus"
bars = 8
"""


def test_what_is_fixed_stays() -> None:
    """A plan leaves entries that fix something; where all do there is none, and the error says so."""
    text = SHEET.format(entry="").replace('{ part = "a" }', '{ part = "a", fixed = true }')
    found = plan(sheet_from(text.encode(), "song.toml"))
    assert found.plans
    assert all(row.changes(2) == {} for row in found.plans)
    with pytest.raises(UsageError, match="fixed"):
        plan(sheet_from(SHEET.format(entry=", fixed = true").encode(), "song.toml"))


def test_no_return_and_wrong_numbers() -> None:
    """A song without a return, no plan asked for, a plan that is not there."""
    text = SHEET.format(entry="").replace(', { part = "a" }, { part = "b" }', "")
    with pytest.raises(UsageError, match="no return"):
        plan(sheet_from(text.encode(), "song.toml"))
    sheet, found = planned(DEMOS[0])
    with pytest.raises(UsageError, match="at least one"):
        plan(sheet, 0)
    with pytest.raises(UsageError, match="no such plan"):
        take_plan(sheet, found, 4)
