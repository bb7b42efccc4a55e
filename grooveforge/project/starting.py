"""`start`: the first beat under a riff: what the riff is, three unlike grooves that fit under it, a sheet with one."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import islice
from math import ceil, lcm
from pathlib import Path
from typing import Any

from grooveforge import files
from grooveforge.core.meter import Meter, parse_meter
from grooveforge.core.riff import is_riff_file, meeting_bars, turn_bars
from grooveforge.core.song import FASTEST, SLOWEST, Riff
from grooveforge.core.tempo import check_tempo
from grooveforge.errors import UsageError
from grooveforge.formats.riff_report import following_facts, meets_facts
from grooveforge.formats.startsheet import start_sheet, typed_line
from grooveforge.project.given_riff import riff_of
from grooveforge.project.sheets import file_name, title_of
from grooveforge.project.taking import numbered
from grooveforge.project.under_riff import APART, MOST_BARS, Offer, ReadRiff, offers_under

OFFERS = 3
"""How many grooves are offered (house rule)."""

METERS = ("4/4", "3/4", "7/8", "5/4", "6/8", "12/8", "5/8", "11/8")
"""Metres that a typed riff is tried in when none is said: the first of which it fills whole bars."""

USUAL_BARS = 8


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
    offers = tuple(islice(offers_under(read), OFFERS))
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


def _song(offer: Offer, read: ReadRiff) -> Mapping[str, Any]:
    """What the sheet says: the groove, its tempo, and bars until riff, groove and bar line meet."""
    whole = lcm(turn_bars(read.riff.whole, read.meter.whole), offer.file.groove.bars)
    bars = whole * ceil(Fraction(USUAL_BARS, whole)) if whole <= MOST_BARS else USUAL_BARS
    return {"groove": offer.name, "tempo": offer.bpm, "bars": bars, "grid": read.riff.grid}
