"""`log`: runs really driven at the table, held against the forecast.

Three questions, each with how much the few drives can say about it: did the run get through as often as forecast, were
the forecasts good ones (scores), and which of the robot's believed numbers would make the log likelier if it were
another. Days are independent; the drives of one day share that day's errors, and everything here allows for it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from math import inf

import numpy as np

from fieldsim import __version__
from fieldsim.language import tr
from fieldsim.logbook.answer import (
    LEAST_POINTING,
    LEVEL,
    Alternative,
    Explained,
    Fits,
    Judged,
    Left,
    LogAnswer,
    RunLog,
    Scores,
)
from fieldsim.logbook.beliefs import Belief, Watch, Weighed, alternatives, bar_of, beliefs, weigh
from fieldsim.logbook.days import clipped, count_chances, day_chances, days_of
from fieldsim.logbook.details import misses, outcome_chances, tail, timed, went_wrong
from fieldsim.logbook.robots import ends_of, mixed_counts, mixed_logs, shares_a_day
from fieldsim.logbook.scores import DRAWN_LOGS, fitted, judged, scored, two_sided
from fieldsim.logbook.trials import THROUGH, Case, Floats, miss_counts
from fieldsim.model import Run, Systematic
from fieldsim.model.errors import shown
from fieldsim.model.measured import LogEntry
from fieldsim.stats.intervals import Share, wilson
from fieldsim.studies.tally import notes

__all__ = ["LogAnswer", "judge"]


def cases_of(entries: Sequence[LogEntry], runs: Mapping[str, Run]) -> list[Case]:
    """Drives by run, in the order they come up, however the log calls it. Two runs of one name go by the log's word."""
    words: dict[int, list[LogEntry]] = {}
    found: list[Run] = []
    for entry in entries:
        run = runs[entry.run]
        number = next((n for n, other in enumerate(found) if other is run or other == run), len(found))
        if number == len(found):
            found.append(run)
        words.setdefault(number, []).append(entry)
    often = Counter(run.name for run in found)
    return [Case(run.name if often[run.name] == 1 else words[n][0].run, run, words[n]) for n, run in enumerate(found)]


def judge(
    entries: Sequence[LogEntry],
    runs: Mapping[str, Run],
    *,
    trials: int = 10_000,
    seed: int = 1,
    threads: int | None = None,
    watch: Watch = lambda done, wanted: None,
) -> LogAnswer:
    """What drives at the table say about the forecast.

    ``runs`` has a run for each word that entries use for one (see `logbook_runs.read_log`); every name in an entry
    exists in its run. ``trials`` are driven of each run as it is, as many again day by day if drives share days, and a
    part of them again with each belief changed, with the same draws.
    ``watch(done, wanted)`` counts them. Raises ValueError if ``trials`` is not at least 1, KeyError for a run that is
    not in ``runs``.
    """
    if trials < 1:
        raise ValueError(f"trials={trials!r} must be at least 1")
    cases = cases_of(entries, runs)
    # A few drives cannot tell one change from another: then none is tried.
    changes = beliefs([case.run for case in cases]) if len(entries) >= LEAST_POINTING else []
    weighed = weigh(cases, changes, trials=trials, seed=seed, threads=threads, watch=watch)
    dates = {entry.date for entry in entries if entry.date is not None}
    undated = sum(entry.date is None for entry in entries)
    chances = [chances_of(each) for each in weighed]
    fitting = [fitting_chances(each, own, cases) for each, own in zip(weighed, chances, strict=True)]
    answers = tuple(_run_log(*each) for each in zip(weighed, chances, fitting, strict=True))
    bar = bar_of(weighed) if weighed else inf
    together, scores = _together(weighed, answers, chances, fitting, trials) if weighed else (None, None)
    found = alternatives(weighed, changes, bar)
    return LogAnswer(
        version=__version__,
        trials=trials,
        seed=seed,
        drives=len(entries),
        days=len(dates),
        undated=undated,
        runs=answers,
        together=together,
        scores=scores,
        alternatives=found,
        bar=bar,
        explained=explained(weighed, chances, changes, found[0]) if found and found[0].pointed else None,
        one_day=len(dates) + bool(undated) == 1
        and len(entries) > 1
        and any(case.run.robot.accuracy.day != Systematic() for case in cases),
    )


def chances_of(weighed: Weighed) -> Floats:
    """(D,) the forecast's chance to get through on each simulated day."""
    days, trials = weighed.daily, len(weighed.sample)
    through = (days.sample.outcome == 0).reshape(days.days, days.each).sum(axis=1)
    return day_chances(float((weighed.sample.outcome == 0).mean()), trials, through, days.each)


def fitting_chances(weighed: Weighed, chances: Floats, cases: Sequence[Case]) -> Floats:
    """(K, D) the same of each robot that fits the tests; (1, D) the forecast's, if nothing is said of them."""
    if weighed.fitting is None:
        return chances[None, :]
    share = float((weighed.sample.outcome == 0).mean())
    return weighed.fitting.chances(0, share, len(weighed.sample), shares_a_day(weighed.case, cases))


