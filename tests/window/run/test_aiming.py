"""An act or a target that is picked: its trials' tool points, and how often it is met."""

from __future__ import annotations

import numpy as np
import pytest
from test_run_session import block, click, with_trials

from fieldsim.model import Act
from fieldsim.report.phrases import how_often_shortly
from fieldsim.window.paint.odds import columns_of
from fieldsim.window.run.session import RunSession
from fieldsim.window.run.view import RunView

LID = 6
"""The segment of flour round that acts at the flour lid."""


def target_at(made: RunSession, name: str) -> tuple[float, float]:
    target = next(target for target in made.run.field.targets if target.name == name)
    return made.camera.pixel(*target.at)


def answer_of(made: RunSession):  # type: ignore[no-untyped-def]
    assert made.shown is not None
    assert made.shown.answer is not None
    return made.shown.answer


def test_an_act_that_is_picked_shows_where_the_tool_was_in_every_trial() -> None:
    made = with_trials()
    assert RunView(made).scene().shots == ()
    click(made, *block(made, LID - 1))
    (shot,) = RunView(made).scene().shots
    assert made.shown is not None
    trials = made.shown.first
    assert trials is not None
    assert len(shot.of.points) == trials.reached[:, 0].sum()
    away = np.hypot(*(shot.of.points - shot.of.at).T)
    assert away == pytest.approx(trials.miss[trials.reached[:, 0], 0])
    answer = answer_of(made).targets[0]
    assert shot.words[0].endswith(how_often_shortly(answer.share, answer_of(made).trials))
    assert np.hypot(shot.of.plan.ahead, shot.of.plan.left) == pytest.approx(answer.nominal_miss)
    click(made, *block(made, 0))
    assert RunView(made).scene().shots == ()


def test_a_target_can_be_picked_and_says_how_often_it_is_met() -> None:
    made = with_trials()
    click(made, *target_at(made, "lever"))
    assert made.thing == "lever"
    numbers = RunView(made).scene().numbers
    assert numbers is not None
    assert [row.value for row in numbers.rows] == [f"{target_within(made, 'lever'):g} mm"]
    assert RunView(made).scene().shots == ()
    # Marks of trials lie all over the lid; a press on them picks the trial, so it is picked where none is.
    made.thing, made.place = "flour lid", None
    numbers = RunView(made).scene().numbers
    assert numbers is not None
    answer = answer_of(made).targets[0]
    assert numbers.rows[0].value == how_often_shortly(answer.share, answer_of(made).trials)
    assert all(row.plain for row in numbers.rows)
    assert [shot.of.segment for shot in RunView(made).scene().shots] == [LID]


def target_within(made: RunSession, name: str) -> float:
    return next(target for target in made.run.field.targets if target.name == name).within


def test_the_strip_shows_what_the_miss_leaves_of_the_tolerance() -> None:
    made = with_trials()
    shown = made.shown
    assert shown is not None
    assert shown.answer is not None
    answer = shown.answer.targets[0]
    columns = {column.begin: column for column in columns_of(shown.answer, shown.first)}
    column = columns[LID - 1]
    assert column.act
    assert answer.within is not None
    assert column.allowed == answer.within
    assert column.planned == pytest.approx(max(0.0, answer.within - answer.nominal_miss))
    values = [column.p05, column.p25, column.p50, column.p75, column.p95]
    assert all(value is not None for value in values)
    assert values == sorted(values)  # type: ignore[type-var]
    assert answer.miss_median is not None
    assert column.p50 == pytest.approx(max(0.0, answer.within - answer.miss_median))
    assert [g for g, column in columns.items() if column.act] == [
        g for g, segment in enumerate(made.run.segments) if isinstance(segment, Act)
    ]


def test_shots_vanish_while_a_trial_is_looked_at_alone() -> None:
    made = with_trials()
    click(made, *block(made, LID - 1))
    made.key("t")
    assert RunView(made).scene().shots == ()
    made.key("escape")
    assert len(RunView(made).scene().shots) == 1
