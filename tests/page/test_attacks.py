"""What the page's server refuses: other names, other pages, other folders, too much; and what it escapes.

Sources: WHATWG Fetch (Origin, Sec-Fetch-Site), Content Security Policy Level 3, RFC 9110 (status codes); the way in by
a foreign name that resolves to loopback is DNS rebinding (encyclopaedia article of that name).
"""

from __future__ import annotations

import asyncio
import json
import re
from concurrent.futures import ThreadPoolExecutor
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pytest

from grooveforge.page.export import exported
from grooveforge.page.security import MOST_BODY
from tests.page.inprocess import ADDRESS, PORT, SHEET, TOKEN, Desk, desk

NASTY = "</script><script>alert(1)</script><img src=x onerror=alert(2)>"


@pytest.fixture
def page(tmp_path: Path) -> Desk:
    return desk(tmp_path)


# -- who may ask -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "host", ["evil.example", f"evil.example:{PORT}", "127.0.0.1", "127.0.0.1:1", f"127.0.0.1.evil.example:{PORT}", ""]
)
@pytest.mark.parametrize("address", ["/", "/static/style.css", "/api/state", "/api/download/song.mid"])
def test_a_foreign_host_is_refused(page: Desk, host: str, address: str) -> None:
    """A name that is not this very address is refused, though it resolves to this machine."""
    answer = page.get(address, host=host)
    assert answer.status_code == 403
    assert "verse" not in answer.text


@pytest.mark.parametrize("host", [f"127.0.0.1:{PORT}", f"localhost:{PORT}", f"LOCALHOST:{PORT}"])
def test_its_own_names_are_answered(page: Desk, host: str) -> None:
    assert page.get("/api/state", host=host).status_code == 200


def test_two_hosts_are_refused(page: Desk) -> None:
    """A request that names two hosts is none that a browser sends."""
    headers = [(b"host", f"127.0.0.1:{PORT}".encode()), (b"host", b"evil.example")]
    assert raw(page, "GET", "/api/state", headers)[0] == 403


@pytest.mark.parametrize("origin", ["http://evil.example", "null", f"https://127.0.0.1:{PORT}", "http://127.0.0.1:1"])
def test_a_write_from_another_page_is_refused(page: Desk, origin: str) -> None:
    """Even with the token: what another page sends changes nothing."""
    answer = page.post("/api/change", {"section": 1, "key": "feel", "value": "half"}, Origin=origin)
    assert answer.status_code == 403
    assert page.session.text == SHEET


@pytest.mark.parametrize("site", ["cross-site", "same-site", "none"])
def test_a_write_that_the_browser_calls_foreign_is_refused(page: Desk, site: str) -> None:
    assert page.post("/api/undo", {}, Sec_Fetch_Site=site).status_code == 403


@pytest.mark.parametrize("token", ["", "x", TOKEN.upper(), TOKEN + "x"])
def test_a_write_without_the_token_is_refused(page: Desk, token: str) -> None:
    answer = page.post("/api/text", {"text": SHEET + "\n"}, X_Token=token)
    assert answer.status_code == 403
    assert page.session.text == SHEET


def test_a_form_cannot_write(page: Desk) -> None:
    """What a form of another page can send without asking is no JSON, and carries no token."""
    headers = {"X-Token": TOKEN, "Content-Type": "text/plain"}
    assert page.client.post("/api/undo", content=b"{}", headers=headers).status_code == 415
    assert page.client.post("/api/undo", data={"a": "b"}).status_code == 403


def test_another_page_cannot_read(page: Desk) -> None:
    """Sub-resources asked for from another site are refused; a link to the page itself is followed."""
    for address in ("/api/state", "/api/download/song.mid", "/static/style.css", "/"):
        assert page.get(address, **{"sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors"}).status_code == 403
    assert page.get("/", **{"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"}).status_code == 200


def test_the_token_is_random_and_only_in_the_page(page: Desk) -> None:
    """The page carries it; no other answer does."""
    assert f'<meta name="token" content="{TOKEN}">' in page.get("/").text
    for address in ("/api/state", "/api/tables", "/static/index.html", "/api/findings"):
        assert TOKEN not in page.get(address).text


