"""The only code that opens, replaces and backs up files.

A file is written whole or not at all: into a temporary file beside it, then renamed over it. What this
package wrote is known from `.grooveforge.json` in the output folder (name and SHA-256 of each file, written
last; what is about to be written is announced there first, so that a process killed in between leaves no file
that looks foreign); any other file is replaced only with `force`, and then kept as NAME.1, NAME.2 ... A sheet
that is changed in place is kept for `undo` in the folder `.grooveforge` beside it, ten deep. Two processes on
one folder take turns.
"""

from __future__ import annotations

from grooveforge.files.changing import (
    CHANGES_ENDING,
    UNDO_DEPTH,
    UNDO_FOLDER,
    change_in_place,
    changes_file,
    keep_record,
    kept_records,
    undo,
)
from grooveforge.files.outputs import (
    MANIFEST,
    write_output,
    write_outputs,
)
from grooveforge.files.reading import (
    MOST_BYTES,
    STANDARD_STREAM,
    Data,
    decode,
    digest,
    listed,
    read_bytes,
    read_head,
    read_text,
)

__all__ = [
    "CHANGES_ENDING",
    "MANIFEST",
    "MOST_BYTES",
    "STANDARD_STREAM",
    "UNDO_DEPTH",
    "UNDO_FOLDER",
    "Data",
    "change_in_place",
    "changes_file",
    "decode",
    "digest",
    "keep_record",
    "kept_records",
    "listed",
    "read_bytes",
    "read_head",
    "read_text",
    "undo",
    "write_output",
    "write_outputs",
]
