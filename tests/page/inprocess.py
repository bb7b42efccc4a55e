"""What the server's tests share: the page's application without a socket, on a sheet of a temporary folder."""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx

from grooveforge.page.app import page_app
from grooveforge.page.security import Guard
from grooveforge.page.session import Session
from tests.sheet_parts import PLAIN

PORT = 8123
ADDRESS = f"http://127.0.0.1:{PORT}"
TOKEN = "a token of the tests"

SHEET = """\
# The lamp keepers' song.
title = "Lamp Keepers"
tempo = 120
form = [
  "verse",                         # first
  "chorus",
  "verse",
  { part = "chorus", name = "last chorus", feel = "half" },
]

""" + PLAIN + """
[parts.verse]
groove = "plain"
bars = 4
[parts.chorus]
groove = "plain"                   # the same, on the ride
bars = 4
timekeeper = ["ride", "crash"]
"""


class Inside(httpx.BaseTransport):
    """Requests that the application answers in this process; what fails in it is an answer of 500, as on a socket."""

    def __init__(self, app: Guard) -> None:
        self.app = httpx.ASGITransport(app, raise_app_exceptions=False)

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        with ThreadPoolExecutor(1) as aside:  # the browser tests keep a loop of their own in this thread
            return aside.submit(asyncio.run, self._answer(request)).result()

    async def _answer(self, request: httpx.Request) -> httpx.Response:
        answer = await self.app.handle_async_request(request)
        return httpx.Response(answer.status_code, headers=answer.headers, content=await answer.aread())


@dataclass
class Desk:
    """A page on a sheet: the session, the application, and a client that speaks as the page does."""

    path: Path
    session: Session
    app: Guard
    client: httpx.Client

    def get(self, address: str, **headers: str) -> httpx.Response:
        return self.client.get(address, headers=headers)

    def post(self, address: str, body: object | None = None, **headers: str) -> httpx.Response:
        """A write as the page sends it; headers (with _ for -) replace its own."""
        own = {"X-Token": TOKEN, "Origin": ADDRESS} | {name.replace("_", "-"): text for name, text in headers.items()}
        return self.client.post(address, json={} if body is None else body, headers=own)

    def state(self) -> dict[str, Any]:
        state: dict[str, Any] = self.get("/api/state").json()
        return state

    def change(self, section: int, key: str, value: object) -> dict[str, Any]:
        answer = self.post("/api/change", {"section": section, "key": key, "value": value})
        assert answer.status_code == 200, answer.text
        state: dict[str, Any] = answer.json()
        return state


def desk(folder: Path, text: str = SHEET, name: str = "lamp-keepers.toml") -> Desk:
    """A page on a sheet of this text."""
    path = folder / name
    path.write_bytes(text.encode())
    session = Session(path, path.read_bytes())
    app = page_app(session, PORT, TOKEN)
    return Desk(path, session, app, httpx.Client(transport=Inside(app), base_url=ADDRESS))
