"""Options that name a file of their own: the kit's key map, the drummer's profile."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from grooveforge.core.profile import Profile
    from grooveforge.formats.keymap import KeyMap
    from grooveforge.project.named import Kept

Value = TypeVar("Value")


def given_key_map(said: str | None, source: str) -> KeyMap | None:
    """The map of an option --key-map; None where it is not given.

    Raises
    ------
    GrooveForgeError
        When it cannot be read, or both it and the input are to come from standard input.
    """
    if said is None:
        return None
    from grooveforge.project.named import KEY_MAPS

    return _given(KEY_MAPS, said, source)


def given_profile(said: str | None, source: str) -> Profile | None:
    """The profile of an option --profile, as `given_key_map` gives the map."""
    if said is None:
        return None
    from grooveforge.project.named import DRUMMERS

    return _given(DRUMMERS, said, source)


def _given(kept: Kept[Value], said: str, source: str) -> Value:
    from grooveforge.errors import UsageError
    from grooveforge.files import STANDARD_STREAM

    if said == source == STANDARD_STREAM:
        raise UsageError(f"the input and the {kept.what} cannot both come from standard input")
    return kept.of(said)
