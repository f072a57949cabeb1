"""Benchmarks are run by hand, not with the tests; the bench folder shares the tests' modules."""

from __future__ import annotations

import os

# Before numpy is loaded: for matrices as small as ours many threads only wait for each other.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# Whatever language this machine speaks, the tests read English; commands that they start inherit it.
os.environ["LANGUAGE"] = "en"

import pytest


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave benchmarks out unless they are asked for."""
    if config.getoption("--benchmark-only"):
        return
    timed = [item for item in items if "benchmark" in getattr(item, "fixturenames", ())]
    if timed:
        config.hook.pytest_deselected(items=timed)
        items[:] = [item for item in items if item not in timed]
