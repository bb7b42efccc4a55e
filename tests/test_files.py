"""files: whole or not at all, never over a file that is not ours, and every change can be taken back."""

from __future__ import annotations

import json
import os
import tempfile
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from grooveforge import files
from grooveforge.errors import FileError


def test_a_file_over_64_mib_is_refused_unread(tmp_path: Path) -> None:
    big = tmp_path / "big.mid"
    with big.open("wb") as file:
        file.truncate(files.MOST_BYTES + 1)
    with pytest.raises(FileError, match="too large"):
        files.read_bytes(big)


def test_a_missing_file_names_its_neighbours(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text("", encoding="utf-8")
    with pytest.raises(FileError, match=r"a\.toml"):
        files.read_bytes(tmp_path / "b.toml")
    with pytest.raises(FileError, match="folder's name"):
        files.read_bytes(tmp_path / "none" / "b.toml")
    with pytest.raises(FileError, match="check the name"):
        files.read_bytes(tmp_path / "b.mid")


def test_text_is_utf_8(tmp_path: Path) -> None:
    """A byte order mark is dropped; other encodings and zero bytes are said with their place."""
    path = tmp_path / "a.toml"
    path.write_bytes(b"\xef\xbb\xbftitle")
    assert files.read_text(path) == "title"
    path.write_bytes(b"caf\xe9")
    with pytest.raises(FileError, match="byte 0xe9 at 3"):
        files.read_text(path)
    path.write_bytes(b"a\x00b")
    with pytest.raises(FileError, match="a zero byte at 1"):
        files.read_text(path)


def test_foreign_and_edited_files_stay_without_force_and_are_kept_with_it(tmp_path: Path) -> None:
    """Nothing at all is written when one of the files is refused."""
    (tmp_path / "foreign.mid").write_bytes(b"theirs")
    with pytest.raises(FileError, match="did not write"):
        files.write_outputs(tmp_path, {"first.mid": b"1", "foreign.mid": b"2"})
    assert not (tmp_path / "first.mid").exists()
    files.write_outputs(tmp_path, {"ours.mid": b"1"})
    (tmp_path / "ours.mid").write_bytes(b"edited")
    with pytest.raises(FileError, match="edited since"):
        files.write_outputs(tmp_path, {"ours.mid": b"2"})
    for number in (2, 3):
        files.write_outputs(tmp_path, {"ours.mid": b"%d" % number}, force=True)
        (tmp_path / "ours.mid").write_bytes(b"edited %d" % number)
    files.write_outputs(tmp_path, {"ours.mid": b"4"}, force=True)
    kept = {path.name: path.read_bytes() for path in tmp_path.glob("ours.mid.*")}
    assert kept == {"ours.mid.1": b"edited", "ours.mid.2": b"edited 2", "ours.mid.3": b"edited 3"}


def test_a_directory_in_the_way(tmp_path: Path) -> None:
    (tmp_path / "song.mid").mkdir()
    with pytest.raises(FileError, match="a directory where a file"):
        files.write_outputs(tmp_path, {"song.mid": b""})
    with pytest.raises(FileError, match="a directory where a file"):
        files.write_output(tmp_path, b"")
    with pytest.raises(FileError, match="folder cannot be made"):
        (tmp_path / "plain").write_bytes(b"")
        files.write_outputs(tmp_path / "plain" / "below", {"a": b""})


BROKEN = (b"", b"[]", b'{"files": 3}', b'{"files": {"a": 1}}', b"\xff", b'{"files": {"\\ud800": "1"}}')


@pytest.mark.parametrize("text", BROKEN)
def test_a_broken_manifest_makes_files_foreign_and_nothing_else(tmp_path: Path, text: bytes) -> None:
    files.write_outputs(tmp_path, {"a": b"1"})
    (tmp_path / files.MANIFEST).write_bytes(text)
    with pytest.raises(FileError, match=r"did not write|edited"):
        files.write_outputs(tmp_path, {"a": b"2"})
    assert (tmp_path / "a").read_bytes() == b"1"


def test_the_manifest_lists_name_and_hash(tmp_path: Path) -> None:
    """The format that other tools may read: SHA-256 (FIPS 180-4) of each file by name."""
    files.write_outputs(tmp_path, {"a/b.mid": b"abc"})
    listed = json.loads((tmp_path / files.MANIFEST).read_bytes())
    # SHA-256 of "abc", the worked example of FIPS 180-4's companion document.
    assert listed == {"files": {"a/b.mid": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"}}


def test_what_a_killed_process_was_about_to_write_is_known_as_ours(tmp_path: Path) -> None:
    files.write_outputs(tmp_path, {"a": b"old"})
    old = json.loads((tmp_path / files.MANIFEST).read_bytes())
    old["writing"] = {"a": files.digest(b"new")}
    (tmp_path / files.MANIFEST).write_text(json.dumps(old), encoding="utf-8")
    (tmp_path / "a").write_bytes(b"new")
    files.write_outputs(tmp_path, {"a": b"newer"})
    assert (tmp_path / "a").read_bytes() == b"newer"
    assert not (tmp_path / "a.1").exists()


def test_the_mode_of_a_file_stays(tmp_path: Path) -> None:
    files.write_outputs(tmp_path, {"a": b"1"})
    (tmp_path / "a").chmod(0o640)
    files.write_outputs(tmp_path, {"a": b"2"})
    assert (tmp_path / "a").stat().st_mode & 0o777 == 0o640


def test_temporary_files_that_no_one_holds_are_swept(tmp_path: Path) -> None:
    left = tmp_path / ".a.0123456789ab.new"
    left.write_bytes(b"half")
    files.write_outputs(tmp_path, {"a": b"1"})
    assert not left.exists()


@settings(max_examples=30, deadline=None)
@given(st.lists(st.binary(max_size=20), min_size=1, max_size=14, unique=True))
def test_undo_goes_back_ten_changes_byte_for_byte(versions: list[bytes]) -> None:
    """Changes and undos are inverse to each other, as far as they are kept."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "song.toml"
        path.write_bytes(versions[0])
        for before, after in pairwise(versions):
            files.change_in_place(path, before, after)
        for before in reversed(versions[:-1][-files.UNDO_DEPTH :]):
            files.undo(path)
            assert path.read_bytes() == before
        with pytest.raises(FileError, match="no change to take back"):
            files.undo(path)


def test_a_change_from_other_bytes_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "song.toml"
    path.write_bytes(b"on disk")
    with pytest.raises(FileError, match="changed on disk"):
        files.change_in_place(path, b"read before", b"new")
    assert path.read_bytes() == b"on disk"


def test_a_change_that_was_never_made_is_no_change_to_take_back(tmp_path: Path) -> None:
    """A process was killed after it kept the old version and before it replaced the file."""
    path = tmp_path / "song.toml"
    path.write_bytes(b"one")
    files.change_in_place(path, b"one", b"two")
    (tmp_path / files.UNDO_FOLDER / "song.toml.2").write_bytes(files.digest(b"three").encode() + b"\ntwo")
    files.undo(path)
    assert path.read_bytes() == b"one"


def test_listed_files_of_no_folder(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="no such folder"):
        files.listed(tmp_path / "none", "*.toml")
    (tmp_path / "b.toml").write_bytes(b"")
    (tmp_path / "a.toml").write_bytes(b"")
    assert [path.name for path in files.listed(tmp_path, "*.toml")] == ["a.toml", "b.toml"]


def test_names_that_are_no_utf_8_survive_the_manifest(tmp_path: Path) -> None:
    """A name of raw bytes, as a file system may hold it."""
    name = os.fsdecode(b"caf\xe9.mid")
    files.write_outputs(tmp_path, {name: b"1"})
    files.write_outputs(tmp_path, {name: b"2"})
    assert (tmp_path / name).read_bytes() == b"2"


def test_large_outputs_are_still_ours(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The limit on inputs does not keep a long WAV from being replaced by its next version, or kept when edited."""
    path = tmp_path / "song.wav"
    files.write_output(path, b"x" * 100)
    monkeypatch.setattr(files, "MOST_BYTES", 10)
    files.write_output(path, bytearray(b"y" * 100))
    assert path.read_bytes() == b"y" * 100
    path.write_bytes(b"z" * 100)
    files.write_output(path, b"y" * 100, force=True)
    assert (tmp_path / "song.wav.1").read_bytes() == b"z" * 100


def test_the_first_bytes(tmp_path: Path) -> None:
    """`read_head` gives what there is, and errors that name the file."""
    path = tmp_path / "kit.sf2"
    path.write_bytes(b"RIFF1234sfbk")
    assert files.read_head(path, 4) == b"RIFF"
    assert files.read_head(path, 100) == b"RIFF1234sfbk"
    for wrong in (tmp_path, tmp_path / "none.sf2"):
        with pytest.raises(FileError, match=wrong.name):
            files.read_head(wrong, 4)
