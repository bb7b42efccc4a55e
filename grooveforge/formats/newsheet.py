"""A commented song sheet to start from: it renders as it stands."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction

from grooveforge.core import feel_table
from grooveforge.core.groove import Groove, Lane
from grooveforge.core.kit import ACCENT, Kind
from grooveforge.core.meter import Meter
from grooveforge.errors import UsageError
from grooveforge.formats.tab import tab_of
from grooveforge.formats.toml_text import in_comment, value_text

DEFAULT_FORM = ("intro", "verse", "chorus", "verse", "chorus", "bridge", "chorus")

HANDS = ("closed hi-hat", "ride", "crash", "china")
"""Surfaces that the parts of a new sheet get in turn, contained to open (common practice)."""

HEAD = """\
# A song sheet. Change it in any text editor, then run: grooveforge render {file}
title = {title}
tempo = {tempo}                        # quarter notes a minute, 20 to 400
meter = "{meter}"
seed = 1                           # every random choice follows from it

# The form: part names in order. A return may change any key of its part, as the last line shows.
form = [
{form}]

[defaults]
arrival = true                     # crash and kick on a section's 1

# A groove of this song alone: x strikes, X louder, - rests. `grooveforge grooves` lists the shipped ones.
[grooves.plain]
tab = '''
{tab}
'''
feel = "full"
"""

PART = """
[parts.{name}]
groove = "plain"
bars = {bars}
timekeeper = "{hand}"
"""

FOOT = """
# More keys of a part or return: feel = "half" (quarter, half, full, double, d-beat, blast, or /2, x2),
# timekeeper = ["ride", "crash"] (shared in equal parts), subdivision = "1/4", tempo = "2/3",
# kick = "follow" with riff = "x--X--x-X-x-xxX-", play = ["timekeeper"], tacet = true,
# fill = "1 bar" (into the next part), ending = true, arrival = "soft", stops = "1.1 2.1 4.2&", level = "+1".
"""


def new_sheet(file: str, title: str, form: Sequence[str], tempo: Fraction, meter: Meter) -> str:
    """The text of a new song sheet.

    Parameters
    ----------
    file : its name, for the comment. form : part names in order, empty for a usual one.

    Raises
    ------
    UsageError
        When the form has a name that cannot be written.
    """
    names = tuple(form) or DEFAULT_FORM
    for name in names:
        if not re.fullmatch(r"[\w-]{1,40}", name):
            raise UsageError(
                "a part's name is letters, figures, - and _", found=repr(name), hint='"intro verse chorus"'
            )
    parts = list(dict.fromkeys(names))
    text = HEAD.format(
        file=in_comment(file),
        title=_quoted(title),
        tempo=value_text(tempo),
        meter=meter,
        form=_form(names),
        tab=tab_of(plain_groove(meter)).rstrip(),
    )
    for number, name in enumerate(parts):
        bars = 4 if number == 0 and len(parts) > 1 else 8
        text += PART.format(name=_key(name), bars=bars, hand=HANDS[number % len(HANDS)])
    return text + FOOT


def _form(names: Sequence[str]) -> str:
    last = len(names) - 1
    lines = []
    for number, name in enumerate(names):
        returns = number == last and name in names[:last]
        item = f'{{ part = "{name}", name = "last {name}", feel = "half" }}' if returns else f'"{name}"'
        lines.append(f"  {item},\n")
    return "".join(lines)


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else f'"{name}"'


def _quoted(text: str) -> str:
    return '"' + re.sub(r'(["\\])', r"\\\1", re.sub(r"[\x00-\x1f\x7f]", " ", text)) + '"'


def plain_groove(meter: Meter) -> Groove:
    """Kick and snare of full time by the feel table, the hand in eighths, in any metre."""
    cycle = feel_table.pattern(meter, feel_table.FULL)
    grid = 16 if meter.lower <= 16 else 32
    steps = cycle.bars * meter.steps(grid)
    eighth = grid // 8 if meter.lower <= 8 else grid // meter.lower
    return Groove(
        meter,
        grid,
        cycle.bars,
        kick=Lane.of(steps, [int(place * grid) for place in cycle.kicks]),
        snare=Lane.of(steps, [int(place * grid) for place in cycle.backbeats], ACCENT, Kind.ACCENT),
        hand=Lane.of(steps, range(0, steps, eighth)),
        surface="closed hi-hat",
        feel=feel_table.FULL,
    )
