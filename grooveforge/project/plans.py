"""What a plan is: what every return says, the song with it, its reason in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from grooveforge.analysis.distance import Strokes, joined
from grooveforge.core.arrange import Arrangement
from grooveforge.formats.entry_values import written
from grooveforge.formats.option_words import sentence
from grooveforge.project.arc import Arc
from grooveforge.project.last_change import KINDS
from grooveforge.project.returns import Return, own_strokes

AS_WRITTEN, HELD, OPENED = "as written", "held", "opened"
EARLIER: Mapping[str, str] = {
    AS_WRITTEN: "the returns before it stay as the sheet has them",
    HELD: "the returns before it are held at the statement before, so that the last one stands alone",
    OPENED: "the returns before it only move the hand, a step at a time",
}
"""What earlier returns do, in words."""

Givens = Mapping[int, Mapping[str, Any]]
"""What entries say, by their place in the form."""


@dataclass(frozen=True, eq=False)
class Plan:
    """One answer for the whole song.

    Parameters
    ----------
    returns : every return by its section, as the sheet has it. givens : what the changed ones say.
    arrangement : of the song with all of them. kind : of the last change; earlier : of those before.
    last : index of the section with the last change.
    """

    returns: Mapping[int, Return]
    givens: Givens
    arrangement: Arrangement
    kind: str
    earlier: str
    last: int

    @cached_property
    def arc(self) -> Arc:
        return Arc(self.arrangement, self.last)

    @property
    def strokes(self) -> Strokes:
        """The strokes of every return."""
        return joined(own_strokes(self.arrangement.sections[number]) for number in self.returns)

    def changes(self, number: int) -> dict[str, object]:
        """What the sheet's entry of a section says otherwise then."""
        back = self.returns.get(number)
        given = {} if back is None else self.givens.get(back.index, {})
        if back is None or not given:
            return {}
        return written(back.changes(given), self.arrangement.sections[number])

    @property
    def in_words(self) -> str:
        """The plan's reason, in a sentence or two."""
        back = self.returns[self.last]
        sections = self.arrangement.sections
        said, _ = sentence(sections[back.before[0]], sections[self.last])
        top = int(np.flatnonzero(self.arc.energy == self.arc.energy.max())[-1]) + 1
        return f"{KINDS[self.kind]} in {back.name}: {said}; {EARLIER[self.earlier]}; the energy peaks in bar {top}"

    def facts(self) -> dict[str, Any]:
        """The plan as `plan --json` gives it."""
        sections = self.arrangement.sections
        return {
            "sections": [
                {"name": row.name, "bar": row.bar, "changes": self.changes(number)}
                for number, row in enumerate(sections)
            ],
            "energy": [round(float(value), 3) for value in self.arc.energy],
            "in_words": self.in_words,
            "last_change": self.kind,
        }


@dataclass(frozen=True, eq=False)
class Plans:
    """The answers, with what there is to say where they are fewer than were asked for."""

    plans: tuple[Plan, ...]
    notes: tuple[str, ...] = ()

    def facts(self) -> dict[str, Any]:
        """The plans as `plan --json` gives them."""
        return {"plans": [row.facts() for row in self.plans], "notes": list(self.notes)}
