"""What the page hands over: the song as MIDI, whole or by section, as a chart and as sound."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from grooveforge.core.perform import perform
from grooveforge.errors import UsageError
from grooveforge.project.charting import HTML, MUSICXML, chart_without_pictures, drawn, sheet_source
from grooveforge.project.heard import Heard
from grooveforge.project.previewing import PreviewOptions, preview_of
from grooveforge.project.records import keep
from grooveforge.project.rendering import render
from grooveforge.project.sheets import Sheet, arranged


@dataclass(frozen=True)
class Download:
    """A file to hand over: its name, its kind, its bytes."""

    name: str
    kind: str
    data: bytes


def song_midi(sheet: Sheet) -> Download:
    """The song's MIDI file, as `render` writes it; what goes out is recorded for `merge`."""
    made = render(sheet)
    keep(sheet, made)
    return Download(f"{sheet.stem}.mid", "audio/midi", next(iter(made.files.values())))


def sections_zip(sheet: Sheet) -> Download:
    """All that `render --sections` writes, in one archive; the same bytes for the same song."""
    packed = io.BytesIO()
    made = render(sheet, sections=True)
    keep(sheet, made)
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in made.files.items():
            archive.writestr(zipfile.ZipInfo(f"{sheet.stem}/{name}"), data, zipfile.ZIP_DEFLATED)
    return Download(f"{sheet.stem}.zip", "application/zip", packed.getvalue())


def chart_html(sheet: Sheet) -> Download:
    """The chart to print; where the library that engraves is missing, road map and drum tab alone."""
    source = sheet_source(sheet)
    try:
        data = drawn(source, HTML)
    except UsageError:
        data = chart_without_pictures(source)
    return Download(f"{sheet.stem}.html", "text/html; charset=utf-8", data)


def chart_musicxml(sheet: Sheet) -> Download:
    """The notation for any notation program."""
    kind = "application/vnd.recordare.musicxml+xml"
    return Download(f"{sheet.stem}.musicxml", kind, drawn(sheet_source(sheet), MUSICXML))


def song_wav(sheet: Sheet) -> Download:
    """The song with the built-in voices."""
    heard = Heard(perform(arranged(sheet)), sheet.path)
    return Download(f"{sheet.stem}.wav", "audio/wav", bytes(preview_of(heard, PreviewOptions()).data))


DOWNLOADS: Mapping[str, Callable[[Sheet], Download]] = MappingProxyType(
    {
        "song.mid": song_midi,
        "sections.zip": sections_zip,
        "chart.html": chart_html,
        "chart.musicxml": chart_musicxml,
        "song.wav": song_wav,
    }
)
"""What is made of a sheet, by the address it is asked for."""
