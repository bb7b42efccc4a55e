"""`options` on the demo songs: alternatives that are different enough, playable, and written as they were offered."""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations
from pathlib import Path

import pytest

from grooveforge.analysis.distance import difference
from grooveforge.core.section import Section
from grooveforge.errors import UsageError
from grooveforge.formats.option_words import lanes_by_bar
from grooveforge.project.checking import check_sheet
from grooveforge.project.options import Options, options, take_option
from grooveforge.project.returns import own_strokes, surfaces_by_bar
from grooveforge.project.sheets import Sheet, arranged, data_with, read_sheet, sheet_from

SONGS = Path(__file__).parent.parent.parent / "patterns" / "songs"
DEMOS = sorted(path.name for path in SONGS.glob("*.toml"))
LAST = "last chorus"


@lru_cache(maxsize=64)
def found(song: str, amount: str, section: str = LAST, count: int = 5) -> tuple[Sheet, Options]:
    sheet = read_sheet(str(SONGS / song))
    return sheet, options(sheet, section, amount, count)


@lru_cache(maxsize=64)
def taken(song: str, amount: str) -> list[Sheet]:
    """The sheet with each option taken, read anew."""
    sheet, offered = found(song, amount)
    numbers = range(1, len(offered.options) + 1)
    return [sheet_from(data_with(sheet, take_option(sheet, offered, number)), sheet.path) for number in numbers]


def statements(sheet: Sheet, part: str = "chorus") -> list[Section]:
    return [section for section in arranged(sheet).sections if section.part == part]


# -- the bands -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("song", DEMOS)
def test_five_large_ones(song: str) -> None:
    """Five, each 0.2 to 0.5 from the statement before and 0.2 from the others, measured on the sheets written."""
    sheets = taken(song, "large")
    assert len(sheets) == 5
    for sheet, option in zip(sheets, found(song, "large")[1].options):
        before, last = statements(sheet)[-2:]
        far = difference(own_strokes(before).looped(last.own_bars), own_strokes(last)).distance
        assert 0.2 <= far <= 0.5
        assert far == pytest.approx(option.distance)
    for one, other in combinations(sheets, 2):
        assert difference(*(own_strokes(statements(sheet)[-1]) for sheet in (one, other))).distance >= 0.2


@pytest.mark.parametrize("song", DEMOS)
def test_each_keeps_kick_surface_or_snare(song: str) -> None:
    """In the bars before the last, all of one of the three is as in the statement before (begun again)."""
    for sheet, option in zip(taken(song, "large"), found(song, "large")[1].options):
        before, last = statements(sheet)[-2:]
        length = before.own_bars
        old, new = lanes_by_bar(before), lanes_by_bar(last)
        bars = [bar for bar in range(last.own_bars - 1) if (bar + 1) % length and not (bar and bar % length == 0)]
        kept = {
            "kick": all(old[bar % length].kick == new[bar].kick for bar in bars),
            "snare": all(old[bar % length].snare == new[bar].snare for bar in bars),
            "surface": all(
                surfaces_by_bar(before)[bar % length] == surfaces_by_bar(last)[bar] for bar in range(last.own_bars)
            ),
        }
        assert {name for name, stays in kept.items() if stays} == set(option.keeps)
        assert option.keeps
        words = {"kick": "the kick stays", "snare": "the snare stays", "surface": "the hand stays on"}
        assert all(words[name] in option.in_words for name in option.keeps)


@pytest.mark.parametrize("song", DEMOS)
def test_small_ones_move_endings_alone(song: str) -> None:
    """Up to 0.1 from the statement before, and every bar but the last of it and of its like is the same."""
    sheets = taken(song, "small")
    assert sheets
    for sheet in sheets:
        before, last = statements(sheet)[-2:]
        length = before.own_bars
        moved = difference(own_strokes(before).looped(last.own_bars), own_strokes(last))
        assert 0 < moved.distance <= 0.1
        # An arrival that is heard again in a longer section is none of the ending's doing.
        ends = {length - 1, length, last.own_bars - 1}
        assert all(moved.bars[bar] == 0 for bar in range(last.own_bars) if bar not in ends)
        assert moved.surface == 0


@pytest.mark.parametrize("song", DEMOS)
def test_medium_ones_leave_the_drums(song: str) -> None:
    """Between 0.05 and 0.2; feel, kick and snare are as they were."""
    for option in found(song, "medium")[1].options:  # one of the demo songs has none
        assert 0.05 <= option.distance <= 0.2
        assert "snare" in option.keeps
        assert not {"spelling", "backbeats", "kick"} & set(option.changes)


@pytest.mark.parametrize(("amount", "songs"), [("small", 4), ("medium", 3), ("large", 4)])
def test_songs_with_options_and_a_word_where_there_are_few(amount: str, songs: int) -> None:
    """So many of the demo songs have options of an amount; where fewer than five are found a note says how many."""
    offers = [found(song, amount)[1] for song in DEMOS]
    assert sum(bool(offered.options) for offered in offers) == songs
    for offered in offers:
        count = len(offered.options)
        said = [f"{'only ' if count else ''}{count or 'none'} {'is' if count < 2 else 'are'} "] if count < 5 else []
        assert [note[: len(start)] for note, start in zip(offered.notes, said, strict=True)] == said


