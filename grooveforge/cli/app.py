"""The command line as typer sees it: help, checks, and the groups of commands."""

from __future__ import annotations

from typing import Any

import typer
from typer.core import TyperGroup

from grooveforge.cli.table import COMMANDS, command_of

EPILOG = "grooveforge COMMAND --help shows a worked example of each command."


class LazyGroup(TyperGroup):
    """A group that knows its commands from a table, so that help needs none of their imports."""

    def list_commands(self, ctx: Any) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        if cmd_name not in COMMANDS:
            return None
        found = command_of(cmd_name)
        if isinstance(found, typer.Typer):
            return typer.main.get_command(found)
        # The modules name typer in their signatures only, so that it need not be imported to run them.
        found.__globals__.setdefault("typer", typer)
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


def _print_version(asked: bool) -> None:
    if asked:
        from importlib.metadata import version as installed

        typer.echo(installed("grooveforge"))
        raise typer.Exit


@app.callback()
def _options(
    version: bool = typer.Option(
        False, "--version", help="Print the version and stop.", is_eager=True, callback=_print_version
    ),
) -> None:
    """What stands before the name of a command."""
