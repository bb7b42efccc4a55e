"""`profile`: drummers."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

profile = typer.Typer(
    name="profile",
    help="Drummers: list, show or check profiles.",
    add_completion=False,
    rich_markup_mode=None,
    no_args_is_help=True,
)

Said = Annotated[
    str, typer.Argument(metavar="[PROFILE]", help="learning, experienced, extreme, a file, or - for standard input.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object.")]


@profile.command("list")
def list_profiles(
    folder: Annotated[Path, typer.Argument(metavar="[FOLDER]", help="Where the files lie.")] = Path(),
    as_json: AsJson = False,
) -> None:
    """List the shipped profiles and those of a folder.

    \b
    Example:
      grooveforge profile list
    """
    from grooveforge.cli.output import say, say_json, warn
    from grooveforge.core.profile import PROFILES
    from grooveforge.formats.profile_file import profile_facts, profile_list
    from grooveforge.project.named import DRUMMERS

    found, wrong = DRUMMERS.all_in(folder)
    warn(wrong)
    rows = [*PROFILES.values(), *found]
    if as_json:
        say_json({"profiles": [profile_facts(row) for row in rows]})
    else:
        say(profile_list(rows))


@profile.command("show")
def show(said: Said = "experienced", as_json: AsJson = False) -> None:
    """Print a profile in full, as a commented file to start from.

    \b
    Example:
      grooveforge profile show learning > me.toml
    """
    from grooveforge.cli.output import say, say_json
    from grooveforge.formats.profile_file import print_profile, profile_facts
    from grooveforge.project.named import DRUMMERS

    found = DRUMMERS.of(said)
    if as_json:
        say_json(profile_facts(found))
    else:
        say(print_profile(found).rstrip())


@profile.command("check")
def check(said: Said = "experienced", as_json: AsJson = False) -> None:
    """Read a profile and say what it means at the drums.

    \b
    Example:
      grooveforge profile check me.toml
    """
    from grooveforge.cli.output import say, say_json
    from grooveforge.formats.profile_file import meaning, profile_facts, profile_line
    from grooveforge.project.named import DRUMMERS

    found = DRUMMERS.of(said)
    if as_json:
        say_json({**profile_facts(found), "meaning": meaning(found)})
    else:
        say("\n".join([f"{found.name}: {profile_line(found)}", *meaning(found)]))
