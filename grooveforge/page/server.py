"""The page on this machine: a socket on loopback, its address, and a server that ends with the terminal."""

from __future__ import annotations

import secrets
import socket
from collections.abc import Callable

import uvicorn

from grooveforge.errors import UsageError
from grooveforge.page.app import page_app
from grooveforge.page.session import Session

LOOPBACK = "127.0.0.1"
BACKLOG = 64
SECONDS_TO_END = 1
"""How long open answers may take when the page is stopped."""


def bound(port: int) -> socket.socket:
    """A socket on loopback; port 0 takes a free one.

    Raises
    ------
    UsageError
        When the port is taken or may not be used.
    """
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((LOOPBACK, port))
        listening.listen(BACKLOG)
    except OSError as error:
        listening.close()
        raise UsageError(
            f"the port cannot be used: {error.strerror or error}", found=str(port), hint="no --port takes a free one"
        ) from error
    return listening


def serve(session: Session, port: int, ready: Callable[[str], None]) -> None:
    """Serve a session's page until the process is told to stop.

    Parameters
    ----------
    port : 0 for a free one. ready : called with the page's address once it is listened on.
    """
    with bound(port) as listening:
        used = int(listening.getsockname()[1])
        app = page_app(session, used, secrets.token_urlsafe(32))
        config = uvicorn.Config(
            app,
            log_level="warning",
            access_log=False,
            server_header=False,
            lifespan="off",
            ws="none",
            http="h11",
            timeout_graceful_shutdown=SECONDS_TO_END,
        )
        ready(f"http://{LOOPBACK}:{used}/")
        uvicorn.Server(config).run(sockets=[listening])
