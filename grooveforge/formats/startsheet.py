"""The song sheet that `start` writes: one part, a groove under the riff; it renders as it stands."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from grooveforge.core.meter import Meter
from grooveforge.core.riff import ACCENTED, ATTACK, REST
from grooveforge.core.song import Riff
from grooveforge.formats.toml_text import in_comment, quoted, value_text

SHEET = """\
# A song begun from its riff. Change it in any text editor, then run: grooveforge render {file}
title = {title}
tempo = {tempo}
meter = {meter}
seed = 1

# Put further parts into the form; a return may change any key: {{ part = "riff", name = "last riff", feel = "half" }}
form = ["riff"]

[defaults]
arrival = true                     # crash and kick on a section's 1

[parts.riff]
groove = {groove}
bars = {bars}
riff = {riff}
{grid}# kick = "follow"                  # puts the kick on every attack of the riff instead
"""


def start_sheet(file: str, title: str, meter: Meter, riff: str, song: Mapping[str, Any]) -> str:
    """The text of a sheet with one groove under a riff.

    Parameters
    ----------
    riff : a typed line or a file's name. song : groove, tempo, bars; grid of a typed line.
    """
    return SHEET.format(
        file=in_comment(file),
        title=quoted(title),
        tempo=value_text(song["tempo"]),
        meter=quoted(str(meter)),
        groove=quoted(song["groove"]),
        bars=song["bars"],
        riff=quoted(riff),
        grid="" if song["grid"] == 16 or "." in riff else f"riff_grid = {song['grid']}\n",
    )


def typed_line(riff: Riff) -> str:
    """A riff as a typed line on its own grid."""
    marks = [REST] * riff.length
    for step in riff.attacks:
        marks[step] = ACCENTED if step in riff.accents else ATTACK
    return "".join(marks)
