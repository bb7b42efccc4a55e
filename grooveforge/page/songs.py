"""Songs worked out for the page: each text's view as JSON, the last few kept; what no one can play, when asked."""

from __future__ import annotations

import threading
from collections import OrderedDict
from pathlib import Path

from grooveforge import files
from grooveforge.analysis.limbs import Player
from grooveforge.analysis.playability import check
from grooveforge.page.confine import check_inside
from grooveforge.page.view import Shown
from grooveforge.page.wire import compact
from grooveforge.project.checking import performance_to_check
from grooveforge.project.sheets import sheet_from

KEPT_SONGS, KEPT_BYTES = 8, 32_000_000
"""Songs kept worked out, and the bytes of their views, so that going back and forth between two answers is quick."""


class Song:
    """A sheet's text worked out, with its view as JSON; findings come when they are asked for, as they take a while."""

    def __init__(self, shown: Shown) -> None:
        self.shown = shown
        sheet = shown.sheet
        said = (*sheet.warnings, *sheet.key_map.remarks, *shown.replacements, *shown.arrangement.notes)
        self.warnings = list(map(str, said))
        self.drawn = compact(shown.view())
        self.findings: bytes | None = None

    @property
    def view(self) -> bytes:
        """The song as JSON, with its findings as far as they are known."""
        return self.drawn[:-1] + b',"findings":' + (self.findings or b"[]") + b"}"


class Songs:
    """The songs of a sheet's texts.

    Parameters
    ----------
    path : where the sheet is; what a text names is looked for there, and nowhere else.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.kept: OrderedDict[tuple[str, str], Song] = OrderedDict()

    def of(self, text: str, mark: bytes) -> Song:
        """The song of a text behind a byte order mark, or none; raises its faults."""
        key = text, self._changed_bars()
        found = self.kept.pop(key, None)
        if found is None:
            check_inside(text, self.path.parent)
            found = Song(Shown.of(sheet_from(mark + text.encode("utf-8", "replace"), str(self.path))))
        self.kept[key] = found
        while len(self.kept) > KEPT_SONGS or (len(self.kept) > 2 and self._kept_bytes() > KEPT_BYTES):
            self.kept.popitem(last=False)
        return found

    def _changed_bars(self) -> str:
        """A mark of the bars that a drummer changed: `merge` may write them while the page is open."""
        beside = files.changes_file(self.path)
        return files.digest(files.read_bytes(beside)) if beside.is_file() else ""

    def _kept_bytes(self) -> int:
        return sum(len(song.drawn) for song in self.kept.values())


class Checks:
    """What no one can play of songs, one at a time, by a drummer who remembers bars from one to the next."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.player: Player | None = None

    def findings(self, song: Song) -> bytes:
        """The findings of a song as JSON; they are kept with it."""
        with self.lock:
            if song.findings is None:
                song.findings = compact(self._checked(song.shown))
            return song.findings

    def _checked(self, shown: Shown) -> list[dict[str, object]]:
        profile = shown.sheet.profile
        if self.player is None or self.player.profile != profile:
            self.player = Player(profile)
        checked = check(performance_to_check(shown.arrangement), profile, player=self.player)
        return [row.facts() for row in checked.findings]
