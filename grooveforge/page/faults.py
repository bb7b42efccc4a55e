"""Errors as the page shows them: message, line and column in the sheet, what was found, what may stand there."""

from __future__ import annotations

import re

from grooveforge.errors import Fault, GrooveForgeError

_LINE = re.compile(r"\bline (\d+)")
_COLUMN = re.compile(r"\bcolumn (\d+)")
MOST_SHOWN = 20


class RefusedError(Exception):
    """What the page refuses: a status of HTTP, and the fault that is shown."""

    def __init__(self, status: int, fault: dict[str, object], more: dict[str, object] | None = None) -> None:
        super().__init__(str(fault.get("message", "")))
        self.status = status
        self.body: dict[str, object] = {"error": fault, **(more or {})}


def refusal(status: int, message: str, **more: object) -> RefusedError:
    """A refusal in one sentence."""
    return RefusedError(status, {"message": message, "line": None, "column": None, **more})


def sheet_refusal(error: GrooveForgeError, file: str, status: int, text: str | None = None) -> RefusedError:
    """A fault of the sheet, or of a file that it names.

    Parameters
    ----------
    file : the sheet as errors name it; a fault of any other file says which.
    text : as it was sent.
    """
    rows = [fault_facts(fault, file) for fault in error.faults[:MOST_SHOWN]]
    more: dict[str, object] = {} if text is None else {"text": text}
    return RefusedError(status, {**rows[0], "faults": rows[1:]}, more)


def fault_facts(fault: Fault, file: str) -> dict[str, object]:
    """One fault as plain values; a place without a line stays in front of the message."""
    here = fault.file in ("", file)
    line, column = _LINE.search(fault.place), _COLUMN.search(fault.place)
    said = [] if here else [fault.file]
    if fault.place and not (here and line):
        said.append(fault.place)
    return {
        "message": ": ".join([*said, fault.message]),
        "line": int(line[1]) if line and here else None,
        "column": int(column[1]) if column and here else None,
        "found": fault.found,
        "allowed": fault.allowed,
        "hint": fault.hint,
    }
