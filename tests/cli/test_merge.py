"""`merge`: what came back is found exactly, kept to the tick, and taken back byte for byte."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from grooveforge.core.kit import SURFACE_NAMES
from grooveforge.core.score import song_score
from grooveforge.project.rendering import render
from grooveforge.project.sheets import read_sheet
from tests.cli.conftest import Run
from tests.read_back import strokes
from tests.returned_files import Edit, bar_of, edited, keep, later, through_pretty_midi

KICK, SNARE, HI_HAT, OPEN = 36, 38, 42, 46

SONG = """\
title = "Slack Water"
tempo = 140
looseness = 4
form = ["verse", "chorus", "verse", { part = "chorus", timekeeper = "china", level = "+1" }]

[grooves.plain]
tab = '''
HH x-x-x-x-x-x-x-h-
SN ----O-------O--g
BD o-------o-o-----
'''

[parts.verse]
groove = "plain"
bars = 8

[parts.chorus]
groove = "plain"
bars = 4
timekeeper = "ride"
fill = "1 bar"
"""


class Song:
    """A sheet that was rendered, and what comes back."""

    def __init__(self, folder: Path, run: Run, text: str = SONG) -> None:
        self.folder, self.run = folder, run
        self.sheet, self.changes = folder / "slack-water.toml", folder / "slack-water.changes.toml"
        self.sheet.write_text(text, encoding="utf-8")
        self.sent = self.render()

    def render(self, *more: str) -> bytes:
        assert self.run("render", self.sheet, "-o", self.folder / "out", *more).status == 0
        return (self.folder / "out" / "slack-water.mid").read_bytes()

    def rewrite(self, old: str, new: str) -> None:
        text = self.sheet.read_text(encoding="utf-8")
        assert old in text
        self.sheet.write_text(text.replace(old, new), encoding="utf-8")

    def merge(self, data: bytes, *more: str, status: int = 0) -> dict[str, Any]:
        path = self.folder / "back.mid"
        path.write_bytes(data)
        ran = self.run("merge", self.sheet, path, "--json", *more)
        assert ran.status == status, ran
        found: dict[str, Any] = json.loads(ran.out)
        return found


@pytest.fixture
def song(tmp_path: Path, run: Run) -> Song:
    return Song(tmp_path, run)


def bars_of(data: bytes, *bars: int) -> list[tuple[int, int, int]]:
    """The strokes of some bars (from 1)."""
    return [hit for hit in strokes(data) if bar_of(hit[0]) in bars]


def steps(data: bytes, bar: int, note: int) -> list[int]:
    """The sixteenths of a bar that a note is on."""
    return sorted(round((tick - 1920 * (bar - 1)) / 120) for tick, number, _ in bars_of(data, bar) if number == note)


def numbers(found: dict[str, Any]) -> list[int]:
    return [row["bar"] for row in found["bars"]]


# -- what changed, and nothing else ---------------------------------------------------------------------


Save = Callable[[bytes, Edit, Path], bytes]

SAVERS: dict[str, Save] = {
    "by mido": lambda data, edit, folder: edited(data, edit),
    "by mido on channel 1": lambda data, edit, folder: edited(data, edit, channel=1),
    "at 960 ticks": lambda data, edit, folder: edited(data, edit, ticks=960),
    "at 96 ticks": lambda data, edit, folder: edited(data, edit, ticks=96),
    "at 384 ticks on channel 1": lambda data, edit, folder: edited(data, edit, ticks=384, channel=1),
    "by pretty_midi": lambda data, edit, folder: through_pretty_midi(edited(data, edit), folder),
    "by pretty_midi at 220": lambda data, edit, folder: through_pretty_midi(edited(data, edit, ticks=220), folder),
}


@pytest.mark.parametrize("save", SAVERS.values(), ids=list(SAVERS))
def test_only_the_changed_bars_are_found(song: Song, save: Save) -> None:
    """However the file was saved, the two bars whose backbeats moved are all that there is."""
    found = song.merge(save(song.sent, later((5, 6), SNARE, 240), song.folder))
    assert numbers(found) == [5, 6]
    assert [row["lanes"] for row in found["bars"]] == [["snare"]] * 2
    assert all(row["section"] == "verse" for row in found["bars"])
    assert found["bars"][0]["in_words"].startswith("both backbeats an eighth later")
    assert found["saved"] == str(song.changes)
    assert found["conflicts"] == []


@pytest.mark.parametrize("save", SAVERS.values(), ids=list(SAVERS))
def test_an_unedited_file_changes_nothing(song: Song, save: Save) -> None:
    """A file that was opened and saved again is no change, whatever its resolution."""
    found = song.merge(save(song.sent, keep, song.folder))
    assert (found["bars"], found["saved"], found["written"]) == ([], None, False)
    assert not song.changes.exists()


def test_a_rendered_merge_is_the_file(song: Song) -> None:
    """Rendered again, the song is what came back, stroke by stroke, and no other bar has moved."""
    back = edited(song.sent, later((3, 11), KICK, 120))
    song.merge(back)
    assert strokes(song.render()) == strokes(back)
    assert strokes(song.render("--without-changes")) == strokes(song.sent)


def test_levels_and_small_timing_are_changes(song: Song) -> None:
    """A softer backbeat and one that drags are found, said, and kept."""

    def edit(hit: tuple[int, int, int]) -> list[tuple[int, int, int]]:
        tick, note, velocity = hit
        bar = bar_of(tick)
        if note == SNARE and velocity > 100 and bar == 2:
            return [(tick, note, 70)]
        if note == SNARE and velocity > 100 and bar == 4:
            return [(tick + 14, note, velocity)]
        return [hit]

    back = edited(song.sent, edit)
    found = song.merge(back)
    assert [row["in_words"] for row in found["bars"]] == [
        "snare softer on 2 and 4",
        "snare later by 12 ms on 2 and 4",  # 14 of 480 ticks at 140 quarters a minute
    ]
    assert strokes(song.render()) == strokes(back)


def test_strokes_off_every_grid_keep_their_ticks(song: Song) -> None:
    """A five over a beat, a flam and a buzz of close strokes come back exactly."""
    line = 1920 * 9
    five = [(line + 96 * k, 41, 80 + k) for k in range(5)]
    flam = [(line + 960 - 31, 47, 22), (line + 960, 47, 118)]
    buzz = [(line + 1440 + 9 * k, 45, 60 + k) for k in range(8)]
    back = edited(song.sent, keep, [*five, *flam, *buzz])
    found = song.merge(back)
    assert numbers(found) == [10]
    assert strokes(song.render()) == strokes(back)


def test_a_flam_is_written_as_one(song: Song) -> None:
    """Grace strokes stand with their stroke in the table, and come out where they were."""
    line = 1920 * 4
    back = edited(song.sent, keep, [(line + 480 - 27, SNARE, 21)])
    assert "snare as a flam on 2" in song.merge(back)["bars"][0]["in_words"]
    assert "F" in song.changes.read_text().split("SN |")[1].split("|")[0]
    assert strokes(song.render()) == strokes(back)


def test_what_the_key_map_cannot_tell_apart_is_no_change(song: Song) -> None:
    """A half-open hi-hat went out as an open one, kick may come back as 35; a changed bar keeps its half-open one."""

    def other_kick(hit: tuple[int, int, int]) -> list[tuple[int, int, int]]:
        return [(hit[0], 35 if hit[1] == KICK else hit[1], hit[2])]

    assert song.merge(edited(song.sent, other_kick))["bars"] == []
    song.merge(edited(song.sent, later((2,), SNARE, 240)))
    assert "h" in song.changes.read_text().split("HH |")[1].split("|")[0]


def test_bars_are_taken_out_and_put_in(song: Song) -> None:
    """A bar that was emptied stays empty; one that has more than before has it."""
    back = edited(song.sent, lambda hit: [] if bar_of(hit[0]) == 7 else [hit], [(1920 * 2 + 300, 52, 99)])
    found = song.merge(back)
    assert numbers(found) == [3, 7]
    assert "china" in found["bars"][0]["in_words"]
    rendered = song.render()
    assert strokes(rendered) == strokes(back)
    assert bars_of(rendered, 7) == []


# -- the writer goes on ---------------------------------------------------------------------------------


def test_changed_bars_hold_through_a_change_of_feel(song: Song) -> None:
    """After a new feel of the same part the drummer's bars keep strokes and levels to the tick, all others follow."""
    back = edited(song.sent, later((5, 6), SNARE, 240))
    song.merge(back)
    song.rewrite('[parts.verse]\ngroove = "plain"', '[parts.verse]\ngroove = "plain"\nfeel = "half"')
    half, plain = song.render(), song.render("--without-changes")
    assert bars_of(half, 5, 6) == bars_of(back, 5, 6)
    others = [bar for bar in range(1, 25) if bar not in (5, 6)]
    assert bars_of(half, *others) == bars_of(plain, *others)
    for bar in (2, 3, 4, 7):  # the verse is in half time: its backbeat stands on 3
        assert steps(half, bar, SNARE)[0] == 8


