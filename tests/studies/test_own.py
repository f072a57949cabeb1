"""One question has one number: what every study tells of the run as it is."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from fieldsim import load_run
from fieldsim.model import Run
from fieldsim.stats.intervals import Share
from fieldsim.studies.attempt import attempt
from fieldsim.studies.causes import causes
from fieldsim.studies.compare import compare
from fieldsim.studies.jigs import rank
from fieldsim.studies.own import OWN, lost_answers, own
from fieldsim.studies.slack import slack
from fieldsim.studies.widths import widths

FLOUR = "runs/bakery/flour-round.yaml"


def of_jigs(run: Run, trials: int | None) -> Share | None:
    answer = rank(run, trials=trials or OWN)
    return next(jig.success for jig in answer.jigs if jig.jig == run.start)


ASKED: dict[str, Callable[[Run, int | None], Share | None]] = {
    "try": lambda run, trials: attempt(run, trials=trials or OWN).answer.success,
    "slack": lambda run, trials: slack(run, trials=trials, maps=False, need=0.99).success,
    "widths": lambda run, trials: widths(run, trials=trials, low=140, high=141).values[0].success,
    "causes": lambda run, trials: causes(run, trials=trials, mend=False).success,
    "compare": lambda run, trials: compare([run, run], names=["a", "b"], trials=trials or OWN).runs[1].success,
    "jigs": of_jigs,
}


@pytest.mark.parametrize("study", ASKED)
def test_every_study_tells_the_same_share_of_the_run_as_it_is(study: str) -> None:
    run = load_run(FLOUR)
    assert ASKED[study](run, 300) == own(run, trials=300).share


@pytest.mark.slow
@pytest.mark.parametrize("study", ASKED)
def test_with_nothing_asked_it_is_that_of_try(study: str) -> None:
    run = load_run(FLOUR)
    assert ASKED[study](run, None) == attempt(run).answer.success


def test_without_trials_it_is_of_ten_thousand_and_others_of_fewer() -> None:
    run = load_run(FLOUR)
    answer = slack(run, maps=False, need=1.0)
    assert (answer.own_trials, answer.trials) == (10_000, 2_000)
    assert answer.success == own(run).share


def test_what_goes_wrong_is_told_with_examples() -> None:
    run = load_run(FLOUR)
    found = own(run, trials=300)
    assert len(found.failures) == 300
    most = found.lost
    assert most is not None
    assert most.count == max(found.counts.values())
    assert sum(found.counts.values()) == 300 - int(found.success.sum())
    for row in lost_answers(found.failures, None, 9):
        for number in row.examples:
            failure = found.failures[number - 1]
            assert failure is not None
            assert (failure.why, failure.what, failure.segment) == (row.why, row.what, row.segment)
    assert found.beside(found.success[:100]).share.share == pytest.approx(found.share.share)
