"""`plan`: whole-song answers, as unlike one another as possible, each with its reason."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from grooveforge.analysis.candidates import spread
from grooveforge.analysis.distance import difference
from grooveforge.errors import UsageError
from grooveforge.formats.sheetedit import Changes
from grooveforge.project.arc import Arc
from grooveforge.project.planner import Planner
from grooveforge.project.plans import Plan, Plans
from grooveforge.project.returns import own_strokes
from grooveforge.project.sheets import Sheet, arranged
from grooveforge.project.taking import entry_changes, numbered, taken_text
from grooveforge.project.trying import Trier

LEAST_UNLIKE = 1e-6
"""Two plans that are nearer are the same one."""


def plan(sheet: Sheet, count: int = 3, progress: Callable[[float], None] | None = None) -> Plans:
    """Answers for all returns of a song, each with another last change; nothing is changed.

    Parameters
    ----------
    progress : is told the share that is done, 0 to 1.

    Raises
    ------
    UsageError
        When the song has no return that may change, or the count is none.
    """
    if count < 1:
        raise UsageError("at least one plan can be asked for", found=str(count))
    planner = Planner(sheet.song, arranged(sheet), Trier(sheet.profile), sheet.key_map, progress)
    if not planner.open_returns:
        fixed = "every return is fixed" if planner.returns else "no part with a groove is played a second time"
        raise UsageError(f"the song has no return to plan: {fixed}", file=sheet.path)
    chosen, notes = _chosen(list(planner.plans()), count), []
    if len(chosen) < count:
        wash = planner.wash_now
        if wash > Arc(planner.arrangement, 0).bars_to_wash:
            looser = _chosen(list(planner.plans(wash)), count)
            if len(looser) > len(chosen):
                chosen = looser
                notes.append(f"crash and china may ride in {wash} bars here, as in the sheet: over a third of the song")
    if len(chosen) < count:
        notes.append(f"{_number(len(chosen))} the arc of the song and can be played by this drummer")
    return Plans(tuple(chosen), tuple(notes))


def _number(plans: int) -> str:
    return "no plan keeps" if not plans else "only one plan keeps" if plans == 1 else f"only {plans} plans keep"


def _chosen(found: list[Plan], count: int) -> list[Plan]:
    """Plans as unlike one another as may be, with different kinds of last change where there are so many."""
    distances = np.array([_unlike(one, other) for one in found for other in found]).reshape(len(found), len(found))
    kinds = np.array([row.kind for row in found])
    chosen = spread(distances * (kinds[:, None] != kinds), count, LEAST_UNLIKE)
    if len(chosen) < count:  # fewer kinds than were asked for: the same kind twice is better than none
        chosen = spread(distances, count, LEAST_UNLIKE)
    return [found[one] for one in chosen]


def _unlike(one: Plan, other: Plan) -> float:
    """How far two plans are apart over all returns; 0 where the last change is the same."""
    last = (own_strokes(row.arrangement.sections[row.last]) for row in (one, other))
    if not difference(*last).distance:
        return 0.0
    return difference(one.strokes, other.strokes).distance


def take_plan(sheet: Sheet, found: Plans, number: int) -> str:
    """The sheet's text with one of its plans taken.

    Raises
    ------
    UsageError
        When there are not so many plans.
    """
    chosen = found.plans[numbered("plan", number, len(found.plans))]
    changes: Changes = {}
    for back in chosen.returns.values():
        if back.index in chosen.givens:
            changes |= entry_changes(back, chosen.givens[back.index], chosen.arrangement)
    return taken_text(sheet, changes, chosen.arrangement)
