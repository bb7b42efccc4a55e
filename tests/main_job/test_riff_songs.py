"""Songs under riffs and songs with a count-in: what the sheet asks for is what mido reads in the files.

The figures of the two named songs are counted by hand; that kicks and attacks are the same set is the law.
"""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import mido
import pytest

from grooveforge.core.following import Following, followed_sections, section_following, together
from grooveforge.errors import GrooveForgeError
from grooveforge.formats.midi import MidiOptions
from grooveforge.formats.riff_report import riff_report
from grooveforge.project.library import library
from grooveforge.project.rendering import Rendered, render
from grooveforge.project.sheets import Sheet, read_sheet, sheet_from
from tests import read_back
from tests.riff_files import riff_file
from tests.sheet_parts import PLAIN

TICKS_A_STEP = 120
TICKS_A_BAR = 16 * TICKS_A_STEP
KICK, SNARE, CLOSED, CRASH, CHINA = 36, 38, 42, 49, 52
HIGH, LOW = 76, 77
"""General MIDI's high and low wood block (GM percussion key map): the click."""

SEVEN_COLD_ROOMS = """
title = "Seven Cold Rooms"
tempo = 110
form = ["rooms", "rooms"]

[defaults]
arrival = false

[grooves.china]
tab = '''
CC c---c---c---c---
SN --------O-------
BD O-------O-------
'''
feel = "half"

[parts.rooms]
groove = "china"
bars = 8
kick = "follow"
riff = "x-xx--x-x--xx-"
"""

SEVEN_STEPS = {0, 2, 3, 6, 8, 11, 12}

KELP_FURNACE = """
title = "Kelp Furnace"
tempo = 140
form = ["furnace"]

[defaults]
arrival = false

[grooves.plain]
tab = '''
HH x-x-x-x-x-x-x-x-
SN ----O-------O---
BD O-------O-------
'''
feel = "full"

[parts.furnace]
groove = "plain"
bars = 4
kick = "follow"
riff = "X--x--X-x-x-Xxx-"
"""

KELP_STEPS, KELP_ACCENTS = (0, 3, 6, 8, 10, 12, 13, 14), (0, 6, 12)


def sheet(text: str, folder: Path = Path()) -> Sheet:
    return sheet_from(text.encode(), str(folder / "demo.toml"))


def strokes(data: bytes, *notes: int) -> list[tuple[int, int]]:
    """(tick, note) of the strokes of some notes, all where none is named."""
    return [(tick, note) for tick, note, _ in read_back.strokes(data) if not notes or note in notes]


