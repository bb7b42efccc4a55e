"""What a return changes, key by key and in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

from grooveforge.core.feel_table import feel_word
from grooveforge.core.figures import LENGTHS, Insert
from grooveforge.core.song import SHAPED, Level, Settings, Swing, TempoRamp, TempoRatio


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
    if isinstance(value, Level):
        steps = [f"{step:+d}" if step else "0" for step in (value.start, value.end)]
        return steps[0] if steps[0] == steps[1] else {"from": steps[0], "to": steps[1]}
    if isinstance(value, Insert):
        return {"before_bar": value.before_bar, "beats": value.beats}
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
    if isinstance(value, TempoRamp):
        return f"to {plain_value(value.to)} over {value.over} quarters"
    if isinstance(plain, bool):
        return "on" if plain else "off"
    if isinstance(plain, dict):
        return ", ".join(f"{key} {item}" for key, item in plain.items())
    if isinstance(value, tuple) and value and isinstance(value[0], Insert):
        return " and ".join(map(str, value))
    if isinstance(plain, list):
        return " then ".join(f"{i['on']} for {i['bars']}" if isinstance(i, dict) else str(i) for i in plain)
    return NOTHING if plain is None else str(plain)


def _fill_words(now: str) -> str:
    return "no fill" if now == "off" else f"a fill of {now}" if now in LENGTHS else f"the fill {now}"


_WORDS: Mapping[str, Callable[[str, str], str]] = MappingProxyType(
    {
        "feel": lambda before, now: feel_word(now) + ("" if before == NOTHING else f" instead of {before}"),
        "timekeeper": lambda before, now: f"the hand on {now}",
        "bars": lambda before, now: f"{now} bars",
        "groove": lambda before, now: f"the groove {now}",
        "riff": lambda before, now: "another riff",
        "kick": lambda before, now: f"kick: {now} instead of {before}",
        "arrival": lambda before, now: {"on": "with an arrival", "off": "no arrival"}.get(now, f"a {now} arrival"),
        "ending": lambda before, now: "no ending" if now == "off" else f"an ending in the last {now}",
        "fill": lambda before, now: _fill_words(now),
        "fill_every": lambda before, now: f"a fill every {now} bars",
        "stops": lambda before, now: f"stops at {now}",
        "choke": lambda before, now: "choked stops" if now == "on" else "stops that ring",
        "insert": lambda before, now: f"{now} put in",
        "fit": lambda before, now: f"the groove {'cut at' if now == 'cut' else 'running over'} the bar line",
        "tacet": lambda before, now: "tacet" if now == "on" else "plays again",
        "play": lambda before, now: f"only {now.replace(' then ', ', ')}",
        "hi_hat_foot": lambda before, now: f"hi-hat foot {now}",
        "level": lambda before, now: f"level {now} instead of {before}",
        "levels": lambda before, now: f"{now} levels",
        "looseness": lambda before, now: f"looseness {now} ms instead of {before}",
        "swing": lambda before, now: f"swing {now} instead of {before}",
    }
)
"""How a difference is said; the other keys are said as "tempo 160 instead of 152"."""

NOTHING = "nothing"

DEFAULTS: Mapping[str, object] = MappingProxyType(
    {
        "kick": "adapt",
        "subdivision": "keep",
        "hi_hat_foot": False,
        "ending": False,
        "fill": False,
        "arrival": True,
        "choke": False,
        "tacet": False,
        "level": Level(0, 0),
        "levels": SHAPED,
        "looseness": Fraction(0),
        "swing": Swing(Fraction(1)),
        "riff_mode": "all",
        "riff_restart": True,
        "riff_downbeat": False,
    }
)
"""What holds where neither part nor defaults say a key."""


def differences(
    plain: Settings, entry: Settings, resolved: Mapping[str, tuple[object, object]]
) -> tuple[Difference, ...]:
    """What an entry's settings change against the part's plain ones.

    Parameters
    ----------
    resolved : for keys whose text alone does not tell (a relative feel), what held before and what holds now.
    """
    found = []
    for key, said in entry.given().items():
        before, now = resolved.get(key, (getattr(plain, key), said))
        before = DEFAULTS.get(key) if before is None else before
        if now != before:
            found.append(Difference(key, plain_value(before), plain_value(now), _sentence(key, before, now)))
    return tuple(found)


def _sentence(key: str, before: object, now: object) -> str:
    if key in _WORDS:
        return _WORDS[key](_said(before), _said(now))
    return f"{key.replace('_', ' ')} {_said(now)}" + ("" if before is None else f" instead of {_said(before)}")
