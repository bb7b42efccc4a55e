"""What there is to say about riffs and the kicks under them, as lines and as JSON values."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from grooveforge.core.following import Following, SectionFollowing, together
from grooveforge.core.words import from_to, many

MOST_MEETINGS = 6
"""Bars that a line lists; a riff as long as a bar meets it in every one."""


def following_facts(following: Following) -> dict[str, object]:
    """Counts, precision and recall as the commands give them."""
    return {
        "attacks": following.attacks,
        "kicks": following.kicks,
        "precision": following.precision,
        "recall": following.recall,
        "apart": following.apart,
    }


def meets_facts(bars: Sequence[int]) -> list[dict[str, object]]:
    """Bars on whose bar line cycle and bar meet."""
    return [{"bar": bar, "beat": 1.0} for bar in bars]


def riff_facts(section: SectionFollowing) -> dict[str, object]:
    """A section under a riff as `render --json` gives it."""
    return {
        "section": section.section,
        "bar": section.bar,
        **following_facts(section),
        "meets": meets_facts(section.meets),
        "residue_ms": section.residue_ms,
    }


def riff_report(sections: Sequence[SectionFollowing]) -> str:
    """Riffs and drums in one report: a line a section, and one for the song; empty without riffs."""
    if not sections:
        return ""
    lines = [f"riffs under the kick: {counts(together(sections))}", *_lines(sections)]
    return "\n".join(lines) + "\n"


def _lines(sections: Sequence[SectionFollowing]) -> Iterator[str]:
    wide = max(len(section.section) for section in sections)
    for section in sections:
        bars = from_to(section.bar, section.bar + section.bars - 1)
        off = f"; the riff stands {section.residue_ms:g} ms off the grid on average" if section.residue_ms else ""
        yield f"  {section.section.ljust(wide)}  {bars:>9}  {counts(section)}; {meets_words(section.meets)}{off}"


def counts(following: Following) -> str:
    """ "64 attacks, 64 kicks, precision 1, recall 1"."""
    apart = f" (and {following.apart} of their own)" if following.apart else ""
    return (
        f"{many(following.attacks, 'attack')}, {many(following.kicks, 'kick')}{apart}, "
        f"precision {following.precision:.4g}, recall {following.recall:.4g}"
    )


def meets_words(bars: Sequence[int]) -> str:
    """Where cycle and bar line meet, in words."""
    if not bars:
        return "cycle and bar line do not meet again"
    if len(bars) == 1:
        return f"cycle and bar line meet at bar {bars[0]} beat 1"
    gaps = {after - before for before, after in pairwise(bars)}
    if len(bars) > MOST_MEETINGS and len(gaps) == 1:
        gap = gaps.pop()
        every = "bar" if gap == 1 else f"{gap} bars"
        return f"cycle and bar line meet every {every} from bar {bars[0]} to bar {bars[-1]}, beat 1"
    listed = ", ".join(map(str, bars[:MOST_MEETINGS])) + (", ..." if len(bars) > MOST_MEETINGS else "")
    return f"cycle and bar line meet at bars {listed}, beat 1"
