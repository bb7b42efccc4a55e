"""The page for Python users: examples that the tests run, and every public name with its first line."""

from __future__ import annotations

import inspect

import grooveforge

EXAMPLES = '''# From Python

Everything that the commands do is a function at the package's top, loaded on first use. The examples below run in this
order from the root of a clone; tests run them.

## A sheet, its song, its notes

```python
import grooveforge

sheet = grooveforge.read_sheet("patterns/songs/copper-weather.toml")
made = grooveforge.render(sheet)                       # files by name, as bytes; nothing is written
print(made.arrangement.bars, "bars,", round(made.arrangement.seconds), "seconds")

table = grooveforge.events(sheet)                      # numpy: tick, note, velocity, duration
kicks = table[table["note"] == 36]
energy = grooveforge.energy_line(made.performance)     # one number a bar
loudest_bar = int(energy.argmax()) + 1
```

## Grooves and feels

```python
groove = grooveforge.inspect("patterns/grooves/gallop.toml")["bars"][0]
assert groove["feel"] == "full"

drums = grooveforge.to_pretty_midi(sheet)              # and to_mido(sheet), with markers
played = grooveforge.groove_from_pretty_midi(drums).slice(4, 8)
half = grooveforge.set_feel(played, grooveforge.FeelChange("half"))
china = half.move_hand("china")
print(f"feel: {grooveforge.distance(played, half):.2f} from the verse, hand: {grooveforge.distance(half, china):.2f}")
```

## Can it be played

```python
found = grooveforge.check_groove(china, 118, grooveforge.PROFILES["experienced"])
assert not found.findings
fast = grooveforge.check_groove(china, 380, grooveforge.PROFILES["learning"])
for finding in fast.findings:
    print(f"bar {finding.bar}, beat {finding.beat}: {finding.reason}")
```

## What a return could do

```python
offers = grooveforge.options(sheet, "last chorus", "large", 3)
for offer in offers.options:
    print(f"{offer.distance:.2f}", offer.in_words)
text = grooveforge.take_option(sheet, offers, 1)       # the sheet's text with the first one in it
```

## To hear it and to hand it over

```python
samples = grooveforge.mix(made.performance)            # (frames, 2), 44,100 a second
score = grooveforge.chart("patterns/songs/copper-weather.toml", "musicxml")
page = grooveforge.road_map_html("patterns/songs/copper-weather.toml")
```

A wrong input raises `grooveforge.GrooveForgeError`; its `faults` say file, place, what was found, what is allowed and
what to try.

## Every name

| name | what it is |
|---|---|
'''


def python_page() -> str:
    """The page as Markdown."""
    return EXAMPLES + "".join(f"| `{name}` | {_line(name)} |\n" for name in grooveforge.__all__)


def _line(name: str) -> str:
    value = getattr(grooveforge, name)
    if not callable(value):
        return f"the table of {', '.join(str(key) for key in value)}"
    return (inspect.getdoc(value) or "").split("\n", maxsplit=1)[0].replace("|", "\\|")
