"""`page`: the song on a page of this machine, or as one file to send."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

if TYPE_CHECKING:
    import typer

    from grooveforge.page.session import Session


def page(
    song: Annotated[
        str | None, typer.Argument(metavar="[SONG]", help="A song sheet; without one a demo song to try things on.")
    ] = None,
    port: Annotated[int, typer.Option(min=0, max=65535, help="The port to listen on; 0 takes a free one.")] = 0,
    export: Annotated[
        Path | None, typer.Option(metavar="FILE.html", help="Write the page as one file that needs no server, and end.")
    ] = None,
    no_open: Annotated[bool, typer.Option("--no-open", help="Open no browser, only print the address.")] = False,
    force: Annotated[
        bool, typer.Option("--force", help="With --export: replace a file that is there; the old one is kept.")
    ] = False,
) -> None:
    """Open the whole song on a page of this machine: see it, hear it, change it section by section.

    Prints the page's address, and opens it where the command was typed at a desk with a browser. Nothing leaves the
    machine; the sheet is written by the page's "save" alone. Ctrl-C, or closing the terminal, ends it. With --export
    one HTML file is written that plays and shows the song with no server.

    \b
    Example:
      grooveforge page my-song.toml
      grooveforge page my-song.toml --export out/my-song.html
    """
    from grooveforge import files
    from grooveforge.cli.output import say, warn
    from grooveforge.page.opening import session_of

    session = session_of(song, Path.cwd())
    if export is not None:
        from grooveforge.page.export import MOST_BYTES, exported

        data = exported(session)
        written = files.write_output(export, data, force)
        warn(session.song.warnings)
        if len(data) > MOST_BYTES:
            warn([f"the file has {len(data) / 1e6:.1f} MB; some mail takes less"])
        if str(export) != files.STANDARD_STREAM:
            say(f"wrote {written}: one file that plays and shows the song in a browser, with no server")
        return
    warn(session.song.warnings)
    _serve(session, _what_is_open(song, session.name), port, no_open)


def _what_is_open(song: str | None, name: str) -> str:
    if song is None:
        return f"a demo song to try things on; saving it writes {name} in this folder"
    return song if song != "-" else f"the sheet from standard input; saving it writes {name} in this folder"


def _serve(session: Session, what: str, port: int, no_open: bool) -> None:
    from grooveforge.cli.output import say
    from grooveforge.page.server import serve

    def ready(address: str) -> None:
        say(f"{what}\n{address}\nCtrl-C ends it")
        if not no_open:
            open_browser(address)

    try:
        serve(session, port, ready)
    except KeyboardInterrupt:
        say("")


def open_browser(address: str) -> None:
    """Show an address where a person sits at a desk with a browser: a terminal, and a screen to draw on."""
    import os
    import sys
    import webbrowser

    desk = sys.platform in ("darwin", "win32") or os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    if sys.stdout.isatty() and desk:
        try:
            webbrowser.get().open_new_tab(address)
        except webbrowser.Error:
            return  # the address is printed
