"""`compare`: what differs between two inputs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

if TYPE_CHECKING:
    import typer


def compare(
    one: Annotated[
        str, typer.Argument(metavar="A", help="Song sheet, groove file or MIDI file; - for standard input.")
    ],
    other: Annotated[str, typer.Argument(metavar="B", help="The same; what it has otherwise than A is said.")],
    channel: Annotated[
        list[int] | None,
        typer.Option(min=1, max=16, help="The drums' MIDI channel, counted from 1; a second time for B alone."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """Say what differs between two drum parts, bar by bar and lane by lane, and how much.

    Resolution, channel and the order of events are no differences. A groove file is a loop: beside something
    longer it runs on. The distance is 0 for the same strokes on the same surfaces and 1 where nothing is shared.

    \b
    Example:
      grooveforge compare out/verse.mid drummer.mid
      grooveforge compare patterns/grooves/gallop.toml patterns/grooves/reverse-gallop.toml --json
    """
    from grooveforge.cli.output import say, say_json, warn
    from grooveforge.errors import UsageError
    from grooveforge.formats.compare_report import comparison_text
    from grooveforge.project.comparing import compare as compare_inputs

    said = channel or []
    if len(said) > 2:
        raise UsageError("--channel is given for A and for B", found=f"{len(said)} of them", allowed="one or two")
    channels = (said[0], said[-1]) if said else (None, None)
    facts = compare_inputs(one, other, channels).facts()
    if as_json:
        say_json(facts)
        return
    warn(facts["warnings"])
    say(comparison_text(facts).rstrip())
