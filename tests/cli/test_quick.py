"""Plain words are read without typer, and mean what typer reads in them."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from types import FunctionType
from typing import Any

import pytest
import typer
from hypothesis import given, settings
from hypothesis import strategies as st

from grooveforge.cli.app import app
from grooveforge.cli.quick import NotPlainError, plain_arguments
from grooveforge.cli.table import COMMANDS, command_of

PLAIN = {name: found for name in COMMANDS if isinstance(found := command_of(name), FunctionType)}

SAID = (
    "a.toml b.mid - -- x2 /2 --json --force -o --out out --channel 1 10 17 -1 --seed 0 7 --feel half --bars 2-4",
    "--split surfaces --help --form --tempo 150 --meter 7/8 --section chorus --mode all accents --tag --nothing",
)
WORDS = st.lists(st.sampled_from(" ".join(SAID).split()), max_size=6)


def command_by_typer(name: str) -> Any:
    group: Any = typer.main.get_command(app)
    return group.get_command(None, name)


TEXTS = ("a.toml", "b.mid", "x2", "half", "2-4", "7/8", "-")


def values(kind: Any) -> st.SearchStrategy[str]:
    """Words of a parameter's type, inside its limits."""
    if choices := getattr(kind, "choices", ()):
        return st.sampled_from([str(choice) for choice in choices])
    if kind.name.startswith("int"):
        low, high = getattr(kind, "min", None), getattr(kind, "max", None)
        return st.integers(low or 0, 99 if high is None else high).map(str)
    return st.sampled_from(TEXTS)


@st.composite
def fitting(draw: st.DrawFn, name: str) -> list[str]:
    """Words that fit a command: what it needs, and any of the rest, in any order that keeps the arguments'."""
    rows = command_by_typer(name).params
    arguments = [row for row in rows if row.param_type_name == "argument"]
    needed = max((number for number, row in enumerate(arguments, 1) if row.required), default=0)
    said = [[draw(values(row.type))] for row in arguments[: draw(st.integers(needed, len(arguments)))]]
    options: list[list[str]] = []
    for row in rows:
        if row.param_type_name == "option" and (row.required or draw(st.booleans())):
            times = draw(st.integers(1, 2)) if row.multiple else 1
            options += [
                [draw(st.sampled_from(row.opts)), *([] if row.is_flag else [draw(values(row.type))])]
                for _ in range(times)
            ]
    slots: list[list[str] | None] = [*options, *([None] * len(said))]
    left = iter(said)
    return [word for slot in draw(st.permutations(slots)) for word in (slot or next(left))]


def by_typer(name: str, words: list[str]) -> dict[str, Any] | None:
    """What typer would call a command with; None where it refuses the words or prints help."""
    command = command_by_typer(name)
    try:
        context = command.make_context(name, list(words))
    except (typer.Exit, Exception):
        return None
    return dict(context.params)


def assert_as_typer_reads(name: str, words: list[str], plain: dict[str, Any]) -> None:
    """typer takes these words too, gives each parameter the same value, and the others their defaults."""
    read = by_typer(name, words)
    assert read is not None, "typer refuses these words"
    for key, value in plain.items():
        found = list(read[key]) if isinstance(value, list) else read[key]
        assert found == value or str(found) == str(value)
    left = {key: value for key, value in read.items() if key not in plain}
    defaults = (None, False, (), [], *(PLAIN[name].__defaults__ or ()))
    assert all(value in defaults for value in left.values())


@pytest.mark.parametrize("name", list(PLAIN))
@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_words_that_fit_are_plain_and_mean_what_typer_reads(name: str, data: st.DataObject) -> None:
    """Whatever a signature allows is read without typer, and as typer reads it."""
    words = data.draw(fitting(name))
    assert_as_typer_reads(name, words, plain_arguments(PLAIN[name], words))


@pytest.mark.parametrize("name", list(PLAIN))
@settings(max_examples=60, deadline=None)
@given(words=WORDS)
def test_what_is_read_here_is_what_typer_reads(name: str, words: list[str]) -> None:
    """Whenever any words count as plain (few do), typer takes them too, and reads the same."""
    try:
        plain = plain_arguments(PLAIN[name], words)
    except NotPlainError:
        return
    assert_as_typer_reads(name, words, plain)


@pytest.mark.parametrize("name", list(PLAIN))
def test_every_plain_command_can_be_called_without_typer(name: str) -> None:
    """Its signature says nothing that only typer understands: a missing argument is all that is wrong."""
    command = command_by_typer(name)
    words: list[str] = []
    needed = [parameter for parameter in command.params if parameter.required]
    for parameter in needed:
        words += parameter.opts[:1] if parameter.param_type_name == "option" else []
        words.append(str(next(iter(getattr(parameter.type, "choices", [])), "word")))
    assert len(plain_arguments(PLAIN[name], words)) == len(needed)


def test_a_render_imports_no_typer() -> None:
    """The command line library is loaded for help and for what is wrong, not for what is plain."""
    script = (
        "import sys; from grooveforge.cli.main import main; "
        "assert main(['inspect', 'patterns/grooves/gallop.toml']) == 0; "
        "assert 'typer' not in sys.modules and 'mido' not in sys.modules and 'pretty_midi' not in sys.modules; "
        "assert main(['inspect', '--nothing']) == 2; assert 'typer' in sys.modules"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_a_render_imports_no_masked_arrays(tmp_path: Path) -> None:
    """Some functions of numpy import them at their first call, which takes longer than a song takes to arrange."""
    script = (
        "import sys; from grooveforge.cli.main import main; "
        f"assert main(['render', 'patterns/songs/copper-weather.toml', '-o', {str(tmp_path)!r}]) == 0; "
        "assert 'numpy' in sys.modules and 'numpy.ma' not in sys.modules"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
