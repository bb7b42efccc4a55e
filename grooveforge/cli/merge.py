"""`merge`: a drummer's edited file back into a song."""

from __future__ import annotations

import sys
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

if TYPE_CHECKING:
    import typer

    from grooveforge.project.merging import Merged


class Side(StrEnum):
    """Whose way conflicts go."""

    sheet = "sheet"
    file = "file"


def merge(
    song: Annotated[str, typer.Argument(metavar="SONG", help="The song sheet that the file was rendered from.")],
    edited: Annotated[str, typer.Argument(metavar="EDITED.mid", help="The MIDI file that came back; - for stdin.")],
    channel: Annotated[
        int | None, typer.Option(min=1, max=16, help="The drums' MIDI channel, counted from 1.")
    ] = None,
    key_map: Annotated[
        str | None, typer.Option("--key-map", metavar="F", help="Another key map than it went out with: gm or a file.")
    ] = None,
    base: Annotated[
        str | None, typer.Option("--base", metavar="SENT.mid", help="The file as you sent it; else a record is found.")
    ] = None,
    conflicts: Annotated[Side | None, typer.Option(help="Whose way bars go that both sides changed.")] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Merge a file that has hardly a stroke as it was sent.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """Take the bars that a drummer changed back into a song; everything else follows the sheet as before.

    The changed bars go into NAME.changes.toml beside the sheet, one table a bar; delete a table and its bar is the
    sheet's again. Resolution, channel and tracks of the file are no changes. Where the sheet changed the same lane
    of a bar since the render, the bar is left as the sheet has it, both sides are shown, and the exit status is 1.

    \b
    Example:
      grooveforge merge my-song.toml from-the-drummer.mid
      grooveforge undo my-song.toml
    """
    from grooveforge.cli.given import given_key_map
    from grooveforge.cli.output import Progress, say, say_json, warn
    from grooveforge.formats.merge_report import merge_text
    from grooveforge.project.merging import MergeOptions
    from grooveforge.project.merging import merge as merge_file

    kit = given_key_map(key_map, edited)
    options = MergeOptions(channel, kit, base, None if conflicts is None else conflicts.value, force)
    with Progress("merging") as progress:
        merged: Merged = merge_file(song, edited, options, progress)
    if as_json:
        say_json(merged.facts())
    else:
        warn(merged.warnings)
        say(merge_text(merged.facts(), song, edited).rstrip())
    if merged.conflicts:
        sys.exit(1)
