"""The command `grooveforge`: plain words go straight to their command, all else to typer."""

from __future__ import annotations

import io
import sys
from types import FunctionType
from typing import TYPE_CHECKING

from grooveforge.cli.table import COMMANDS, TAKE_RIFFS, command_of

if TYPE_CHECKING:
    from grooveforge.errors import GrooveForgeError

COMMANDS: dict[str, tuple[str, str]] = {
    "new": ("sheet", "Write a commented song sheet to start from."),
    "render": ("render", "Turn a song sheet into MIDI and print its road map."),
    "vary": ("vary", "Make one change to a drum MIDI file or a groove file."),
    "recount": ("sheet", "Double or halve a sheet's tempo and note values together."),
    "follow": ("riff", "Put the kick of a groove under a guitar riff."),
    "inspect": ("inspect", "Say what is in a sheet, groove or MIDI file, bar by bar."),
    "compare": ("compare", "Say what differs between two sheets, grooves or MIDI files."),
    "grooves": ("library", "List the shipped grooves, or print one."),
    "page": ("page", "Open the song on a page of this machine, or write it as one file."),
    "key-map": ("keymaps", "Kits: list, show, check or hear key maps."),
    "undo": ("sheet", "Take back the last change that a command made to a sheet."),
}
"""Command -> (module of this package, one line of help). The function or group is called as it, with _ for -."""

TAKE_RIFFS = ("follow", "start")
"""Commands whose argument may be a typed riff, which may begin with a rest."""

EPILOG = "grooveforge COMMAND --help shows a worked example of each command."


class LazyGroup(TyperGroup):
    """A group that knows its commands from a table, so that help needs none of their imports."""

    def list_commands(self, ctx: Any) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        if cmd_name not in COMMANDS:
            return None
        module = import_module(f"grooveforge.cli.{COMMANDS[cmd_name][0]}")
        found = getattr(module, cmd_name.replace("-", "_"))
        if isinstance(found, typer.Typer):
            return typer.main.get_command(found)
        alone = typer.Typer(add_completion=False, rich_markup_mode=None)
        alone.command(cmd_name)(found)
        return typer.main.get_command(alone)

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])


app = typer.Typer(
    cls=LazyGroup,
    name="grooveforge",
    help="Drum-groove variants for a whole song, from a song sheet to General MIDI.",
    epilog=EPILOG,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    no_args_is_help=True,
)


@app.callback()
def _options(
    version: bool = typer.Option(False, "--version", help="Print the version and stop.", is_eager=True),
) -> None:
    if version:
        from importlib.metadata import version as installed

        typer.echo(installed("grooveforge"))
        raise typer.Exit


def _typed(words: list[str]) -> list[str]:
    """The words of a command, a typed riff that begins with a rest marked by a bar line, so that it is no option."""
    if not words or words[0] not in TAKE_RIFFS:
        return words
    return [f"|{word}" if word[:1] == "-" and not word.strip("xX-| ") and word.strip("-| ") else word for word in words]


def report(error: GrooveForgeError) -> None:
    """Every fault of an error on stderr, one or two lines each."""
    for fault in error.faults:
        print(f"error: {fault}", file=sys.stderr)


def _run(words: list[str]) -> None:
    """Run the command that the words name."""
    from grooveforge.cli.quick import NotPlainError, plain_arguments

    if words and words[0] in COMMANDS and isinstance(function := command_of(words[0]), FunctionType):
        try:
            given = plain_arguments(function, words[1:])
        except NotPlainError:
            pass
        else:
            function(**given)
            return
    from grooveforge.cli.app import app

    app(args=words, prog_name="grooveforge")


def main(arguments: list[str] | None = None) -> int:
    """Run one command and return its exit status: 0 done, 1 findings under --strict, 2 wrong input or usage.

    Parameters
    ----------
    arguments : the words after `grooveforge`; None for those of this process.
    """
    from grooveforge.errors import GrooveForgeError

    try:
        _run(_typed(sys.argv[1:] if arguments is None else arguments))
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else 0 if end.code is None else 2
    except GrooveForgeError as error:
        report(error)
        return 2
    except BrokenPipeError:  # the reader of our output has gone: nothing is left to say
        sys.stderr.close()
        return 1
    return 0


def _printable(error: UnicodeError) -> tuple[str | bytes, int]:
    """What stands for a character that the terminal's encoding has not: the byte of a file's name, else an escape."""
    import codecs

    try:
        return codecs.lookup_error("surrogateescape")(error)
    except UnicodeError:
        return codecs.lookup_error("backslashreplace")(error)


def run() -> None:
    """Entry point of the installed command."""
    import codecs

    codecs.register_error("printable", _printable)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="printable")
    sys.exit(main())


if __name__ == "__main__":
    run()
