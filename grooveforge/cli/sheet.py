"""`new`, `recount`, `undo`: song sheets as files."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

if TYPE_CHECKING:
    import typer


class Factor(StrEnum):
    """Which way a sheet is recounted."""

    double = "x2"
    halve = "/2"


def new(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="The song sheet to write, such as my-song.toml; - for stdout.")
    ],
    form: Annotated[
        str | None, typer.Option(help='Part names in order, such as "intro verse chorus verse chorus".')
    ] = None,
    tempo: Annotated[str | None, typer.Option(help="Quarter notes a minute, 20 to 400.")] = None,
    meter: Annotated[str | None, typer.Option(help="The metre, such as 4/4 or 7/8.")] = None,
    source: Annotated[
        str | None, typer.Option("--from", metavar="DRUMS.mid", help="Form and grooves from a MIDI file's markers.")
    ] = None,
    channel: Annotated[
        int | None, typer.Option(min=1, max=16, help="With --from: the drums' MIDI channel, counted from 1.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace a file that is there; the old one is kept.")] = False,
) -> None:
    """Write a commented song sheet to start from; it renders as it stands.

    With --from the form comes from the MIDI file's markers: one part a name, its bars as grooves in the sheet.

    \b
    Example:
      grooveforge new my-song.toml --form "intro verse chorus verse chorus" --tempo 150
      grooveforge new my-song.toml --from drums.mid
    """
    from grooveforge import files
    from grooveforge.cli.output import say, warn
    from grooveforge.errors import UsageError
    from grooveforge.project.sheet_from import new_sheet_from
    from grooveforge.project.sheets import new_sheet

    if source is not None:
        given = [name for name, said in (("--form", form), ("--tempo", tempo), ("--meter", meter)) if said is not None]
        if given:
            raise UsageError(f"--from takes form, tempo and metre from the file, so {given[0]} cannot stand beside it")
        path, warnings = new_sheet_from(file, source, channel, force)
        warn(warnings)
    else:
        if channel is not None:
            raise UsageError("--channel belongs to --from", hint="--from DRUMS.mid")
        path = new_sheet(file, (form or "").split(), tempo or "120", meter or "4/4", force)
    if str(file) != files.STANDARD_STREAM:
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
    """Take back the last change that a command made to a sheet or its changes file, byte for byte; ten are kept.

    \b
    Example:
      grooveforge undo my-song.toml
    """
    from grooveforge import files
    from grooveforge.cli.output import say

    changed = files.undo(song)
    say(f"{changed} is as it was before the last change" if changed.exists() else f"{changed} is gone again")
