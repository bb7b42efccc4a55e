"""What a form entry says, as plain values that a sheet holds."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from grooveforge.core.differences import plain_value
from grooveforge.core.meter import Meter
from grooveforge.formats.beats import beat_text


def written(settings: Mapping[str, Any], meter: Meter) -> dict[str, object]:
    """Settings by key as TOML holds them: a value, a list or a table; None where a key goes.

    Parameters
    ----------
    meter : of the section, for beat numbers.
    """
    return {key: _value(value, meter) for key, value in settings.items()}


def _value(value: object, meter: Meter) -> object:
    if isinstance(value, tuple) and value and all(isinstance(item, Fraction) for item in value):
        return beat_text(value, meter)
    return plain_value(value)
