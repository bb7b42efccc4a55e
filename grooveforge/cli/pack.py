"""`pack`: one folder that a drummer learns a song from."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

if TYPE_CHECKING:
    import typer


def pack(
    song: Annotated[str, typer.Argument(metavar="SONG", help="A song sheet, or - for standard input.")],
    out: Annotated[Path, typer.Option("-o", "--out", metavar="DIR", help="The folder to write.")] = Path("out"),
    force: Annotated[
        bool, typer.Option("--force", help="Replace foreign or edited files; the old ones are kept.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """Write everything that a drummer needs to learn a song into one folder; its first page is index.html.

    Road map, chart and differences to print; the song as MIDI, whole and in sections, with tempo map and click; WAV
    with and without click; the hardest bars as practice loops at 70, 80, 90 and 100 %. What the drummer changes in
    the MIDI comes back with merge. Pictures of notation need the extra "chart".

    \b
    Example:
      grooveforge pack patterns/songs/copper-weather.toml -o out/for-the-drummer
    """
    from grooveforge import files
    from grooveforge.cli.output import Progress, say, say_json, warn
    from grooveforge.errors import UsageError
    from grooveforge.project import records
    from grooveforge.project.packing import INDEX
    from grooveforge.project.packing import pack as pack_sheet
    from grooveforge.project.sheets import read_sheet

    if str(out) == files.STANDARD_STREAM:
        raise UsageError("a pack is a folder", found="-o -", hint="-o out/for-the-drummer")
    sheet = read_sheet(song)
    with Progress("packing") as progress:
        made = pack_sheet(sheet, progress)
    written = files.write_outputs(out, made.files, force)
    records.keep(sheet, made.rendered)
    warn(made.rendered.warnings)
    warn(made.rendered.replacements)
    warn(made.missing)
    size = sum(map(len, made.files.values()))
    if as_json:
        say_json(
            {
                "index": str(out / INDEX),
                "files": [str(path) for path in written],
                "bytes": size,
                "loops": [{"bar": loop.hardest, "first": loop.first, "last": loop.last} for loop in made.loops],
                "missing": list(made.missing),
            }
        )
    else:
        say(f"wrote {len(written)} files, {size / 1e6:.0f} MB; open {out / INDEX}")
