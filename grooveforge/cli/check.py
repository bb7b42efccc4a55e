"""`check`: what a drummer can and cannot play."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

if TYPE_CHECKING:
    import typer


def check(
    source: Annotated[
        str, typer.Argument(metavar="IN", help="Song sheet, groove or fill file, or MIDI file; - for standard input.")
    ],
    profile: Annotated[
        str | None, typer.Option(metavar="P", help="learning, experienced, extreme, or a profile file.")
    ] = None,
    channel: Annotated[int | None, typer.Option(min=1, max=16, help="The drums' MIDI channel, counted from 1.")] = None,
    key_map: Annotated[
        str | None, typer.Option("--key-map", metavar="F", help="The kit's key map: gm or a file; for MIDI files.")
    ] = None,
    strict: Annotated[bool, typer.Option("--strict", help="Exit status 1 when there are findings.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """Say what no one can play, why, up to which tempo it fits, and the smallest change that helps.

    Without --profile the drummer is the one that the sheet or groove names, else an experienced one. A groove or fill
    is tried at the upper end of its tempo. --json holds the sticking of every bar.

    \b
    Example:
      grooveforge check patterns/songs/copper-weather.toml
      grooveforge check drums.mid --profile learning --strict
    """
    from grooveforge.cli.given import given_key_map, given_profile
    from grooveforge.cli.output import Progress, say, say_json, warn
    from grooveforge.formats.check_report import check_text
    from grooveforge.project.checking import check_input

    drummer, kit = given_profile(profile, source), given_key_map(key_map, source)
    with Progress("trying changes") as progress:
        found = check_input(source, drummer, channel, kit, progress)
    facts = found.facts()
    if as_json:
        say_json(facts)
    else:
        warn(facts["warnings"])
        say(check_text(facts, "standard input" if source == "-" else source))
        for line in facts["cautions"]:
            say(f"take care: {line}")
    if strict and facts["findings"]:
        raise SystemExit(1)