def steps(made: Rendered, note: int) -> list[int]:
    """Where a note is struck, in sixteenths; every stroke stands on one."""
    ticks = [tick for tick, _ in strokes(made.files["demo.mid"], note)]
    assert not [tick for tick in ticks if tick % TICKS_A_STEP]
    return [tick // TICKS_A_STEP for tick in ticks]


class TestSevenColdRooms:
    """A cycle of fourteen sixteenths under eight bars of 4/4, china quarters, snare on 3."""

    def test_restarting_with_each_section(self) -> None:
        """China 32, snare 8 and exactly the cycle's attacks a section; the second begins with attack 0."""
        made = render(sheet(SEVEN_COLD_ROOMS))
        attacks = [step for step in range(128) if step % 14 in SEVEN_STEPS]
        assert steps(made, KICK) == [*attacks, *(128 + step for step in attacks)]
        assert len(steps(made, CHINA)) == 2 * 32
        assert steps(made, SNARE) == list(range(8, 256, 16))
        assert 128 in steps(made, KICK)

    def test_running_on(self) -> None:
        """The second section goes on where the first left off: 128 = 9 * 14 + 2."""
        made = render(sheet(SEVEN_COLD_ROOMS + "riff_restart = false\n"))
        assert steps(made, KICK) == [step for step in range(256) if step % 14 in SEVEN_STEPS]

    def test_a_running_riff_waits_in_other_sections(self) -> None:
        """A section without the riff stands between and is not counted."""
        text = SEVEN_COLD_ROOMS.replace('"rooms", "rooms"', '"rooms", "pause", "rooms"') + "riff_restart = false\n"
        made = render(sheet(text + '\n[parts.pause]\ngroove = "china"\nbars = 3\nplay = ["timekeeper"]\n'))
        late = [step for step in steps(made, KICK) if step >= 11 * 16]
        assert late == [step + 48 for step in range(128, 256) if step % 14 in SEVEN_STEPS]

    def test_cycle_and_bar_line_meet(self) -> None:
        """At bar 8 beat 1; with the restart again at bar 16; running on at 8 and 15 (112 = 8 cycles)."""
        restarted = followed_sections(render(sheet(SEVEN_COLD_ROOMS)).arrangement)
        assert [row.meets for row in restarted] == [(8,), (16,)]
        running = followed_sections(render(sheet(SEVEN_COLD_ROOMS + "riff_restart = false\n")).arrangement)
        assert [row.meets for row in running] == [(8,), (15,)]

    def test_precision_and_recall(self) -> None:
        rows = followed_sections(render(sheet(SEVEN_COLD_ROOMS)).arrangement)
        assert [(row.attacks, row.kicks, row.precision, row.recall) for row in rows] == [(64, 64, 1, 1)] * 2
        assert together(rows) == Following(128, 128, 128)

    def test_the_report(self) -> None:
        said = riff_report(followed_sections(render(sheet(SEVEN_COLD_ROOMS)).arrangement)).splitlines()
        assert said[0] == "riffs under the kick: 128 attacks, 128 kicks, precision 1, recall 1"
        wanted = "rooms 1-8 64 attacks, 64 kicks, precision 1, recall 1; cycle and bar line meet at bar 8 beat 1"
        assert " ".join(said[1].split()) == wanted

    def test_an_arrivals_own_kick_is_counted_apart(self) -> None:
        """A riff that begins with a rest: the arrival's kick on 1 is no attack, and none of the riff's is lost."""
        text = SEVEN_COLD_ROOMS.replace("arrival = false", "").replace("x-xx--x-x--xx-", "--xx--x-x--xx-")
        made = render(sheet(text))
        (first, second) = followed_sections(made.arrangement)
        assert steps(made, KICK)[:3] == [0, 2, 3]
        assert (first.attacks, first.kicks, first.apart, first.precision, first.recall) == (54, 54, 1, 1, 1)
        assert second.apart == 1

    def test_downbeats_asked_for_are_counted_apart(self) -> None:
        made = render(sheet(SEVEN_COLD_ROOMS + "riff_downbeat = true\n"))
        attacks = {step for step in range(128) if step % 14 in SEVEN_STEPS}
        downbeats = set(range(0, 128, 16))
        assert {step for step in steps(made, KICK) if step < 128} == attacks | downbeats
        row = followed_sections(made.arrangement)[0]
        assert (row.kicks, row.apart, row.precision, row.recall) == (64, len(downbeats - attacks), 1, 1)

    def test_a_section_that_leaves_the_kick_out_follows_nothing(self) -> None:
        made = render(sheet(SEVEN_COLD_ROOMS + 'play = ["timekeeper", "snare"]\n'))
        assert steps(made, KICK) == []
        assert followed_sections(made.arrangement) == ()

    def test_a_lost_kick_shows(self) -> None:
        """The counts come from the strokes that are played: stop the feet for half the section and recall falls."""
        made = render(sheet(SEVEN_COLD_ROOMS)).arrangement.sections[0]
        (span,) = made.spans
        lane = span.groove.lane_on("kick")
        half = lane.put(range(len(lane) // 2, len(lane)), 0, lane.kind[0])
        row = section_following(replace(made, spans=(replace(span, groove=span.groove.with_lane("kick", half)),)))
        kept = len([step for step in range(64) if step % 14 in SEVEN_STEPS])
        assert (row.precision, row.recall) == (1.0, kept / 64)


class TestKelpFurnace:
    """A bar with eight attacks, three of them accents, four times, full time."""

    @pytest.mark.parametrize(("mode", "attacks"), [("all", KELP_STEPS), ("accents", KELP_ACCENTS)])
    def test_modes(self, mode: str, attacks: tuple[int, ...]) -> None:
        """All: 32 kicks; accents: 12; the snare on 2 and 4 in both; precision and recall 1."""
        made = render(sheet(KELP_FURNACE + f'riff_mode = "{mode}"\n'))
        assert steps(made, KICK) == [16 * bar + step for bar in range(4) for step in attacks]
        assert steps(made, SNARE) == [16 * bar + step for bar in range(4) for step in (4, 12)]
        (row,) = followed_sections(made.arrangement)
        assert (row.attacks, row.kicks) == (4 * len(attacks), 4 * len(attacks))
        assert (row.precision, row.recall, row.meets) == (1, 1, (2, 3, 4))

    @pytest.mark.parametrize(
        ("mode", "attacks"), [("all", KELP_STEPS), ("accents", KELP_ACCENTS), ("low", (0, 3, 8, 10, 13, 14))]
    )
    def test_the_riff_as_a_file_beside_the_sheet(
        self, tmp_path: Path, mode: str, attacks: tuple[int, ...]
    ) -> None:
        """Accents by velocity; 6 and 12 are played an octave higher."""
        played = {step: (52 if step in (6, 12) else 40, 112 if step in KELP_ACCENTS else 84) for step in KELP_STEPS}
        riff_file(tmp_path / "kelp.mid", played)
        text = KELP_FURNACE.replace("X--x--X-x-x-Xxx-", "kelp.mid") + f'riff_mode = "{mode}"\n'
        made = render(sheet(text, tmp_path))
        assert steps(made, KICK) == [16 * bar + step for bar in range(4) for step in attacks]
        assert made.warnings == ()

    def test_a_file_at_half_speed(self, tmp_path: Path) -> None:
        """On a grid of eighths the file's sixteenths are eighths: one turn takes two bars."""
        riff_file(tmp_path / "kelp.mid", dict.fromkeys(KELP_STEPS, (40, 90)))
        made = render(sheet(KELP_FURNACE.replace("X--x--X-x-x-Xxx-", "kelp.mid") + "riff_grid = 8\n", tmp_path))
        assert steps(made, KICK) == [32 * turn + 2 * step for turn in range(2) for step in KELP_STEPS]

    @pytest.mark.parametrize(
        ("change", "place", "message"),
        [
            ('riff_mode = "low"', "parts.furnace.riff_mode, line 22", "does not say which attacks are low"),
            ('riff_mode = "loud"', "parts.furnace.riff_mode, line 22", "no such value"),
        ],
    )
    def test_modes_that_choose_nothing(self, change: str, place: str, message: str) -> None:
        with pytest.raises(GrooveForgeError) as caught:
            render(sheet(KELP_FURNACE + change + "\n"))
        assert place in str(caught.value)
        assert message in str(caught.value)

    @pytest.mark.parametrize("riff", ["none.mid", "riffs/none.mid", "./none"])
    def test_a_file_that_is_missing(self, tmp_path: Path, riff: str) -> None:
        with pytest.raises(GrooveForgeError, match="there is no such file") as caught:
            sheet(KELP_FURNACE.replace("X--x--X-x-x-Xxx-", riff), tmp_path)
        assert len(caught.value.faults) == 1
        assert "none" in caught.value.faults[0].file

    def test_tracks_to_choose_from_are_said_once(self, tmp_path: Path) -> None:
        """The file is named by two parts; the warning stands once in the report."""
        one = mido.MidiFile(riff_file(tmp_path / "one.mid", {0: (40, 90), 4: (40, 90)}))
        both = mido.MidiFile(type=1, ticks_per_beat=480)
        both.tracks += [one.tracks[0], one.tracks[0]]
        both.save(tmp_path / "both.mid")
        text = KELP_FURNACE.replace("X--x--X-x-x-Xxx-", "both.mid").replace('["furnace"]', '["furnace", "again"]')
        again = '\n[parts.again]\ngroove = "plain"\nkick = "follow"\nriff = "both.mid"\n'
        (warning,) = render(sheet(text + again, tmp_path)).warnings
        assert "both.mid: track 1 (channel 1, 2 notes) was taken as the riff" in warning


def test_the_demo_song_follows_its_riff_files() -> None:
    """Two parts of "Tin Observatory" have their riffs from files; every kick of the song is an attack."""
    made = render(read_sheet(str(library() / "songs" / "tin-observatory.toml")))
    rows = {row.section: row for row in followed_sections(made.arrangement)}
    assert all(row.precision == row.recall == 1 for row in rows.values())
    assert rows["orbit"].meets == (rows["orbit"].bar + 5,)
    assert rows["orbit"].attacks == 8 * 11
    assert rows["collapse"].attacks == 4 * 11


COUNTED = """
title = "Counted"
tempo = 100
form = ["one", "two"]
count_in = 2

""" + PLAIN + """
[parts.one]
groove = "plain"
bars = 2

[parts.two]
groove = "plain"
bars = 2
tempo = 150
"""

ODD = """
title = "Odd"
tempo = 100
form = ["one", "two"]
count_in = 1

[grooves.seven]
meter = "7/8"
tab = '''
HH x-x-x-x-x-x-x-
SN ----O-------O-
BD o-------o-----
'''

[parts.one]
groove = "seven"
meter = "7/8"
bars = 1

[parts.two]
tacet = true
bars = 1
"""


class TestCountIn:
    made = render(sheet(COUNTED))

    def test_files(self) -> None:
        assert "demo-count-in.mid" in self.made.files
        plain = render(sheet(COUNTED.replace("count_in = 2", "count_in = 0")))
        assert "demo-count-in.mid" not in plain.files
        assert plain.files["demo.mid"] == self.made.files["demo.mid"]

    def test_the_click_has_two_bars_more_in_front(self) -> None:
        """Six bars of quarters in all; the song's bars keep their clicks, two bars later."""
        clicks = strokes(self.made.files["demo-click.mid"])
        assert clicks == [
            (bar * TICKS_A_BAR + beat * 480, HIGH if not beat else LOW) for bar in range(6) for beat in range(4)
        ]

    def test_the_song_stands_behind_the_clicks(self) -> None:
        """Clicks in the first two bars alone, then the song stroke by stroke."""
        data = self.made.files["demo-count-in.mid"]
        lead = 2 * TICKS_A_BAR
        clicks = strokes(data, HIGH, LOW)
        assert [tick for tick, _ in clicks] == [480 * beat for beat in range(8)]
        assert [note for _, note in clicks] == [HIGH, LOW, LOW, LOW] * 2
        song = [(tick - lead, note) for tick, note in strokes(data) if note not in (HIGH, LOW)]
        assert song == strokes(self.made.files["demo.mid"])

    @pytest.mark.parametrize("name", ["demo-count-in.mid", "demo-click.mid"])
    def test_tempo_of_the_first_bar_and_markers(self, name: str) -> None:
        """100 from the beginning, 150 where the second part begins, two bars later than in the song."""
        data = self.made.files[name]
        assert [(tick, event.tempo) for tick, event in read_back.of(data, "set_tempo")] == [
            (0, 600_000),
            (4 * TICKS_A_BAR, 400_000),
        ]
        assert [(tick, event.text) for tick, event in read_back.of(data, "marker")] == [
            (0, "count-in"),
            (2 * TICKS_A_BAR, "one"),
            (4 * TICKS_A_BAR, "two"),
        ]
        # Two bars at 100 are 4.8 s, then the song; mido ends with the last note's end.
        song = mido.MidiFile(file=io.BytesIO(self.made.files["demo.mid"])).length
        assert mido.MidiFile(file=io.BytesIO(data)).length == pytest.approx(4.8 + song, abs=0.5)

    def test_a_ramp_from_the_first_beat_counts_in_at_its_beginning(self) -> None:
        text = COUNTED.replace("tempo = 150", "").replace("[parts.one]", "[parts.one]\ntempo = { to = 140, over = 4 }")
        tempi = read_back.of(render(sheet(text)).files["demo-count-in.mid"], "set_tempo")
        lead = 2 * TICKS_A_BAR
        assert [tick for tick, _ in tempi] == [0, lead + 480, lead + 960, lead + 1440, lead + 1920, lead + 3840]
        assert tempi[0][1].tempo == 600_000

    def test_unequal_groups_are_counted_as_beats(self) -> None:
        """A bar of 7/8 in groups of 2, 2 and 3 has three beats; the song's 4/4 comes after it."""
        made = render(sheet(ODD))
        data = made.files["demo-count-in.mid"]
        assert strokes(data, HIGH, LOW) == [(0, HIGH), (480, LOW), (960, LOW)]
        metres = [(tick, event.numerator) for tick, event in read_back.of(data, "time_signature")]
        assert metres == [(0, 7), (2 * 1680, 4)]
        assert strokes(made.files["demo-click.mid"])[:6] == [
            (start + place, note) for start in (0, 1680) for place, note in ((0, HIGH), (480, LOW), (960, LOW))
        ]

    def test_in_a_file_of_one_track(self) -> None:
        made = render(sheet(COUNTED), MidiOptions(format=0))
        data = made.files["demo-count-in.mid"]
        assert len(mido.MidiFile(file=io.BytesIO(data)).tracks) == 1
        assert strokes(data) == strokes(self.made.files["demo-count-in.mid"])

    @pytest.mark.parametrize("bars", ["-1", "5", "1.5", "true", '"2"'])
    def test_only_whole_bars_up_to_four(self, bars: str) -> None:
        with pytest.raises(GrooveForgeError, match="count_in, line 5"):
            sheet(COUNTED.replace("count_in = 2", f"count_in = {bars}"))
