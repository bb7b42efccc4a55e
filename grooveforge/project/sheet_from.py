"""`new --from`: a song sheet from a drum MIDI file."""

from __future__ import annotations

from pathlib import Path

from grooveforge import files
from grooveforge.errors import FormatError, GrooveForgeError
from grooveforge.formats.midi_sections import sections_of
from grooveforge.formats.sheet_from_midi import sheet_from_pieces
from grooveforge.formats.smf_read import read_smf
from grooveforge.project.library import is_midi
from grooveforge.project.sheets import file_name, song_from, title_of


def sheet_from_midi(data: bytes, source: str, file: str, channel: int | None = None) -> tuple[str, tuple[str, ...]]:
    """The text of a sheet made from the bytes of a drum MIDI file, and what there is to say about it.

    Parameters
    ----------
    source, file : names of the MIDI file and of the sheet. channel : the drums', from 1; None finds it.

    Raises
    ------
    GrooveForgeError
        When the bytes are no MIDI file, have no drums, or are too long for a sheet.
    """
    try:
        if not is_midi(data):
            raise FormatError("this is no MIDI file, and a sheet is made from one")
        pieces, warnings = sections_of(read_smf(data), channel)
    except GrooveForgeError as error:
        raise error.in_file(source) from error
    name = Path(source).name if source != files.STANDARD_STREAM else "standard input"
    text = sheet_from_pieces(pieces, file_name(file), title_of(file), name)
    song_from(text, file)  # a sheet that does not read is never written
    return text, warnings


def new_sheet_from(
    path: Path, source: str, channel: int | None = None, force: bool = False
) -> tuple[Path, tuple[str, ...]]:
    """Write a sheet made from a MIDI file; gives the path written, and the warnings. See `sheet_from_midi`."""
    text, warnings = sheet_from_midi(files.read_bytes(source), source, str(path), channel)
    return files.write_output(path, text.encode(), force), warnings
