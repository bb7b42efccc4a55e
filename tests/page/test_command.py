"""The command `page` as it is typed: it prints its address, answers on loopback, and ends with its terminal."""

from __future__ import annotations

import os
import pty
import re
import signal
import socket
import subprocess
import sys
import webbrowser
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest

from grooveforge.cli.main import main
from grooveforge.cli.page import open_browser
from tests.page.inprocess import SHEET

ROOT = Path(__file__).parent.parent.parent
ENDS_WITHIN = 10.0
"""Seconds that a busy machine may need to stop the server."""


@contextmanager
def running(folder: Path, *words: str) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """The command in a process of its own, and the address that it printed."""
    command = [sys.executable, "-m", "grooveforge", "page", *words]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=folder, env=environment
    ) as process:
        try:
            yield process, address_of(process)
        finally:
            process.kill()


def address_of(process: subprocess.Popen[str]) -> str:
    assert process.stdout is not None
    said = ""
    for line in process.stdout:
        said += line
        found = re.search(r"http://127\.0\.0\.1:(\d+)/", line)
        if found:
            return found[0]
    raise AssertionError(f"no address: {said}{process.stderr.read() if process.stderr else ''}")


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    path = tmp_path / "lamp-keepers.toml"
    path.write_text(SHEET, encoding="utf-8")
    return path


def test_it_answers_and_ends_by_ctrl_c(sheet: Path) -> None:
    """A free port, the page on it, and after Ctrl-C status 0, nothing on stderr, the port free again."""
    with running(sheet.parent, sheet.name) as (process, address):
        assert "Lamp Keepers" in httpx.get(f"{address}api/state").text
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=ENDS_WITHIN)
        assert process.returncode == 0, err
        assert err == ""
    with socket.socket() as free, pytest.raises(ConnectionRefusedError):
        free.connect(("127.0.0.1", int(address.split(":")[2].strip("/"))))


def test_it_ends_while_a_browser_is_connected(sheet: Path) -> None:
    """An open connection does not keep it."""
    with running(sheet.parent, sheet.name) as (process, address), httpx.Client() as client:
        client.get(address)
        process.send_signal(signal.SIGTERM)
        _, err = process.communicate(timeout=ENDS_WITHIN)
        assert (process.returncode, err) == (-signal.SIGTERM, "")


def test_it_ends_with_its_terminal(sheet: Path) -> None:
    """When the terminal window is closed, the server is gone."""
    child, terminal = pty.fork()
    if child == 0:
        os.chdir(sheet.parent)
        environment = {**os.environ, "PYTHONPATH": str(ROOT)}
        environment.pop("DISPLAY", None)
        os.execve(sys.executable, [sys.executable, "-m", "grooveforge", "page", sheet.name, "--no-open"], environment)
    said = ""
    while "Ctrl-C" not in said:
        said += os.read(terminal, 1000).decode()
    found = re.search(r"http://127\.0\.0\.1:\d+/", said)
    assert found is not None, said
    assert httpx.get(found[0]).status_code == 200
    os.close(terminal)
    _, status = os.waitpid(child, 0)
    assert os.waitstatus_to_exitcode(status) == -signal.SIGHUP
    with pytest.raises(httpx.ConnectError):
        httpx.get(found[0])


def test_it_listens_on_loopback_alone(sheet: Path) -> None:
    """The machine's other addresses do not answer (read from the kernel's table of listening sockets)."""
    with running(sheet.parent, sheet.name) as (_, address):
        port = int(address.split(":")[2].strip("/"))
        table = Path("/proc/net/tcp").read_text(encoding="utf-8") + Path("/proc/net/tcp6").read_text(encoding="utf-8")
        rows = (line.split()[1:4] for line in table.splitlines() if ":" in line)
        listening = [local for local, _, state in rows if state == "0A" and int(local.rpartition(":")[2], 16) == port]
        assert listening == [f"0100007F:{port:04X}"]


def test_a_large_body_is_refused_over_the_wire(sheet: Path) -> None:
    """100 MB announced to the real server: refused at once, before they are sent."""
    with running(sheet.parent, sheet.name) as (_, address):
        host = address.removeprefix("http://").strip("/")
        token = re.search(r'name="token" content="([^"]+)"', httpx.get(address).text)
        assert token is not None
        name, _, port = host.partition(":")
        with socket.create_connection((name, int(port)), timeout=5) as wire:
            wire.sendall(
                f"POST /api/text HTTP/1.1\r\nHost: {host}\r\nX-Token: {token[1]}\r\n"
                f"Content-Type: application/json\r\nContent-Length: 104857600\r\n\r\n".encode()
            )
            assert wire.recv(100).startswith(b"HTTP/1.1 413")


def test_two_servers_in_one_folder(sheet: Path) -> None:
    """Two pages of one sheet in two processes: what one saves the other does not overwrite."""
    with running(sheet.parent, sheet.name) as (_, one), running(sheet.parent, sheet.name) as (_, other):
        for address in (one, other):
            token = re.search(r'name="token" content="([^"]+)"', httpx.get(address).text)
            assert token is not None
            headers = {"X-Token": token[1]}
            change = {"section": 0, "key": "feel", "value": "half" if address == one else "double"}
            assert httpx.post(f"{address}api/change", json=change, headers=headers).status_code == 200
            status = httpx.post(f"{address}api/save", json={}, headers=headers).status_code
            assert status == (200 if address == one else 409)
        assert httpx.get(f"{other}api/state").json()["on_disk_changed"]
    assert 'feel = "half"' in sheet.read_text(encoding="utf-8")
    assert "double" not in sheet.read_text(encoding="utf-8")


def test_a_port_that_is_taken_is_told(sheet: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Status 2 and what to do instead."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        assert main(["page", str(sheet), "--port", str(taken.getsockname()[1])]) == 2
    assert "--port" in capsys.readouterr().err


def test_a_faulty_sheet_is_told(sheet: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The fault with file and line, as every command says it."""
    sheet.write_text(SHEET.replace('"half"', '"hafl"'), encoding="utf-8")
    assert main(["page", str(sheet)]) == 2
    assert f"{sheet}: form.4.feel, line 8" in capsys.readouterr().err


def test_a_browser_is_opened_at_a_desk_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """With a terminal and a screen the page is shown; in a pipe, or without a screen, the address is only printed."""
    opened: list[str] = []

    class Browser:
        def open_new_tab(self, address: str) -> None:
            opened.append(address)

    monkeypatch.setattr(webbrowser, "get", Browser)
    monkeypatch.setattr(sys, "platform", "linux")
    for terminal, display, count in ((True, ":0", 1), (False, ":0", 1), (True, "", 1)):
        monkeypatch.setattr(sys.stdout, "isatty", lambda terminal=terminal: terminal, raising=False)
        monkeypatch.setenv("DISPLAY", display)
        monkeypatch.setenv("WAYLAND_DISPLAY", "")
        open_browser("http://127.0.0.1:1/")
        assert len(opened) == count