def test_the_writers_own_lanes_stay(song: Song) -> None:
    """What the writer changed between the render and the merge stays beside what came back."""
    song.rewrite("BD o-------o-o-----", "BD o-o-----o-o-----")
    found = song.merge(edited(song.sent, later((5,), SNARE, 240)))
    assert (numbers(found), found["conflicts"]) == ([5], [])
    rendered = song.render()
    assert (steps(rendered, 5, KICK), steps(rendered, 5, SNARE)) == ([0, 2, 8, 10], [6, 14, 15])


def test_bars_move_with_their_section(song: Song) -> None:
    """A section put in front moves the changed bars along; taken out, they are left out; both is said."""
    song.merge(edited(song.sent, later((14,), SNARE, 240)))  # bar 2 of the second verse
    song.rewrite('form = ["verse"', 'form = ["chorus", "verse"')
    ran = song.run("render", song.sheet, "-o", song.folder / "out")
    assert "bar 14 of slack-water.changes.toml, bar 2 of verse 2, is bar 18 now" in ran.out
    moved = (song.folder / "out" / "slack-water.mid").read_bytes()
    assert [hit[1] for hit in bars_of(moved, 18)].count(SNARE) == 3
    song.rewrite('["chorus", "verse", "chorus", "verse",', '["chorus", "verse", "chorus",')
    ran = song.run("render", song.sheet, "-o", song.folder / "out")
    assert "left out: the song has no bar 2 of verse 2 any more" in ran.out


