"""`chart`: notation, drum tab and road map."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

if TYPE_CHECKING:
    import typer


def chart(
    source: Annotated[
        str, typer.Argument(metavar="IN", help="Song sheet, groove file or MIDI file; - for standard input.")
    ],
    out: Annotated[
        Path, typer.Option("-o", "--out", metavar="FILE", help="A .txt, .musicxml, .svg or .html file; - for text.")
    ],
    sticking: Annotated[bool, typer.Option("--sticking", help="Print R and L under the hands' notes.")] = False,
    channel: Annotated[int | None, typer.Option(min=1, max=16, help="The drums' MIDI channel, counted from 1.")] = None,
    key_map: Annotated[
        str | None, typer.Option("--key-map", metavar="F", help="The kit's key map that a MIDI file is read by.")
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace a foreign or edited file; the old one is kept.")
    ] = False,
) -> None:
    """Write the chart that a drummer reads: notation, drum tab and a road map of the song.

    The ending says which: .txt road map and drum tab, .musicxml notation for any notation program, .svg the
    notation as a picture, .html road map, notation and tab on A4 pages to print. Measure numbers are the song's
    bar numbers, and every bar is written out. Pictures need the extra "chart".

    \b
    Example:
      grooveforge chart patterns/songs/copper-weather.toml -o out/copper-weather.html
      grooveforge chart my-song.toml -o out/my-song.musicxml --sticking
      grooveforge chart patterns/grooves/ghosted-verse.toml -o out/verse.txt
    """
    from grooveforge import files
    from grooveforge.cli.given import given_key_map
    from grooveforge.cli.output import one_stream, say, warn
    from grooveforge.formats.keymap import GM
    from grooveforge.project.charting import charted, kind_of_file

    to_stream = one_stream(out)
    made = charted(source, kind_of_file(out), sticking, channel, given_key_map(key_map, source) or GM)
    files.write_output(out, made.data, force)
    warn(made.warnings)
    if not to_stream:
        say(f"wrote {out}: {made.in_words}")
