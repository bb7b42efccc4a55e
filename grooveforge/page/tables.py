"""The tables behind the page's controls: the same ones that the commands and the sheet's reader walk."""

from __future__ import annotations

from grooveforge.core import feel_table, kick, timekeeper
from grooveforge.core.arrival import SOFT
from grooveforge.core.figures import LENGTHS
from grooveforge.core.fit import FITS
from grooveforge.core.groove import LANES
from grooveforge.core.kit import BANDS, SURFACE_CODES, SURFACES
from grooveforge.core.riff import MODES
from grooveforge.core.song import FINALS
from grooveforge.core.song import LEVELS as HOW_LOUD
from grooveforge.formats import keys
from grooveforge.formats.key_values import FILL_EVERY, LEVEL_STEPS
from grooveforge.formats.toml_values import truth
from grooveforge.project.library import library_fills, library_grooves
from grooveforge.sound import voices

_WHERE = (keys.SONG, keys.PART, keys.ENTRY)
"""Places whose keys the page shows; those of groove files are edited in the text."""


def _lists() -> dict[str, list[object]]:
    """Plain values by key, where a key has a list of them."""
    endings: list[object] = [False, True, *LENGTHS[:-1]]
    spellings = [name for names in feel_table.SPELLINGS.values() for name in names]
    return {
        "feel": [*feel_table.FEELS],
        "spelling": [*spellings],
        "kick": [*kick.POLICIES],
        "subdivision": [*timekeeper.SUBDIVISIONS],
        "ending": endings,
        "fill": [False, *LENGTHS],
        "fill_every": [*FILL_EVERY],
        "arrival": [True, SOFT, False],
        "level": [*LEVEL_STEPS],
        "levels": [*HOW_LOUD],
        "riff_mode": [*MODES],
        "fit": [*FITS],
        "final": [*FINALS],
    }


def _key_rows() -> list[dict[str, object]]:
    lists = _lists()
    rows: dict[str, dict[str, object]] = {}
    for key in keys.KEYS:
        where = [place for place in key.places if place in _WHERE]
        if not where:
            continue
        values = [True, False] if key.read is truth else lists.get(key.name)
        row: dict[str, object] = {
            "name": key.name,
            "where": where,
            "what": key.meaning,
            "written": key.values,
            "default": TRUTHS.get(key.default, key.default),
            "type": "truth" if key.read is truth else "choice" if values else "text",
        }
        # A key with a row for the song and one for its sections (tempo) stands once, with both places.
        before = rows.setdefault(key.name, row)
        if before is not row:
            before["where"] = [*_listed(before["where"]), *where]
        elif values:
            row["values"] = values
    return list(rows.values())


TRUTHS = {"true": True, "false": False}


def _listed(value: object) -> list[object]:
    return list(value) if isinstance(value, list) else []


def tables() -> dict[str, object]:
    """Every table of the page as plain values."""
    lists = _lists()
    return {
        "feels": [*feel_table.FEELS],
        "relative_feels": [*feel_table.RELATIVE],
        "spellings": {feel: [*names] for feel, names in feel_table.SPELLINGS.items()},
        "surfaces_hand": [surface.name for surface in SURFACES if surface.keeps_time],
        "subdivisions": lists["subdivision"],
        "kicks": lists["kick"],
        "endings": lists["ending"],
        "fills": [*lists["fill"], *(fill.name for fill in library_fills())],
        "arrivals": lists["arrival"],
        "levels": lists["level"],
        "lanes": [*LANES],
        "grooves": [groove.name for groove in library_grooves() if groove.name],
        "keys": _key_rows(),
        "voices": voices.table(),
        "surface_names": {str(SURFACE_CODES[surface.name]): surface.name for surface in SURFACES},
        "bands": [{"name": band.name, "low": band.low, "high": band.high} for band in BANDS],
    }
