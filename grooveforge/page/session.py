"""One song sheet under the page: its text is the one truth, and every edit is an edit of that text.

A faulty text is refused and the last good song stays in force. The file on disk is written by `save` alone, and
never over a change that something else made to it, unless the user says so.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping
from pathlib import Path

from grooveforge import files
from grooveforge.errors import FileError, GrooveForgeError
from grooveforge.formats.sheetedit import DELETE, set_keys
from grooveforge.page.faults import RefusedError, refusal, sheet_refusal
from grooveforge.page.history import History
from grooveforge.page.sheet_file import SheetFile
from grooveforge.page.songs import Checks, Song, Songs
from grooveforge.page.wire import compact
from grooveforge.project.sheets import Sheet

CAUTIONS = (
    "Protect your ears: check the volume before you play.",
    "Extreme parts can strain wrists and ankles: start slowly, warm up, stop when it hurts, and see a teacher or a "
    "physician.",
)

Keys = tuple[str | int, ...]


class Session:
    """The sheet that the page has open.

    Parameters
    ----------
    path : where the sheet is, or where `save` is to write it. data : its bytes.
    there : whether the file exists; a sheet without one is written by the first save.

    Raises
    ------
    GrooveForgeError
        When the sheet has faults.
    """

    def __init__(self, path: Path, data: bytes, there: bool = True) -> None:
        self.file = SheetFile(path, data, there)
        self.lock = threading.RLock()
        self.revision = 1
        self.history = History()
        self.songs = Songs(self.path)
        self.checks = Checks()
        self.text = files.decode(data)
        self.song = self.worked_out(self.text)
        self._state: tuple[tuple[object, ...], bytes] | None = None

    @property
    def path(self) -> Path:
        return self.file.path

    @property
    def name(self) -> str:
        return self.path.name

    # -- reading ----------------------------------------------------------------------------------------

    def worked_out(self, text: str) -> Song:
        """The song of a text; raises its faults."""
        with self.lock:
            return self.songs.of(text, self.file.mark)

    def refused(self, error: GrooveForgeError, status: int = 422, text: str | None = None) -> RefusedError:
        """An error as the page is told it; the sheet's own faults stand without its name."""
        return sheet_refusal(error, str(self.path), status, text)

    @property
    def title(self) -> str:
        return self.sheet.song.title

    @property
    def sheet(self) -> Sheet:
        """The sheet in force, named as its file is."""
        return self.song.shown.sheet

    @property
    def saved(self) -> bool:
        return self.file.base == self.file.bytes_of(self.text)

    def state(self) -> bytes:
        """All that the page shows, as JSON; the same bytes as long as nothing moves."""
        with self.lock:
            key = (self.revision, self.saved, self.file.changed, self.song.findings is None)
            if self._state is None or self._state[0] != key:
                self._state = (key, self._state_now(key[2]))
            return self._state[1]

    def _state_now(self, on_disk_changed: bool) -> bytes:
        head = {
            "revision": self.revision,
            "file": self.name,
            "title": self.title,
            "text": _one_newline(self.text),
            "saved": self.saved,
            "on_disk_changed": on_disk_changed,
            "can_undo": bool(self.history.behind),
            "can_redo": bool(self.history.ahead),
            "warnings": self.song.warnings,
            "cautions": list(CAUTIONS),
            "findings_known": self.song.findings is not None,
        }
        return compact(head)[:-1] + b',"song":' + self.song.view + b"}"

    def news(self, revision: int) -> bytes:
        """A short answer when a page knows this revision already, else the state."""
        with self.lock:
            if revision != self.revision:
                return self.state()
            return compact(
                {
                    "unchanged": True,
                    "revision": revision,
                    "saved": self.saved,
                    "on_disk_changed": self.file.changed,
                }
            )

    def findings(self) -> bytes:
        """What no one can play of the song in force, as JSON, with the revision that it is of."""
        with self.lock:
            revision, song = self.revision, self.song
        return b'{"revision":%d,"findings":' % revision + self.checks.findings(song) + b"}"

    # -- editing ----------------------------------------------------------------------------------------

    def set_text(self, text: str) -> None:
        """Take a text as typed.

        Raises
        ------
        RefusedError
            When it has faults.
        """
        with self.lock:
            if text == _one_newline(self.text):
                return
            try:
                self.edit(text.replace("\n", "\r\n") if "\r\n" in self.text else text)
            except GrooveForgeError as error:
                raise self.refused(error, text=text) from error

    def edit(self, text: str) -> None:
        """Put another text in force; raises its faults."""
        song = self.worked_out(text)
        if text != self.text:
            self.history.edited(self.text)
            self._put(text, song)

    def _put(self, text: str, song: Song) -> None:
        self.text, self.song = text, song
        self.revision += 1

    def change(self, path: Keys, changes: Mapping[str, object]) -> None:
        """Set keys of one table of the sheet; None takes a key away."""
        with self.lock:
            self.change_all({path: changes})

    def change_all(self, changes: Mapping[Keys, Mapping[str, object]]) -> None:
        """Set keys of several tables in one step."""
        with self.lock:
            try:
                self.edit(self.changed(changes))
            except GrooveForgeError as error:
                raise self.refused(error) from error

    def changed(self, changes: Mapping[Keys, Mapping[str, object]]) -> str:
        """The text with keys of several tables set."""
        rows = {
            (*path, key): DELETE if value is None else _exact(value)
            for path, table in changes.items()
            for key, value in table.items()
        }
        return set_keys(self.text, rows)

    def place(self, section: int) -> tuple[Sheet, int, str]:
        """The sheet in force, and a section's entry of the form and its name."""
        with self.lock:
            return self.sheet, self.entry_of(section), self.song.shown.arrangement.sections[section].name

    def entry_of(self, section: int) -> int:
        """The entry of the form that a section of the song is a statement of."""
        rows = [index for index, entry in enumerate(self.song.shown.sheet.song.form) for _ in range(entry.repeat)]
        if not 0 <= section < len(rows):
            raise refusal(400, "the song has no such section", found=str(section), allowed=f"0 to {len(rows) - 1}")
        return rows[section]

    def heard(self, changes: Mapping[Keys, Mapping[str, object]]) -> Song:
        """What the song would be with some keys set; nothing is kept."""
        with self.lock:
            try:
                return self.worked_out(self.changed(changes))
            except GrooveForgeError as error:
                raise self.refused(error) from error

    # -- back and forth ---------------------------------------------------------------------------------

    def undo(self) -> None:
        """Take back the last edit; nothing where there is none."""
        with self.lock:
            self._stepped(self.history.undone(self.text))

    def redo(self) -> None:
        """Do again what was undone; nothing where there is none."""
        with self.lock:
            self._stepped(self.history.redone(self.text))

    def _stepped(self, text: str | None) -> None:
        if text is not None:
            try:
                self._put(text, self.worked_out(text))
            except GrooveForgeError as error:  # a file that the sheet names has changed since
                raise self.refused(error) from error

    # -- the file ---------------------------------------------------------------------------------------

    def save(self, force: bool = False) -> None:
        """Write the text into the file; the command `undo` can take it back.

        Raises
        ------
        RefusedError
            When something else changed the file and `force` is off, or the disk refuses.
        """
        with self.lock:
            if self.file.changed and not force:
                raise refusal(
                    409,
                    f"{self.name} was changed on disk by something else; nothing was written",
                    page=files.digest(self.file.bytes_of(self.text)),
                    disk=self.file.digest,
                )
            try:
                self.file.write(self.text, force)
            except FileError as error:
                conflict = "changed on disk" in str(error) or "did not write" in str(error)
                raise self.refused(error, 409 if conflict else 422) from error
            self.revision += 1

    def reload(self) -> None:
        """Read the file again; undo brings the text of the page back.

        Raises
        ------
        RefusedError
            When the file cannot be read or has faults; the last good song stays.
        """
        with self.lock:
            try:
                data = self.file.read()
                self.edit(files.decode(data))
            except GrooveForgeError as error:
                raise self.refused(error) from error
            self.file.taken(data)
            self.revision += 1


def _one_newline(text: str) -> str:
    """A text as a browser holds it: with plain line feeds."""
    return text.replace("\r\n", "\n")


def _exact(value: object) -> object:
    """A JSON value for a sheet: a whole number has no decimal point."""
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value
