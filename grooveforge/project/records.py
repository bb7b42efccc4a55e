"""What was rendered from a sheet, kept beside it for `merge`: ten renders deep."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from grooveforge import files
from grooveforge.errors import FormatError
from grooveforge.formats.record import Record, read_record, record_bytes, record_of
from grooveforge.project.library import library
from grooveforge.project.rendering import Rendered
from grooveforge.project.sheets import Sheet


def record(made: Rendered) -> Record:
    """The record of a song that was rendered."""
    return record_of(made.arrangement, made.performance, made.key_map)


def keep(sheet: Sheet, made: Rendered) -> None:
    """Keep the record of a render beside its sheet; there is none of standard input, of a sheet that is no file yet,
    nor inside the library."""
    place = Path(sheet.path)
    if sheet.path != files.STANDARD_STREAM and place.is_file() and library() not in place.resolve().parents:
        files.keep_record(sheet.path, record_bytes(record(made)))


def kept(path: str) -> Iterator[Record]:
    """The records beside a sheet, newest first; what cannot be read is left out."""
    for data in files.kept_records(path):
        with suppress(FormatError):
            yield read_record(data)
