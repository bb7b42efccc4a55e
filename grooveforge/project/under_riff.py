"""Grooves under a riff: how well each of the library fits, and those that are worth an offer."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, lcm
from typing import Any

from grooveforge.analysis.distance import difference, strokes_of
from grooveforge.analysis.playability import check_groove
from grooveforge.core.following import Following
from grooveforge.core.groove import KICK, Groove
from grooveforge.core.kit import BACKBEAT_SURFACES, BANDS
from grooveforge.core.loop import DEFAULT_TEMPO
from grooveforge.core.meter import Meter
from grooveforge.core.profile import DEFAULT_PROFILE, PROFILES
from grooveforge.core.riff import attack_places, turn_bars
from grooveforge.core.roles import read_feel
from grooveforge.core.song import Riff
from grooveforge.formats.groovefile import GrooveFile
from grooveforge.formats.riff_report import following_facts
from grooveforge.project.library import library_grooves

APART = 0.25
"""How far the grooves that are offered are from one another at least (house rule)."""

MOST_BARS = 32
"""Bars over which riff and groove are laid beside each other."""

MET, ACCENTS_MET, IN_TEMPO = 0.5, 0.25, 0.25
"""What a groove's score is made of (house rule): how well kick and snare meet the attacks (F1: strokes beside them
count against it as much as attacks that are not met), the accents met, a tempo inside the groove's range."""

Places = frozenset[Fraction]


@dataclass(frozen=True)
class ReadRiff:
    """A riff as it was read.

    Parameters
    ----------
    riff : its cycle. meter : of the bars that it stands in. bpm : None where it says no tempo.
    line : how a sheet says it. warnings : what had to be decided.
    """

    riff: Riff
    meter: Meter
    bpm: Fraction | None
    line: str
    warnings: tuple[str, ...] = ()

    @property
    def bars(self) -> Fraction:
        """Length of the cycle in bars."""
        return self.riff.whole / self.meter.whole


@dataclass(frozen=True, eq=False)
class Offer:
    """A groove of the library under the riff.

    Parameters
    ----------
    bpm : what it would be played at. score : 0 to 1. met : attacks met by kick or snare; attacks : all of them.
    following : its kicks against the attacks. bars : over which these are counted.
    """

    file: GrooveFile
    bpm: Fraction
    score: float
    met: int
    attacks: int
    following: Following
    bars: int

    @property
    def name(self) -> str:
        return str(self.file.name)

    @property
    def in_words(self) -> str:
        feel = read_feel(self.file.groove).feel
        hand = self.file.groove.surface
        how = ", ".join(
            part for part in (f"{feel} feel" if feel else "", f"the hand on {hand}" if hand else "") if part
        )
        met = f"kick or snare on {self.met} of {self.attacks} attacks"
        return f"{self.name}: {how}; {met}; {self.file.about or 'no word about it'}"

    def facts(self, rank: int) -> dict[str, Any]:
        """The offer as `start --json` gives it."""
        return {
            "rank": rank,
            "groove": self.name,
            "tempo": float(self.bpm),
            "score": round(self.score, 4),
            "met": self.met,
            "in_words": self.in_words,
            **following_facts(self.following),
        }


def offers_under(read: ReadRiff) -> Iterator[Offer]:
    """The grooves of the library that fit under a riff, unlike one another, the best first."""
    return _unlike(_ranked(read))


def _ranked(read: ReadRiff) -> Iterator[Offer]:
    """The library's grooves of the riff's metre, the best first; of equals by name."""
    same = (file for file in library_grooves() if file.groove.meter == read.meter)
    offers = (_scored(file, read) for file in same)
    yield from sorted(offers, key=lambda offer: (-offer.score, offer.name))


def _unlike(ranked: Iterator[Offer]) -> Iterator[Offer]:
    """Those that a drummer of their profile can play, far enough from all before them."""
    taken: list[Groove] = []
    for offer in ranked:
        groove = offer.file.groove
        if any(_apart(groove, other) < APART for other in taken):
            continue
        profile = PROFILES[DEFAULT_PROFILE]
        if offer.file.profile in (None, DEFAULT_PROFILE) and check_groove(
            groove, float(offer.bpm), profile, remedies=False
        ).playable:
            taken.append(groove)
            yield offer


def _apart(one: Groove, other: Groove) -> float:
    """The distance of two grooves as loops."""
    bars = lcm(one.bars, other.bars)
    return difference(strokes_of(one).looped(bars), strokes_of(other).looped(bars)).distance


def _scored(file: GrooveFile, read: ReadRiff) -> Offer:
    groove, meter = file.groove, read.meter
    bars = min(lcm(turn_bars(read.riff.whole, meter.whole), groove.bars), MOST_BARS)
    attacks = attack_places(read.riff, Fraction(0), bars * meter.whole)
    kicks, snares = _places(groove, bars)
    places = [place for place, _ in attacks]
    accents = [place for place, accent in attacks if accent]
    struck = kicks | snares
    met = sum(place in struck for place in places)
    hits = sum(place in kicks for place in places)
    accented = _share(sum(place in struck for place in accents), len(accents))
    bpm = _bpm(file, read)
    score = MET * _share(2 * met, len(places) + len(struck)) + ACCENTS_MET * accented
    score += IN_TEMPO * _in_tempo(file, bpm)
    return Offer(file, bpm, score, met, len(places), Following(len(places), len(kicks), hits), bars)


def _share(part: int, whole: int) -> float:
    return part / whole if whole else 1.0


def _places(groove: Groove, bars: int) -> tuple[Places, Places]:
    """Where kicks and sounding snares stand over so many bars of a loop."""
    found: dict[bool, set[Fraction]] = {True: set(), False: set()}
    for name, lane in groove.voices:
        if name == KICK or name in BACKBEAT_SURFACES:
            steps = lane.struck[lane.velocity[lane.struck] > BANDS[0].high]
            for turn in range(ceil(Fraction(bars, groove.bars))):
                found[name == KICK] |= {turn * groove.whole + Fraction(step, groove.grid) for step in steps.tolist()}
    end = bars * groove.meter.whole
    kicks, snares = (frozenset(place for place in found[which] if place < end) for which in (True, False))
    return kicks, snares


def _bpm(file: GrooveFile, read: ReadRiff) -> Fraction:
    """The riff's tempo; where it says none the middle of the groove's range."""
    return read.bpm if read.bpm is not None else Fraction(ceil(file.middle_tempo or DEFAULT_TEMPO))


def _in_tempo(file: GrooveFile, bpm: Fraction) -> float:
    """1 inside the groove's range, less the further outside: the ratio to the nearer end."""
    if file.tempo is None:
        return 1.0
    low, high = file.tempo
    return float(bpm / low if bpm < low else high / bpm if bpm > high else Fraction(1))
