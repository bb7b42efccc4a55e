"""Taking what was offered: the difference written into the sheet's text, every other byte as it was."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from grooveforge import files
from grooveforge.core.arrange import Arrangement
from grooveforge.errors import GrooveForgeError, MusicError, UsageError
from grooveforge.formats.entry_values import written
from grooveforge.formats.sheetedit import DELETE, Changes, set_keys
from grooveforge.project.returns import Return
from grooveforge.project.sheets import Sheet, arranged, data_with, sheet_from


def entry_changes(back: Return, given: Mapping[str, Any], arrangement: Arrangement) -> Changes:
    """What a choice changes in the sheet, by key path; a key that falls back to its part's goes.

    Parameters
    ----------
    arrangement : of the song with the choice taken.
    """
    values = written(back.changes(given), arrangement.sections[back.number])
    return {("form", back.index, key): DELETE if given[key] is None else value for key, value in values.items()}


def taken_text(sheet: Sheet, changes: Changes, arrangement: Arrangement) -> str:
    """The sheet's text with changes made.

    Parameters
    ----------
    arrangement : what was offered.

    Raises
    ------
    MusicError
        When the changed sheet would play anything else than what was offered.
    """
    text = set_keys(sheet.text, changes)
    try:
        made = arranged(sheet_from(text.encode(), sheet.path))
    except GrooveForgeError as error:
        raise MusicError("the sheet cannot hold this choice; nothing was changed", file=sheet.path) from error
    if [section.spans for section in made.sections] != [section.spans for section in arrangement.sections]:
        raise MusicError("the changed sheet would not play what was offered; nothing was changed", file=sheet.path)
    return text


def write_in_place(sheet: Sheet, text: str) -> None:
    """Replace a sheet on disk; `undo` takes it back byte for byte."""
    if sheet.path == files.STANDARD_STREAM:
        raise UsageError("a choice is written into the sheet, so it must be a file", found="-")
    files.change_in_place(sheet.path, sheet.data, data_with(sheet, text))


def numbered(what: str, number: int, count: int) -> int:
    """The index of what is taken by its number from 1.

    Raises
    ------
    UsageError
        When there are not so many.
    """
    if not 1 <= number <= count:
        allowed = f"1 to {count}" if count else "there is none"
        raise UsageError(f"no such {what}", found=str(number), allowed=allowed)
    return number - 1
