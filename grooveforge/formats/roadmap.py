"""The road map of a song: its sections one to a line, what is played in each, and what each return changes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from grooveforge.core.arrange import Arrangement, Section
from grooveforge.core.differences import plain_value
from grooveforge.core.song import TempoRamp
from grooveforge.core.swing import STRAIGHT
from grooveforge.core.words import from_to, many
from grooveforge.formats.tempo_marks import short_number

if TYPE_CHECKING:
    from grooveforge.core.inspect import BarFacts
    from grooveforge.core.score import Score, ScoreBar

HEADINGS = ("bars", "section", "metre", "tempo", "feel", "hand", "what to know")

NOTHING = "-"


@dataclass(frozen=True)
class RoadRow:
    """A section of a road map.

    Parameters
    ----------
    first, last : numbers of its first and last bar. words : what a return changes, and what is not the usual.
    """

    first: int
    last: int
    name: str
    metre: str
    tempo: str
    feel: str
    hand: str
    words: str

    @property
    def bars(self) -> str:
        return from_to(self.first, self.last)

    @property
    def cells(self) -> tuple[str, ...]:
        return self.bars, self.name, self.metre, self.tempo, self.feel, self.hand, self.words


def clock(seconds: float) -> str:
    """Minutes and seconds, as a player reads them."""
    minutes, rest = divmod(round(seconds, 1), 60)
    return f"{int(minutes)}:{rest:04.1f}"


def road_map(arrangement: Arrangement, notes: Sequence[str] = ()) -> str:
    """The road map as text: a title line, then a line a section; every bar of the song is in one of them.

    `notes` stand below: what was left out or made up.
    """
    head = f"{arrangement.title}: {many(arrangement.bars, 'bar')}, {clock(arrangement.seconds)}"
    return road_map_text(head, road_rows(arrangement), notes)


def road_map_text(head: str, rows: Iterable[RoadRow], notes: Sequence[str] = ()) -> str:
    """A road map of any rows as text."""
    cells = [HEADINGS, *(row.cells for row in rows)]
    widths = [max(len(row[column]) for row in cells) for column in range(len(HEADINGS) - 1)]
    below = ["", *notes] if notes else []
    return "\n".join([head, "", *(_line(row, widths) for row in cells), *below]) + "\n"


def _line(row: Sequence[str], widths: Sequence[int]) -> str:
    cells = [row[0].rjust(widths[0]), *(cell.ljust(width) for cell, width in zip(row[1:], widths[1:]))]
    return "  ".join([*cells, row[-1]]).rstrip()


def road_rows(arrangement: Arrangement) -> list[RoadRow]:
    """A row for each section of a song."""
    firsts: dict[str, Section] = {}
    rows = []
    swing = STRAIGHT
    for section in arrangement.sections:
        first = firsts.setdefault(section.part, section)
        words = [*_as_first(section, first), *_to_know(section)]
        ratio = section.settings.swing.ratio if section.settings.swing else STRAIGHT
        if ratio != swing and "swing" not in {row.key for row in section.differences}:
            words.append(f"swing {section.settings.swing}" if ratio != STRAIGHT else "straight")
        swing = ratio
        feel = "tacet" if section.settings.tacet else "stops" if section.settings.stops else section.feel or NOTHING
        rows.append(
            RoadRow(
                section.bar,
                section.bar + section.bars - 1,
                section.name,
                str(section.meter),
                tempo_words(section),
                feel,
                ", ".join(section.timekeepers) or NOTHING,
                "; ".join(words),
            )
        )
    return rows


def _as_first(section: Section, first: Section) -> Iterator[str]:
    """What a section has otherwise than the first of its part: "as chorus 1 except half time instead of full"."""
    changes = [row.in_words for row in section.differences]
    if section is first:
        yield from changes
        return
    named = first.name if first.name != first.part else f"{first.part} 1"
    if not first.differences:
        own = changes + _own_end(section, first)
        yield f"as {named}" + (f" except {', '.join(own)}" if own else "")
    elif section.differences == first.differences:
        own = _own_end(section, first)
        yield f"as {named}" + (f" except {', '.join(own)}" if own else "")
    else:
        yield f"as the part {section.part}" + (f" except {', '.join(changes)}" if changes else " is written")


def _own_end(section: Section, first: Section) -> list[str]:
    """Whether a return ends in strokes of its own, where its sheet leaves endings and fills to chance."""
    asked = [word for word, said in (("ending", section.settings.ending), ("fill", section.settings.fill)) if said]
    keys = {row.key for row in section.differences}
    if not asked or keys & set(asked) or _last_bar(section) == _last_bar(first):
        return []
    return [f"{'an' if asked[0] == 'ending' else 'a'} {' and '.join(asked)} of its own"]


def _last_bar(section: Section) -> tuple[object, ...]:
    """The last own bar's strokes but for the timekeeping hand's, which other words tell."""
    own = [span.groove for span in section.spans if span.own]
    if not own:
        return ()
    bar = own[-1].slice(own[-1].bars - 1, own[-1].bars)
    return tuple((name, lane.struck.tolist(), bar.grid) for name, lane in bar.voices if lane is not bar.hand)


def _to_know(section: Section) -> Iterator[str]:
    """What else a player must know: stops, chokes, bars of another metre, the song's last hit."""
    settings = section.settings
    if settings.stops and "stops" not in {row.key for row in section.differences}:
        yield f"stops at {settings.stops}" + (", choked" if settings.choke else "")
    for span in section.spans:
        if span.own:
            continue
        numbers = range(span.bar, span.bar + span.groove.bars)
        if span.groove.meter.whole == section.meter.whole:
            yield f"ends with a hit on bar {span.bar}"
        else:
            yield ", ".join(f"bar {number} is {span.groove.meter}" for number in numbers)


