"""The command `grooveforge`: plain words go straight to their command, all else to typer."""

from __future__ import annotations

import io
import os
import sys
from types import FunctionType
from typing import TYPE_CHECKING

from grooveforge.cli.table import COMMANDS, TAKE_RIFFS, command_of

if TYPE_CHECKING:
    from grooveforge.errors import GrooveForgeError


def _typed(words: list[str]) -> list[str]:
    """The words of a command, a typed riff that begins with a rest marked by a bar line, so that it is no option."""
    if not words or words[0] not in TAKE_RIFFS:
        return words
    return [f"|{word}" if word[:1] == "-" and not word.strip("xX-| ") and word.strip("-| ") else word for word in words]


def report(error: GrooveForgeError) -> None:
    """Every fault of an error on stderr, one or two lines each."""
    for fault in error.faults:
        print(f"error: {fault}", file=sys.stderr)


def _run(words: list[str]) -> None:
    """Run the command that the words name."""
    from grooveforge.cli.quick import NotPlainError, plain_arguments

    if words and words[0] in COMMANDS and isinstance(function := command_of(words[0]), FunctionType):
        try:
            given = plain_arguments(function, words[1:])
        except NotPlainError:
            pass
        else:
            function(**given)
            return
    from grooveforge.cli.app import app

    app(args=words, prog_name="grooveforge")


def main(arguments: list[str] | None = None) -> int:
    """Run one command and return its exit status: 0 done, 1 findings under --strict, 2 wrong input or usage.

    Parameters
    ----------
    arguments : the words after `grooveforge`; None for those of this process.
    """
    from grooveforge.errors import GrooveForgeError

    try:
        _run(_typed(sys.argv[1:] if arguments is None else arguments))
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else 0 if end.code is None else 2
    except GrooveForgeError as error:
        report(error)
        return 2
    except BrokenPipeError:  # the reader of our output has gone: nothing is left to say
        sys.stderr.close()
        return 1
    return 0


def _printable(error: UnicodeError) -> tuple[str | bytes, int]:
    """What stands for a character that the terminal's encoding has not: the byte of a file's name, else an escape."""
    import codecs

    try:
        return codecs.lookup_error("surrogateescape")(error)
    except UnicodeError:
        return codecs.lookup_error("backslashreplace")(error)


def _quick_start() -> None:
    """What only costs time in a process that runs one command: threads for linear algebra, of which there is none
    here, and looking for garbage among things that are just being made."""
    import gc

    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    gc.set_threshold(50_000, 20, 20)


def run() -> None:
    """Entry point of the installed command."""
    import codecs

    _quick_start()
    codecs.register_error("printable", _printable)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="printable")
    sys.exit(main())


if __name__ == "__main__":
    run()
