"""The page's addresses: each reads what it needs, asks the session, and answers with its state."""

from __future__ import annotations

import json
from collections.abc import Awaitable, Callable, Mapping
from urllib.parse import quote

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from grooveforge.errors import GrooveForgeError
from grooveforge.page.answers import Answers
from grooveforge.page.assets import KINDS, Asset, Assets
from grooveforge.page.downloads import DOWNLOADS
from grooveforge.page.faults import RefusedError, refusal, sheet_refusal
from grooveforge.page.security import Guard, policy_with
from grooveforge.page.session import Session
from grooveforge.page.tables import tables
from grooveforge.page.wire import compact
from grooveforge.page.writes import WRITES, Body, Write
from grooveforge.project.choices import MEDIUM

LONGEST_NUMBER = 9
"""Figures of a number in an address."""


class App:
    """The addresses over one session, without the guard."""

    def __init__(self, session: Session, assets: Assets, token: str) -> None:
        self.session, self.assets, self.token = session, assets, token
        self.answers = Answers(session)
        self.tables = compact(tables())
        self._index: tuple[bytes, bytes] = b"", b""

    def routes(self) -> list[Route]:
        """Every address."""
        return [
            Route("/", self.index),
            Route("/static/{name}", self.static),
            Route("/api/state", self.state),
            Route("/api/tables", self.all_tables),
            Route("/api/findings", self.findings),
            Route("/api/options", self.options),
            Route("/api/plan", self.plan),
            Route("/api/download/{name}", self.download),
            *(Route(f"/api/{name}", self.writer(write), methods=["POST"]) for name, write in WRITES.items()),
        ]

    # -- reading (each runs in a thread of its own) -------------------------------------------------------

    def index(self, _: Request) -> Response:
        state = self.session.state()
        if self._index[0] is not state:
            opening = b'{"state":' + state + b',"tables":' + self.tables + b"}"
            self._index = state, self.assets.index(self.token, opening, self.session.title)
        policy = policy_with(*self.assets.inside.hashes)
        return Response(self._index[1], media_type=KINDS[".html"], headers={"Content-Security-Policy": policy})

    def static(self, request: Request) -> Response:
        asset = self.assets.named(request.path_params["name"])
        if asset is None:
            raise refusal(404, "there is no such file")
        return _file(asset, request)

    def state(self, request: Request) -> Response:
        known = request.query_params.get("revision", "")
        return _json(self.session.news(_whole(request.query_params, "revision")) if known else self.session.state())

    def all_tables(self, _: Request) -> Response:
        return _json(self.tables)

    def findings(self, _: Request) -> Response:
        return _json(self.session.findings())

    def options(self, request: Request) -> Response:
        asked = request.query_params
        amount = asked.get("amount", MEDIUM)
        try:
            return _json(self.answers.options(_whole(asked, "section"), amount, _whole(asked, "count", 5)))
        except GrooveForgeError as error:
            raise self.session.refused(error) from error

    def plan(self, _: Request) -> Response:
        try:
            return _json(self.answers.plan())
        except GrooveForgeError as error:
            raise self.session.refused(error) from error

    def download(self, request: Request) -> Response:
        name = request.path_params["name"]
        if name not in DOWNLOADS:
            raise refusal(404, "there is nothing of that name", allowed=", ".join(DOWNLOADS))
        try:
            made = DOWNLOADS[name](self.session.sheet)
        except GrooveForgeError as error:
            raise self.session.refused(error) from error
        plain = made.name.encode("ascii", "replace").decode().replace("?", "_").replace('"', "_").replace("\\", "_")
        said = f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(made.name, safe='')}"
        return Response(made.data, media_type=made.kind, headers={"Content-Disposition": said})

    # -- writing ----------------------------------------------------------------------------------------

    def writer(self, write: Write) -> Callable[[Request], Awaitable[Response]]:
        async def answer(request: Request) -> Response:
            body = _body(await request.body())
            return _json(await run_in_threadpool(self._written, write, body))

        return answer

    def _written(self, write: Write, body: Body) -> bytes:
        own = write(self.session, body)
        return self.session.state() if own is None else own


def _whole(asked: Mapping[str, str], name: str, default: int | None = None) -> int:
    """A whole number of an address."""
    said = asked.get(name, "")
    if not said and default is not None:
        return default
    if not said.isascii() or not said.isdecimal() or len(said) > LONGEST_NUMBER:
        raise refusal(400, f"{name} is a whole number", found=said[:80])
    return int(said)


def _json(data: bytes, status: int = 200) -> Response:
    return Response(data, status, media_type="application/json")


def _file(asset: Asset, request: Request) -> Response:
    headers = {"ETag": asset.tag, "Cache-Control": "no-cache"}
    if request.headers.get("if-none-match") == asset.tag:
        return Response(status_code=304, headers=headers)
    return Response(asset.data, media_type=asset.kind, headers=headers)


def _body(data: bytes) -> Body:
    try:
        body = json.loads(data or b"{}")
    except (ValueError, RecursionError) as error:
        raise refusal(400, "this is no JSON") from error
    if not isinstance(body, dict):
        raise refusal(400, "a JSON object is needed")
    return body


async def _refused(_: Request, error: Exception) -> Response:
    assert isinstance(error, RefusedError)
    return _json(compact(error.body), error.status)


async def _fault(_: Request, error: Exception) -> Response:
    assert isinstance(error, GrooveForgeError)
    return _json(compact(sheet_refusal(error, "", 422).body), 422)


async def _unknown(_: Request, error: Exception) -> Response:
    status = getattr(error, "status_code", 404)
    return _json(compact(refusal(status, "there is no such address").body), status)


def page_app(session: Session, port: int, token: str, assets: Assets | None = None) -> Guard:
    """The page over a session, guarded, as an ASGI application.

    Parameters
    ----------
    port : that it is served on, for the Host and Origin checks. token : that writes must carry.
    """
    app = App(session, assets or Assets(), token)
    handlers = {RefusedError: _refused, GrooveForgeError: _fault, 404: _unknown, 405: _unknown}
    return Guard(Starlette(routes=app.routes(), exception_handlers=handlers), port, token)
