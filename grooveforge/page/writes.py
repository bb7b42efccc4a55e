"""What the page may change: one function an address, each reads the request's body and asks the session."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import cast

from grooveforge.formats import keys
from grooveforge.page.faults import refusal
from grooveforge.page.session import Keys, Session

Body = dict[str, object]
Write = Callable[[Session, Body], bytes | None]
"""A write on a session; it answers with the state, or with bytes of its own."""

MOST_KEYS = 200
"""Keys of one request that changes some."""


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