# -- what the browser may do -----------------------------------------------------------------------------


@pytest.mark.parametrize("address", ["/", "/api/state", "/static/style.css", "/nothing", "/api/download/song.mid"])
def test_every_answer_is_fenced(page: Desk, address: str) -> None:
    """A policy that lets in this server's own files alone, no guessing of kinds, no frames, nothing kept."""
    headers = page.get(address).headers
    policy = dict(part.strip().split(" ", 1) for part in headers["content-security-policy"].split(";"))
    assert policy["default-src"] == "'none'"
    # The page's script and style stand inside it, named by their hashes.
    own = re.compile(r"'self' 'sha256-[\w+/]{43}='" if address == "/" else "'self'")
    assert own.fullmatch(policy["script-src"])
    assert own.fullmatch(policy["style-src"])
    assert policy["connect-src"] == "'self'"
    assert policy["frame-ancestors"] == policy["form-action"] == policy["base-uri"] == "'none'"
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert headers["cache-control"] in ("no-store", "no-cache")
    assert "access-control-allow-origin" not in headers


# -- which files -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/..%2fapp.py",
        "/static/%2e%2e/app.py",
        "/static/..%5capp.py",
        "/static//etc/passwd",
        "/static/",
        "/../lamp-keepers.toml",
        "/lamp-keepers.toml",
        "/.grooveforge/lamp-keepers.toml.1",
        "/api/download/../lamp-keepers.toml",
        "/api/download/lamp-keepers.toml",
        "/static/style.css%00.js",
    ],
)
def test_no_path_leads_out(page: Desk, path: str) -> None:
    """Only names of the package's own files are answered; nothing of a path reaches the disk."""
    status, body, _ = raw(page, "GET", unquote(path), [(b"host", f"127.0.0.1:{PORT}".encode())])
    assert status == 404
    assert b"lamp" not in body
    assert b"import" not in body


OUTSIDE = ["../outside", "../outside.toml", "folder/../../outside.toml", "{root}/outside.toml", "link.toml", "link"]


@pytest.mark.parametrize("name", OUTSIDE)
@pytest.mark.parametrize("key", ["groove", "riff", "fill", "key_map", "profile"])
def test_a_sheet_opens_nothing_outside_its_folder(tmp_path: Path, key: str, name: str) -> None:
    """A sheet typed in the page names files of its own folder alone; links that lead out are no way round."""
    folder = tmp_path / "song"
    folder.mkdir()
    outside = tmp_path / "outside.toml"
    outside.write_text("tab = '''\nSN O---\nBD o---\n'''\nsecret = 'a lamp'\n", encoding="utf-8")
    (folder / "link.toml").symlink_to(outside)
    page = desk(folder)
    said = f'{key} = "{name.format(root=tmp_path)}"\n'
    text = (
        said + SHEET if key in ("key_map", "profile") else SHEET.replace("[parts.chorus]\n", f"[parts.chorus]\n{said}")
    )
    text = text.replace('groove = "plain"                   # the same, on the ride\n', "") if key == "groove" else text
    answer = page.post("/api/text", {"text": text})
    assert answer.status_code == 422
    error = answer.json()["error"]
    assert "own folder" in error["message"]
    assert error["line"] == text.split("\n").index(said.strip()) + 1
    assert "lamp" not in json.dumps(error)


def test_a_file_of_the_folder_is_opened(tmp_path: Path) -> None:
    """A groove file beside the sheet is found, and so is one that a link inside the folder leads to."""
    (tmp_path / "mine.toml").write_text("tab = '''\nHH x-x-x-x-\nSN ----O---\nBD o-------\n'''\n", encoding="utf-8")
    (tmp_path / "linked.toml").symlink_to(tmp_path / "mine.toml")
    page = desk(tmp_path)
    for name in ("mine", "linked"):
        assert page.change(0, "groove", name)["song"]["sections"][0]["own"]["groove"] == name


