"""Settings of the whole test suite: one Hypothesis profile, so that every run draws the same examples."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

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