def test_an_earlier_render_is_found(song: Song) -> None:
    """A file made from an earlier render is compared with that one, so that later changes are not taken for its own."""
    back = edited(song.sent, later((5,), SNARE, 240))
    song.rewrite("SN ----O-------O--g", "SN ----O--g----O---")
    song.render()
    found = song.merge(back, status=1)
    assert found["base"] == "the render 1 before the last"
    assert [(row["bar"], row["lane"]) for row in found["conflicts"]] == [(5, "snare")]
    assert found["bars"] == []


def test_conflicts_are_shown_and_left(song: Song) -> None:
    """Both sides changed the snare of one bar: neither is lost, the song is as the sheet has it, the status is 1."""
    song.rewrite('[parts.verse]\ngroove = "plain"', '[parts.verse]\ngroove = "plain"\nfeel = "half"')
    plain = strokes(song.render())

    def both(hit: tuple[int, int, int]) -> list[tuple[int, int, int]]:
        off_beat = hit[1] == HI_HAT and bar_of(hit[0]) == 5 and (hit[0] + 60) % 480 > 200
        return [] if off_beat else list(later((5,), SNARE, 240)(hit))

    back = edited(song.sent, both)
    found = song.merge(back, status=1)
    row = next(row for row in found["conflicts"] if row["lane"] == "snare")
    assert row["bar"] == 5
    assert "3" in row["sheet"] and "both backbeats an eighth later" in row["file"]
    assert [row["lanes"] for row in found["bars"]] == [["timekeeper"]]
    rendered = song.render()
    snare = [hit for hit in bars_of(rendered, 5) if hit[1] == SNARE]
    assert snare == [hit for hit in plain if hit[1] == SNARE and hit in bars_of(rendered, 5)]
    song.merge(back, "--conflicts", "file")
    snare = [hit for hit in bars_of(song.render(), 5) if hit[1] == SNARE]
    assert snare == [hit for hit in bars_of(back, 5) if hit[1] == SNARE]


def test_conflicts_go_the_sheets_way(song: Song) -> None:
    """The user may say that the sheet has its way; then there is no conflict and nothing to save."""
    song.rewrite('[parts.verse]\ngroove = "plain"', '[parts.verse]\ngroove = "plain"\nfeel = "half"')
    found = song.merge(edited(song.sent, later((5,), SNARE, 240)), "--conflicts", "sheet")
    assert (found["conflicts"], found["written"]) == ([], False)


