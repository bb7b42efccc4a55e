"""Pictures of scores: what verovio would leave out or misplace is drawn, and drawn in its place."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from lxml import etree

from grooveforge.core.score import Score
from grooveforge.formats.engrave import PageSize, engraved, stacked
from grooveforge.formats.engrave_key import key_cells
from grooveforge.formats.musicxml import LONGEST_NAME
from grooveforge.project.charting import Source, read_source
from tests.charts import GROOVES

SVG = "{http://www.w3.org/2000/svg}"
SIZE = PageSize(1800)


def source(tab: str, bars: int = 1) -> Source:
    """A song of one groove, played for so many bars."""
    text = f"title = 'Kite'\ntempo = 120\nform = ['a']\n[grooves.g]\ntab = '''\n{tab}\n'''\n"
    text += f"[parts.a]\ngroove = 'g'\nbars = {bars}\narrival = false\n"
    return read_source(text.encode(), "kite.toml")


def score(tab: str, bars: int = 1) -> Score:
    return source(tab, bars).score


def picture(of: Score, sticking: bool = False) -> Any:
    pages = engraved(of, SIZE, sticking)
    assert len(pages) == 1
    return etree.fromstring(pages[0].encode())


def groups(root: Any, kind: str) -> list[Any]:
    """The elements that verovio calls so."""
    return [item for item in root.iter(f"{SVG}g") if kind in (item.get("class") or "").split()]


def glyphs(item: Any) -> list[str]:
    """The code points of the glyphs drawn in an element."""
    link = "{http://www.w3.org/1999/xlink}href"
    return [use.get(link)[1:].split("-")[0] for use in item.iter(f"{SVG}use")]


def across(item: Any) -> int:
    """Where an element's first glyph stands from the left."""
    found = re.search(r"translate\((-?\d+)", next(item.iter(f"{SVG}use")).get("transform"))
    assert found is not None
    return int(found[1])


def test_every_stroke_is_drawn() -> None:
    """Each note has a head; both small notes of a drag are there."""
    root = picture(score("HH x-x-x-x-\nSN --o---d-\nBD o-o-o-o-"))
    assert len(groups(root, "notehead")) == 4 + 2 + 2 + 4


@pytest.mark.parametrize("path", GROOVES, ids=lambda path: path.stem)
def test_every_groove_is_drawn(path: Path) -> None:
    """Each groove of the library has a head for every stroke, sticking shown; a repeated bar has a sign instead."""
    of = read_source(path.read_bytes(), str(path)).stuck().score
    shown = [bar for index, bar in enumerate(of.bars) if not index or not bar.repeats(of.bars[index - 1])]
    root = picture(of, sticking=True)
    assert len(groups(root, "notehead")) == sum(bar.strokes for bar in shown)
    assert len(groups(root, "mRpt")) == len(of.bars) - len(shown)


def test_hi_hat_signs_are_drawn() -> None:
    """A circle for each open stroke, a plus for the one closed again, brackets for the half-open ones."""
    root = picture(score("HH xoxxhhxx"))
    drawn = [glyph for item in groups(root, "artic") for glyph in glyphs(item)]
    assert len(drawn) == 3 and len(set(drawn)) == 2
    assert ["".join(item.itertext()).strip() for item in groups(root, "fing")] == ["(o)", "(o)"]


def test_a_triangle_is_a_triangle() -> None:
    """The cowbell's head has three corners, and is no other surface's."""
    root = picture(score("CB x-x-\nT2 -o--\nBD o---"))
    heads = Counter(glyph for item in groups(root, "notehead") for glyph in glyphs(item))
    (triangle,) = [glyph for glyph, count in heads.items() if count == 2 and glyph != "E0A4"]
    (drawn,) = [item for item in root.iter(f"{SVG}g") if (item.get("id") or "").startswith(f"{triangle}-")]
    assert re.fullmatch(r"M\S+ \S+ L\S+ \S+ L\S+ \S+ Z", drawn.find(f"{SVG}path").get("d"))


