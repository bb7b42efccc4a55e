"""Drummers as data: how fast hands and feet are, which hand leads, how many kick pedals there are.

The three shipped profiles are a proposal that the user edits. Two hands: 20.1 strokes a second for a minute is the
record (contest figure, reported in the press 2013), one hand 10 a second (Fujii, Kudo, Ohtsuki, Oda 2009,
Neuroscience Letters 459), ordinary ceilings 5 to 7 a second (the same). Two feet: 17.2 a second for a minute is the
record (contest figure), sixteenths at 120 to 130 quarter notes a minute are a learner's goal (published lesson).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite
from types import MappingProxyType

from grooveforge.errors import Fault, MusicError

SLOWEST_RATE, FASTEST_RATE = 0.5, 40.0
"""Strokes a second that a profile may say, for a hand or for both feet together; twice the records fit in."""

RIGHT, LEFT = "right", "left"
HANDED = (RIGHT, LEFT)


@dataclass(frozen=True)
class Profile:
    """What a drummer can do.

    Parameters
    ----------
    name : as reports call it.
    hand : strokes a second that one hand can hold. feet : kicks a second that both feet can hold together; one foot
        alone has half of it.
    handed : "right" or "left", the leading hand; a left-handed kit is the mirror of a right-handed one.
    open_handed : whether either hand may lead on the cymbals. double_pedal : whether both feet may play the kick.
    comfort : share of a limit that costs no effort.
    burst : most strokes of one limb in a row that may be faster than its limit; burst_factor : by how much.
    about : one line.

    Raises
    ------
    MusicError
        With every value that no drummer can have; each fault's path is the key.
    """

    name: str
    hand: float
    feet: float
    handed: str = RIGHT
    open_handed: bool = False
    double_pedal: bool = True
    comfort: float = 0.8
    burst: int = 4
    burst_factor: float = 1.5
    about: str = ""

    def __post_init__(self) -> None:
        for key in ("hand", "feet", "comfort", "burst_factor"):
            object.__setattr__(self, key, float(getattr(self, key)))
        faults = [fault for key, bounds in BOUNDS.items() if (fault := self._fault(key, *bounds))]
        if self.handed not in HANDED:
            faults.append(Fault("no such hand", found=repr(self.handed), allowed="right, left", path=("handed",)))
        if faults:
            raise MusicError(faults)

    def _fault(self, key: str, low: float, high: float, unit: str) -> Fault | None:
        value = float(getattr(self, key))
        if isfinite(value) and low <= value <= high:
            return None
        message = "a drummer's number is out of range"
        return Fault(message, found=f"{value:g}", allowed=f"{low:g} to {high:g} {unit}", path=(key,))

    @property
    def foot(self) -> float:
        """Strokes a second that one foot can hold."""
        return self.feet / 2

    @property
    def kicks(self) -> float:
        """Kicks a second that can be held on this drummer's pedals."""
        return self.feet if self.double_pedal else self.foot


BOUNDS: Mapping[str, tuple[float, float, str]] = MappingProxyType(
    {
        "hand": (SLOWEST_RATE, FASTEST_RATE, "strokes a second"),
        "feet": (SLOWEST_RATE, FASTEST_RATE, "strokes a second"),
        "comfort": (0.1, 1.0, "of the limit"),
        "burst": (1, 16, "strokes"),
        "burst_factor": (1.0, 3.0, "times the limit"),
    }
)
"""What the numbers of a profile may be: lowest, highest, unit (house rule)."""

LEARNING = Profile("learning", 5.0, 8.7, about="sixteenth kicks at 120 to 130 are the present goal")
EXPERIENCED = Profile("experienced", 6.7, 13.0, about="sixteenth kicks at 195, one-handed eighths at 200")
EXTREME = Profile("extreme", 9.0, 16.0, about="sixteenth kicks at 240, one-handed sixteenths at 135")

PROFILES: Mapping[str, Profile] = MappingProxyType({row.name: row for row in (LEARNING, EXPERIENCED, EXTREME)})
"""The shipped profiles by name."""

DEFAULT_PROFILE = EXPERIENCED.name
