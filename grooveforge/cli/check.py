"""`check`: what a drummer can and cannot play, and the option --profile of other commands."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

if TYPE_CHECKING:
    import typer

    from grooveforge.core.profile import Profile


def given_profile(said: str | None, source: str) -> Profile | None:
    """The profile of an option --profile; None where it is not given.

    Raises
    ------
    GrooveForgeError
        When it cannot be read, or both it and the input are to come from standard input.
    """
    if said is None:
        return None
    from grooveforge import files
    from grooveforge.errors import UsageError
    from grooveforge.project.profiles import profile_of

    if said == source == files.STANDARD_STREAM:
        raise UsageError("the input and the profile cannot both come from standard input")
    return profile_of(said)


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
    from grooveforge.cli.kit import given_key_map
    from grooveforge.cli.output import say, say_json, warn
    from grooveforge.formats.check_report import check_text
    from grooveforge.project.checking import check_input

    found = check_input(source, given_profile(profile, source), channel, given_key_map(key_map, source))
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
