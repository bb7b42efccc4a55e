"""`grooves` and the text of `inspect`: what a user reads of the library and of a file."""

from __future__ import annotations

import json
import re
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from grooveforge.formats.groovefile import read_groove_file
from grooveforge.project.library import library_groove, library_grooves
from tests.cli.conftest import Run
from tests.missing import missing


def test_every_shipped_groove_is_listed_once(run: Run) -> None:
    done = run("grooves")
    assert done.status == 0
    names = [str(row.name) for row in library_grooves()]
    listed = [re.split("  +", line)[0] for line in done.out.splitlines()[1:]]
    assert listed == names
    assert len(set(names)) == len(names) >= 60


def test_tag_and_metre_narrow_the_list(run: Run) -> None:
    """The JSON holds exactly those whose file says so."""
    rows = json.loads(run("grooves", "--tag", "double kick", "--meter", "4/4", "--json").out)["grooves"]
    wanted = [row for row in library_grooves() if "double kick" in row.tags and str(row.groove.meter) == "4/4"]
    assert [row["name"] for row in rows] == [row.name for row in wanted] != []
    assert {row["meter"] for row in rows} == {"4/4"}


def test_one_groove_prints_as_a_file_that_reads_back(run: Run) -> None:
    done = run("grooves", "gallop")
    assert read_groove_file(done.out).groove == library_groove("gallop").groove
    assert json.loads(run("grooves", "gallop", "--json").out)["grooves"][0]["name"] == "gallop"


def test_a_name_that_is_nearly_right_is_told(run: Run) -> None:
    done = run("grooves", "galop")
    assert done.status == 2
    assert "gallop" in done.err
    assert run("grooves", "--tag", "nothing like it").status == 2
    assert json.loads(run("grooves", "--tag", "nothing like it", "--json").out) == {"grooves": []}


def test_inspect_of_a_groove_in_words(run: Run, tmp_path: Path) -> None:
    """Equal bars share a line; what is off or unknown is said under the table."""
    done = run("inspect", "patterns/grooves/gallop.toml")
    assert done.status == 0
    head, bar = done.out.splitlines()[:2]
    assert head.split() == ["bars", "metre", "tempo", "feel", "backbeats", "hand", "rate", "kicks", "also"]
    assert re.match(r"1(-\d+)?  +4/4 .* full .* closed hi-hat", bar)
    assert "strokes in" in done.out


def test_vary_changes_a_groove_file_and_keeps_what_it_says_of_itself(run: Run, tmp_path: Path) -> None:
    """Tempo range, tags and words stay; the feel is the new one; no change gives the file's own bytes."""
    source = Path("patterns/grooves/gallop.toml")
    out = tmp_path / "half.toml"
    assert run("vary", source, "-o", out, "--feel", "half", "--timekeeper", "ride").status == 0
    before, after = (read_groove_file(path.read_text(encoding="utf-8")) for path in (source, out))
    assert (after.tempo, after.tags, after.about) == (before.tempo, before.tags, before.about)
    assert (after.groove.feel, after.groove.surface) == ("half", "ride")
    same = tmp_path / "same.toml"
    assert run("vary", source, "-o", same).status == 0
    assert same.read_bytes() == source.read_bytes()


def test_vary_refuses_what_makes_no_sense(run: Run, sheet: Path, tmp_path: Path) -> None:
    out = tmp_path / "out.mid"
    assert "a song sheet says its changes itself" in run("vary", sheet, "-o", out, "--feel", "half").err
    assert "surfaces, no notes" in run("vary", "patterns/grooves/gallop.toml", "-o", out, "--key-map", "gm").err
    assert not out.exists()


def test_the_version_is_the_packages(run: Run) -> None:
    try:
        installed = version("grooveforge")
    except PackageNotFoundError:
        missing("grooveforge is not installed: the tests run from the source tree")
    assert run("--version").out.strip() == installed


def test_no_words_give_help_and_an_example_is_in_each_commands_help(run: Run) -> None:
    from grooveforge.cli.table import COMMANDS, command_of

    alone = run()
    assert (alone.status, alone.out, alone.err) == (2, "", run("--help").out)
    assert alone.err.startswith("Usage: grooveforge ")
    for name in COMMANDS:
        found = command_of(name)
        groups = [row.name for row in getattr(found, "registered_commands", ())]
        assert groups or callable(found)
        assert not groups or "Commands" in run(name, "--help").out
        for words in [[name, within] for within in groups] or [[name]]:
            done = run(*words, "--help")
            assert done.status == 0
            _, _, examples = done.out.partition("  Example")
            assert f"    grooveforge {' '.join(words)}" in examples, words
