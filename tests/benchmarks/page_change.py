"""How soon the page's server answers a change of feel in a 200-bar song, beside mido building and saving that song;
and what a thousand edits do to its memory."""

from __future__ import annotations

import json
import re
import tempfile
import time
from collections.abc import Iterator
from http.client import HTTPConnection
from itertools import cycle, product
from pathlib import Path
from statistics import median

from grooveforge.project.sheets import song_from
from tests.benchmarks.page_paint import SHEET
from tests.benchmarks.render_song import by_mido, notes_of, to_bytes
from tests.benchmarks.timing import Row
from tests.page.browsing import Served, serving

FEELS = ("half", "double", "quarter", "blast", "full")
SECTIONS = (0, 4, 8)
"""Every pair is asked for once, so that no answer was worked out before."""

MICROSECONDS = 333_333
"""A quarter note of the song, 180 a minute."""


def asked(connection: HTTPConnection, method: str, path: str, body: object = None, token: str = "") -> bytes:
    headers = {"X-Token": token, "Content-Type": "application/json"} if token else {}
    connection.request(method, path, json.dumps(body) if token else None, headers)
    answer = connection.getresponse()
    data = answer.read()
    assert answer.status == 200, data[:300]
    return data


WARM, EDITS = 200, 1000
HANDS = ("ride", "china", "crash", "closed hi-hat", "open hi-hat", "ride bell", "floor tom")


def change(connection: HTTPConnection, token: str, section: int, key: str, value: str) -> bytes:
    return asked(connection, "POST", "/api/change", {"section": section, "key": key, "value": value}, token)


def opened(served: Served) -> tuple[HTTPConnection, str]:
    """A connection to a page, and the token that its writes carry."""
    connection = HTTPConnection("127.0.0.1", served.port)
    found = re.search(rb'name="token" content="([^"]+)"', asked(connection, "GET", "/"))
    assert found is not None
    return connection, found[1].decode()


def megabytes(served: Served) -> float:
    """What the server's process holds in memory (Linux: VmRSS of proc(5))."""
    status = Path(f"/proc/{served.process.pid}/status").read_text(encoding="utf-8")
    return int(re.findall(r"VmRSS:\s+(\d+) kB", status)[0]) / 1024


def change_row(folder: Path) -> Row:
    notes = notes_of(to_bytes(song_from(SHEET, "two-hundred.toml")))
    assert len(notes) > 4700, len(notes)
    ours, theirs = [], []
    with serving(folder, "two-hundred.toml", SHEET) as served:
        connection, token = opened(served)
        for feel, section in product(FEELS, SECTIONS):
            start = time.perf_counter()
            data = change(connection, token, section, "feel", feel)
            ours.append(time.perf_counter() - start)
            assert len(json.loads(data)["song"]["bars"]) == 200
            start = time.perf_counter()
            by_mido(notes, MICROSECONDS)
            theirs.append(time.perf_counter() - start)
        connection.close()
    return Row("a change of feel on the page, 200 bars", median(ours), "mido build and save", median(theirs), goal=1.0)


def memory_row(folder: Path) -> Row:
    choices = cycle(product((3, 4, 6, 8), (("feel", feel) for feel in FEELS)))
    with serving(folder) as served:
        connection, token = opened(served)
        warm = 0.0
        for number, ((section, (key, value)), hand) in enumerate(zip(choices, cycle(HANDS)), 1):
            change(connection, token, section, key, value)
            change(connection, token, section, "timekeeper", hand)
            if number % 20 == 0:
                asked(connection, "GET", "/api/findings")
            if 2 * number == WARM:
                warm = megabytes(served)
            if 2 * number == EDITS:
                break
        connection.close()
        full = megabytes(served)
    return Row("memory of the page's server after 1,000 edits", full, "after 200 edits", warm, goal=1.1, unit="MB")


def rows() -> Iterator[Row]:
    for row in (change_row, memory_row):
        with tempfile.TemporaryDirectory() as folder:
            yield row(Path(folder))
