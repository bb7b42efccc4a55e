"""Whole corpora of real MIDI files that no one here wrote: Debian packages with free licences.

freedoom (BSD-style), openttd-openmsx (GPL-2), simutrans-data (Artistic licence): counted by a second reader.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from grooveforge.errors import GrooveForgeError, MusicError
from grooveforge.formats.drums_read import gather_drums, read_drums
from grooveforge.formats.smf import SmfFile
from grooveforge.formats.smf_read import read_smf
from grooveforge.formats.vary_midi import Variation, vary_part, write_back
from tests.corpora import PACKAGES, needed
from tests.plain_midi import DRUMS, all_but_notes, events_of, onsets, possible

LEAST_FILES = {"freedoom": 60, "openttd-openmsx": 31, "simutrans-data": 50}
"""So many MIDI files the packages had when this was written, or a few fewer."""

CHANNEL = DRUMS + 1


def _counted(data: bytes) -> set[tuple[int, int]]:
    """Distinct (tick, note) on channel 10 by the second reader."""
    return {(tick, note) for track in events_of(data) for tick, note, _ in onsets(track)}


@pytest.mark.parametrize("package", PACKAGES)
def test_every_file_loads_with_the_strokes_that_a_second_reader_counts(package: str) -> None:
    """None is refused; hits are distinct (tick, note), the rest are counted as duplicates."""
    files = needed(package)
    assert len(files) >= LEAST_FILES[package]
    strokes = 0
    for name, data in files.items():
        counted = _counted(data)
        file = read_smf(data)
        part = gather_drums(file, CHANNEL, tuple(range(len(file.tracks))))
        assert set(zip(part.tick.tolist(), part.note.tolist())) == counted, name
        assert len(part) == len(counted), name
        assert len(part) + part.duplicates == sum(len(onsets(track)) for track in events_of(data)), name
        strokes += len(counted)
    assert strokes > 100 * len(files)


@pytest.mark.parametrize("package", PACKAGES)
def test_every_file_with_drums_is_taken_for_drums_without_a_word_about_the_channel(package: str) -> None:
    """Channel 10 is the drums wherever it has notes; a file without any is refused or guessed by name or range."""
    with_drums = 0
    for name, data in needed(package).items():
        if counted := _counted(data):
            part = read_drums(read_smf(data))
            assert (part.channel, len(part)) == (CHANNEL, len(counted)), name
            with_drums += 1
        else:
            try:
                said = read_drums(read_smf(data)).warnings
            except GrooveForgeError as error:
                assert "--channel" in str(error), name
            else:
                assert any("channel 10 has no notes" in words for words in said), name
    assert with_drums


@pytest.mark.parametrize("package", PACKAGES)
def test_files_written_again_have_the_same_events(package: str) -> None:
    """No change asked: the same onsets tick by tick, and every other event in its place and bytes.

    Running status is written out and malformed key signatures go; all else is equal, note-offs too.
    """
    for name, data in needed(package).items():
        file = read_smf(data)
        again = write_back(file, gather_drums(file, CHANNEL, tuple(range(len(file.tracks)))))
        before, after = events_of(data), events_of(again)
        assert again[8:14] == data[8:14], name
        assert len(after) == len(before), name
        for old, new in zip(before, after):
            assert onsets(new) == onsets(old), name
            assert possible(new) == possible(old), name


@pytest.mark.parametrize("package", PACKAGES)
def test_a_hand_moved_to_china_leaves_all_else_in_its_place_and_bytes(package: str) -> None:
    """Every drum track is written anew; ticks and levels stay, other tracks and other events do not change."""
    varied = 0
    for name, data in needed(package).items():
        if not _counted(data):
            continue
        file = read_smf(data)
        again = _on_china(file)
        if again is None:
            continue
        varied += again != write_back(file, read_drums(file))
        for old, new in zip(events_of(data), events_of(again), strict=True):
            assert all_but_notes(new) == all_but_notes(old), name
            assert all(one <= two for (one, _), (two, _) in pairwise(new)), name
            if not onsets(old):
                assert new == possible(old), name
        assert {(tick, note) for tick, note in _counted(data) if note in (35, 36, 38, 40)} <= _counted(again), name
    assert varied


def _on_china(file: SmfFile) -> bytes | None:
    """The file with its hand on china; None where no bar has a hand that could go there."""
    try:
        return write_back(file, vary_part(read_drums(file), Variation(timekeeper="china")))
    except MusicError:
        return None
