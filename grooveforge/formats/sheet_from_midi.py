"""A song sheet made from the sections of a drum MIDI file: one part a name, its bars as grooves in the sheet.

A statement that plays otherwise than its part's first is an entry with a groove of its own, so the sheet renders
to the file's strokes on the grid.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from grooveforge.core.groove import Groove
from grooveforge.core.meter import Meter
from grooveforge.formats.midi_sections import Piece
from grooveforge.formats.tab import tab_from
from grooveforge.formats.tab_rows import Row, Tab
from grooveforge.formats.toml_text import in_comment, key_text, quoted, value_text

EDIT_GRID = 16
"""Sixteenths: a groove that fits them is written in them, room to write in."""

HEAD = """\
# A song sheet made from {source}. Render it with: grooveforge render {file}
title = {title}
tempo = {tempo}                        # quarter notes a minute, 20 to 400
meter = "{meter}"
seed = 1                           # every random choice follows from it

# The form as the file's markers tell it. A return that plays otherwise has a groove of its own.
form = [
{form}]

[defaults]
arrival = false                    # the crashes of the file stand in its grooves
levels = "flat"                    # "shaped" lets the part breathe
"""


@dataclass
class _Writer:
    """Grooves by name as they come, each once."""

    names: dict[tuple[str, str], str] = field(default_factory=dict)
    tables: list[str] = field(default_factory=list)

    def groove(self, wanted: str, groove: Groove, song_meter: Meter) -> str:
        """The name of the groove's table, made when there is none like it."""
        tab = _loop(_tab(groove))
        key = str(tab), str(groove.meter)
        if key not in self.names:
            name = _unused(wanted, self.names.values())
            self.names[key] = name
            said = "" if groove.meter == song_meter else f'meter = "{groove.meter}"\n'
            self.tables.append(f"\n[grooves.{key_text(name)}]\ntab = '''\n{tab}'''\n{said}")
        return self.names[key]


def sheet_from_pieces(pieces: Sequence[Piece], file: str, title: str, source: str) -> str:
    """The text of a sheet.

    Parameters
    ----------
    pieces : as `midi_sections.sections_of` gives them; at least one.
    file, source : names of the sheet and of the MIDI file, for the comment.
    """
    meter, tempo = pieces[0].meter, pieces[0].bpm
    writer = _Writer()
    below: dict[str, object] = {"tempo": tempo, "meter": str(meter), "tacet": False}
    parts: dict[str, dict[str, object]] = {}
    entries = []
    for piece in pieces:
        said = _settings(piece, writer, meter)
        if piece.name not in parts:
            parts[piece.name] = {key: value for key, value in said.items() if below.get(key) != value}
        part = {**below, **parts[piece.name]}
        if piece.ramp is not None:
            said["tempo"] = {"to": piece.ramp[0], "over": piece.ramp[1]}
        more = {key: value for key, value in said.items() if part.get(key) != value}
        entries.append(value_text({"part": piece.name, **more}) if more else quoted(piece.name))
    text = HEAD.format(
        source=in_comment(source),
        file=in_comment(file),
        title=quoted(title),
        tempo=value_text(tempo),
        meter=meter,
        form="".join(f"  {entry},\n" for entry in entries),
    )
    tables = [_part_table(name, keys) for name, keys in parts.items()]
    return text + "".join(writer.tables) + "".join(tables)


def _settings(piece: Piece, writer: _Writer, song_meter: Meter) -> dict[str, object]:
    """Everything that a piece's section says, defaults too."""
    said: dict[str, object] = {"bars": piece.bars, "tempo": piece.bpm, "meter": str(piece.meter)}
    if piece.groove is None:
        return {**said, "tacet": True}
    return {"groove": writer.groove(piece.name, piece.groove, song_meter), **said, "tacet": False}


def _part_table(name: str, keys: dict[str, object]) -> str:
    lines = "".join(f"{key} = {value_text(value)}\n" for key, value in keys.items())
    return f"\n[parts.{key_text(name)}]\n{lines}"


def _unused(wanted: str, taken: Iterable[str]) -> str:
    used = set(taken)
    name, number = wanted, 2
    while name in used:
        name, number = f"{wanted} {number}", number + 1
    return name


# -- grooves as tab --------------------------------------------------------------------------------------


def _tab(groove: Groove) -> Tab:
    """A groove in sixteenths where they hold it, else on the coarsest grid that does; bar lines between bars."""
    coarse = groove.coarsest
    fits = EDIT_GRID % coarse.grid == 0 and (EDIT_GRID * Fraction(groove.meter.whole)).denominator == 1
    return tab_from(coarse.regrid(EDIT_GRID) if fits else coarse, bar_lines=True)


def _loop(tab: Tab) -> Tab:
    """The shortest run of bars of which the tab is a loop."""
    bar = tab.rows[0].bars[0]
    bars = tab.columns // bar
    for length in range(1, bars):
        if all(_repeats(row.marks, length * bar) for row in tab.rows):
            return Tab(tuple(Row(row.label, row.marks[: length * bar], row.bars[:length]) for row in tab.rows))
    return tab


def _repeats(marks: str, length: int) -> bool:
    """Whether every mark is the one `length` columns before it."""
    return marks[length:] == marks[:-length]