def test_the_same_change_on_both_sides_is_no_conflict(song: Song) -> None:
    """The writer did in the sheet what the drummer did in the file."""
    song.rewrite("BD o-------o-o-----", "BD o---------o-----")

    def without(hit: tuple[int, int, int]) -> list[tuple[int, int, int]]:
        return [] if hit[1] == KICK and bar_of(hit[0]) == 5 and abs(hit[0] % 1920 - 960) < 60 else [hit]

    assert song.merge(edited(song.sent, without))["conflicts"] == []


def test_fixed_sections_stay(tmp_path: Path, run: Run) -> None:
    """What the sheet says is fixed is left as it is, and said."""
    text = SONG.replace('form = ["verse",', 'form = [{ part = "verse", fixed = "5-6" },')
    song = Song(tmp_path, run, text)
    found = song.merge(edited(song.sent, later((5, 7), SNARE, 240)))
    assert (numbers(found), [row["bar"] for row in found["fixed"]]) == ([7], [5])
    assert bars_of(song.render(), 5) == bars_of(song.sent, 5)


def test_fixed_lanes_stay(tmp_path: Path, run: Run) -> None:
    """A lane that the sheet says is fixed stays, the others are merged."""
    text = SONG.replace('form = ["verse",', 'form = [{ part = "verse", fixed = ["kick"] },')
    song = Song(tmp_path, run, text)

    def both(hit: tuple[int, int, int]) -> list[tuple[int, int, int]]:
        return [new for moved in later((5,), SNARE, 240)(hit) for new in later((5,), KICK, 240)(moved)]

    found = song.merge(edited(song.sent, both))
    assert ([row["lanes"] for row in found["bars"]], [row["lanes"] for row in found["fixed"]]) == (
        [["snare"]],
        [["kick"]],
    )


# -- undo, twice, by hand -------------------------------------------------------------------------------


def test_undo_takes_back_the_file_that_was_not_there(song: Song) -> None:
    """One undo: the changes file is gone again, the sheet is untouched, and the merge can be done again."""
    sheet = song.sheet.read_bytes()
    back = edited(song.sent, later((5,), SNARE, 240))
    song.merge(back)
    kept = song.changes.read_bytes()
    song.render()
    assert song.run("undo", song.sheet).status == 0
    assert not song.changes.exists()
    assert song.sheet.read_bytes() == sheet
    assert strokes(song.render()) == strokes(song.sent)
    song.merge(back)
    assert song.changes.read_bytes() == kept


def test_undo_takes_back_byte_for_byte(song: Song) -> None:
    """A file edited by hand between two merges is as it was, comments too; then a recount and a merge in one row."""
    song.merge(edited(song.sent, later((5,), SNARE, 240)))
    by_hand = song.changes.read_text().replace("[bars.5]", "# mine, and it stays\n[bars.5]  # so")
    song.changes.write_text(by_hand)
    song.merge(edited(song.sent, later((5, 3), SNARE, 240)))
    assert "# mine, and it stays\n[bars.5]  # so" in song.changes.read_text()
    assert song.changes.read_text().index("[bars.3]") < song.changes.read_text().index("# mine")
    song.run("undo", song.sheet)
    assert song.changes.read_text() == by_hand


def test_undo_goes_back_in_order(song: Song) -> None:
    """Changes of the sheet and of its changes file are taken back in the order in which they were made."""
    song.rewrite('fill = "1 bar"\n', "")
    before = song.sheet.read_bytes()
    assert song.run("recount", song.sheet, "x2").status == 0
    recounted = song.sheet.read_bytes()
    sent = song.render()
    song.merge(edited(sent, later((5,), SNARE, 240)))
    song.run("undo", song.sheet)
    assert (song.sheet.read_bytes(), song.changes.exists()) == (recounted, False)
    song.run("undo", song.sheet)
    assert song.sheet.read_bytes() == before


def test_merging_twice_is_merging_once(song: Song) -> None:
    """The second time finds the same bars and writes nothing."""
    back = edited(song.sent, later((5, 6), SNARE, 240))
    first = song.merge(back)
    kept = song.changes.read_bytes()
    again = song.merge(back)
    assert (again["bars"], again["written"]) == (first["bars"], False)
    assert song.changes.read_bytes() == kept


