"""`start`: the first beat under a riff: what the riff is, three unlike grooves that fit under it, a sheet with one."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import islice
from math import ceil, lcm
from pathlib import Path
from typing import Any

from grooveforge import files
from grooveforge.analysis.distance import difference, strokes_of
from grooveforge.analysis.playability import check_groove
from grooveforge.core.following import Following
from grooveforge.core.groove import KICK, Groove
from grooveforge.core.kit import BACKBEAT_SURFACES, BANDS
from grooveforge.core.loop import DEFAULT_TEMPO
from grooveforge.core.meter import Meter, parse_meter
from grooveforge.core.profile import DEFAULT_PROFILE, PROFILES
from grooveforge.core.riff import attack_places, is_riff_file, meeting_bars, turn_bars
from grooveforge.core.roles import read_feel
from grooveforge.core.song import FASTEST, SLOWEST, Riff
from grooveforge.core.tempo import check_tempo
from grooveforge.errors import UsageError
from grooveforge.formats.groovefile import GrooveFile
from grooveforge.formats.riff_report import following_facts, meets_facts
from grooveforge.formats.startsheet import start_sheet, typed_line
from grooveforge.project.given_riff import riff_of
from grooveforge.project.library import library_grooves
from grooveforge.project.sheets import file_name, title_of
from grooveforge.project.taking import numbered

OFFERS, APART = 3, 0.25
"""How many grooves are offered, and how far they are from one another at least (house rule)."""

METERS = ("4/4", "3/4", "7/8", "5/4", "6/8", "12/8", "5/8", "11/8")
"""Metres that a typed riff is tried in when none is said: the first of which it fills whole bars."""

MOST_BARS = 32
"""Bars over which riff and groove are laid beside each other."""

USUAL_BARS = 8

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


@dataclass(frozen=True, eq=False)
class Started:
    """What `start` found: the riff read back, the offers, the sheet's text, and which offer it holds (an index)."""

    read: ReadRiff
    offers: tuple[Offer, ...]
    text: str
    taken: int
    notes: tuple[str, ...] = ()

    def facts(self) -> dict[str, Any]:
        """The start as `start --json` gives it; counts of kicks are those of the groove taken."""
        riff, offer = self.read.riff, self.offers[self.taken]
        bars = self.read.bars
        meets = [bar + 1 for bar in meeting_bars(riff.whole, self.read.meter.whole, offer.bars)]
        return {
            "bars": int(bars) if bars.denominator == 1 else float(bars),
            "meter": str(self.read.meter),
            "tempo": float(offer.bpm),
            **following_facts(offer.following),
            "attacks": len(riff.attacks),
            "accents": len(riff.accents),
            "riff": typed_line(riff),
            "meets": meets_facts(meets),
            "offers": [row.facts(rank) for rank, row in enumerate(self.offers, 1)],
            "taken": self.taken + 1,
            "residue_ms": riff.residue_ms,
            "notes": list(self.notes),
        }


def start(riff: str, out: str, meter: str | None = None, tempo: str | None = None, take: int = 1) -> Started:
    """Three grooves that fit under a riff, and a song sheet with one of them; nothing is written.

    Parameters
    ----------
    riff : a MIDI file or a typed line of sixteenths. out : where the sheet will stand. meter, tempo : None for the
        file's own; for a typed line the metre whose bars it fills, and each groove's own tempo.

    Raises
    ------
    GrooveForgeError
        When the riff cannot be read, no groove of the library fits, or there is no such offer.
    """
    read = read_back(riff, out, meter, tempo)
    offers = tuple(islice(_unlike(_ranked(read)), OFFERS))
    if not offers:
        raise UsageError(f"no groove of the library is in {read.meter}", hint="another --meter")
    index = numbered("offer", take, len(offers))
    few = f"only {len(offers)} grooves in {read.meter} are {APART} apart and can be played at this tempo"
    text = start_sheet(file_name(out), title_of(out), read.meter, read.line, _song(offers[index], read))
    return Started(read, offers, text, index, () if len(offers) == OFFERS else (few,))


def read_back(said: str, out: str, meter: str | None, tempo: str | None) -> ReadRiff:
    """A riff as a command takes it, in its metre."""
    given = riff_of(said)
    own = None if given.bpm is None else Fraction(str(round(float(given.bpm), 3)))
    bars = parse_meter(meter) if meter else given.meter or _fitting(given.riff)
    bpm = own if tempo is None else check_tempo(_number(tempo))
    return ReadRiff(given.riff, bars, bpm, _line(said, given.riff, out), given.warnings)


def _number(tempo: str) -> Fraction:
    try:
        return Fraction(tempo)
    except (ValueError, ZeroDivisionError) as error:
        raise UsageError("the tempo is no number", found=repr(tempo), allowed=f"{SLOWEST} to {FASTEST}") from error


def _fitting(riff: Riff) -> Meter:
    meters = [parse_meter(text) for text in METERS]
    return next((meter for meter in meters if (riff.whole / meter.whole).denominator == 1), meters[0])


def _line(said: str, riff: Riff, out: str) -> str:
    """How the sheet names the riff: a typed line as it stands, a file by its way from the sheet's folder."""
    if said == files.STANDARD_STREAM:
        return typed_line(riff)
    if is_riff_file(said) or Path(said).is_file():
        folder = "." if out == files.STANDARD_STREAM else str(Path(out).parent)
        way = Path(os.path.relpath(said, folder)).as_posix()
        return way if "/" in way or "." in way else f"./{way}"
    return said.strip()


# -- scores ----------------------------------------------------------------------------------------------


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
    if read.bpm is not None:
        return read.bpm
    return Fraction(DEFAULT_TEMPO) if file.tempo is None else Fraction(ceil(sum(file.tempo, Fraction(0)) / 2))


def _in_tempo(file: GrooveFile, bpm: Fraction) -> float:
    """1 inside the groove's range, less the further outside: the ratio to the nearer end."""
    if file.tempo is None:
        return 1.0
    low, high = file.tempo
    return float(bpm / low if bpm < low else high / bpm if bpm > high else Fraction(1))


def _song(offer: Offer, read: ReadRiff) -> Mapping[str, Any]:
    """What the sheet says: the groove, its tempo, and bars until riff, groove and bar line meet."""
    whole = lcm(turn_bars(read.riff.whole, read.meter.whole), offer.file.groove.bars)
    bars = whole * ceil(Fraction(USUAL_BARS, whole)) if whole <= MOST_BARS else USUAL_BARS
    return {"groove": offer.name, "tempo": offer.bpm, "bars": bars, "grid": read.riff.grid}
