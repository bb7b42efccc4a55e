"""The table of keys: complete, without doubles, and in step with the song's values."""

from __future__ import annotations

from dataclasses import fields

import pytest

from grooveforge.core.song import Settings
from grooveforge.errors import FormatError
from grooveforge.formats.keys import ENTRY, KEYS, PART, PLACES, Key, keys_at
from grooveforge.formats.songsheet import TABLES


@pytest.mark.parametrize("place", PLACES)
def test_a_name_stands_once_in_each_place(place: str) -> None:
    """No two rows give the same name a meaning in the same place."""
    names = [key.name for key in KEYS if place in key.places]
    assert len(names) == len(set(names)) == len(keys_at(place))


def test_every_setting_of_the_song_is_a_key_of_parts_and_entries() -> None:
    """What a section can hold can be written in a part and in a form entry."""
    settings = {row.name for row in fields(Settings)}
    assert settings <= set(keys_at(PART)) & set(keys_at(ENTRY))


def test_a_key_of_parts_is_a_setting() -> None:
    """Every key of a part is kept."""
    assert set(keys_at(PART)) <= {row.name for row in fields(Settings)}


def test_tables_are_no_keys() -> None:
    """The sheet's tables and lists are read apart from the keys."""
    assert not {key.name for key in KEYS} & set(TABLES)


@pytest.mark.parametrize("key", KEYS, ids=lambda key: key.name)
def test_every_key_says_what_it_is(key: Key) -> None:
    """Values, default and meaning are written for each key, the meaning in one line."""
    assert all((key.values, key.default, key.meaning))
    assert "\n" not in key.meaning


@pytest.mark.parametrize("key", KEYS, ids=lambda key: key.name)
def test_a_value_of_no_kind_is_refused(key: Key) -> None:
    with pytest.raises(FormatError):
        key.read(object())