def test_deleting_a_table_frees_the_bar(song: Song) -> None:
    """Without its table a bar is the sheet's again; the other changed bar stays."""
    back = edited(song.sent, later((5, 6), SNARE, 240))
    song.merge(back)
    first, _, rest = song.changes.read_text().partition("[bars.6]")
    song.changes.write_text(first)
    rendered = song.render()
    assert bars_of(rendered, 5) == bars_of(back, 5)
    assert bars_of(rendered, 6) == bars_of(song.sent, 6)
    assert rest


def test_every_command_reads_the_changed_bars(song: Song) -> None:
    """`inspect` and `compare` of the sheet see them too."""
    song.merge(edited(song.sent, later((5,), SNARE, 240)))
    bars = json.loads(song.run("inspect", song.sheet, "--json").out)["bars"]
    assert bars[4]["backbeats"] != bars[3]["backbeats"]
    (song.folder / "sent.mid").write_bytes(song.sent)
    compared = json.loads(song.run("compare", song.folder / "sent.mid", song.sheet, "--json").out)
    assert [row["bar"] for row in compared["bars"]] == [5]


def test_the_chart_and_the_check_have_the_changed_bars(song: Song) -> None:
    """Counting the strokes of the chart is counting those of the MIDI, bar by bar and surface by surface."""
    line = 1920 * 4
    more = [(line + 480 - 27, SNARE, 21), (line + 100, 41, 96), (line + 1211, 45, 60), (line + 1220, 45, 70)]
    song.merge(edited(song.sent, later((6,), KICK, 120), more))
    made = render(read_sheet(str(song.sheet)))
    events = made.performance.events
    place = (events.tick - events.offset) // 1920 + 1
    counted = Counter(zip(place.tolist(), (SURFACE_NAMES[code] for code in events.surface.tolist())))
    score = song_score(made.arrangement, made.performance)
    charted: Counter[tuple[int, str]] = Counter()
    for bar in score.bars:
        for hit in bar.hits:
            charted[bar.number, hit.surface] += 1 + hit.graces
    assert charted == counted
    checked = json.loads(song.run("check", song.sheet, "--json").out)
    assert 5 in {row["bar"] for row in checked["findings"]}  # two strokes of one tom 8 ms apart
    assert song.run("chart", song.sheet, "-o", song.folder / "chart.musicxml").status == 0


def test_a_recount_beside_changed_bars_is_refused(song: Song) -> None:
    """Bars played to the tick do not follow a recount: it says so and changes nothing."""
    song.merge(edited(song.sent, later((5,), SNARE, 240)))
    before = song.sheet.read_bytes()
    ran = song.run("recount", song.sheet, "x2")
    assert (ran.status, song.sheet.read_bytes()) == (2, before)
    assert "slack-water.changes.toml" in ran.err


def test_the_words_on_the_terminal(song: Song) -> None:
    """Without --json: what changed, where it is saved, what to do next."""
    (song.folder / "back.mid").write_bytes(edited(song.sent, later((5, 6), SNARE, 240)))
    ran = song.run("merge", song.sheet, song.folder / "back.mid")
    assert ran.status == 0
    assert "2 bars of" in ran.out and "5-6  verse  both backbeats an eighth later" in ran.out
    assert "grooveforge undo" in ran.out


# -- what cannot be merged ------------------------------------------------------------------------------


def refused(song: Song, data: bytes, *words: str) -> None:
    """The file is refused with all of the words, and nothing is changed."""
    path = song.folder / "back.mid"
    path.write_bytes(data)
    ran = song.run("merge", song.sheet, path, "--json")
    assert (ran.status, ran.out) == (2, ""), ran
    assert ran.err.startswith("error: ") and "Traceback" not in ran.err
    for word in (str(path), *words):
        assert word in ran.err, ran.err
    assert not song.changes.exists()


def test_a_file_of_another_song(tmp_path: Path, run: Run, song: Song) -> None:
    """As long and in the same metre, but hardly a stroke is the same."""
    (tmp_path / "other").mkdir()
    text = SONG.replace("SN ----O-------O--g", "SN ------O---O-----")
    text = text.replace("BD o-------o-o-----", "BD -o--o-----o---o-")
    text = text.replace("HH x-x-x-x-x-x-x-h-", "FT -o-o-o-o-o-o-o-o")
    text = text.replace('timekeeper = "ride"\n', "").replace(', timekeeper = "china"', "")
    other = Song(tmp_path / "other", run, text)
    refused(song, other.sent, "hardly the song", "%", "--force")


