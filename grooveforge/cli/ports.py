"""MIDI ports, through mido and python-rtmidi (the extra `play`)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from grooveforge.errors import UsageError

EXTRA = "pip install 'grooveforge[play]'"


@dataclass(frozen=True)
class OutPort:
    """An open port: its name, and a mido port behind it."""

    name: str
    port: Any

    def send(self, data: bytes) -> None:
        """Send one MIDI message."""
        import mido

        self.port.send(mido.Message.from_bytes(data))


@contextmanager
def opened(wanted: str | None) -> Iterator[OutPort]:
    """The port whose name is `wanted` or holds it, or the only one; closed at the end.

    Raises
    ------
    UsageError
        When the extra is missing, or there is no such port; the error lists those that there are.
    """
    import mido

    try:
        names = list(dict.fromkeys(mido.get_output_names()))
    except ImportError as error:
        raise UsageError("playing to a MIDI port needs the package python-rtmidi", hint=EXTRA) from error
    except Exception as error:  # the backend's own errors: a system without MIDI
        raise UsageError(f"this system has no MIDI: {_first_line(error)}", hint=HINT) from error
    name = chosen(wanted, names)
    try:
        port = mido.open_output(name)
    except Exception as error:  # likewise: taken by another program, or gone
        raise UsageError(f"the MIDI port {name!r} cannot be opened: {_first_line(error)}") from error
    try:
        yield OutPort(name, port)
    finally:
        port.close()


HINT = "a sampler that listens on a MIDI port, started first; `grooveforge preview` writes audio without one"


def chosen(wanted: str | None, names: Sequence[str]) -> str:
    """The one port that is meant.

    Raises
    ------
    UsageError
        When none or more than one is; the error lists the names.
    """
    listed = ", ".join(repr(name) for name in names)
    if not names:
        raise UsageError("there is no MIDI port to play to", hint=HINT)
    if wanted is None:
        if len(names) > 1:
            raise UsageError("there is more than one MIDI port", allowed=listed, hint="--port NAME")
        return names[0]
    exact = [name for name in names if name == wanted]
    found = exact or [name for name in names if wanted.casefold() in name.casefold()]
    if len(found) != 1:
        many = "no MIDI port has" if not found else "more than one MIDI port has"
        raise UsageError(f"{many} this in its name", found=repr(wanted), allowed=listed)
    return found[0]


def _first_line(error: Exception) -> str:
    return (str(error).strip() or type(error).__name__).splitlines()[0]
