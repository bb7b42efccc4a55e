"""The sections of a song as the page's controls need them: what holds, what the entry says itself, what differs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import cast

from grooveforge.core.arrange import Arrangement, Section, statements
from grooveforge.core.differences import plain_value
from grooveforge.core.feel_table import RELATIVE
from grooveforge.formats import keys
from grooveforge.formats.locate import line_of
from grooveforge.formats.roadmap import section_facts
from grooveforge.formats.toml_text import load_toml
from grooveforge.project.sheets import Sheet

Table = Mapping[str, object]
Tones = list[list[float]]

NOT_OWN = ("part",)
"""Keys of an entry that are no choice of it."""


def section_rows(
    sheet: Sheet, arrangement: Arrangement, against: Sequence[int | None], riffs: Sequence[Tones | None]
) -> list[dict[str, object]]:
    """Every section of the song, in order."""
    table = load_toml(sheet.text)
    settings = _Layers(table)
    lines: dict[int, int | None] = {}
    rows: list[dict[str, object]] = []
    for index, (section, (entry, said, _)) in enumerate(zip(arrangement.sections, statements(sheet.song))):
        if entry not in lines:
            lines[entry] = line_of(sheet.text, ("form", entry))
        facts = section_facts(section)
        own = settings.own(entry)
        rows.append(
            {
                **facts,
                "index": index,
                "entry": entry,
                "repeat": said.repeat,
                "line": lines[entry],
                "hand": _hand(section),
                "against": against[index],
                "settings": settings.in_force(entry, section),
                "own": own,
                "fixed": plain_value(said.fixed),
                "riff": riffs[index],
            }
        )
    return rows


def _hand(section: Section) -> list[dict[str, object]]:
    """Where the hand stands, by the song's bars; spans of one surface in a row are one."""
    moves: list[dict[str, object]] = []
    for span in section.spans:
        surface, bars = span.groove.surface, span.groove.bars
        if moves and moves[-1]["surface"] == surface:
            moves[-1]["bars"] = cast(int, moves[-1]["bars"]) + bars
        else:
            moves.append({"bar": span.bar, "bars": bars, "surface": surface})
    return moves


class _Layers:
    """The keys of a sheet as they are written, layer by layer."""

    def __init__(self, table: Table) -> None:
        known = keys.keys_at(keys.PART)
        self.form = cast("Sequence[object]", table["form"])
        self.parts = cast("Mapping[str, Table]", table.get("parts", {}))
        song = {name: value for name, value in table.items() if name in known}
        self.below = {**song, **cast(Table, table.get("defaults", {}))}

    def own(self, entry: int) -> dict[str, object]:
        """What an entry of the form says itself."""
        said = self.form[entry]
        if not isinstance(said, Mapping):
            return {}
        return {name: _plain(value) for name, value in said.items() if name not in NOT_OWN}

    def in_force(self, entry: int, section: Section) -> dict[str, object]:
        """What holds in a section; a feel relative to the part's is named."""
        said = {**self.below, **self.parts[section.part], **self.own(entry)}
        if section.feel is not None and said.get("feel") in RELATIVE:
            said["feel"] = section.feel
        return {name: _plain(value) for name, value in said.items()}


def _plain(value: object) -> object:
    """A TOML value as JSON holds it."""
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    return plain_value(value)
