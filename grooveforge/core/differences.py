"""What a return changes, key by key and in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

from grooveforge.core.song import Settings, TempoRamp, TempoRatio


@dataclass(frozen=True)
class Difference:
    """One key that a section has otherwise than its part; `before` and `now` are plain JSON values."""

    key: str
    before: object
    now: object
    in_words: str


def plain_value(value: object) -> object:
    """A setting as a JSON value: text, number, list or table, as a sheet writes it."""
    if isinstance(value, Fraction):
        return int(value) if value.denominator == 1 else float(value)
    if isinstance(value, TempoRatio):
        return str(value.ratio)
    if isinstance(value, TempoRamp):
        return {"to": plain_value(value.to), "over": value.over}
    if isinstance(value, tuple):
        return [_item(item) for item in value]
    return value if value is None or isinstance(value, (bool, int, str)) else str(value)


def _item(item: object) -> object:
    if isinstance(item, tuple) and len(item) == 2 and isinstance(item[0], int) and isinstance(item[1], str):
        return {"bars": item[0], "on": item[1]}
    return plain_value(item)


def _said(value: object) -> str:
    """A setting in a sentence."""
    plain = plain_value(value)
    if isinstance(plain, bool):
        return "on" if plain else "off"
    if isinstance(plain, dict):
        return ", ".join(f"{key} {item}" for key, item in plain.items())
    if isinstance(plain, list):
        return " then ".join(f"{i['on']} ({i['bars']} bars)" if isinstance(i, dict) else str(i) for i in plain)
    return "the groove's own" if plain is None else str(plain)


_WORDS: Mapping[str, Callable[[str, str], str]] = MappingProxyType(
    {
        "feel": lambda before, now: f"{now} time instead of {before}" if before != "none" else f"{now} time",
        "timekeeper": lambda before, now: f"the hand on {now} instead of {before}",
        "tempo": lambda before, now: f"tempo {now} instead of {before}",
        "bars": lambda before, now: f"{now} bars instead of {before}",
        "groove": lambda before, now: f"the groove {now} instead of {before}",
        "kick": lambda before, now: f"kick: {now} instead of {before}",
        "arrival": lambda before, now: f"arrival {now}",
        "tacet": lambda before, now: "tacet" if now == "on" else "plays again",
        "play": lambda before, now: f"only {now.replace(' then ', ', ')}",
    }
)

_DEFAULTS: Mapping[str, object] = MappingProxyType(
    {"kick": "adapt", "subdivision": "keep", "hi_hat_foot": False, "arrival": True, "tacet": False}
)


def differences(plain: Settings, entry: Settings, feels: tuple[str | None, str | None]) -> tuple[Difference, ...]:
    """What an entry's settings change against the part's plain ones; `feels` are both feels resolved."""
    found = []
    for key, value in entry.given().items():
        before = getattr(plain, key)
        before = _DEFAULTS.get(key) if before is None else before
        if key == "feel":
            before, value = feels
        if value == before:
            continue
        sentence = _WORDS.get(key, lambda old, new, key=key: f"{key.replace('_', ' ')} {new} instead of {old}")
        words = sentence("none" if key == "feel" and before is None else _said(before), _said(value))
        found.append(Difference(key, plain_value(before), plain_value(value), words))
    return tuple(found)