def test_a_link_in_the_place_of_the_sheet_is_not_followed(tmp_path: Path) -> None:
    """When the sheet is replaced by a link while the page is open, the page neither reads nor writes through it."""
    folder = tmp_path / "song"
    folder.mkdir()
    page = desk(folder)
    other = tmp_path / "other.toml"
    other.write_text(SHEET.replace("Lamp Keepers", "Other"), encoding="utf-8")
    page.path.unlink()
    page.path.symlink_to(other)
    assert page.state()["on_disk_changed"]
    assert page.post("/api/reload").status_code == 422
    page.change(1, "feel", "half")
    for force in (False, True):
        assert page.post("/api/save", {"force": force}).status_code in (409, 422)
    assert "Other" in other.read_text(encoding="utf-8")
    assert page.state()["title"] == "Lamp Keepers"


# -- how much --------------------------------------------------------------------------------------------


def raw(
    page: Desk, method: str, path: str, headers: list[tuple[bytes, bytes]], chunks: int = 0
) -> tuple[int, bytes, int]:
    """Status, body and how often a request's body was asked for, spoken to the application itself.

    The request has a body of `chunks` pieces of 1 MiB.
    """
    taken = 0
    sent: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        nonlocal taken
        taken += 1
        return {"type": "http.request", "body": b"x" * 2**20 if chunks else b"", "more_body": taken < chunks}

    async def send(message: Any) -> None:
        sent.append(message)

    scope = {
        "type": "http",
        "method": method,
        "path": path,
        "raw_path": path.encode(),
        "query_string": b"",
        "headers": headers,
        "scheme": "http",
        "server": ("127.0.0.1", PORT),
        "client": ("127.0.0.1", 1),
        "root_path": "",
    }
    with ThreadPoolExecutor(1) as aside:  # the browser tests keep a loop of their own in this thread
        aside.submit(lambda: asyncio.run(page.app(scope, receive, send))).result()
    return sent[0]["status"], b"".join(message.get("body", b"") for message in sent[1:]), taken


WRITE = [
    (b"host", f"127.0.0.1:{PORT}".encode()),
    (b"origin", ADDRESS.encode()),
    (b"x-token", TOKEN.encode()),
    (b"content-type", b"application/json"),
]


def test_a_hundred_megabytes_are_refused_unread(page: Desk) -> None:
    """A body that says its length is refused before a byte of it is read."""
    headers = [*WRITE, (b"content-length", b"104857600")]
    status, _, taken = raw(page, "POST", "/api/text", headers, chunks=100)
    assert (status, taken) == (413, 0)


def test_a_body_without_a_length_is_cut_off(page: Desk) -> None:
    """One that says none is counted, and refused where it passes the limit."""
    status, _, taken = raw(page, "POST", "/api/text", WRITE, chunks=100)
    assert status == 413
    assert taken == MOST_BODY // 2**20 + 1


@pytest.mark.parametrize("length", [b"-1", b"1e3", b"9" * 400, b"", b"0x10"])
def test_a_length_that_is_none_is_refused(page: Desk, length: bytes) -> None:
    assert raw(page, "POST", "/api/text", [*WRITE, (b"content-length", length)])[0] == 413


@pytest.mark.parametrize("body", [b"", b"[]", b"{", b"1", b'{"text": 1}', b'{"text": null}', b"[" * 100_000, b"\xff{}"])
def test_a_body_that_makes_no_sense_is_refused(page: Desk, body: bytes) -> None:
    """Anything else than the object that is asked for is told in one sentence, never a failure of the server."""
    headers = {"X-Token": TOKEN, "Content-Type": "application/json"}
    answer = page.client.post("/api/text", content=body, headers=headers)
    assert answer.status_code == 400
    assert answer.json()["error"]["message"]


@pytest.mark.parametrize(
    "body",
    [
        {"section": 99, "key": "feel", "value": "half"},
        {"section": -1, "key": "feel", "value": "half"},
        {"section": True, "key": "feel", "value": "half"},
        {"section": "1", "key": "feel", "value": "half"},
        {"part": "nowhere", "key": "feel", "value": "half"},
        {"song": True, "key": "form", "value": []},
        {"song": True, "key": "parts", "value": {}},
        {"section": 1, "key": "no key", "value": 1},
        {"section": 1, "key": ["feel"], "value": 1},
        {"key": "feel", "value": "half"},
    ],
)
def test_a_change_of_what_is_not_there_is_refused(page: Desk, body: dict[str, object]) -> None:
    assert page.post("/api/change", body).status_code == 400
    assert page.session.text == SHEET


