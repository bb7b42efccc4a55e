"""Profiles as text, both ways: a TOML file that says what a drummer can do."""

from __future__ import annotations

from functools import partial
from typing import Any, cast

from grooveforge.core.profile import BOUNDS, PROFILES, Profile
from grooveforge.errors import FormatError
from grooveforge.formats.keys import PROFILE, read_keys
from grooveforge.formats.locate import read_whole
from grooveforge.formats.toml_text import FaultList, Table, quoted

LONGEST = 1 << 16
"""Characters of a profile; one with every key and a comment in each line has about a thousand."""


def read_profile(text: str, name: str) -> Profile:
    """The profile of a file's text; what it does not say is as in its `base`, or as in the experienced one.

    Parameters
    ----------
    name : what reports call the drummer.

    Raises
    ------
    FormatError
        With every fault of the file, each with key path and line; a fault of TOML's syntax stands alone.
    """
    if len(text) > LONGEST:
        raise FormatError("this is too long for a profile", found=f"{len(text):,} characters", allowed=f"{LONGEST:,}")
    return read_whole(text, partial(_profile, name))


def _profile(name: str, table: Table, faults: FaultList) -> Profile | None:
    """The profile of a table; None when there are faults."""
    read = read_keys(table, PROFILE, faults, ())
    if not table:
        faults.add("the profile is empty", (), hint='hand = 6.7, or base = "experienced"')
    base = PROFILES[cast(str, read.pop("base", "experienced"))]
    values: dict[str, Any] = {key: getattr(base, key) for key in Profile.__dataclass_fields__}
    values |= {"about": "", **read, "name": name}
    if not faults:
        with faults.at():
            return Profile(**values)
    return None


_COMMENTS = {
    "hand": "strokes a second that one hand can hold; 5 to 7 is usual",
    "feet": "kicks a second that both feet can hold together; one foot alone has half of it",
    "handed": "right or left: the hand that leads; a left-handed kit is the mirror of a right-handed one",
    "open_handed": "true where either hand may lead on hi-hat and cymbals",
    "double_pedal": "false where one foot plays every kick",
    "comfort": "share of a limit that costs no effort",
    "burst": "most strokes of one limb in a row that may be faster than its limit",
    "burst_factor": "and by how much",
}

_HEAD = """\
# A profile: what a drummer can do. Measure it with a metronome, without hurry: what you can hold for a minute.
# Use it: profile = "FILE" in a song sheet, or grooveforge check SONG --profile FILE
# Start slowly, warm up, stop when it hurts; a teacher or a physician knows more than these numbers.
"""


def print_profile(profile: Profile) -> str:
    """A commented file that says a whole profile; reading it gives an equal one."""
    lines = [_HEAD]
    if profile.about:
        lines.append(f"about = {quoted(profile.about)}")
    for key, comment in _COMMENTS.items():
        value = getattr(profile, key)
        if isinstance(value, bool):
            written = str(value).lower()
        else:
            written = quoted(value) if isinstance(value, str) else f"{value:.12g}"
        low, high = BOUNDS[key][:2] if key in BOUNDS else (None, None)
        bounds = f"; {low:g} to {high:g}" if low is not None else ""
        lines.append(f"{f'{key} = {written}'.ljust(24)}# {comment}{bounds}")
    return "\n".join(lines) + "\n"


def profile_facts(profile: Profile) -> dict[str, object]:
    """A profile as `profile --json` gives it."""
    return {key: getattr(profile, key) for key in Profile.__dataclass_fields__}


def profile_list(profiles: list[Profile]) -> str:
    """A line a profile."""
    width = max(len(row.name) for row in profiles)
    return "\n".join(f"{row.name.ljust(width)}  {profile_line(row)}" for row in profiles)


def profile_line(profile: Profile) -> str:
    """A profile in a line: its rates, its hand, and what it says about itself."""
    words = [f"hand {profile.hand:g}/s", f"feet {profile.feet:g}/s", f"{profile.handed}-handed"]
    words += ["open-handed"] if profile.open_handed else []
    words += [] if profile.double_pedal else ["single pedal"]
    return ", ".join(words) + (f": {profile.about}" if profile.about else "")


def meaning(profile: Profile) -> list[str]:
    """What a profile's limits are in note values and tempi, a line each."""
    lines = [
        f"one hand holds eighths up to {_bpm(profile.hand, 2)} and sixteenths up to {_bpm(profile.hand, 4)} bpm",
        f"two hands in turn hold sixteenths up to {_bpm(2 * profile.hand, 4)} bpm",
        f"one foot holds eighths up to {_bpm(profile.foot, 2)} bpm",
    ]
    if profile.double_pedal:
        lines.append(f"both feet hold sixteenths up to {_bpm(profile.feet, 4)} bpm")
    burst = f"a burst of {profile.burst} strokes of one limb may be {profile.burst_factor:g} times as fast"
    return [*lines, burst, f"up to {profile.comfort:.0%} of a limit costs no effort"]


def _bpm(rate: float, notes: int) -> int:
    """The whole tempo up to which so many strokes a second are so many notes a quarter."""
    return int(rate * 60 / notes + 1e-9)
