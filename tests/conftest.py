"""Settings of the whole test suite: one Hypothesis profile, so that every run draws the same examples."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

from tests.browser import browsing

if TYPE_CHECKING:
    from playwright.sync_api import Browser

settings.register_profile(
    "ci",
    derandomize=True,
    database=None,
    deadline=None,
    max_examples=25,
    # A groove is a large value; drawing one is slow on a busy machine and says nothing about the code.
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("ci")


def pytest_sessionstart() -> None:
    """Forget what was remembered: a mutation test forks from a process that ran everything once, and a result kept
    from then would hide the mutant."""
    if "MUTANT_UNDER_TEST" not in os.environ:
        return
    for name, module in list(sys.modules.items()):
        if name.startswith("grooveforge."):
            for value in vars(module).values():
                forget = getattr(value, "cache_clear", None)
                if callable(forget):
                    forget()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One browser for all tests: playwright runs but once in a process."""
    with browsing() as made:
        yield made
