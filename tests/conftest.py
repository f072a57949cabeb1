"""How the tests are run: on all cores, without benchmarks and slow proofs, and never against the clock.

A slow proof is marked ``slow`` and left out unless it is asked for; something quicker beside it looks at the same. The
whole suite is spread over the cores; a part of it, which is what somebody at work asks for, stays in one process.
"""

from __future__ import annotations

import os
from pathlib import Path

# Before numpy is loaded: for matrices as small as ours many threads only wait for each other.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# Whatever language this machine speaks, the tests read English; commands that they start inherit it.
os.environ["LANGUAGE"] = "en"
# Commands that a test starts, wherever it starts them, are those of this tree.
os.environ["PYTHONPATH"] = os.pathsep.join(
    filter(None, (str(Path(__file__).parent.parent), os.environ.get("PYTHONPATH")))
)
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

# A slow machine makes no test fail: nothing that hypothesis does is held against the clock. Each day it looks for a
# quarter of the examples, and as it begins anywhere, days add up; `--hypothesis-profile thorough` looks for all.
for name, each in (("daily", 25), ("thorough", 100)):
    settings.register_profile(name, deadline=None, suppress_health_check=[HealthCheck.too_slow], max_examples=each)
settings.load_profile("daily")


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int | None:
    """One process for a part of the tests, whose start is all the waiting; for the whole, as many as there are cores.

    The environment variable PYTEST_XDIST_AUTO_NUM_WORKERS says another number.
    """
    option = config.option
    whole = config.args_source is pytest.Config.ArgsSource.TESTPATHS and not option.keyword
    return None if whole and not (option.benchmark_only or option.collectonly) else 0


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave benchmarks out unless they are asked for."""
    if config.getoption("--benchmark-only"):
        return
    timed = [item for item in items if "benchmark" in getattr(item, "fixturenames", ())]
    if timed:
        config.hook.pytest_deselected(items=timed)
        items[:] = [item for item in items if item not in timed]


class LeftOut:
    """Counts the slow tests that were not asked for; with workers, each of them collects all tests and tells it."""

    def __init__(self, config: pytest.Config) -> None:
        self.config = config
        self.count = 0

    def pytest_deselected(self, items: list[pytest.Item]) -> None:
        self.count += sum(item.get_closest_marker("slow") is not None for item in items)

    def pytest_sessionfinish(self, session: pytest.Session) -> None:
        told: dict[str, Any] | None = getattr(session.config, "workeroutput", None)
        if told is not None:
            told["slow left out"] = self.count

    @pytest.hookimpl(optionalhook=True)
    def pytest_testnodedown(self, node: Any) -> None:
        self.count = max(self.count, getattr(node, "workeroutput", {}).get("slow left out", 0))

    def pytest_terminal_summary(self, terminalreporter: Any) -> None:
        # With words of the caller's own for what to leave out, they know.
        if self.count and self.config.option.markexpr == "not slow":
            terminalreporter.write_line(f"{self.count} slow proofs were left out; run them by: pytest -m slow")


@pytest.fixture
def small_maps(monkeypatch: pytest.MonkeyPatch) -> None:
    """Maps of slack with fewer points, where their form is looked at: most of the study's time goes into them."""
    monkeypatch.setattr("fieldsim.studies.slack.COARSE", 5)
    monkeypatch.setattr("fieldsim.studies.slack.FINE", 7)


def pytest_configure(config: pytest.Config) -> None:
    if not hasattr(config, "workerinput"):
        # Before the workers begin: what the program reads of a catalog is made from its text, as an install does.
        from catalogs import make_stale

        make_stale()
    workers = int(os.environ.get("PYTEST_XDIST_WORKER_COUNT", "1"))
    if workers > 1:
        # Side by side they share the cores: what asks for as many threads as there are cores gets its part of them.
        # The variable is for the commands that a test starts, and read by Python from 3.13 on.
        part = max(1, (os.cpu_count() or 1) // workers)
        os.environ["PYTHON_CPU_COUNT"] = str(part)
        os.cpu_count = lambda: part
    config.pluginmanager.register(LeftOut(config), "left out")
