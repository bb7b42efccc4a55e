"""`vary`: one change to a drum MIDI file or a groove file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

if TYPE_CHECKING:
    import typer


def vary(
    source: Annotated[
        str, typer.Argument(metavar="IN", help="A drum MIDI file or a groove file; - for standard input.")
    ],
    out: Annotated[
        Path, typer.Option("-o", "--out", help="The file to write, of the same kind; - for standard output.")
    ],
    feel: Annotated[
        str | None, typer.Option(help="quarter, half, full, double, d-beat, blast, or /4 /2 x2 x4.")
    ] = None,
    spelling: Annotated[
        str | None, typer.Option(help="v1 v2 v3 of a d-beat; alternating, unison ... of a blast.")
    ] = None,
    timekeeper: Annotated[str | None, typer.Option(help="The hand's surface, such as ride or china.")] = None,
    subdivision: Annotated[str | None, typer.Option(help="The hand's rate: x2 /2 1/4 1/8 1/16 1/8T ...")] = None,
    kick: Annotated[str | None, typer.Option(help="What the kick does: adapt, keep or figure.")] = None,
    bars: Annotated[
        str | None, typer.Option(metavar="A-B", help="Change bars A to B of a MIDI file alone, or one bar.")
    ] = None,
    channel: Annotated[int | None, typer.Option(min=1, max=16, help="The drums' MIDI channel, counted from 1.")] = None,
    key_map: Annotated[
        str | None, typer.Option("--key-map", metavar="F", help="The kit's key map, to read and write by.")
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace a foreign or edited file; the old one is kept.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print what the result holds as one JSON object.")] = False,
) -> None:
    """Make one change to a drum MIDI file or a groove file and leave everything else alone.

    \b
    Example:
      grooveforge vary drums.mid -o out/drums-china.mid --timekeeper china
      grooveforge vary drums.mid -o out/drums-bridge.mid --feel half --bars 9-12
      grooveforge vary patterns/grooves/gallop.toml -o out/gallop-half.toml --feel half
      grooveforge vary - -o - --feel half < drums.mid > half.mid
    """
    from grooveforge import files
    from grooveforge.cli.given import given_key_map
    from grooveforge.cli.output import one_stream, say, say_json, warn
    from grooveforge.project.varying import Variation, bars_from
    from grooveforge.project.varying import vary as vary_file

    to_stream = one_stream(out, ("--json", as_json))
    change = Variation(feel, spelling, timekeeper, subdivision, kick, bars_from(bars))
    made = vary_file(source, change, channel, given_key_map(key_map, source))
    files.write_output(out, made.data, force)
    warn(made.warnings)
    if as_json:
        say_json(made.facts())
    elif not to_stream:
        say(f"wrote {out}: {made.in_words}")
