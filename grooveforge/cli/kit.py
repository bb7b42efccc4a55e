"""The option --key-map of the commands that read or write notes."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from grooveforge.formats.keymap import KeyMap


def given_key_map(said: str | None, source: str) -> KeyMap | None:
    """The map of an option --key-map; None where it is not given.

    Raises
    ------
    GrooveForgeError
        When it cannot be read, or both it and the input are to come from standard input.
    """
    if said is None:
        return None
    from grooveforge import files
    from grooveforge.errors import UsageError
    from grooveforge.project.keymaps import key_map_of

    if said == source == files.STANDARD_STREAM:
        raise UsageError("the input and the key map cannot both come from standard input")
    return key_map_of(said)
