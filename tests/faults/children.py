"""Work in a child process that may not write: no file beyond a size, or as a user with no rights."""

from __future__ import annotations

import os
import resource
import sys
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path

import pytest

from tests.faults.killing import can_fork

UNIX = pytest.mark.skipif(not can_fork(), reason="a forked child is what is killed, and this system cannot safely fork")


def in_a_child(before: Callable[[], None], work: Callable[[], int]) -> tuple[int, str]:
    """The exit status of work in a child process, and what it says on stderr; `before` sets its limits."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        said = StringIO()
        code = 70
        sys.dont_write_bytecode = True  # Python would leave half of a module's byte code behind
        try:
            before()
            with redirect_stdout(StringIO()), redirect_stderr(said):
                code = work()
        except BaseException as error:
            said.write(f"{type(error).__name__}: {error}")
        os.write(writing, said.getvalue().encode()[:4000])
        os._exit(code)
    os.close(writing)
    with os.fdopen(reading, "rb") as stream:
        heard = stream.read().decode()
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), heard


def largest_file(size: int) -> None:
    """Files of this process end at so many bytes, as on a disk that is full there (POSIX setrlimit, RLIMIT_FSIZE)."""
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))


def nobody() -> None:
    """Give up root's rights for good: root may write everywhere."""
    if os.getuid() == 0:
        os.setgroups([])
        os.setgid(65534)
        os.setuid(65534)


def let_everyone_in(folder: Path) -> None:
    """As far as a folder, where what is above it is ours."""
    for parent in folder.parents:
        if parent.stat().st_uid == os.getuid() and parent != Path("/"):
            parent.chmod(parent.stat().st_mode | 0o055)