@pytest.mark.parametrize("amount", ["small", "medium", "large"])
@pytest.mark.parametrize("song", DEMOS)
def test_every_option_is_playable(song: str, amount: str) -> None:
    """No finding in the whole song with any of them taken, for the sheet's own drummer."""
    for sheet in taken(song, amount):
        assert check_sheet(sheet).findings == ()


@pytest.mark.parametrize("song", DEMOS)
def test_thousands_are_considered(song: str) -> None:
    """The few come from many."""
    assert found(song, "large")[1].considered > 5000


def test_deterministic() -> None:
    """The same sheet gives the same options."""
    sheet, offered = found(DEMOS[0], "large")
    assert options(sheet, LAST, "large").facts() == offered.facts()


def test_ranks_go_by_surprise() -> None:
    """The most surprising first, numbers from 1."""
    for song in DEMOS:
        rows = found(song, "large")[1].options
        assert [row.rank for row in rows] == [1, 2, 3, 4, 5]
        bits = [row.surprise for row in rows]
        assert bits == sorted(bits, reverse=True)


# -- the sheet -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("song", DEMOS)
def test_taking_changes_one_line(song: str) -> None:
    """All but the entry's line of the sheet stays byte for byte, comments too."""
    sheet = found(song, "large")[0]
    for other in taken(song, "large"):
        pairs = zip(sheet.text.splitlines(), other.text.splitlines(), strict=True)
        assert sum(old != new for old, new in pairs) == 1


RIFF_SHEET = """
tempo = 140
form = ["a", "b", "a", {{ part = "b"{entry} }}]
[grooves.g]
tab = '''
CC x---x---x---x---
SN ----O-------O---
BD o--o--o-o-o--o--
'''
[parts.a]
groove = "driving eighths"
bars = 4
[parts.b]
groove = "g"
bars = 8
"""


def sheet_of(entry: str = "", text: str = RIFF_SHEET) -> Sheet:
    return sheet_from(text.format(entry=entry).encode(), "song.toml")


@pytest.mark.parametrize("lane", ["kick", "snare", "timekeeper"])
def test_fixed_lanes_stay(lane: str) -> None:
    """A lane that the sheet fixes is struck where it was, and a fixed hand on the same surfaces."""
    sheet = sheet_of(f', fixed = ["{lane}"]')
    offered = options(sheet, "b", "large")
    assert offered.options
    for option in offered.options:
        moved = difference(own_strokes(arranged(sheet).sections[3]), option.tried.strokes)
        assert moved.lanes[lane] == 0
        assert lane != "timekeeper" or moved.surface == 0
        assert moved.distance > 0


def test_fixed_bars_stay() -> None:
    """Bars that are fixed leave only what changes in the others: the hand's last bars."""
    sheet = sheet_of(text=RIFF_SHEET.replace('"a", {{ part = "b"{entry} }}', '{{ part = "a", fixed = "1-2" }}'))
    offered = options(sheet, "a", "medium")
    assert offered.options
    for option in offered.options:
        moved = difference(own_strokes(arranged(sheet).sections[2]), option.tried.strokes)
        assert not moved.bars[:2].any()
        assert moved.bars[2:].any()


@pytest.mark.parametrize(
    ("section", "entry", "said"),
    [
        ("b", ", fixed = true", "fixed"),
        ("a 1", "", "first statement"),
        ("c", "", "no section"),
    ],
)
def test_what_cannot_be_varied(section: str, entry: str, said: str) -> None:
    """Fixed, first or unknown: the error says which, and what there is."""
    with pytest.raises(UsageError, match=said):
        options(sheet_of(entry), section)


def test_a_song_without_a_return() -> None:
    """Every part once: nothing to vary, and the error says so."""
    text = RIFF_SHEET.replace('"a", {{ part = "b"{entry} }}', '').replace('"b", ]', '"b"]')
    with pytest.raises(UsageError, match="no return"):
        options(sheet_of(text=text), "b")


def test_wrong_numbers() -> None:
    """An amount that is none, no option at all, an option that is not there."""
    sheet, offered = found(DEMOS[0], "large")
    with pytest.raises(UsageError, match="amount"):
        options(sheet, LAST, "huge")
    with pytest.raises(UsageError, match="at least one"):
        options(sheet, LAST, "large", 0)
    for number in (0, 6):
        with pytest.raises(UsageError, match="no such option"):
            take_option(sheet, offered, number)


def test_the_kit_is_asked(tmp_path: Path) -> None:
    """A kit without a china is offered none."""
    (tmp_path / "kit.toml").write_text('base = "gm"\nlacks = ["china"]\n', encoding="utf-8")
    text = RIFF_SHEET.format(entry="")
    offered = [
        options(sheet_from((key_map + text).encode(), str(tmp_path / "song.toml")), "b", "medium", 12)
        for key_map in ("", 'key_map = "kit.toml"')
    ]
    chinas = [[row for row in one.options if "china" in str(row.changes)] for one in offered]
    assert chinas[0]
    assert not chinas[1]
    assert offered[1].options
