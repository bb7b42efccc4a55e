"""How truly the kick follows its riff: counted from the strokes that are played, section by section."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from grooveforge.core.groove import KICK
from grooveforge.core.riff import attack_places, meeting_bars
from grooveforge.core.section import Arrangement, Section


@dataclass(frozen=True)
class Following:
    """Kicks against attacks.

    Parameters
    ----------
    attacks : chosen attacks; kicks : kick strokes, but for those counted apart; hits : kicks on an attack.
    apart : an arrival's own kick, downbeats asked for beside the riff, and strokes behind the riff's end. Kicks in
        inserted beats and the song's final hit are no part of this.
    """

    attacks: int
    kicks: int
    hits: int
    apart: int = 0

    @property
    def precision(self) -> float:
        """How many of the kicks stand on an attack, 0 to 1; 1 where there are neither."""
        return self.hits / self.kicks if self.kicks else float(not self.attacks)

    @property
    def recall(self) -> float:
        """How many of the attacks have a kick, 0 to 1."""
        return self.hits / self.attacks if self.attacks else 1.0


@dataclass(frozen=True)
class SectionFollowing(Following):
    """A section under a riff.

    Parameters
    ----------
    section : its name. bar, bars : its first bar in the song, and how many it has.
    meets : the song's bars, inside the section, on whose bar line the riff's cycle begins anew.
    residue_ms : how far the riff's attacks stood off the grid, on average.
    """

    section: str = ""
    bar: int = 1
    bars: int = 1
    meets: tuple[int, ...] = ()
    residue_ms: float = 0.0


def followed_sections(arrangement: Arrangement) -> tuple[SectionFollowing, ...]:
    """Every section whose kick follows a riff, in order; those that leave the kick out are none."""
    return tuple(section_following(section) for section in arrangement.sections if _follows(section))


def _follows(section: Section) -> bool:
    play = section.settings.play
    return section.followed is not None and (play is None or KICK in play)


def together(sections: Iterable[Following]) -> Following:
    """The counts of several sections as one."""
    listed = list(sections)
    return Following(
        sum(row.attacks for row in listed),
        sum(row.kicks for row in listed),
        sum(row.hits for row in listed),
        sum(row.apart for row in listed),
    )


def section_following(section: Section) -> SectionFollowing:
    """One section's kicks against the attacks that its riff puts into it; the section has a riff."""
    followed = section.followed
    assert followed is not None
    riff, start = followed.riff, followed.start
    attacks = {place for place, _ in attack_places(riff, start, followed.length)}
    kicks = set(kick_places(section))
    others = kicks - attacks
    apart = {place for place in others if place >= followed.length}
    if 0 in section.spans[0].tight:
        apart |= others & {Fraction(0)}
    if section.settings.riff_downbeat:
        apart |= {place for place in others if (place / section.meter.whole).denominator == 1}
    hits = len(kicks & attacks)
    meets = meeting_bars(riff.whole, section.meter.whole, section.own_bars - 1, start)
    numbers = section.own_bar_numbers
    return SectionFollowing(
        len(attacks),
        len(kicks) - len(apart),
        hits,
        len(apart),
        section.name,
        section.bar,
        section.bars,
        tuple(numbers[number] for number in meets),
        riff.residue_ms,
    )


def kick_places(section: Section) -> list[Fraction]:
    """Where the kicks of a section's own bars stand, in whole notes; inserted beats are outside the riff."""
    found: list[Fraction] = []
    begin = Fraction(0)
    for span in section.spans:
        if not span.own:
            continue
        found += [begin + span.groove.position(step) for step in span.groove.lane_on(KICK).struck.tolist()]
        begin += span.groove.whole
    return found
