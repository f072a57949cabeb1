"""Benchmarks are run by hand, not with the tests; the bench folder shares the tests' modules."""

from __future__ import annotations

import pytest


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave benchmarks out unless they are asked for."""
    if config.getoption("--benchmark-only"):
        return
    timed = [item for item in items if "benchmark" in getattr(item, "fixturenames", ())]
    if timed:
        config.hook.pytest_deselected(items=timed)
        items[:] = [item for item in items if item not in timed]
