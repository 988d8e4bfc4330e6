"""Hypothesis profiles: `dev` by default, `ci` where CI is set, `nightly` by `--hypothesis-profile=nightly`."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

# A ledger is a large example, and a slow machine is no fault of the code.
_CHECKS = [HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much]

settings.register_profile("dev", max_examples=30, stateful_step_count=12, deadline=None, suppress_health_check=_CHECKS)
settings.register_profile(
    "ci",
    max_examples=80,
    stateful_step_count=20,
    deadline=None,
    suppress_health_check=_CHECKS,
    derandomize=True,  # a pull request is not the place to meet a new fault
    print_blob=True,
)
settings.register_profile(
    "nightly",
    max_examples=3000,
    stateful_step_count=40,
    deadline=None,
    suppress_health_check=_CHECKS,
    print_blob=True,
)
settings.load_profile("ci" if os.environ.get("CI") else "dev")

pytest_plugins = ["tests.pages", "tests.postgres", "tests.stores"]
