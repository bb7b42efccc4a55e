"""`grooves`: the shipped library."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

if TYPE_CHECKING:
    import typer


def grooves(
    name: Annotated[str | None, typer.Argument(metavar="[NAME]", help="A groove to print in full.")] = None,
    tag: Annotated[str | None, typer.Option(help="Only grooves with this tag.")] = None,
    meter: Annotated[str | None, typer.Option(help="Only grooves in this metre.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """List the shipped grooves, or print one.

    \b
    Example:
      grooveforge grooves --tag "double kick" --meter 4/4
      grooveforge grooves gallop
    """
    from grooveforge.cli.output import say, say_json
    from grooveforge.errors import UsageError
    from grooveforge.formats.groovefile import print_groove_file
    from grooveforge.formats.grooves_list import groove_facts, groove_table
    from grooveforge.project.library import library_groove, library_grooves

    if name is not None:
        found = library_groove(name)
        say_json({"grooves": [groove_facts(found)]}) if as_json else say(print_groove_file(found).rstrip())
        return
    listed = [
        row
        for row in library_grooves()
        if (tag is None or tag in row.tags) and (meter is None or str(row.groove.meter) == meter)
    ]
    if not listed and not as_json:
        tags = sorted({tag for row in library_grooves() for tag in row.tags})
        raise UsageError("no groove is like that", hint=f"--tag with one of {', '.join(tags)}")
    if as_json:
        say_json({"grooves": [groove_facts(row) for row in listed]})
        return
    say(groove_table(listed).rstrip())