def test_a_file_of_another_length(song: Song, tmp_path: Path, run: Run) -> None:
    """One bar less, or one more."""
    refused(song, edited(song.sent, lambda hit: [hit] if hit[0] < 1920 * 22 else []), "22 bars", "24 bars")
    refused(song, edited(song.sent, keep, [(1920 * 25, SNARE, 100)]), "26 bars", "24 bars")


def test_a_file_in_another_metre(tmp_path: Path, run: Run, song: Song) -> None:
    """The first bar in another metre is named."""
    (tmp_path / "other").mkdir()
    text = SONG.replace("tempo = 140", 'tempo = 140\nmeter = "7/8"')
    text = text.replace('groove = "plain"', 'groove = "plain"\nfit = "cut"')
    text = text.replace("[grooves.plain]", '[grooves.plain]\nmeter = "4/4"').replace('fill = "1 bar"\n', "")
    other = Song(tmp_path / "other", run, text)
    refused(song, other.sent, "bar 1", "7/8", "4/4")


def test_no_midi_at_all(song: Song) -> None:
    """A text file, an empty file, a MIDI file without drums."""
    refused(song, b"form = []", "no MIDI file")
    refused(song, b"", "no MIDI file")
    refused(song, edited(song.sent, lambda hit: []), "no drums")
    refused(song, song.sent[:13], "MIDI")
    smpte = song.sent[:12] + bytes((0xE7, 40)) + song.sent[14:]
    refused(song, smpte, "SMPTE")


def test_a_faulty_changes_file_is_named(song: Song) -> None:
    """Every command says where the fault is; nothing is written."""
    song.changes.write_text("[bars.5]\ntab = '''\nSN ----q---\n'''\n[bars.6]\ntab = 'SN o---'\nlevls = 3\n")
    for command in (("render", song.sheet, "-o", song.folder / "out"), ("inspect", song.sheet)):
        ran = song.run(*command)
        assert ran.status == 2
        assert "slack-water.changes.toml: bars.5.tab, line 3, column 5" in ran.err
        assert "bars.6.levls, line 7" in ran.err and "levels" in ran.err


def test_without_a_record_it_says_so(song: Song) -> None:
    """No record of a render: the sheet as it stands is taken, with a warning that names --base."""
    for path in (song.folder / ".grooveforge").iterdir():
        path.unlink()
    found = song.merge(edited(song.sent, later((5,), SNARE, 240)))
    assert numbers(found) == [5]
    assert any("--base" in line for line in found["warnings"])


def test_a_base_that_is_named(song: Song) -> None:
    """The file that was sent, where no record of it is kept."""
    for path in (song.folder / ".grooveforge").iterdir():
        path.unlink()
    (song.folder / "sent.mid").write_bytes(song.sent)
    song.rewrite("BD o-------o-o-----", "BD o-o-----o-o-----")
    found = song.merge(edited(song.sent, later((5,), SNARE, 240)), "--base", str(song.folder / "sent.mid"))
    assert (numbers(found), found["conflicts"]) == ([5], [])


def test_played_anew_with_force(song: Song) -> None:
    """A drummer who played all of it anew shares no level; --force takes it."""
    back = edited(song.sent, lambda hit: [(hit[0], hit[1], max(1, hit[2] - 9))])
    refused(song, back, "hardly the song")
    assert len(song.merge(back, "--force")["bars"]) == 24
    assert strokes(song.render()) == strokes(back)


def test_a_tempo_that_differs_is_said(song: Song) -> None:
    """Tempi are not merged; a file with another says so."""
    slower = song.sent.replace(bytes.fromhex("ff5103") + (428571).to_bytes(3, "big"),
                               bytes.fromhex("ff5103") + (500000).to_bytes(3, "big"))  # fmt: skip
    assert slower != song.sent
    found = song.merge(edited(slower, keep))
    assert any("tempi are not merged" in line for line in found["warnings"])
    assert found["bars"] == []


def test_standard_input(song: Song, monkeypatch: pytest.MonkeyPatch) -> None:
    """The sheet must be a file; the drummer's file may come from standard input."""
    ran = song.run("merge", "-", song.folder / "back.mid")
    assert (ran.status, "must be a file" in ran.err) == (2, True)
