"""How soon the page's server answers a change of feel in a 200-bar song, beside mido building and saving that song."""

from __future__ import annotations

import json
import re
import tempfile
import time
from collections.abc import Iterator
from http.client import HTTPConnection
from itertools import product
from pathlib import Path
from statistics import median

from grooveforge.project.sheets import song_from
from tests.benchmarks.page_paint import SHEET
from tests.benchmarks.render_song import by_mido, notes_of, to_bytes
from tests.benchmarks.timing import Row
from tests.page.browsing import serving

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


def rows() -> Iterator[Row]:
    song = song_from(SHEET, "two-hundred.toml")
    notes = notes_of(to_bytes(song))
    assert len(notes) > 4700, len(notes)
    with tempfile.TemporaryDirectory() as folder, serving(Path(folder), "two-hundred.toml", SHEET) as served:
        connection = HTTPConnection("127.0.0.1", served.port)
        found = re.search(rb'name="token" content="([^"]+)"', asked(connection, "GET", "/"))
        assert found is not None
        token = found[1].decode()
        ours, theirs = [], []
        for feel, section in product(FEELS, SECTIONS):
            start = time.perf_counter()
            data = asked(connection, "POST", "/api/change", {"section": section, "key": "feel", "value": feel}, token)
            ours.append(time.perf_counter() - start)
            assert len(json.loads(data)["song"]["bars"]) == 200
            start = time.perf_counter()
            by_mido(notes, MICROSECONDS)
            theirs.append(time.perf_counter() - start)
        connection.close()
    yield Row("a change of feel on the page, 200 bars", median(ours), "mido build and save", median(theirs), goal=1.0)
