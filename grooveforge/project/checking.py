"""`check`: what a drummer can and cannot play of a sheet, a groove or fill file, or a MIDI file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from grooveforge import files
from grooveforge.analysis.limbs import Player
from grooveforge.analysis.playability import Checked, check, groove_performance
from grooveforge.analysis.sticking import by_columns, by_turns
from grooveforge.core.arrange import Arrangement, arrange
from grooveforge.core.groove import Groove, Lane
from grooveforge.core.loop import DEFAULT_TEMPO
from grooveforge.core.perform import Performance, perform
from grooveforge.core.profile import DEFAULT_PROFILE, Profile
from grooveforge.core.rudiments import RUDIMENTS
from grooveforge.core.song import FLAT_LEVELS, Entry, Settings, Song
from grooveforge.errors import GrooveForgeError
from grooveforge.formats.drums_read import read_drums
from grooveforge.formats.fillfile import FillFile
from grooveforge.formats.groovefile import GrooveFile, PatternFile, read_pattern_file
from grooveforge.formats.keymap import GM, KeyMap
from grooveforge.formats.part_performance import performance_of
from grooveforge.formats.profile_file import profile_facts
from grooveforge.formats.smf_read import read_smf
from grooveforge.project.inspecting import GROOVE, MIDI, kind_of
from grooveforge.project.named import DRUMMERS
from grooveforge.project.sheets import Sheet, arranged, folder_of, sheet_from

CAUTIONS = (
    "beyond this profile: start slowly, warm up, stop when it hurts, and see a teacher or a physician",
    "protect your ears: check the volume before you play a rendered track",
)
"""What is said when parts go beyond a drummer's limits."""


@dataclass(frozen=True, eq=False)
class CheckedInput:
    """An input with what a drummer can and cannot play of it.

    Parameters
    ----------
    kind : what the input is. checked : the check. bpm : the tempo of a groove or fill; None for songs.
    warnings : what there was to say about the input.
    """

    kind: str
    checked: Checked
    bpm: float | None = None
    warnings: tuple[str, ...] = ()

    def facts(self) -> dict[str, Any]:
        """The check as `check --json` gives it."""
        return {**checked_facts(self.checked), "bpm": self.bpm, "warnings": list(self.warnings)}

    @property
    def cautions(self) -> tuple[str, ...]:
        """What to take care of, where the part goes beyond the profile."""
        return cautions_for(self.checked)


def checked_facts(checked: Checked) -> dict[str, Any]:
    """A check as plain values."""
    return {
        "findings": [row.facts() for row in checked.findings],
        "sticking": {"patterns": checked.sticking.patterns()},
        "hardest_bar": checked.hardest_bar,
        "endurance": checked.endurance.facts(),
        "bars": checked.bars,
        "bars_with_findings": len(checked.bars_with_findings),
        "profile": profile_facts(checked.profile),
        "cautions": list(cautions_for(checked)),
    }


def cautions_for(checked: Checked) -> tuple[str, ...]:
    """The usual cautions where a part has findings, or is longer or faster than the feet or hands last."""
    held = checked.endurance
    tired = held.hands.tired_bar is not None or held.feet.tired_bar is not None
    return CAUTIONS if checked.findings or tired else ()


