"""`follow`: the kick under a guitar riff."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

if TYPE_CHECKING:
    import typer


class Mode(StrEnum):
    """Which attacks of a riff the kick follows."""

    all = "all"
    accents = "accents"
    low = "low"


def follow(
    riff: Annotated[str, typer.Argument(metavar="RIFF", help='A MIDI file, or a typed line: x, X louder, - a rest.')],
    under: Annotated[str, typer.Option("--under", help="A groove's name, a groove file or a drum MIDI file.")],
    out: Annotated[Path, typer.Option("-o", "--out", help="The MIDI file to write; - for standard output.")],
    mode: Annotated[Mode, typer.Option(help="Which attacks count: all, the accents, the low ones.")] = Mode.all,
    restart: Annotated[
        bool, typer.Option("--restart", help="Begin the riff anew with each pass of the groove.")
    ] = False,
    force: Annotated[bool, typer.Option("--force", help="Replace a foreign or edited file; it is kept.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """Put a groove's kick on the attacks of a guitar riff; the hands stay in the metre.

    A riff in an odd cycle runs on until cycle and bar line meet. A typed line counts sixteenths. Precision and
    recall say how many kicks stand on an attack, and how many attacks have a kick.

    \b
    Example:
      grooveforge follow "x-xx--x-x--xx-" --under "china quarters" -o out/odd-riff.mid
      grooveforge follow guitar.mid --under drums.mid -o out/low.mid --mode low
    """
    from grooveforge import files
    from grooveforge.cli.output import one_stream, say, say_json, warn
    from grooveforge.errors import UsageError
    from grooveforge.project.following import follow as follow_riff

    if riff == under == files.STANDARD_STREAM:
        raise UsageError("riff and groove cannot both come from standard input", hint="a file for one of them")
    to_stream = one_stream(out, ("--json", as_json))
    made = follow_riff(riff, under, mode.value, restart)
    files.write_output(out, made.data, force)
    warn(made.warnings)
    if as_json:
        say_json(made.facts())
    elif not to_stream:
        say(f"wrote {out}: {made.in_words}")
