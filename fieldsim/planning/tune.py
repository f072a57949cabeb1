"""`tune`: a run made better, and how little of it was changed.

The search (`fieldsim.planning.tuning`) chooses on draws of its own; what is told is driven on the seed's first trials,
those of `try`, paired with the run as written. So the told shares have no luck of being chosen in them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import sqrt
from typing import Annotated, ClassVar, Literal

import numpy as np

from fieldsim import __version__
from fieldsim.language import tr
from fieldsim.model import Act, Run
from fieldsim.model.errors import FieldsimError
from fieldsim.model.units import plain
from fieldsim.planning.aims import Aim, Driven, Word, driven
from fieldsim.planning.draft import Edit, applied, draft_of, free_numbers, unseen
from fieldsim.planning.numbers import meant_in
from fieldsim.planning.tuning import COARSE, Rules, search
from fieldsim.sim.plan import plan
from fieldsim.sim.trials import blocks
from fieldsim.stats.intervals import Share, wilson
from fieldsim.studies.attempt import KEPT, Tried, attempt
from fieldsim.studies.changes import typed
from fieldsim.studies.compare import difference
from fieldsim.studies.fitting import Fitting

__all__ = ["ChangeAnswer", "MeasuredAnswer", "TuneAnswer", "TuneError", "Tuned", "tune"]

# Of a run that is timed, its share is only known so well from the choosing draws: it has to be so many standard errors
# above what is needed there.
SURE = 1.7
# Two-sided 95 % of the normal distribution.
Z = 1.959964


class TuneError(FieldsimError):
    """What is asked for cannot be tuned; the text says why and what to do."""


@dataclass(frozen=True)
class MeasuredAnswer:
    """A run, before or after."""

    success: Annotated[Share, "of fresh trials"]
    seconds: Annotated[float, "s, planned"]
    gap: Annotated[float | None, "mm, the tightest gap that 19 of 20 trials keep"]
    """None if it was not asked for; 0 where more than 1 in 20 touch something."""
    clear: Annotated[Share | None, "touches nothing"]
    """None if it was not asked for."""
    points: Annotated[float | None, "mean of what its acts score"]


@dataclass(frozen=True)
class ChangeAnswer:
    """A change to the run as written, in the order in which each gives most."""

    segment: Annotated[int, "of the run as written, counted from 1; 0 is the start"]
    """Of what is put in, the segment it comes before; one more than there are segments at the end."""
    key: Annotated[str, "the number that is changed, 'put in' or 'taken out'"]
    was: float | None
    now: float | None
    does: Annotated[float | None, "what the robot does then, with its known bias: mm or degrees"]
    words: Annotated[str, "what is typed"]
    alone: Annotated[Share | None, "success with this change alone, of fresh trials"]
    """None for what belongs to the change above it."""
    together: Annotated[Share | None, "success with this and all changes before it"]


@dataclass(frozen=True, kw_only=True)
class TuneAnswer:
    """A better run, or none."""

    command: ClassVar[Literal["tune"]] = "tune"
    version: Annotated[str, "of fieldsim"]
    run: Annotated[str, "the run's name"]
    field: Annotated[str, "the field's name"]
    robot: Annotated[str, "the robot's name"]
    aim: Annotated[Word, "what it was made better for"]
    trials: Annotated[int, "fresh trials of each"]
    seed: int
    step_mm: float
    step_degrees: float
    kept: Annotated[tuple[int, ...], "segments that were to stay as they are, counted from 1; 0 is the start"]
    unseen: Annotated[tuple[int, ...], "segments left as they are since the plan does not say what they are for"]
    most: Annotated[int | None, "changes, at most"]
    within: Annotated[float | None, "s, at most"]
    need: float | None
    interrupted: Annotated[bool, "the rest was not looked at"]
    looked: Annotated[int, "runs that were driven to choose"]
    changes: tuple[ChangeAnswer, ...]
    before: MeasuredAnswer
    after: MeasuredAnswer
    difference: Annotated[Share, "of the success after and before, on the same trials"]
    better: Annotated[bool, "by more than luck explains, in what it was made better for"]
    holds: Annotated[float | None, "share of robots that fit the tests with which more get through after"]
    """None where no file says what the tests leave open, or nothing is better."""

    @property
    def meets_need(self) -> bool | None:
        """Whether as many get through as asked; None if nothing was asked."""
        return None if self.need is None else self.after.success.share >= self.need


@dataclass(frozen=True, eq=False)
class Tuned:
    """The answer, the better run, of each of its segments the index it had, and both as they were tried."""

    answer: TuneAnswer
    run: Run
    origins: tuple[int | None, ...]
    order: tuple[tuple[Edit, ...], ...]
    """The changes in the order in which each gives most, each with what belongs to it."""
    before: Tried
    after: Tried


def tune(
    run: Run,
    *,
    aim: Word = "share",
    need: float | None = None,
    rules: Rules | None = None,
    points: Mapping[str, float] | None = None,
    trials: int = 10_000,
    seed: int = 1,
    threads: int | None = None,
    watch: Callable[[int, int], None] = lambda done, wanted: None,
) -> Tuned:
    """Make a run better for ``aim``: the share that gets through, the room that 19 of 20 trials keep ('margin'), what
    its acts score ('points', of each target in ``points``, else as the field says), or its 'time' while at least
    ``need`` get through.

    A KeyboardInterrupt ends the work with the best so far. Raises TuneError if nothing may be changed, or nothing that
    was asked for can be reached.
    """
    rules = rules or Rules()
    if points is None:
        points = {target.name: target.points for target in run.field.targets}
    _possible(run, aim, need, rules, points)
    asked, left = rules.keep, unseen(run)
    rules = replace(rules, keep=rules.keep | left)
    wanted = None if need is None else min(0.9999, need + SURE * sqrt(need * (1 - need) / (2 * COARSE)))
    goal = Aim(aim, wanted, points)
    guessed = 900 if rules.structure else 400
    found = search(
        run, goal, rules, seed=seed, threads=threads,
        watch=lambda looked: watch(min(90, 90 * looked // guessed), 100),
    )  # fmt: skip
    watch(90, 100)
    before = _measured(run, aim, points, trials, seed, threads)
    after = _measured(found.best.run, aim, points, trials, seed, threads)
    better = bool(found.order) and _truly(aim, need, before, after)
    draft, order = (found.best, found.order) if better else (draft_of(run), ())
    if not better:
        after = before
    rows = _rows(run, order, trials, seed, threads)
    watch(96, 100)
    gain = difference(after.success, before.success)
    holds = Fitting(seed, threads).holds(draft.run, run, gain.share) if better else None
    tried = [attempt(each, trials=trials, seed=seed, threads=threads, keep=KEPT) for each in (run, draft.run)]
    watch(100, 100)
    answer = TuneAnswer(
        version=__version__,
        run=run.name,
        field=run.field.name,
        robot=run.robot.name,
        aim=aim,
        trials=len(before.success),
        seed=seed,
        step_mm=rules.step.mm,
        step_degrees=rules.step.degrees,
        kept=tuple(sorted(each + 1 for each in asked)),
        unseen=tuple(sorted(each + 1 for each in left - asked)),
        most=rules.most,
        within=rules.within,
        need=need,
        interrupted=found.interrupted,
        looked=found.looked,
        changes=rows,
        before=_told(before, aim),
        after=_told(after, aim),
        difference=gain,
        better=better,
        holds=holds,
    )
    return Tuned(answer, draft.run, draft.origins, order, tried[0], tried[1])


def _possible(run: Run, aim: Word, need: float | None, rules: Rules, points: Mapping[str, float]) -> None:
    """Whether there is anything to change and to reach. Raises TuneError."""
    for index in rules.keep:
        if index >= len(run.segments):
            raise TuneError(
                tr("--keep {number}: the run has only {count} segments.", number=index + 1, count=len(run.segments))
            )
    if aim == "time" and need is None:
        raise TuneError(tr("Say how often it must get through in less time: --for time --need 95%."))
    if rules.speeds and aim != "time" and rules.within is None:
        raise TuneError(
            tr("Slower is nearly always better: with --speeds say how long the run may take, such as --within 20.")
        )
    if aim == "points" and not any(points.get(name) for name in _acts(run)):
        raise TuneError(
            tr("No act of this run scores points: give its target points: in the field's file, or leave out --for.")
        )
    if run.finish is None and not _acts(run):
        raise TuneError(
            tr("Nothing says where this run is to get to: give it an act at a target, or a finish: to end in.")
        )
    keep = rules.keep | unseen(run)
    if not list(free_numbers(draft_of(run), rules.step, keep=keep, speeds=rules.speeds)):
        raise TuneError(tr("Nothing is free to be changed: leave out --keep, or keep fewer segments."))
    if rules.within is not None:
        planned = float(sum(plan(run).seconds))
        if planned > rules.within and not rules.speeds:
            raise TuneError(
                tr(
                    "The run takes {planned:.1f} s as planned, more than --within {within:g}: with --speeds it may "
                    "drive faster.",
                    planned=planned,
                    within=rules.within,
                )
            )


def _acts(run: Run) -> list[str]:
    return [segment.target for segment in run.segments if isinstance(segment, Act)]


def _measured(run: Run, aim: Word, points: Mapping[str, float], trials: int, seed: int, threads: int | None) -> Driven:
    ready = plan(run)
    parts = list(blocks(ready, seed, trials, threads=threads, clearances=aim == "margin"))
    return driven(ready, parts, aim == "margin", points)


def _told(made: Driven, aim: Word) -> MeasuredAnswer:
    return MeasuredAnswer(
        wilson(int(made.success.sum()), len(made.success)),
        made.seconds,
        made.tight if aim == "margin" else None,
        wilson(int(made.clear.sum()), len(made.clear)) if aim == "margin" else None,
        float(made.points.mean()) if aim == "points" else None,
    )


def _truly(aim: Word, need: float | None, before: Driven, after: Driven) -> bool:
    """Whether what it was made better for is better by more than luck explains: the 95 % interval of the paired
    difference lies above nothing."""
    gain = difference(after.success, before.success)
    match aim:
        case "share":
            return gain.low > 0
        case "points":
            off = after.points - before.points
            return bool(off.mean() - Z * off.std() / sqrt(len(off)) > 0)
        case "time":
            assert need is not None
            return bool(after.seconds < before.seconds - 0.05 and after.share >= need)
        case _:
            # Where more than 1 in 20 touch something there is no gap to compare: then fewer that do.
            room = _gap_low(after) > _gap_high(before)
            fewer = before.tight == 0 and difference(after.clear, before.clear).low > 0
            return gain.high > 0 and (room or fewer)


def _gap_low(made: Driven) -> float:
    return _gap_at(made, -1)


def _gap_high(made: Driven) -> float:
    return _gap_at(made, 1)


def _gap_at(made: Driven, side: int) -> float:
    """An end of the 95 % interval of the gap that 19 of 20 keep: an order statistic, by the normal approximation of the
    binomial count below it (Conover, Practical nonparametric statistics, 3rd ed. 1999, sec. 3.2)."""
    assert made.gap is not None
    gaps = np.sort(made.gap)
    n = len(gaps)
    at = round(0.05 * n + side * Z * sqrt(n * 0.05 * 0.95))
    return float(gaps[min(max(at, 0), n - 1)])


# --- change by change ----------------------------------------------------------------------------------------------


def _rows(
    run: Run, order: Sequence[tuple[Edit, ...]], trials: int, seed: int, threads: int | None
) -> tuple[ChangeAnswer, ...]:
    found: list[ChangeAnswer] = []
    for number, group in enumerate(order):
        upto = [edit for each in order[: number + 1] for edit in each]
        alone = _share(applied(run, group).run, trials, seed, threads)
        together = alone if number == 0 else _share(applied(run, upto).run, trials, seed, threads)
        found += [
            ChangeAnswer(
                segment=edit.segment + 1,
                key=edit.key,
                was=edit.was,
                now=edit.now,
                does=_does(run, edit),
                words=words_of(run, edit),
                alone=alone if edit is group[0] else None,
                together=together,
            )
            for edit in group
        ]
    return tuple(found)


def _share(run: Run, trials: int, seed: int, threads: int | None) -> Share | None:
    try:
        ready = plan(run)
    except (FieldsimError, ValueError):
        return None
    won = [int(block.success.sum()) for block in blocks(ready, seed, trials, threads=threads, clearances=False)]
    return wilson(sum(won), trials)


def _does(run: Run, edit: Edit) -> float | None:
    if edit.key not in ("distance", "angle", "radius") or edit.segment < 0 or edit.now is None:
        return None
    segment = replace(run.segments[edit.segment], **{edit.key: edit.now})  # type: ignore[arg-type]
    segments = (*run.segments[: edit.segment], segment, *run.segments[edit.segment + 1 :])
    return meant_in(replace(run, segments=segments), edit.segment, edit.key)


def words_of(run: Run, edit: Edit) -> str:
    """What is typed, in the words of a run's file."""
    if edit.key == "put in":
        return "; ".join(typed(each) for each in edit.put)
    if edit.key == "taken out":
        return typed(run.segments[edit.segment])
    assert edit.now is not None
    if edit.segment < 0:
        return f"{edit.key}: {plain(edit.now)}"
    segment = run.segments[edit.segment]
    return f"{segment.key if edit.key == segment.head else edit.key}: {plain(edit.now)}"
