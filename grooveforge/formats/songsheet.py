"""The song sheet: text of TOML to a `Song`, with every fault of the file at once.

Three steps: each table's keys are read by the table of `keys`; what depends on the metre in force (grouping,
backbeats) is settled; then what holds in each section is checked (`songsheet_checks`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, replace
from fractions import Fraction
from typing import Any, cast

from grooveforge.core.figures import Stops
from grooveforge.core.groove import Groove
from grooveforge.core.meter import Meter
from grooveforge.core.profile import DEFAULT_PROFILE, PROFILES, Profile
from grooveforge.core.riff import is_riff_file
from grooveforge.core.song import BAR, Entry, Fixed, Riff, Settings, Song
from grooveforge.errors import FormatError, GrooveForgeError
from grooveforge.formats import keys
from grooveforge.formats.beats import parse_beats, parse_stops
from grooveforge.formats.fillfile import FOUR_FOUR
from grooveforge.formats.groovefile import groove_from_table, meter_of
from grooveforge.formats.keymap import GM, KeyMap
from grooveforge.formats.locate import read_whole
from grooveforge.formats.songsheet_checks import Said, check_sections
from grooveforge.formats.songsheet_fills import NO_FILLS, FillSource, sheet_fills
from grooveforge.formats.toml_text import FaultList, Path, Table, nearest
from grooveforge.formats.toml_values import kind_of, shown

GrooveFinder = Callable[[str], Groove]

RiffFinder = Callable[[str], Riff]

KeyMapFinder = Callable[[str], KeyMap]

ProfileFinder = Callable[[str], Profile]

OWN = ("levels", "looseness", "swing")
"""Part keys that the song itself may say, under the defaults; its tempo and metre are values of its own."""

TABLES = ("form", "defaults", "parts", "grooves")
PART_NAMES_SHOWN = 12

_SETTING_NAMES = {row.name for row in fields(Settings)}


def no_riff_files(name: str) -> Riff:
    """The finder of riffs where there are no files to look in."""
    raise FormatError("no riff file is at hand here", found=shown(name), hint="a typed riff")


def no_key_map_files(name: str) -> KeyMap:
    """The finder of key maps where there are no files to look in."""
    if name == GM.name:
        return GM
    raise FormatError("no key map file is at hand here", found=shown(name), allowed=GM.name)


def no_profile_files(name: str) -> Profile:
    """The finder of profiles where there are no files to look in."""
    if name in PROFILES:
        return PROFILES[name]
    raise FormatError("no profile is called that", found=shown(name), allowed=", ".join(PROFILES))


@dataclass(frozen=True)
class Band:
    """Who plays: the finders of the kit's key map and of the drummer's profile; each raises where there is none."""

    key_map: KeyMapFinder = no_key_map_files
    profile: ProfileFinder = no_profile_files


NO_BAND = Band()

Finders = tuple[GrooveFinder, RiffFinder, FillSource, Band]


def read_song(
    text: str,
    name: str,
    find_groove: GrooveFinder,
    find_riff: RiffFinder = no_riff_files,
    fills: FillSource = NO_FILLS,
    band: Band = NO_BAND,
) -> Song:
    """The song of a sheet's text.

    Parameters
    ----------
    name : of the file, the title where the sheet says none.
    find_groove : finds a groove that is not in the sheet, or raises a GrooveForgeError; find_riff : a riff file.
    fills : where fills come from. band : finds the kit's key map and the drummer's profile.

    Raises
    ------
    FormatError
        With every fault of the sheet, each with key path and line; a fault of TOML's syntax stands alone.
    """
    sources = find_groove, find_riff, fills, band
    return read_whole(text, lambda table, faults: _SheetReader(table, name, sources, faults).song())


@dataclass(frozen=True)
class _Layer:
    """A table of part keys: where it stands, its raw values, its values read."""

    path: Path
    raw: Table = field(default_factory=dict)
    read: Table = field(default_factory=dict)


_NOTHING = _Layer(())


def _stops(text: str, meter: Meter) -> Stops:
    return Stops(text, parse_stops(text, meter))


_PLACES: Mapping[str, Callable[[str, Meter], object]] = {"backbeats": parse_beats, "stops": _stops}
"""Keys that hold beat numbers, and what their text says in a metre."""


@dataclass(frozen=True)
class _InForce:
    """What the layers below say that goes by the metre; all but that as it is written."""

    meter: Meter
    grouping: tuple[int, ...] | None = None
    backbeats: str | None = None
    stops: str | None = None

    @property
    def figures(self) -> tuple[int, int]:
        return self.meter.upper, self.meter.lower

    def under(self, layer: _Layer) -> _InForce:
        """What is in force above one more layer."""
        names = {name: layer.read[name] for name in ("meter", "grouping", *_PLACES) if name in layer.read}
        return replace(self, **cast("dict[str, Any]", names))


class _SheetReader:
    def __init__(self, table: Table, name: str, finders: Finders, faults: FaultList) -> None:
        self.table, self.name, self.faults = table, name, faults
        self.find_groove, self.find_riff, self.fill_source, self.band = finders
        self.own = keys.read_keys(table, keys.SONG, faults, (), TABLES)
        self.meter = meter_of(self.own, FOUR_FOUR, faults, ())

    def song(self) -> Song:
        """The song; of no use when there are faults."""
        key_map = self.key_map()  # before the grooves: a drum MIDI among them is read by it
        sheet_grooves = self.sheet_grooves()
        base = self.layer(self.table.get("defaults", {}), keys.PART, ("defaults",))
        parts = {name: self.layer(value, keys.PART, ("parts", name)) for name, value in self.subtables("parts").items()}
        form = self.form(parts)
        in_song = _InForce(self.meter)
        defaults = self.settings(base, in_song)
        part_settings = {name: self.settings(layer, in_song.under(base)) for name, layer in parts.items()}
        entries = tuple(self.entry(layer, in_song.under(base).under(parts[_part(layer)])) for layer in form)
        layers = [base, *parts.values(), *form]
        grooves = self.grooves(layers, sheet_grooves)
        said = ((layer.read.get("fill"), (*layer.path, "fill")) for layer in layers)
        fills, pool = sheet_fills(said, self.fill_source, self.faults)
        song = Song(
            cast(str, self.own.get("title", self.name)),
            entries,
            part_settings,
            grooves,
            cast(Fraction, self.own.get("tempo", Fraction(120))),
            self.meter,
            cast("tuple[int, ...] | None", self.own.get("grouping")),
            cast(int, self.own.get("seed", 1)),
            defaults,
            Settings(**cast("dict[str, Any]", {name: self.own[name] for name in OWN if name in self.own})),
            cast(int, self.own.get("count_in", 0)),
            final=cast(str, self.own.get("final", BAR)),
            fills=fills,
            fill_pool=pool,
            riffs=self.riffs(layers),
            key_map=key_map,
            profile=self.profile(),
        )
        check_sections(song, [Said(base.raw, parts[_part(e)].raw, e.raw, e.path) for e in form], self.faults)
        return song

    # -- tables -----------------------------------------------------------------------------------------

    def subtables(self, name: str) -> Table:
        """The tables [name.X] of the sheet."""
        value = self.table.get(name, {})
        if isinstance(value, dict):
            return value
        self.wrong_kind(value, "a table", (name,))
        return {}

    def wrong_kind(self, value: object, wanted: str, path: Path) -> None:
        self.faults.add(f"{kind_of(value)} stands where {wanted} is needed", path, found=shown(value))

    def layer(self, value: object, place: str, path: Path) -> _Layer:
        if not isinstance(value, dict):
            self.wrong_kind(value, "a table", path)
            return _Layer(path)
        return _Layer(path, value, keys.read_keys(value, place, self.faults, path))

    def form(self, parts: dict[str, _Layer]) -> list[_Layer]:
        """The form's entries; those that name no part of the sheet are faults and left out."""
        value = self.table.get("form")
        if not isinstance(value, list) or not value:
            if "form" not in self.table:
                self.faults.add("a song needs a form", (), hint='form = ["verse", "chorus"] above the tables')
            elif isinstance(value, list):
                self.faults.add("the form is empty", ("form",), hint='form = ["verse", "chorus"]')
            else:
                self.wrong_kind(value, "a list of part names", ("form",))
            return []
        found = []
        for index, item in enumerate(value):
            path: Path = ("form", index)
            if isinstance(item, str):
                layer = _Layer(path, {"part": item}, {"part": item})
            elif isinstance(item, dict):
                layer = self.layer(item, keys.ENTRY, path)
                if "part" not in item:
                    self.faults.add("a form entry needs a key part", path, hint='{ part = "verse", bars = 4 }')
            else:
                self.wrong_kind(item, "a part's name or an entry { part = ... }", path)
                continue
            if "part" in layer.read and self.known_part(layer, parts):
                found.append(layer)
        return found

    def known_part(self, layer: _Layer, parts: dict[str, _Layer]) -> bool:
        part = _part(layer)
        if part in parts:
            return True
        path = layer.path if layer.raw == {"part": part} and self.is_text(layer.path) else (*layer.path, "part")
        near = nearest(part, parts)
        more = ", ..." if len(near) > PART_NAMES_SHOWN else ""
        allowed = ", ".join(near[:PART_NAMES_SHOWN]) + more
        hint = near[0] if near else f"a table [parts.{part[:20]}]"
        self.faults.add("no part has this name", path, found=shown(part), allowed=allowed, hint=hint)
        return False

    def is_text(self, path: Path) -> bool:
        form = self.table["form"]
        return isinstance(form, list) and isinstance(form[int(path[1])], str)

    # -- values -----------------------------------------------------------------------------------------

    def settings(self, layer: _Layer, below: _InForce) -> Settings:
        """The settings of a layer; its metre, grouping and backbeats belong together."""
        values: dict[str, Any] = {name: value for name, value in layer.read.items() if name in _SETTING_NAMES}
        said = cast("Meter | None", layer.read.get("meter"))
        meter = said or below.meter
        moved = (meter.upper, meter.lower) != below.figures
        if "grouping" in values:
            meter = meter_of({"meter": meter, "grouping": values["grouping"]}, meter, self.faults, layer.path)
        elif moved and below.grouping is not None:
            values["grouping"] = meter.grouping  # the one from below is of another metre
        if said is not None:
            values["meter"] = meter
        for name, parse in _PLACES.items():
            own = values.pop(name, None)
            # The same beat numbers are other places in another metre.
            text = own or (getattr(below, name) if moved else None)
            if text is not None:
                with self.faults.at(*layer.path, "meter" if own is None else name):
                    values[name] = parse(text, meter)
        return Settings(**values)

    def entry(self, layer: _Layer, below: _InForce) -> Entry:
        return Entry(
            _part(layer),
            self.settings(layer, below),
            cast("str | None", layer.read.get("name")),
            cast(int, layer.read.get("repeat", 1)),
            cast(Fixed, layer.read.get("fixed", False)),
        )

    # -- grooves ----------------------------------------------------------------------------------------

    def sheet_grooves(self) -> dict[str, Groove | None]:
        """The grooves of the sheet; None for those with a fault, which is told once."""
        found: dict[str, Groove | None] = {}
        for name, value in self.subtables("grooves").items():
            found[name] = None
            if isinstance(value, dict):
                file = groove_from_table(value, self.faults, ("grooves", name), self.meter)
                found[name] = file.groove if file is not None else None
            else:
                self.wrong_kind(value, "a table", ("grooves", name))
        return found

    def grooves(self, layers: list[_Layer], sheet: dict[str, Groove | None]) -> dict[str, Groove]:
        """Every groove that a layer names, of the sheet first; what is not found is a fault of each place."""
        found = {name: groove for name, groove in sheet.items() if groove is not None}
        missing: dict[str, GrooveForgeError] = {}
        for layer in layers:
            name = layer.read.get("groove")
            if not isinstance(name, str) or name in found or name in sheet:
                continue
            with self.faults.at(*layer.path, "groove"):
                if name in missing:
                    # A groove file says where it is wrong, and says it once.
                    raise FormatError(fault for fault in missing[name].faults if not fault.file)
                try:
                    found[name] = self.find_groove(name)
                except GrooveForgeError as error:
                    missing[name] = error
                    raise
        return found

    # -- the kit ----------------------------------------------------------------------------------------

    def key_map(self) -> str:
        """The name of the kit's key map; one that is not found or wrong is a fault."""
        name = cast(str, self.own.get("key_map", GM.name))
        with self.faults.at("key_map"):
            self.band.key_map(name)
        return name

    def profile(self) -> str:
        """The name of the drummer's profile; one that is not found or wrong is a fault."""
        name = cast(str, self.own.get("profile", DEFAULT_PROFILE))
        with self.faults.at("profile"):
            self.band.profile(name)
        return name

    # -- riffs ------------------------------------------------------------------------------------------

    def riffs(self, layers: list[_Layer]) -> dict[str, Riff]:
        """Every riff file that a layer names; one that is not found is a fault once."""
        found: dict[str, Riff] = {}
        missing: set[str] = set()
        for layer in layers:
            name = layer.read.get("riff")
            if not isinstance(name, str) or name in found or name in missing or not is_riff_file(name):
                continue
            with self.faults.at(*layer.path, "riff"):
                missing.add(name)
                found[name] = self.find_riff(name)
        return found


def _part(layer: _Layer) -> str:
    return cast(str, layer.read["part"])
