"""`new`, `recount`, `undo`: song sheets as files."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer


class Factor(StrEnum):
    """Which way a sheet is recounted."""

    double = "x2"
    halve = "/2"


def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The song sheet to write, such as my-song.toml.")],
    form: Annotated[str, typer.Option(help='Part names in order, such as "intro verse chorus verse chorus".')] = "",
    tempo: Annotated[str, typer.Option(help="Quarter notes a minute, 20 to 400.")] = "120",
    meter: Annotated[str, typer.Option(help="The metre, such as 4/4 or 7/8.")] = "4/4",
    force: Annotated[bool, typer.Option("--force", help="Replace a file that is there; the old one is kept.")] = False,
) -> None:
    """Write a commented song sheet to start from; it renders as it stands.

    \b
    Example:
      grooveforge new my-song.toml --form "intro verse chorus verse chorus" --tempo 150
    """
    from grooveforge.cli.output import say
    from grooveforge.project.sheets import new_sheet

    path = new_sheet(file, form.split(), tempo, meter, force)
    say(f"wrote {path}; next: grooveforge render {path}")


def recount(
    song: Annotated[Path, typer.Argument(metavar="SONG", help="The song sheet to change.")],
    factor: Annotated[Factor, typer.Argument(help="x2: twice the tempo and note values; /2: half of both.")],
    section: Annotated[str | None, typer.Option(help='One section alone, such as "chorus" or "chorus 2".')] = None,
) -> None:
    """Double or halve a sheet's tempo and note values together: every stroke sounds when it did.

    The sheet is changed in place; `grooveforge undo SONG` takes it back.

    \b
    Example:
      grooveforge recount my-song.toml x2
      grooveforge recount my-song.toml /2 --section "chorus 2"
    """
    from grooveforge.cli.output import say
    from grooveforge.project.recounting import recount as recount_sheet

    for line in recount_sheet(str(song), factor.value, section):
        say(line)


def undo(
    song: Annotated[Path, typer.Argument(metavar="SONG", help="The song sheet to take back.")],
) -> None:
    """Take back the last change that a command made to a sheet, byte for byte; ten changes are kept.

    \b
    Example:
      grooveforge undo my-song.toml
    """
    from grooveforge import files
    from grooveforge.cli.output import say

    files.undo(song)
    say(f"{song} is as it was before the last change")