def test_odd_names_are_drawn() -> None:
    """Signs of any script, and those that fonts keep for themselves, are text like any other."""
    for name in ("\ue0a4\ue0be", "\U0001f941 drum", "\u05d0\u05d1 \u202e", "x" * 300, "&amp; <b>", "\u0301"):
        entry = f"{{ part = 'a', name = {json.dumps(name, ensure_ascii=False)} }}"
        text = f"title = 'Kite'\ntempo = 120\nform = [{entry}]\n[parts.a]\ntacet = true\nbars = 1\n"
        root = picture(read_source(text.encode(), "kite.toml").score)
        assert name[:LONGEST_NAME] in "".join(root.itertext()), ascii(name)


def test_repeats_are_counted() -> None:
    """Bars as the one before them are repeat signs with 2, 3 and 4 above."""
    root = picture(score("HH x-x-x-x-", 4))
    assert len(groups(root, "mRpt")) == 3
    assert len(groups(root, "notehead")) == 4


def test_heads_a_step_apart_stand_side_by_side() -> None:
    """Floor tom and kick at one time are both seen."""
    root = picture(score("FT o---\nBD o---"))
    places = sorted(across(item) for item in groups(root, "notehead"))
    assert places[1] - places[0] > 50


def test_one_accent_for_a_chord() -> None:
    """Two accented strokes of one hand each have one mark together."""
    root = picture(score("CC X---\nSN O---"))
    assert len(groups(root, "artic")) == 1


def test_sticking_stands_under_its_notes() -> None:
    """Every letter stands under a head, before a repeat sign too."""
    root = picture(source("HH x-x-x-x-x-x-x-x-\nBD oooooooooooooooo", 3).stuck().score, sticking=True)
    heads = sorted({across(item) for item in groups(root, "notehead")})
    letters = [
        int(text.get("x")) for item in groups(root, "syl") for text in item.iter(f"{SVG}text") if _says(text).strip()
    ]
    assert len(letters) == 8 + 16
    assert all(min(abs(head - letter) for head in heads) < 150 for letter in letters)
    assert len({min(heads, key=lambda head: abs(head - letter)) for letter in letters}) == 16


def _says(item: Any) -> str:
    return "".join(item.itertext())


def test_one_picture_of_everything() -> None:
    """Title, key and music are one well-formed picture, the same every time."""
    of = score("HH xoh-\nSN -f-g\nBD o---")
    made = [stacked(engraved(of, SIZE), key_cells(of), "Tin & <Kite>") for _ in range(2)]
    assert made[0] == made[1]
    root = etree.fromstring(made[0].encode())
    labels = ["".join(item.itertext()) for item in root.findall(f"{SVG}text")]
    assert labels[0] == "Tin & <Kite>"
    assert {"kick", "snare", "open hi-hat", "half-open hi-hat", "ghost note", "flam"} <= set(labels)


def test_the_key_has_what_is_used() -> None:
    """Each surface and sign of the score, no other, from the top of the staff down."""
    names = [name for name, _, _ in key_cells(score("CC x---\nSN --o-\nBD o---"))]
    assert names == ["crash", "snare", "kick"]


def test_every_thread_can_draw() -> None:
    """The page's server asks from whichever of its threads is free; each knows where the fonts are.

    In a process of its own, as what counts is which thread comes first.
    """
    code = (
        "import threading, tests.formats.test_engrave as t\n"
        "of, made = t.score('HH x-x-'), []\n"
        "def draw(): made.append(t.engraved(of, t.SIZE))\n"
        "for _ in range(2):\n"
        "    thread = threading.Thread(target=draw)\n"
        "    thread.start(); thread.join()\n"
        "draw()\n"
        "assert len(made) == 3 and made[0] == made[1] == made[2], len(made)\n"
    )
    root = Path(__file__).parents[2]
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=root, env={"PYTHONPATH": str(root)}
    )
    assert done.returncode == 0, done.stderr