@pytest.mark.parametrize(
    "value",
    [
        "nonsense",
        7,
        [],
        {},
        [[[[]]]],
        "'''\n[parts.verse]\n",
        'x"\nbars = 9',
        1e308,
        "\ud800",
        {"from": {"to": []}},
        "\x00",
    ],
)
def test_a_value_that_is_none_leaves_the_song_as_it_was(page: Desk, value: object) -> None:
    """A value that the key does not take is a fault of the sheet: told, and nothing is kept of it."""
    content = json.dumps({"section": 1, "key": "feel", "value": value})
    headers = {"X-Token": TOKEN, "Content-Type": "application/json"}
    answer = page.client.post("/api/change", content=content, headers=headers)
    assert answer.status_code == 422, answer.text
    assert page.session.text == SHEET
    assert page.state()["revision"] == 1


# -- HTML in titles and names ----------------------------------------------------------------------------


class Elements(HTMLParser):
    """The elements of a page, scripts with what stands in them."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.scripts: list[tuple[dict[str, str | None], str]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        if tag == "script":
            self.scripts.append((dict(attrs), ""))

    def handle_data(self, data: str) -> None:
        if self.tags and self.tags[-1] == "script" and self.scripts:
            attrs, text = self.scripts[-1]
            self.scripts[-1] = attrs, text + data


def elements(html: str) -> Elements:
    found = Elements()
    found.feed(html)
    return found


def nasty_sheet() -> str:
    part = json.dumps(NASTY)
    text = SHEET.replace('"verse"', part).replace("[parts.verse]", f"[parts.{part}]")
    text = text.replace('"Lamp Keepers"', part).replace('name = "last chorus"', f"name = {part}")
    return text.replace("# The lamp keepers' song.", f"# {NASTY}")


def test_html_in_titles_and_names_stays_text(tmp_path: Path) -> None:
    """Markup in title, part and section names ends no element of the page; the values arrive as they were typed."""
    page = desk(tmp_path, nasty_sheet())
    plain = elements(desk(tmp_path, name="plain.toml").get("/").text)
    found = elements(page.get("/").text)
    assert found.tags == plain.tags
    data = next(text for attrs, text in found.scripts if attrs.get("id") == "opening")
    state = json.loads(data)["state"]
    assert state["title"] == NASTY
    assert state["song"]["sections"][0]["part"] == NASTY
    assert state["song"]["sections"][3]["name"] == NASTY
    assert state["text"] == nasty_sheet()


def test_html_in_an_export_stays_text(tmp_path: Path) -> None:
    """The exported file has the same elements whatever the song is called."""
    page = desk(tmp_path, nasty_sheet())
    found = elements(exported(page.session).decode())
    assert found.tags == elements(exported(desk(tmp_path, name="plain.toml").session).decode()).tags
    data = next(text for attrs, text in found.scripts if attrs.get("id") == "embedded")
    assert json.loads(data)["state"]["title"] == NASTY


def test_markup_in_an_error_is_data(page: Desk) -> None:
    """Errors are JSON, sent as JSON, whatever they quote."""
    answer = page.post("/api/change", {"section": 1, "key": "feel", "value": NASTY})
    assert answer.headers["content-type"] == "application/json"
    assert answer.json()["error"]["found"]


def test_a_download_name_is_one_header(tmp_path: Path) -> None:
    """Signs in a file's name neither end the header's text nor begin another one (RFC 6266)."""
    page = desk(tmp_path, name='a "b";c=é.toml')
    said = page.get("/api/download/song.mid").headers["content-disposition"]
    assert re.fullmatch(r"attachment; filename=\"[^\"\\]*\"; filename\*=UTF-8''[\w%.\-]+", said)
