"""`start`, `options`, `plan`: which variant."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

if TYPE_CHECKING:
    import typer


class Size(StrEnum):
    """How different an option may be from the statement before."""

    small = "small"
    medium = "medium"
    large = "large"


def start(
    riff: Annotated[str, typer.Argument(metavar="RIFF", help="A MIDI file, or a typed line: x, X louder, - a rest.")],
    out: Annotated[Path, typer.Option("-o", "--out", help="The song sheet to write; - for standard output.")],
    meter: Annotated[str | None, typer.Option(help="The metre; else the file's, or one whose bars the riff fills.")] = (
        None
    ),
    tempo: Annotated[str | None, typer.Option(help="Quarter notes a minute; else the file's, or the groove's.")] = None,
    take: Annotated[int, typer.Option(min=1, help="Which of the offers the sheet holds.")] = 1,
    force: Annotated[bool, typer.Option("--force", help="Replace a file that is there; the old one is kept.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """Read a riff back, offer three unlike grooves that fit under it, and write a sheet with one of them.

    A groove fits where kick and snare meet the attacks, above all the accents, at a tempo that it is made for.

    \b
    Example:
      grooveforge start "x--X--x-X-x-xxX-" -o my-song.toml --tempo 150
      grooveforge start guitar.mid -o my-song.toml --take 2
    """
    from grooveforge import files
    from grooveforge.cli.output import one_stream, say, say_json, warn
    from grooveforge.formats.choice_report import start_text
    from grooveforge.project.starting import start as start_song

    to_stream = one_stream(out, ("--json", as_json))
    made = start_song(riff, str(out), meter, tempo, take)
    files.write_output(out, made.text.encode(), force)
    warn((*made.read.warnings, *made.notes))
    if as_json:
        say_json(made.facts())
    elif not to_stream:
        say(start_text(made.facts(), str(out)))


def options(
    song: Annotated[Path, typer.Argument(metavar="SONG", help="The song sheet; it is changed by --take alone.")],
    section: Annotated[str, typer.Argument(metavar="SECTION", help='A return, such as "chorus" or "chorus 2".')],
    count: Annotated[int, typer.Option(min=1, max=20, help="How many to show.")] = 5,
    amount: Annotated[Size, typer.Option(help="small: the ending; medium: the hand too; large: the snare too.")] = (
        Size.medium
    ),
    take: Annotated[int | None, typer.Option(min=1, help="Write this one into the sheet.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """Show real alternatives for a return, how different each is from the statement before, and why.

    Each can be played by the sheet's drummer. Nothing changes until one is taken; `grooveforge undo SONG` takes it
    back. What the sheet keeps with `fixed` stays.

    \b
    Example:
      grooveforge options my-song.toml "last chorus" --amount large
      grooveforge options my-song.toml "last chorus" --amount large --take 2
    """
    from grooveforge.cli.output import say, say_json, warn
    from grooveforge.formats.choice_report import options_text
    from grooveforge.project.options import options as options_for
    from grooveforge.project.options import take_option
    from grooveforge.project.sheets import read_sheet
    from grooveforge.project.taking import write_in_place

    sheet = read_sheet(str(song))
    found = options_for(sheet, section, amount.value, count)
    if take is not None:
        write_in_place(sheet, take_option(sheet, found, take))
    warn(sheet.warnings)
    facts = found.facts() | ({} if take is None else {"taken": take})
    if as_json:
        say_json(facts)
    else:
        say(options_text(facts, str(song)))


def plan(
    song: Annotated[Path, typer.Argument(metavar="SONG", help="The song sheet; it is changed by --take alone.")],
    count: Annotated[int, typer.Option(min=1, max=6, help="How many plans.")] = 3,
    take: Annotated[int | None, typer.Option(min=1, help="Write this one into the sheet.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """Lay unlike answers over all returns of a song, each with its reason and its energy.

    First statements stay plain, one clear change stands at the last return, and the energy peaks no lower at the end
    than before. Nothing changes until one is taken; `grooveforge undo SONG` takes it back.

    \b
    Example:
      grooveforge plan my-song.toml
      grooveforge plan my-song.toml --take 1
    """
    from grooveforge.cli.output import say, say_json, warn
    from grooveforge.formats.choice_report import plans_text
    from grooveforge.project.planning import plan as plan_song
    from grooveforge.project.planning import take_plan
    from grooveforge.project.sheets import read_sheet
    from grooveforge.project.taking import write_in_place

    sheet = read_sheet(str(song))
    found = plan_song(sheet, count)
    if take is not None:
        write_in_place(sheet, take_plan(sheet, found, take))
    warn(sheet.warnings)
    facts = found.facts() | ({} if take is None else {"taken": take})
    if as_json:
        say_json(facts)
    else:
        say(plans_text(facts, str(song)))
