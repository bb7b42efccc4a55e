"""What a form entry says, as plain values that a sheet holds."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from grooveforge.core.differences import DEFAULTS, plain_value
from grooveforge.core.meter import Meter
from grooveforge.core.section import Section
from grooveforge.formats.beats import beat_text


def written(settings: Mapping[str, Any], section: Section) -> dict[str, object]:
    """Settings by key as TOML holds them: a value, a list or a table; where a key goes, what then holds.

    Parameters
    ----------
    section : arranged with them; its metre names the beats.
    """
    held = {"feel": section.feel, "timekeeper": section.timekeepers}
    whole = {key: held.get(key, DEFAULTS.get(key)) if value is None else value for key, value in settings.items()}
    return {key: _value(value, section.meter) for key, value in whole.items()}


def _value(value: object, meter: Meter) -> object:
    if isinstance(value, tuple) and value and all(isinstance(item, Fraction) for item in value):
        return beat_text(value, meter)
    return plain_value(value)
