"""Which further tests help most: what must hold of information, and runs whose need is known. Data invented."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
import pytest
from plans import robot, run

from fieldsim.answers import to_json
from fieldsim.calibration import further as study
from fieldsim.calibration.assembled import assembled
from fieldsim.calibration.estimate import Fit
from fieldsim.calibration.fit import fit
from fieldsim.calibration.further import Batch, batches, driven_tests, further
from fieldsim.calibration.observed import observed
from fieldsim.model import Accuracy, Act, Run, Straight, StraightNoise, Systematic, Target, Turn, TurnNoise
from fieldsim.model.measured import Sheet, StraightTest, Test, TurnTest
from fieldsim.report.statement import Section, Statement, statement_text
from fieldsim.report.words.further import batch_words, further_section
from fieldsim.sim.trials import simulate

TRUE = Accuracy(
    bias=Systematic(0.004, 0.3, 0.01), day=Systematic(0.002, 0.1, 0.01), straight=StraightNoise(0.8, 1.5, 0.4),
    turn=TurnNoise(0.5, 0.6),
)  # fmt: skip
ROBOT = robot(Accuracy())


def text_of(section: Section) -> str:
    return statement_text(Statement("", "", (), "", sections=(section,)))


def measured(seed: int, straights: int = 6, turns: int = 6, days: int = 3) -> Sheet:
    """Straights of 300 and 1000 mm and turns of 90 and 360 degrees of a known robot, over some days."""
    rng = np.random.default_rng(seed)
    tests: list[Test] = []
    for day in range(days):
        date = datetime.date(2026, 11, 1 + day)
        b, d = TRUE.bias, TRUE.day
        z = rng.standard_normal(3)
        bias = Systematic(b.distance + d.distance * z[0], b.veer + d.veer * z[1], b.turn + d.turn * z[2])
        today = replace(TRUE, bias=bias, day=Systematic())
        for k in range(straights // days):
            length = (300.0, 1000.0)[k % 2]
            x, y, _ = simulate(run(Straight(length), accuracy=today), 1, int(rng.integers(1 << 40))).poses[0, -1]
            tests.append(
                StraightTest(
                    line=2, date=date, commanded=length, travel=float(round(x - 2000)), sideways=float(round(y - 2000))
                )
            )
        for k in range(turns // days):
            angle = (90.0, 360.0)[k % 2]
            heading = simulate(run(Turn(angle), accuracy=today), 1, int(rng.integers(1 << 40))).poses[0, -1, 2]
            tests.append(TurnTest(line=2, date=date, commanded=angle, angle_read=float(round(heading * 2) / 2)))
    return Sheet(tuple(tests))


def reaching(*segments: Straight | Turn, at: tuple[float, float], within: float) -> Run:
    made = run(*segments)
    bell = Target("bell", (2000.0 + at[0], 2000.0 + at[1]), within=within)
    return replace(
        made, field=replace(made.field, targets=(bell,)), segments=(*made.segments, Act("bell", 1.0))
    )  # fmt: skip


FRONT = ROBOT.body.length - ROBOT.body.axle


def test_more_tests_never_widen_an_interval() -> None:
    """Information adds up: no number is known less well with a batch more. (Of a bias Student's t is in it too.)"""
    sheet = measured(1)
    answer = fit(ROBOT, sheet)
    known = [observed(ROBOT, test) for test in driven_tests(sheet)]
    typical = study._typical(answer)
    before = study._widths(assembled(known), typical)
    for batch in batches():
        added = [observed(ROBOT, test) for test in study._tests_of(batch, ROBOT, 1)]
        assert len(added) == batch.tests
        assert len({test.date for test in added}) == batch.days
        after = study._widths(assembled([*known, *added]), typical)
        for name, width in after.items():
            assert width <= before[name] * 1.001, (batch, name)
        about = {"straight": "straight.veer", "turn": "turn.slip", "square path": "bias.turn"}[batch.kind]
        assert after[about] < 0.99 * before[about]


def test_doubling_a_sheet_narrows_a_bias_by_about_root_two() -> None:
    """On days of its own, twice the tests: the standard error falls by 1/sqrt(2), Student's t a little more."""
    one = measured(2)
    again = Sheet(
        tuple(
            replace(test, date=test.date + datetime.timedelta(days=100))  # type: ignore[operator]
            for test in one.tests
        )
    )
    answer = fit(ROBOT, one)
    typical = study._typical(answer)
    known = [observed(ROBOT, test) for test in driven_tests(one)]
    more = [observed(ROBOT, test) for test in driven_tests(again)]
    before, after = (study._widths(assembled(tests), typical) for tests in (known, [*known, *more]))
    for name in ("bias.distance", "bias.turn"):
        assert 0.4 < after[name] / before[name] < 0.72


@pytest.fixture(scope="module")
def known() -> tuple[Sheet, Fit]:
    sheet = measured(3)
    return sheet, fit(ROBOT, sheet)


def test_turns_help_a_run_of_turns_with_few_robots_too(
    known: tuple[Sheet, Fit], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(study, "ROBOTS", 16)
    monkeypatch.setattr(study, "ALL_ROBOTS", 32)
    sheet, answer = known
    turning = reaching(Turn(360.0), Turn(90.0), at=(0.0, FRONT), within=4.0)
    found = further(turning, answer, driven_tests(sheet))
    widths = {kind: [w.high - w.low for w in found.first if w.batch.kind == kind] for kind in ("straight", "turn")}
    assert min(widths["turn"]) < min(widths["straight"])
    assert found.first[0].batch.kind != "straight"


@pytest.mark.slow
def test_a_run_of_turns_needs_turns_and_one_of_straights_straights(known: tuple[Sheet, Fit]) -> None:
    sheet, answer = known
    turning = reaching(Turn(360.0), Turn(90.0), at=(0.0, FRONT), within=4.0)
    found = further(turning, answer, driven_tests(sheet))
    assert found.first[0].batch.kind != "straight"
    widths = {worth.batch: worth.high - worth.low for worth in found.first}
    assert len(widths) == len(list(batches()))
    now = found.high - found.low
    # Straights tell nothing of turns: the same width as now, but for the draw.
    for batch, width in widths.items():
        if batch.kind == "straight":
            assert width == pytest.approx(now, abs=0.05)
    assert min(widths.values()) < 0.95 * now
    straight = reaching(Straight(1500.0), at=(1500.0 + FRONT, 0.0), within=12.0)
    found = further(straight, answer, driven_tests(sheet))
    least = {
        kind: min(worth.high - worth.low for worth in found.first if worth.batch.kind == kind)
        for kind in ("straight", "turn")
    }
    assert least["straight"] < least["turn"] - 0.02
    # What comes after the best batch counts it too.
    first, then = found.then
    assert then.high - then.low <= first.high - first.low + 0.02


def test_in_words_and_as_json(known: tuple[Sheet, Fit], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(study, "ROBOTS", 4)
    monkeypatch.setattr(study, "ALL_ROBOTS", 8)
    sheet, answer = known
    made = reaching(Straight(1500.0), at=(1500.0 + FRONT, 0.0), within=12.0)
    seen: list[tuple[int, int]] = []
    found = further(made, answer, driven_tests(sheet), watch=lambda done, wanted: seen.append((done, wanted)))
    assert seen[-1][0] == seen[-1][1]
    assert [done for done, _ in seen] == sorted(done for done, _ in seen)
    text = text_of(further_section(found))
    assert batch_words(found.first[0].batch) in " ".join(text.split())
    assert "with 12 tests driven" in text
    said = to_json(found)
    assert said["first"][0].keys() == {"kind", "size", "tests", "days", "low", "high"}
    assert said["low"] <= said["high"]


def test_without_tests_it_says_which_to_begin_with() -> None:
    made = reaching(Straight(1500.0), at=(1500.0 + FRONT, 0.0), within=12.0)
    found = further(made, fit(ROBOT, Sheet()), ())
    assert found.first == ()
    text = text_of(further_section(found))
    assert "3 straights of 300 mm and 3 of 1000 mm" in text
    assert "3 turns of 90 degrees" in text


def test_what_no_test_tells_of_is_named_first() -> None:
    sheet = Sheet(tuple(test for test in measured(4).tests if isinstance(test, StraightTest)))
    made = reaching(Straight(500.0), Turn(90.0), at=(500.0, FRONT), within=12.0)
    found = further(made, fit(ROBOT, sheet), driven_tests(sheet))
    assert {"bias.turn", "turn.stop", "turn.slip"} <= set(found.untold)
    assert "bias: turn" in text_of(further_section(found))


def test_names_of_batches() -> None:
    assert batch_words(Batch("turn", 360.0, 2)) == "4 turns of 360 degrees, over 2 new days"
    assert batch_words(Batch("straight", 1000.0, 1)) == "4 straights of 1000 mm, on one new day"
