"""From a song to what every bar plays: groove, feel, kick, timekeeper, then how sections end and begin.

Each stage is a value. A section's bars depend on its own settings alone, so a change in one place leaves every
other bar as it was; the exceptions are a running riff (how long it has run), a fill (what it leads into, and
which fill came before) and the song's end.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from grooveforge.core.arrival import arrival
from grooveforge.core.builder import SectionBuilder, bars_of
from grooveforge.core.groove import Groove
from grooveforge.core.phrases import Phrases
from grooveforge.core.played import with_changes
from grooveforge.core.riff import DEFAULT_RIFF_GRID
from grooveforge.core.section import Arrangement, Followed, Section, Span
from grooveforge.core.song import MOST_SONG_BARS, Entry, Song
from grooveforge.errors import Fault, GrooveForgeError, MusicError

__all__ = [
    "DEFAULT_RIFF_GRID",
    "Arrangement",
    "Followed",
    "Section",
    "Span",
    "arrange",
    "arrival",
    "bars_of",
    "section_loop",
    "statements",
]


def statements(song: Song) -> Iterator[tuple[int, Entry, int]]:
    """Every section as (index in the form, entry, statement number), repeats written out."""
    counts: dict[str, int] = {}
    for index, entry in enumerate(song.form):
        for _ in range(entry.repeat):
            counts[entry.part] = counts.get(entry.part, 0) + 1
            yield index, entry, counts[entry.part]


def arrange(song: Song) -> Arrangement:
    """The arrangement of a song, the bars that a drummer changed in it.

    Raises
    ------
    MusicError
        With every fault of every section: a metre that does not fit, a feel off the ladder, a tempo out of
        range. Each fault has the key path of what caused it.
    """
    _check_length(song)
    faults: dict[Fault, None] = {}
    builders: list[SectionBuilder] = []
    sections: list[Section] = []
    running: dict[tuple[str, int], Fraction] = {}
    loops: dict[tuple[object, ...], Groove] = {}
    bar = 1
    for index, entry, statement in statements(song):
        builder = SectionBuilder(song, index, entry, loops)
        try:
            section = builder.section(statement, bar, running)
        except GrooveForgeError as error:
            faults |= dict.fromkeys(builder.placed(fault) for fault in error.faults)
            continue
        builders.append(builder)
        sections.append(section)
        bar += section.bars
    phrases = Phrases(song)
    finished: list[Section] = []
    for builder, section, after in zip(builders, sections, [*sections[1:], None]):
        builder.key = "fill"
        try:
            finished.append(phrases.finished(section, after))
        except GrooveForgeError as error:
            faults |= dict.fromkeys(builder.placed(fault) for fault in error.faults)
    if faults:
        raise MusicError(faults)
    made = Arrangement(song.title, song.seed, tuple(finished), tuple(phrases.notes))
    return with_changes(made, song.changes, song.changes_from)


def _check_length(song: Song) -> None:
    total = sum(_bars_with_inserts(song, entry) * entry.repeat for entry in song.form)
    if total > MOST_SONG_BARS:
        raise MusicError(f"the song has {total} bars", allowed=f"at most {MOST_SONG_BARS}", path=("form",))


def _bars_with_inserts(song: Song, entry: Entry) -> int:
    settings = song.settings_of(entry)
    return bars_of(song, settings) + len(settings.insert or ())


def section_loop(song: Song, entry: Entry) -> Groove:
    """What an entry's section plays as a loop: groove, feel and rate, before riff, hand, lanes and arrival."""
    return SectionBuilder(song, 0, entry, {}).loop()
