"""Counts, lists and runs of numbers in words."""

from __future__ import annotations

from grooveforge.core.words import bars_from_to, from_to, listed, many, runs


def test_numbers_of_things() -> None:
    """One has no s, and neither 0 nor 2 is one."""
    assert [many(count, "bar") for count in (0, 1, 2)] == ["0 bars", "1 bar", "2 bars"]


def test_words_in_a_row() -> None:
    """No comma before the last."""
    assert [listed("abc"[:count]) for count in range(4)] == ["", "a", "a and b", "a, b and c"]


def test_from_one_number_to_another() -> None:
    """A run of one is a number alone."""
    assert (from_to(3, 5), from_to(3, 3)) == ("3-5", "3")
    assert (bars_from_to(3, 5), bars_from_to(3, 3)) == ("bars 3-5", "bar 3")


def test_numbers_as_runs() -> None:
    """A number that comes twice is said once."""
    assert runs([1, 3, 4, 5, 5, 9]) == ["1", "3-5", "9"]
    assert runs([]) == []
