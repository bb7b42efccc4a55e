"""`preview` and `play`: an input as audio, and through a MIDI port."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

if TYPE_CHECKING:
    import typer


def preview(
    source: Annotated[
        str, typer.Argument(metavar="IN", help="Song sheet, groove file or MIDI file; - for standard input.")
    ],
    out: Annotated[Path, typer.Option("-o", "--out", help="The WAV file to write; - for standard output.")],
    section: Annotated[str | None, typer.Option(metavar="S", help="One section alone, such as chorus 2.")] = None,
    click: Annotated[bool, typer.Option("--click", help="With a click on every beat.")] = False,
    tempo: Annotated[str, typer.Option(metavar="P%", help="Slower or faster: 80% of the tempo.")] = "100%",
    soundfont: Annotated[
        str | None, typer.Option(metavar="F", help="Your own kit, a SoundFont file, instead of the built-in voices.")
    ] = None,
    channel: Annotated[int | None, typer.Option(min=1, max=16, help="The drums' MIDI channel, counted from 1.")] = None,
    key_map: Annotated[
        str | None, typer.Option("--key-map", metavar="F", help="The key map of a MIDI file: gm or a file.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace a foreign or edited file; it is kept.")] = False,
) -> None:
    """Write a song, a groove or a MIDI file as audio, with built-in voices: 16 bits, 44.1 kHz, stereo.

    Sample 0 is the song's first tick, so that the file lies on a recording's grid. Take care of your ears: check
    the volume before you play it.

    \b
    Example:
      grooveforge preview my-song.toml -o out/my-song.wav
      grooveforge preview my-song.toml -o out/slow.wav --section "chorus 2" --click --tempo 80%
    """
    from grooveforge import files
    from grooveforge.cli.given import given_key_map
    from grooveforge.cli.output import Progress, one_stream, say, warn
    from grooveforge.project.previewing import PreviewOptions, speed_of
    from grooveforge.project.previewing import preview as preview_input

    kit = given_key_map(key_map, source)
    options = PreviewOptions(section, click, speed_of(tempo), soundfont, channel, kit)
    with Progress("mixing") as progress:
        made = preview_input(source, options, progress)
    files.write_output(out, made.data, force)
    warn(made.warnings)
    if not one_stream(out):
        minutes, seconds = divmod(round(made.seconds), 60)
        say(f"wrote {out}: {minutes}:{seconds:02d}; check the volume before you play it")


def play(
    source: Annotated[
        str, typer.Argument(metavar="IN", help="Song sheet, groove file or MIDI file; - for standard input.")
    ],
    port: Annotated[str | None, typer.Option(metavar="NAME", help="The MIDI port, or part of its name.")] = None,
    section: Annotated[str | None, typer.Option(metavar="S", help="One section alone, such as chorus 2.")] = None,
    loop: Annotated[bool, typer.Option("--loop", help="Over and over, until Ctrl-C.")] = False,
    channel: Annotated[int | None, typer.Option(min=1, max=16, help="The drums' MIDI channel, counted from 1.")] = None,
    key_map: Annotated[
        str | None, typer.Option("--key-map", metavar="F", help="Another key map than the sheet's: gm or a file.")
    ] = None,
) -> None:
    """Play a song, a groove or a MIDI file to a MIDI port, so that your own sampler sounds. Ctrl-C stops it.

    Without --port it takes the only port there is. Check the volume first.

    \b
    Example:
      grooveforge play my-song.toml --port "sampler" --section "last chorus" --loop
    """
    from grooveforge.cli.given import given_key_map
    from grooveforge.cli.output import say, warn
    from grooveforge.cli.ports import opened
    from grooveforge.project.playing import WallClock, messages_of, play_messages

    kit = given_key_map(key_map, source)
    score = messages_of(source, section, channel, kit)
    with opened(port) as found:
        warn(score.warnings)
        minutes, seconds = divmod(round(score.seconds), 60)
        say(f"playing {minutes}:{seconds:02d} to {found.name}; Ctrl-C stops; check the volume")
        play_messages(score, found.send, WallClock(), loop)