def _fits(weighed: Sequence[Weighed], through: int, fitting: Sequence[Floats]) -> Fits | None:
    """So many through against all robots that fit the tests."""
    tests = {each.case.run.robot.name: each.fitting.tests for each in weighed if each.fitting is not None}
    if not tests:
        return None
    cases = [each.case for each in weighed]
    return fitted(through, mixed_counts(cases, fitting), sum(tests.values()), ends_of(cases, fitting))


def _together(
    weighed: Sequence[Weighed],
    answers: Sequence[RunLog],
    chances: Sequence[Floats],
    fitting: Sequence[Floats],
    trials: int,
) -> tuple[Judged, Scores]:
    """The verdict on all drives, and the scores."""
    cases = [each.case for each in weighed]
    drives = days_of(cases, chances)
    counts = np.array([len(case.entries) for case in cases])
    through = np.array([answer.judged.through for answer in answers])
    forecasts = np.array([[f.share, f.low, f.high] for f in (answer.judged.forecast for answer in answers)])
    forecast = Share(*(float(x) for x in counts @ forecasts / counts.sum()))
    shares = np.array([clipped(answer.judged.forecast.share, trials) for answer in answers])
    fits = _fits(weighed, int(through.sum()), fitting)
    luck = mixed_logs(cases, fitting, DRAWN_LOGS, np.random.default_rng(1)) if fits is not None else None
    return judged(int(through.sum()), drives, forecast, fits), scored(shares, through, drives, luck)


def explained(
    weighed: Sequence[Weighed], chances: Sequence[Floats], changes: Sequence[Belief], best: Alternative
) -> Explained:
    """How much of the log one change explains: the forecast with it against the drives, and which ways to fail are a
    surprise even so. Days are taken to do what they do to the robot as written, the mean of them moved."""
    number = next(m for m, belief in enumerate(changes) if tuple(belief) == (best.what, best.change, best.step))
    written, changed, left = 0.0, 0.0, []
    moved = []
    for each, own in zip(weighed, chances, strict=True):
        case, other = each.case, each.others[number]
        weights = each.base if other is None else other
        by = weights.through - each.base.through
        moved.append(np.clip(own + by, clipped(0.0, len(each.sample)), clipped(1.0, len(each.sample))))
        written += len(case.entries) * (1 - float(own.mean()))
        changed += len(case.entries) * (1 - float(moved[-1].mean()))
        counted = Counter(outcome for outcome in case.outcomes if outcome != THROUGH and outcome.where)
        # Several ways to fail are looked at: each may be a surprise by luck.
        level = LEVEL / max(1, len(counted))
        for outcome, count in counted.items():
            n = case.numbers[outcome]
            at = outcome_chances(case, each.sample, each.daily, None, n)[0]
            more = float(np.exp(weights.outcome[n]) - np.exp(each.base.outcome[n]))
            now = np.clip(at + more, 0.0, 1.0)
            if tail(count_chances(days_of([case], [now])), count) < level:
                expected = len(case.entries) * float(now.mean())
                left.append(Left(case.name, outcome.result, outcome.where, count, expected))
    ways = count_chances(days_of([each.case for each in weighed], moved))
    through = sum(each.case.outcomes.count(THROUGH) for each in weighed)
    drives = sum(len(each.case.entries) for each in weighed)
    p_value = float(two_sided(ways)[through])
    return Explained(drives - through, written, changed, p_value, tuple(left))


def _run_log(weighed: Weighed, chances: Floats, fitting: Floats) -> RunLog:
    case, sample = weighed.case, weighed.sample
    forecast = wilson(int((sample.outcome == 0).sum()), len(sample))
    through = case.outcomes.count(THROUGH)
    seconds = [
        entry.seconds
        for entry, outcome in zip(case.entries, case.outcomes, strict=True)
        if outcome == THROUGH and entry.seconds is not None
    ]
    lost = sorted(
        {
            target
            for entry in case.entries
            if entry.miss is not None and (target := entry.target or entry.where) and target not in case.targets
        }
    )
    remarks = list(notes(case.run))
    if forecast.share in (0.0, 1.0):
        remarks.append(
            tr(
                "The forecast is all or nothing: every trial gets through. "
                "A single drive that ends otherwise contradicts it."
            )
            if forecast.share
            else tr(
                "The forecast is all or nothing: no trial gets through. "
                "A single drive that ends otherwise contradicts it."
            )
        )
    remarks += [
        tr("The run has no act at {target}: misses measured there are left out.", target=shown(target))
        for target in lost
    ]
    if seconds and not len(sample.seconds):
        remarks.append(tr("No trial gets through, so there are no seconds to hold the measured ones against."))
    return RunLog(
        run=case.name,
        field=case.run.field.name,
        robot=case.run.robot.name,
        judged=judged(through, days_of([case], [chances]), forecast, _fits([weighed], through, [fitting])),
        went_wrong=went_wrong(case, sample, weighed.daily, weighed.fitting),
        misses=tuple(misses(case, miss_counts(case, sample), weighed.daily, weighed.fitting)),
        time=timed(seconds, sample.seconds) if seconds and len(sample.seconds) else None,
        notes=tuple(remarks),
    )
