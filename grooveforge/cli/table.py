"""The commands, each in a module that is imported only when it is called."""

from __future__ import annotations

from importlib import import_module
from typing import Any

COMMANDS: dict[str, tuple[str, str]] = {
    "new": ("sheet", "Write a commented song sheet to start from."),
    "start": ("choose", "Offer grooves under a riff and write a sheet with one."),
    "render": ("render", "Turn a song sheet into MIDI and print its road map."),
    "vary": ("vary", "Make one change to a drum MIDI file or a groove file."),
    "recount": ("sheet", "Double or halve a sheet's tempo and note values together."),
    "follow": ("riff", "Put the kick of a groove under a guitar riff."),
    "inspect": ("inspect", "Say what is in a sheet, groove or MIDI file, bar by bar."),
    "check": ("check", "Say what no one can play, and the smallest change that helps."),
    "compare": ("compare", "Say what differs between two sheets, grooves or MIDI files."),
    "preview": ("sound", "Write a song, a groove or a MIDI file as audio."),
    "play": ("sound", "Play to a MIDI port, so that your own sampler sounds."),
    "options": ("choose", "Show alternatives for a return, and take one."),
    "plan": ("choose", "Lay unlike answers over a whole song, and take one."),
    "grooves": ("library", "List the shipped grooves, or print one."),
    "page": ("page", "Open the song on a page of this machine, or write it as one file."),
    "key-map": ("keymaps", "Kits: list, show, check or hear key maps."),
    "pack": ("pack", "Write everything that a drummer needs into one folder."),
    "merge": ("merge", "Take a drummer's edited MIDI file back into a song."),
    "chart": ("chart", "Write notation, drum tab and road map for a drummer."),
    "profile": ("profiles", "Drummers: list, show or check profiles."),
    "undo": ("sheet", "Take back the last change that a command made to a sheet or its changes."),
}
"""Command -> (module of this package, one line of help). The function or group is called as it, with _ for -."""

TAKE_RIFFS = ("follow", "start")
"""Commands whose argument may be a typed riff, which may begin with a rest."""


def command_of(name: str) -> Any:
    """The function or group of a command."""
    return getattr(import_module(f"grooveforge.cli.{COMMANDS[name][0]}"), name.replace("-", "_"))
