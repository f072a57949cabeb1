"""Drives and trials in the same words, and the forecast's misses counted. Data invented."""

from __future__ import annotations

from typing import Any

from plans import TYPICAL, robot

from fieldsim import load_run
from fieldsim.logbook.trials import (
    ANY,
    HIT,
    OFF,
    THROUGH,
    Case,
    Outcome,
    drive_outcome,
    miss_counts,
    sampled,
    trial_outcome,
)
from fieldsim.model import Act, Box, Field, Obstacle, Run, Spread, StartByEye, Straight, Target, Turn
from fieldsim.model.measured import LogEntry
from fieldsim.sim.failures import Failure, failures
from fieldsim.sim.plan import plan
from fieldsim.sim.trials import simulate

FLOUR = load_run("runs/bakery/flour-round.yaml")
BELL = load_run("runs/bakery/yard-bell.yaml")
RUNS = {"Flour round": FLOUR, "Yard bell": BELL}


def entries(*rows: tuple[int, dict[str, Any]], run: str = "Flour round") -> list[LogEntry]:
    """Rows of (how many times, what the log says)."""
    found: list[LogEntry] = []
    for count, row in rows:
        found += [LogEntry(line=len(found) + 2 + n, **{"run": run, **row}) for n in range(count)]
    return found


def test_trials_and_drives_in_the_same_words() -> None:
    assert trial_outcome(None) == THROUGH
    assert trial_outcome(Failure("touches", "crate", 3)) == Outcome("touched", "crate")
    assert trial_outcome(Failure("misses", "yard bell", 5)) == Outcome("missed", "yard bell")
    assert trial_outcome(Failure("ends outside", "left start", 9)) == Outcome("missed", "left start")
    assert trial_outcome(Failure("too skew", "left wall", 3)) == Outcome("stopped", "left wall")

    def of(run: Run, **row: Any) -> Outcome:
        return drive_outcome(LogEntry(line=2, run="x", **row), run)

    assert of(BELL, result="stopped", segment=3) == Outcome("stopped", "left wall")
    assert of(BELL, result="stopped", segment=4) == Outcome("stopped", "")
    assert of(BELL, result="missed", where="left wall") == Outcome("stopped", "left wall")
    assert of(BELL, result="missed", segment=5) == Outcome("missed", "yard bell")
    assert of(BELL, result="missed", target="yard bell", miss=30) == Outcome("missed", "yard bell")
    assert of(FLOUR, result="stopped", where="left start") == Outcome("missed", "left start")


TARGETS = (Target("one", (700.0, 500.0), 5.0), Target("two", (1200.0, 500.0), 5.0))


def row_of_targets(accuracy: Any = TYPICAL, spread: Spread | None = None) -> Run:
    """Two targets one behind the other. Invented, like all here."""
    pole = Obstacle("pole", Box((1000.0, 662.0), (40.0, 100.0)))
    field = Field("Row", (2000.0, 1000.0), obstacles=(pole,), targets=TARGETS)
    # The tool point is the front face's middle, 110 mm ahead of the axle.
    segments = (Straight(390.0), Act("one"), Straight(500.0), Act("two"), Turn(170.0), Straight(300.0))
    start = StartByEye((200.0, 500.0), 0.0, spread or Spread(2.0, 2.0, 0.5))
    return Run("Row", field, robot(accuracy), start, segments)


def test_of_which_trials_a_measured_miss_is_one() -> None:
    case = Case("Row", row_of_targets(), [])
    assert [case.state(THROUGH, t) for t in (0, 1)] == [HIT, HIT]
    assert [case.state(Outcome("missed", "one"), t) for t in (0, 1)] == [OFF, ANY]
    assert [case.state(Outcome("missed", "two"), t) for t in (0, 1)] == [HIT, OFF]
    assert case.state(Outcome("missed", ""), 0) == ANY
    assert case.state(Outcome("touched", "pole"), 1) == HIT


def test_trials_are_counted_as_failures_and_misses_say() -> None:
    case = Case("Row", row_of_targets(), [])
    sample = sampled(case, plan(case.run), 1500, 3, 1, lambda more: None)
    trials = simulate(case.run, 1500, seed=3)
    outcomes = list(case.numbers)
    assert [outcomes[n] for n in sample.outcome] == [trial_outcome(each) for each in failures(trials)]
    assert (sample.miss >= 0).tolist() == trials.reached.tolist()
    counts = miss_counts(case, sample)
    missed = [n for n, each in enumerate(failures(trials)) if each is not None and each[:2] == ("misses", "two")]
    assert counts[1, OFF].sum() == len(missed)
    assert counts[0, ANY].sum() == trials.reached[:, 0].sum()
    # What was hit is no farther off than the target allows.
    assert counts[:, HIT, 6:].sum() == 0
    assert counts[:, HIT].sum() > 0
