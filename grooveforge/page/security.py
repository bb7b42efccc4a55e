"""What stands in front of every answer: who may ask, what may be sent, and what the browser may do with it.

The server listens on loopback, but any page in the user's browser can knock there. So: the Host must be this very
address (a foreign name that resolves to loopback is refused), what changes something must come from the page itself
(Origin, and a token that only the page was given), and bodies are cut off before they are read.
"""

from __future__ import annotations

from collections.abc import Iterable
from secrets import compare_digest

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from grooveforge.page.faults import RefusedError, refusal
from grooveforge.page.wire import compact

MOST_BODY = 2 * 2**20
"""Bytes of a request's body (house rule: a sheet of 10,000 bars is smaller)."""

READING = ("GET", "HEAD")

CONTENT_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; media-src 'self' blob: data:; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)


def policy_with(script: str, style: str) -> str:
    """The policy for a page whose own script and style stand inside it, named by their hashes."""
    return CONTENT_POLICY.replace("script-src 'self'", f"script-src 'self' {script}").replace(
        "style-src 'self'", f"style-src 'self' {style}"
    )


HEADERS: tuple[tuple[bytes, bytes], ...] = (
    (b"content-security-policy", CONTENT_POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
)
"""Content Security Policy Level 3, Fetch (nosniff), HTML (opener policy), Fetch (resource policy)."""


class Guard:
    """ASGI middleware that refuses what does not come from the page.

    Parameters
    ----------
    port : that the server listens on. token : that a write must carry.
    """

    def __init__(self, app: ASGIApp, port: int, token: str) -> None:
        self.app, self.token = app, token
        self.hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}
        if port == 80:
            self.hosts |= {"127.0.0.1", "localhost"}
        self.origins = {f"http://{host}" for host in self.hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return  # no other kind of talk is spoken here
        try:
            self.check(scope)
            await self.app(scope, _limited(receive), _with_headers(send))
        except RefusedError as refused:
            await _refuse(refused, _with_headers(send))

    def check(self, scope: Scope) -> None:
        """Refuse a foreign Host, a foreign Origin, a write without the token, a body that is too large or no JSON."""
        headers = [(name.lower(), value.decode("latin-1")) for name, value in scope["headers"]]
        hosts = _values(headers, b"host")
        if len(hosts) != 1 or hosts[0].lower() not in self.hosts:
            raise refusal(403, "this server answers to its own address alone")
        if any(origin not in self.origins for origin in _values(headers, b"origin")):
            raise refusal(403, "only the page itself may ask")
        site = _values(headers, b"sec-fetch-site")
        if scope["method"] in READING:
            navigating = "navigate" in _values(headers, b"sec-fetch-mode") and scope["path"] == "/"
            if any(one in ("cross-site", "same-site") for one in site) and not navigating:
                raise refusal(403, "only the page itself may ask")
            return
        if any(one != "same-origin" for one in site):
            raise refusal(403, "only the page itself may write")
        tokens = _values(headers, b"x-token")
        if len(tokens) != 1 or not compare_digest(tokens[0].encode(), self.token.encode()):
            raise refusal(403, "the page is of an earlier run; load it again")
        sizes = _values(headers, b"content-length")
        if any(not size.isdecimal() or len(size) > 12 or int(size) > MOST_BODY for size in sizes):
            raise refusal(413, "too much was sent", allowed=f"{MOST_BODY} bytes")
        kinds = [kind.partition(";")[0].strip().lower() for kind in _values(headers, b"content-type")]
        if kinds != ["application/json"]:
            raise refusal(415, "writes are JSON")


def _values(headers: Iterable[tuple[bytes, str]], name: bytes) -> list[str]:
    return [value.strip() for key, value in headers if key == name]


def _limited(receive: Receive) -> Receive:
    """A body that says no length is counted as it comes."""
    taken = 0

    async def counted() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > MOST_BODY:
            raise refusal(413, "too much was sent", allowed=f"{MOST_BODY} bytes")
        return message

    return counted


def _with_headers(send: Send) -> Send:
    async def sent(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = list(message.get("headers", []))
            own = {name.lower() for name, _ in headers}  # the page itself brings a policy with its script's hash
            headers += [row for row in HEADERS if row[0] not in own]
            if not any(name.lower() == b"cache-control" for name, _ in headers):
                headers.append((b"cache-control", b"no-store"))
            message = {**message, "headers": headers}
        await send(message)

    return sent


async def _refuse(refused: RefusedError, send: Send) -> None:
    body = compact(refused.body)
    headers = [
        (b"content-type", b"application/json"),
        (b"content-length", str(len(body)).encode()),
        (b"connection", b"close"),  # what is left of a refused body is not read
    ]
    await send({"type": "http.response.start", "status": refused.status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
