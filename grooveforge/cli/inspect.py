"""`inspect`: what is in a sheet, groove or MIDI file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

if TYPE_CHECKING:
    import typer


def inspect(
    source: Annotated[
        str, typer.Argument(metavar="IN", help="Song sheet, groove file or MIDI file; - for standard input.")
    ],
    channel: Annotated[int | None, typer.Option(min=1, max=16, help="The drums' MIDI channel, counted from 1.")] = None,
    key_map: Annotated[
        str | None, typer.Option("--key-map", metavar="F", help="The kit's key map: gm or a file.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """Say what is in a song sheet, groove file or MIDI file, bar by bar.

    \b
    Example:
      grooveforge inspect out/copper-weather.mid
      grooveforge inspect drums.mid --key-map my-kit.toml
    """
    from grooveforge.cli.given import given_key_map
    from grooveforge.cli.output import say, say_json, warn
    from grooveforge.formats.report import inspection_text
    from grooveforge.project.inspecting import inspect as inspect_file

    facts = inspect_file(source, channel, given_key_map(key_map, source))
    if as_json:
        say_json(facts)
        return
    warn(facts["warnings"])
    say(inspection_text(facts).rstrip())