def check_input(
    source: str,
    profile: Profile | None = None,
    channel: int | None = None,
    key_map: KeyMap | None = None,
    progress: Callable[[float], None] | None = None,
) -> CheckedInput:
    """Check a song sheet, a groove or fill file, or a MIDI file, told by content.

    A groove or fill is tried at the upper end of its tempo (120 where it says none).

    Parameters
    ----------
    source : a path, or "-" for standard input. profile : None for the one that the input names.
    channel : of a MIDI file's drums, from 1; None finds it. key_map : of a MIDI file.
    progress : is told the share that is done, 0 to 1, while changes are tried out.

    Raises
    ------
    GrooveForgeError
        When the input, or a profile that it names, cannot be read.
    """
    data = files.read_bytes(source)
    kind = kind_of(data, source)
    find = DRUMMERS.beside(folder_of(source))
    try:
        if kind == MIDI:
            part = read_drums(read_smf(data), channel, key_map or GM)
            unknown = sum(part.unknown_notes.values())
            said = (f"{unknown} strokes of notes that the key map does not know are left out",) if unknown else ()
            player = _player(profile or find(DEFAULT_PROFILE), progress)
            checked = check(performance_of(part), player.profile, player=player)
            return CheckedInput(kind, checked, None, (*part.key_map.remarks, *part.warnings, *said))
        if kind == GROOVE:
            file = read_pattern_file(files.decode(data))
            return check_pattern(file, profile or find(file.profile or DEFAULT_PROFILE))
        sheet = sheet_from(data, source)
        player = _player(profile or sheet.profile, progress)
        checked = check(performance_to_check(arranged(sheet)), player.profile, player=player)
        return CheckedInput(kind, checked, None, sheet.warnings)
    except GrooveForgeError as error:
        raise error.in_file(source) from error


def _player(profile: Profile, progress: Callable[[float], None] | None) -> Player:
    return Player(profile) if progress is None else Player(profile, progress)


def check_sheet(sheet: Sheet, profile: Profile | None = None, arrangement: Arrangement | None = None) -> Checked:
    """Check a song sheet against a profile, or the one that it names.

    Parameters
    ----------
    arrangement : of the sheet, where it is known.
    """
    return check(performance_to_check(arrangement or arranged(sheet)), profile or sheet.profile)


def performance_to_check(arrangement: Arrangement) -> Performance:
    """An arrangement as it is meant to be played: with its swing, without looseness and shades of level, so that bars
    that are alike stay alike."""
    sections = (
        replace(section, settings=replace(section.settings, looseness=Fraction(0), levels=FLAT_LEVELS))
        for section in arrangement.sections
    )
    return perform(replace(arrangement, sections=tuple(sections)))


def check_pattern(file: PatternFile, profile: Profile, bpm: float | None = None) -> CheckedInput:
    """Check a groove as a loop, or a fill between a plain beat and a crash, at a tempo or the upper end of its own."""
    tempo = bpm or (float(file.tempo[1]) if file.tempo else DEFAULT_TEMPO)
    if isinstance(file, FillFile):
        return CheckedInput(file.kind, check(fill_performance(file, tempo), profile), tempo)
    performance = groove_performance(file.groove, tempo)
    return CheckedInput(file.kind, check(performance, profile, written_hands(file, performance)), tempo)


def written_hands(file: GrooveFile, performance: Performance) -> Mapping[int, str]:
    """The hands that a groove file's sticking asks for, by tick of the groove as a loop; none where it has none."""
    if file.tab.sticking is not None:
        return by_columns(file.tab.sticking, 4 * performance.division // file.groove.grid, performance.end)
    return by_turns(RUDIMENTS[file.sticking], performance) if file.sticking else {}


EIGHTHS = 8


def fill_performance(file: FillFile, bpm: float) -> Performance:
    """A fill at the end of two bars of a plain beat (eighths on the hi-hat, a kick on each 1), and what it leads to."""
    meter = file.meter
    bars = max(2, -(-file.whole // meter.whole) + 1)
    steps = int(meter.steps(EIGHTHS)) if (meter.whole * EIGHTHS).denominator == 1 else 0
    grid = EIGHTHS if steps else 2 * EIGHTHS
    steps = meter.steps(grid)
    beat = Groove(meter, grid, 1, kick=Lane.of(steps, [0]), hand=Lane.of(steps, range(steps)), surface="closed hi-hat")
    fill = file.fill("the fill")
    before = Settings(groove="beat", bars=int(bars), meter=meter, fill=fill.name, arrival=False)
    after = Settings(groove="beat", bars=1, meter=meter, arrival=True)
    song = Song(
        "a fill",
        (Entry("before"), Entry("after")),
        {"before": before, "after": after},
        {"beat": beat},
        tempo=Fraction(bpm).limit_denominator(1000),
        meter=meter,
        fills={fill.name: fill},
        fill_pool=(fill,),
    )
    return perform(arrange(song), plain=True)
