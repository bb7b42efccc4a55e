"""GrooveForge: drum-groove variants for a whole song. The public names are loaded on first use."""

from __future__ import annotations

from importlib import import_module
from types import MappingProxyType

_HOMES = MappingProxyType(
    {
        "Groove": "core.groove",
        "Lane": "core.lane",
        "Meter": "core.meter",
        "arrange": "core.arrange",
        "perform": "core.perform",
        "set_feel": "core.feel",
        "FeelChange": "core.feel",
        "read_sheet": "project.sheets",
        "render": "project.rendering",
        "merge": "project.merging",
        "MergeOptions": "project.merging",
        "pack": "project.packing",


        "preview": "project.previewing",
        "PreviewOptions": "project.previewing",
        "mix": "sound.mix",
        "inspect": "project.inspecting",
        "compare": "project.comparing",
        "distance": "analysis.distance",
        "options": "project.options",
        "take_option": "project.options",
        "plan": "project.planning",
        "take_plan": "project.planning",
        "start": "project.starting",
        "energy_line": "analysis.energy",
        "check": "analysis.playability",
        "check_groove": "analysis.playability",
        "apply_change": "analysis.changes",
        "check_input": "project.checking",
        "Profile": "core.profile",
        "PROFILES": "core.profile",
        "read_profile": "formats.profile_file",
        "KeyMap": "formats.keymap",
        "read_key_map": "formats.keymap_file",
        "vary": "project.varying",
        "Variation": "project.varying",
        "typed_riff": "core.riff",
        "listed_riff": "core.riff",
        "read_riff": "formats.riff_midi",
        "follow": "project.following",
        "chart": "project.charting",
        "road_map_html": "project.charting",
        "events": "formats.bridges",
        "to_mido": "formats.bridges",
        "to_pretty_midi": "formats.bridges",
        "groove_from_pretty_midi": "formats.bridges",
        "GrooveForgeError": "errors",
    }
)
"""Public name -> the module that it lives in."""

__all__ = sorted(_HOMES)


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module 'grooveforge' has no attribute {name!r}")
    return getattr(import_module(f"grooveforge.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOMES})
