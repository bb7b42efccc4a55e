"""Options that name a file of their own: the kit's key map, the drummer's profile."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from grooveforge.core.profile import Profile
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
    from grooveforge.project.keymaps import key_map_of

    _one_stream(said, source, "key map")
    return key_map_of(said)


def given_profile(said: str | None, source: str) -> Profile | None:
    """The profile of an option --profile; None where it is not given.

    Raises
    ------
    GrooveForgeError
        When it cannot be read, or both it and the input are to come from standard input.
    """
    if said is None:
        return None
    from grooveforge.project.profiles import profile_of

    _one_stream(said, source, "profile")
    return profile_of(said)


def _one_stream(said: str, source: str, what: str) -> None:
    from grooveforge.errors import UsageError
    from grooveforge.files import STANDARD_STREAM

    if said == source == STANDARD_STREAM:
        raise UsageError(f"the input and the {what} cannot both come from standard input")
