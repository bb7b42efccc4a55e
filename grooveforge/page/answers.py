"""Options for a return and plans for the song, as the page asks for them: one at a time, the last ones kept."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable

from grooveforge.page.session import Session
from grooveforge.page.wire import compact
from grooveforge.project.choices import MEDIUM
from grooveforge.project.options import options_at
from grooveforge.project.planning import plan

MOST_OPTIONS = 12
KEPT_ANSWERS = 16

PLANS = 3

Question = tuple[object, ...]


class Answers:
    """What a session's song could do otherwise; worked out beside the session, so that editing goes on meanwhile."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.lock = threading.Lock()
        self.kept: OrderedDict[Question, bytes] = OrderedDict()

    def options(self, section: int, amount: str = MEDIUM, count: int = 5) -> bytes:
        """Ranked differences for a section, as `options --json` gives them.

        Raises
        ------
        GrooveForgeError
            When the section is no return, or the amount is none.
        """
        sheet, entry, name = self.session.place(section)
        count = max(1, min(count, MOST_OPTIONS))
        return self._asked(
            (sheet.text, section, amount, count),
            lambda: {"index": section, **options_at(sheet, entry, name, amount, count).facts()},
        )

    def plan(self) -> bytes:
        """Whole-song answers, as `plan --json` gives them; each lists the song's sections in order.

        Raises
        ------
        GrooveForgeError
            When the song has no return that may change.
        """
        sheet = self.session.sheet
        return self._asked((sheet.text,), lambda: plan(sheet, PLANS).facts())

    def _asked(self, question: Question, work: Callable[[], dict[str, object]]) -> bytes:
        with self.lock:
            answer = self.kept.pop(question, None) or compact(work())
            self.kept[question] = answer
            while len(self.kept) > KEPT_ANSWERS:
                self.kept.popitem(last=False)
            return answer
