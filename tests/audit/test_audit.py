"""The audit's experiments at small sizes, among the slow proofs; whole by `python -m tests.audit`."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from audit import honest, misfits, policy, shapes, sources, truly
from audit.unknown import DEMO, as_saved, cell

ROOT = Path(__file__).parents[2]


def test_a_few_runs_end_as_linear_propagation_says() -> None:
    """Of 30 covariances the largest is beyond 4.2 standard deviations in less than 1 of 1000."""
    worst, count = sources.largest_z(5, 4000)
    assert count == 30
    assert worst < 4.2


@pytest.mark.slow
def test_runs_end_as_linear_propagation_says() -> None:
    """Of 150 covariances the largest is beyond 4.7 in less than 1 of 2500."""
    worst, count = sources.largest_z(25, 40_000, seed=2)
    assert count == 150
    assert worst < 4.7


@pytest.mark.slow
def test_edges_are_those_of_plain_geometry() -> None:
    errors = shapes.width_errors(3)
    assert len(errors) >= 2
    assert max(errors) < 0.01
    errors = shapes.slack_errors(3)
    assert len(errors) >= 4
    assert max(errors) < 0.01


@pytest.mark.slow
@pytest.mark.parametrize(("drives", "days"), [(12, 1), (12, 3), (24, 4)])
def test_an_honest_log_is_hardly_ever_called_wrong(drives: int, days: int) -> None:
    """5 % of 200 logs or fewer; 22 or more have a chance of less than 0.001 (binomial)."""
    assert honest.false_alarms(drives, days, 200) < 22 / 200


@pytest.mark.slow
def test_the_best_policy_is_that_of_trying_everything() -> None:
    worst, made = policy.largest_difference(150, first=10_000)
    assert made > 100
    assert worst < 1e-9


@pytest.mark.slow
def test_what_the_tests_leave_open_holds_the_truth() -> None:
    """At least 20 of 24 sheets: fewer have a chance of 0.006 where 95 % are held (binomial), so at 93 % one of 0.02."""
    held = float(cell(DEMO, 12, 1, 14.0, 24, as_saved).split("|")[5].split()[0])
    assert held >= 100 * 20 / 24 - 0.1


@pytest.mark.slow
def test_truly_is_said_less_often_and_less_often_wrong_where_the_tests_are_asked() -> None:
    """Of six sheets luck in the trials alone calls one of the two plans truly better in nearly all."""
    (alone, alone_wrong), (asked, asked_wrong) = truly.claims(6).values()
    assert asked < alone
    assert asked_wrong <= alone_wrong
    assert asked_wrong == 0


def test_the_command_says_which_experiments_there_are() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.audit", "nothing"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert "no experiment is called nothing" in done.stderr


@pytest.mark.slow
def test_what_does_not_fit_is_named_and_nothing_else() -> None:
    """Straights that go 1 % farther backwards: in at least 5 of 6 sheets of 36 tests; where there is nothing, of 12
    sheets of 12 at most 3 name something (more have a chance of 0.002 at one in twenty, binomial)."""
    _, there, _ = misfits.told(1, 36, 6)
    assert there >= 5
    assert misfits.told(0, 12, 12)[0] <= 3
