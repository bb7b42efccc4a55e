"""The page's addresses: each reads what it needs, asks the session, and answers with its state."""

from __future__ import annotations

import json
from collections.abc import Awaitable, Callable, Mapping
from typing import cast
from urllib.parse import quote

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from grooveforge.errors import GrooveForgeError
from grooveforge.formats import keys
from grooveforge.page.answers import Answers
from grooveforge.page.assets import KINDS, Asset, Assets
from grooveforge.page.downloads import DOWNLOADS
from grooveforge.page.faults import RefusedError, refusal, sheet_refusal
from grooveforge.page.security import Guard, policy_with
from grooveforge.page.session import Keys, Session
from grooveforge.page.tables import tables
from grooveforge.page.wire import compact
from grooveforge.project.choices import MEDIUM

LONGEST_NUMBER = 9
"""Figures of a number in an address."""

Body = dict[str, object]
Write = Callable[[Session, Body], bytes | None]
"""A write on a session; it answers with the state, or with bytes of its own."""

MOST_KEYS = 200
"""Keys of one request that changes some."""


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


# -- what writes do --------------------------------------------------------------------------------------


def _text(session: Session, body: Body) -> None:
    text = body.get("text")
    if not isinstance(text, str):
        raise refusal(400, "a text is needed", allowed='{"text": "..."}')
    session.set_text(text)


def _change(session: Session, body: Body) -> None:
    place, path = _target(session, body)
    key = body.get("key")
    if not isinstance(key, str) or key not in keys.keys_at(place):
        allowed = ", ".join(keys.keys_at(place))
        raise refusal(400, f"{keys.PLACES[place]} has no such key", found=str(key)[:80], allowed=allowed)
    session.change(path, {key: body.get("value")})


def _target(session: Session, body: Body) -> tuple[str, Keys]:
    """What a change is for: an entry of the form, a part, or the song; and its key path."""
    part = body.get("part")
    if "section" in body:
        return keys.ENTRY, ("form", session.entry_of(_number(body, "section")))
    if isinstance(part, str):
        if part not in session.song.shown.sheet.song.parts:
            raise refusal(400, "no part has this name", found=part[:80])
        return keys.PART, ("parts", part)
    if body.get("song") is True:
        return keys.SONG, ()
    raise refusal(400, "a change is for a section, a part or the song")


def _number(body: Mapping[str, object], name: str) -> int:
    value = body.get(name)
    if not isinstance(value, int) or isinstance(value, bool):
        raise refusal(400, f"{name} is a whole number", found=str(value)[:80])
    return value


def _undo(session: Session, _: Body) -> None:
    session.undo()


def _redo(session: Session, _: Body) -> None:
    session.redo()


def _save(session: Session, body: Body) -> None:
    session.save(body.get("force") is True)


def _reload(session: Session, _: Body) -> None:
    session.reload()


def _wanted(session: Session, body: Body) -> dict[Keys, Mapping[str, object]]:
    """The changes of an option (one section) or of a plan (all of them, in order of the song), by key path."""
    rows = body.get("sections")
    listed = [(_number(body, "section"), body.get("changes"))] if "section" in body else []
    if isinstance(rows, list):
        listed = [(_place(row, index), row.get("changes")) for index, row in enumerate(rows) if isinstance(row, dict)]
    found: dict[Keys, Mapping[str, object]] = {}
    for section, changes in listed:
        if not isinstance(changes, dict) or len(changes) > MOST_KEYS:
            raise refusal(400, "changes are keys with their values")
        unknown = [key for key in changes if key not in keys.keys_at(keys.ENTRY)]
        if unknown:
            raise refusal(400, "a form entry has no such key", found=unknown[0][:80])
        if changes:
            found["form", session.entry_of(section)] = cast("Mapping[str, object]", changes)
    if not listed:
        raise refusal(400, "a section with changes is needed, or sections")
    return found


def _place(row: Mapping[str, object], index: int) -> int:
    return _number(row, "index") if "index" in row else index


def _take(session: Session, body: Body) -> None:
    session.change_all(_wanted(session, body))


def _hear(session: Session, body: Body) -> bytes:
    return b'{"song":' + session.heard(_wanted(session, body)).view + b"}"


WRITES: dict[str, Write] = {
    "text": _text,
    "change": _change,
    "undo": _undo,
    "redo": _redo,
    "save": _save,
    "reload": _reload,
    "hear": _hear,
    "take": _take,
    "take-plan": _take,
}
"""Addresses that change something, below /api/."""


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
