"""A song as it is written down: what stands over the staff, tempi, the hands' letters."""

from __future__ import annotations

from fractions import Fraction

from grooveforge.core.arrange import arrange
from grooveforge.core.kit import Kind
from grooveforge.core.perform import perform
from grooveforge.core.score import Hit, Score, limbs_at, song_score, with_sticking
from grooveforge.project.sheets import song_from

SHEET = """
title = "Chalk Harbour"
tempo = 120
form = [
  "verse", { part = "verse", tacet = true, name = "rest" }, "hits",
  { part = "verse", name = "slower", tempo = 100, swing = "2:1" }, { part = "verse", name = "again", tempo = 100 },
  { part = "verse", name = "ramp", tempo = { to = 140, over = 4 } },
]
[defaults]
groove = "driving eighths"
bars = 2
arrival = false
[parts.verse]
[parts.hits]
stops = "1.1 2.1"
"""


def written() -> Score:
    made = arrange(song_from(SHEET, "chalk.toml"))
    return song_score(made, perform(made))


def test_each_section_has_its_name_and_short_directions_over_its_first_bar() -> None:
    heads = {bar.section: (bar.number, bar.words) for bar in written().bars if bar.section}
    assert heads == {
        "verse": (1, ()),
        "rest": (3, ("tacet",)),
        "hits": (5, ("stops",)),
        "slower": (7, ("swing 2:1",)),
        "again": (9, ("straight",)),
        "ramp": (11, ()),
    }


def test_a_tempo_stands_where_it_changes_and_nowhere_else() -> None:
    marks = {bar.number: list(bar.tempos) for bar in written().bars if bar.tempos}
    assert {number: found[0] for number, found in marks.items()} == {
        1: (Fraction(0), Fraction(120)),
        7: (Fraction(0), Fraction(100)),
        11: (Fraction(0), marks[11][0][1]),
        12: marks[12][0],
    }
    assert [len(marks[number]) for number in (1, 7)] == [1, 1]
    ramp = [bpm for number in (11, 12) for _, bpm in marks[number]]
    assert ramp == sorted(ramp) and ramp[-1] == 140


def test_a_limb_goes_to_its_hit_and_to_no_other() -> None:
    """A stroke nearer than a 32nd to a hit of its bar and surface is that hit."""
    score = written()
    bar = score.bars[0]
    hit = next(hit for hit in bar.hits if hit.surface == "snare")
    near, far = Fraction(1, 32), Fraction(1, 32) + Fraction(1, 1000)

    def letter(number: int, place: Fraction, surface: str = "snare") -> str:
        made = with_sticking(score, [(number, place, surface, "L")]).bars[0].hits
        return next(row.sticking for row in made if (row.place, row.surface) == (hit.place, "snare"))

    assert letter(1, hit.place) == letter(1, hit.place + near) == letter(1, hit.place - near) == "L"
    assert letter(1, hit.place + far) == letter(2, hit.place) == letter(1, hit.place, "kick") == ""
    both = with_sticking(score, [(1, hit.place - near, "snare", "R"), (1, hit.place, "snare", "L")]).bars[0].hits
    assert [row.sticking for row in both if row.sticking] == ["L"], "the nearer one"


def test_hits_together_have_one_letter_or_both() -> None:
    def hits(*letters: str) -> list[Hit]:
        return [Hit(Fraction(0), "snare", Kind.PLAIN, 96, 0, letter) for letter in letters]

    assert limbs_at(hits("R", "")) == "R"
    assert limbs_at(hits("", "L", "L")) == "L"
    assert limbs_at(hits("R", "L")) == "B"
    assert limbs_at(hits("", "")) == "" == limbs_at([])
