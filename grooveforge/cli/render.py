"""`render`: a song sheet as MIDI."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

if TYPE_CHECKING:
    import typer

    from grooveforge.core.arrange import Arrangement
    from grooveforge.project.sheets import Sheet


class Split(StrEnum):
    """What a drum part may be split by."""

    surfaces = "surfaces"


def render(
    song: Annotated[str, typer.Argument(metavar="SONG", help="A song sheet, or - for standard input.")],
    out: Annotated[
        Path, typer.Option("-o", "--out", help="The folder for the files; - for the song's MIDI on stdout.")
    ] = Path("out"),
    split: Annotated[Split | None, typer.Option(help="A track a surface instead of one drum track.")] = None,
    sections: Annotated[bool, typer.Option("--sections", help="Also one file a section.")] = False,
    format: Annotated[int, typer.Option(min=0, max=1, help="Format of the MIDI file.")] = 1,
    channel: Annotated[int, typer.Option(min=1, max=16, help="MIDI channel, counted from 1; drums are 10.")] = 10,
    key_map: Annotated[
        str | None, typer.Option("--key-map", metavar="F", help="Another key map than the sheet's: gm or a file.")
    ] = None,
    seed: Annotated[int | None, typer.Option(min=0, help="Another seed than the sheet's.")] = None,
    without_changes: Annotated[
        bool, typer.Option("--without-changes", help="Leave out the bars that a drummer changed (NAME.changes.toml).")
    ] = False,
    strict: Annotated[
        bool, typer.Option("--strict", help="Exit status 1 when the kit lacks something or the drummer cannot play it.")
    ] = False,
    force: Annotated[
        bool, typer.Option("--force", help="Replace foreign or edited files; the old ones are kept.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object instead of the road map.")] = False,
) -> None:
    """Turn a song sheet into MIDI and print its road map.

    Writes NAME.mid, NAME-tempo.mid (no notes), NAME-tempo.txt and NAME-click.mid into the folder; with a
    count-in also NAME-count-in.mid. Sections whose kick follows a riff are counted against its attacks. A line
    on stderr says what the kit lacks and what was struck instead.

    \b
    Example:
      grooveforge render patterns/songs/copper-weather.toml -o out --sections
      grooveforge render - -o - < my-song.toml > my-song.mid
      grooveforge render my-song.toml --key-map my-kit.toml --strict
    """
    from dataclasses import replace

    from grooveforge import files
    from grooveforge.cli.given import given_key_map
    from grooveforge.cli.output import one_stream, say, say_json, warn
    from grooveforge.core.following import followed_sections, together
    from grooveforge.formats.midi import MidiOptions
    from grooveforge.formats.riff_report import following_facts, riff_facts, riff_report
    from grooveforge.formats.roadmap import road_map, section_facts
    from grooveforge.project import records
    from grooveforge.project.rendering import render as render_sheet
    from grooveforge.project.sheets import read_sheet

    to_stream = one_stream(out, ("--json", as_json), ("--sections", sections))
    kit = given_key_map(key_map, song)
    sheet = read_sheet(song)
    if seed is not None:
        sheet = replace(sheet, song=replace(sheet.song, seed=seed))
    if without_changes:
        sheet = sheet.without_changes
    options = MidiOptions(format=format, channel=channel, split_surfaces=split is not None, key_map=kit)
    made = render_sheet(sheet, options, sections)
    if to_stream:
        written = [files.write_output(out, next(iter(made.files.values())))]
    else:
        written = files.write_outputs(out, made.files, force)
    records.keep(sheet, made)
    warn(made.warnings)
    warn(made.replacements)
    warn(made.meetings)
    riffs = followed_sections(made.arrangement)
    found = _findings(sheet, made.arrangement) if strict or as_json else []
    if as_json:
        say_json(
            {
                "bars": made.arrangement.bars,
                "seconds": round(made.arrangement.seconds, 3),
                "sections": [section_facts(section) for section in made.arrangement.sections],
                "files": [str(path) for path in written],
                "riffs": [riff_facts(row) for row in riffs],
                "riffs_together": following_facts(together(riffs)) if riffs else None,
                "notes": list(made.notes),
                "key_map": made.key_map.name,
                "replacements": [row.facts() for row in made.replacements],
                "meetings": [row.facts() for row in made.meetings],
                "findings": found,
            }
        )
    elif not to_stream:
        say(road_map(made.arrangement, made.notes))
        if riffs:
            say(riff_report(riffs))
        say(f"wrote {len(written)} files: {written[0]}" + (" and the others beside it" if len(written) > 1 else ""))
    if strict and not as_json:
        _say_findings(found)
    if strict and (found or made.changed_by_the_kit):
        raise SystemExit(1)


def _findings(sheet: Sheet, arrangement: Arrangement) -> list[dict[str, object]]:
    """What the sheet's drummer cannot play; searched only where it is asked for."""
    from grooveforge.project.checking import check_sheet

    return [row.facts() for row in check_sheet(sheet, arrangement=arrangement).findings]


def _say_findings(found: list[dict[str, object]]) -> None:
    from grooveforge.cli.output import warn
    from grooveforge.formats.check_report import finding_lines

    warn(line.strip() for line in finding_lines(found))