def tempo_words(section: Section) -> str:
    """The tempo of a section as a click is set to it: one number, or where it goes from and to."""
    first, last = section.tempo[0][1], section.tempo[-1][1]
    ramp = section.settings.tempo
    if isinstance(ramp, TempoRamp) and ramp.over <= section.quarters:
        last = ramp.to
    return short_number(first) if first == last else f"{short_number(first)} to {short_number(last)}"


# -- scores that come from no sheet ----------------------------------------------------------------------

MOST_NAMED = 3
"""Surfaces of the hand named in a row; more are no help."""


def score_rows(score: Score, facts: Sequence[BarFacts]) -> list[RoadRow]:
    """A row for each section of a score that was read from MIDI; `facts` are those of its bars."""
    rows = []
    tempo = "120"
    for bars in score.sections:
        inside = facts[bars[0].number - 1 : bars[-1].number]
        tempos = [short_number(bpm) for bar in bars for _, bpm in bar.tempos]
        if not (bars[0].tempos and bars[0].tempos[0][0] == 0):
            tempos.insert(0, tempo)
        tempo = tempos[-1]
        struck = any(bar.hits for bar in bars)
        feel = _commonest([row.feel for row in inside])
        rows.append(
            RoadRow(
                bars[0].number,
                bars[-1].number,
                bars[0].section or NOTHING,
                ", ".join(dict.fromkeys(str(bar.meter) for bar in bars)),
                tempos[0] if len(set(tempos)) == 1 else f"{tempos[0]} to {tempos[-1]}",
                (feel or NOTHING) if struck else "tacet",
                ", ".join(list(dict.fromkeys(row.timekeeper for row in inside if row.timekeeper))[:MOST_NAMED])
                or NOTHING,
                _silent_bars(bars) if struck else "",
            )
        )
    return rows


def _commonest(values: Iterable[str | None]) -> str | None:
    """The value that most bars have; none where most have none."""
    found = Counter(values)
    return found.most_common(1)[0][0] if found else None


def _silent_bars(bars: Sequence[ScoreBar]) -> str:
    silent = [bar.number for bar in bars if not bar.hits]
    if not silent:
        return ""
    return f"bar {silent[0]} rests" if len(silent) == 1 else f"{len(silent)} bars rest, the first is bar {silent[0]}"


def section_facts(section: Section) -> dict[str, object]:
    """A section as `render --json` gives it."""
    return {
        "name": section.name,
        "part": section.part,
        "statement": section.statement,
        "bar": section.bar,
        "bars": section.bars,
        "meter": str(section.meter),
        "tempo": plain_value(section.tempo[0][1]),
        "feel": section.feel,
        "timekeeper": list(section.timekeepers),
        "backbeats_per_bar": round(section.backbeats / section.own_bars, 6),
        "differences": [
            {"key": row.key, "from": row.before, "to": row.now, "in_words": row.in_words}
            for row in section.differences
        ],
    }
