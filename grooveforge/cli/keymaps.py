"""`key-map`: the key maps of kits."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

key_map = typer.Typer(
    name="key-map",
    help="Kits: list, show, check or hear key maps.",
    add_completion=False,
    rich_markup_mode=None,
    no_args_is_help=True,
)

Map = Annotated[str, typer.Argument(metavar="[MAP]", help="gm, a key-map file, or - for standard input.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object.")]


@key_map.command("list")
def list_maps(
    folder: Annotated[Path, typer.Argument(metavar="[FOLDER]", help="Where the files lie.")] = Path(),
    as_json: AsJson = False,
) -> None:
    """List General MIDI and the key maps of a folder.

    \b
    Example:
      grooveforge key-map list
    """
    from grooveforge.cli.output import say, say_json, warn
    from grooveforge.formats.keymap import GM
    from grooveforge.formats.keymap_report import key_map_facts, list_text
    from grooveforge.project.named import KEY_MAPS

    found, wrong = KEY_MAPS.all_in(folder)
    warn(wrong)
    if as_json:
        say_json({"key_maps": [key_map_facts(row) for row in (GM, *found)]})
    else:
        say(list_text([GM, *found]))


@key_map.command("show")
def show(said: Map = "gm", as_json: AsJson = False) -> None:
    """Print a key map in full, as a commented file to start from.

    \b
    Example:
      grooveforge key-map show > my-kit.toml
    """
    from grooveforge.cli.output import say, say_json
    from grooveforge.formats.keymap_file import print_key_map
    from grooveforge.formats.keymap_report import key_map_facts
    from grooveforge.project.named import KEY_MAPS

    found = KEY_MAPS.of(said)
    if as_json:
        say_json(key_map_facts(found))
    else:
        say(print_key_map(found).rstrip())


@key_map.command("check")
def check(said: Map = "gm", as_json: AsJson = False) -> None:
    """Say what a kit lacks, what is struck instead, and which surfaces share a note.

    \b
    Example:
      grooveforge key-map check my-kit.toml
    """
    from grooveforge.cli.output import say, say_json
    from grooveforge.formats.keymap_report import check_text, key_map_facts
    from grooveforge.project.named import KEY_MAPS

    found = KEY_MAPS.of(said)
    if as_json:
        say_json(key_map_facts(found))
    else:
        say(check_text(found))


@key_map.command("audition")
def audition(
    out: Annotated[Path, typer.Option("-o", "--out", help="The MIDI file to write; - for standard output.")],
    said: Map = "gm",
    channel: Annotated[int, typer.Option(min=1, max=16, help="MIDI channel, counted from 1; drums are 10.")] = 10,
    force: Annotated[
        bool, typer.Option("--force", help="Replace a foreign or edited file; the old one is kept.")
    ] = False,
) -> None:
    """Write every surface of a kit once, in order, a second apart, with markers that name them.

    \b
    Example:
      grooveforge key-map audition my-kit.toml -o kit.mid
    """
    from grooveforge import files
    from grooveforge.cli.output import say, warn
    from grooveforge.formats.keymap_report import audition_midi
    from grooveforge.project.named import KEY_MAPS

    found = KEY_MAPS.of(said)
    files.write_output(out, audition_midi(found, channel), force)
    warn(found.remarks)
    if str(out) != files.STANDARD_STREAM:
        say(f"wrote {out}: {len(found.notes)} surfaces of {found.name}")
