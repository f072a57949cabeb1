"""Trials of a run looked at one by one: those that fail in one way, one after the other, and why each of them does."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from fieldsim.language import tr
from fieldsim.report.phrases import unknown_words
from fieldsim.report.words.single import single_words
from fieldsim.sim.failures import Failure
from fieldsim.sim.trials import paths
from fieldsim.sim.ways import trial_way, until_of
from fieldsim.studies.single import single
from fieldsim.window.paint.odds import failing_words, odds_of
from fieldsim.window.paint.oddsplaces import odds_places
from fieldsim.window.paint.ribbon import Before
from fieldsim.window.paint.scene import Odds
from fieldsim.window.run import hinting
from fieldsim.window.run.state import Picked

if TYPE_CHECKING:
    from fieldsim.window.run.session import RunSession

__all__ = ["before_of", "leave", "next_trial", "odds_shown", "pick_trial", "press_trouble", "row_at", "trials_of"]


def trials_of(session: RunSession, cause: Failure) -> list[int]:
    """The numbers of the trials in which something goes wrong first, from 0."""
    return [n for n, failure in enumerate(session.failures) if failure == cause]


def pick_trial(session: RunSession, number: int) -> None:
    """Look at a trial by its number from 0; at none, where there is none of the run as it is."""
    shown = session._fresh()
    if shown is None or shown.first is None or shown.plan is None or not 0 <= number < len(shown.first):
        session.picked = None
        return
    sample = paths(shown.plan, shown.first.seed, shown.first, [number])
    way = trial_way(shown.plan, sample.trials[0])
    failure = session.failures[number] if number < len(session.failures) else None
    until = until_of(shown.first, number, len(way.segments))
    if failure is not None and failure.why == "misses":
        # It drove on; what went wrong is to be seen where it did.
        until = float(failure.segment)
    if failure is None:
        words: tuple[str, ...] = (tr("gets through"),)
    else:
        told = single_words(single(shown.first, number, failure), [s.in_words() for s in session.run.segments])
        words = (told[0] or failing_words(failure), *told[1:])
    session.picked = Picked(number, way, until, failure, words)


def next_trial(session: RunSession, failing: bool, way: int = 1) -> None:
    """The next trial: any, or one that fails, in the way that is looked at if one is."""
    shown = session._fresh()
    if shown is None or shown.first is None:
        session.say(tr("No trials yet"))
        return
    count = len(shown.first)
    begin = session.picked.number if session.picked is not None else -1 if way > 0 else count
    for k in range(1, count + 1):
        n = (begin + way * k) % count
        failure = session.failures[n]
        if not failing or (failure is not None and session.cause in (None, failure)):
            _look_at(session, n)
            return
    session.say(tr("None of the first {n} trials fails", n=count))


def press_trouble(session: RunSession, row: int, part: str) -> None:
    """A row of what fails is pressed, or one of its buttons: 'back', 'forth'."""
    troubles = session.troubles
    if row >= len(troubles):
        return
    cause = troubles[row].of
    if part:
        session.cause = cause
        next_trial(session, failing=True, way=-1 if part == "back" else 1)
    elif session.cause == cause and session.picked is not None:
        leave(session)
    else:
        session.cause, session.picked = cause, None
        next_trial(session, failing=True)


def leave(session: RunSession) -> None:
    """No trial is looked at any more."""
    session.cause = session.picked = None


def _look_at(session: RunSession, number: int) -> None:
    pick_trial(session, number)
    picked = session.picked
    if picked is not None and picked.failure is not None:
        session._to(session.clock.time_at(picked.until))


# --- the odds card ---------------------------------------------------------------------------------------------------


def odds_shown(session: RunSession) -> Odds:
    """What the odds card says now."""
    shown = session.shown
    near = session.close_behind
    fresh = session._fresh() is not None
    if session.problem is not None:
        return Odds(big=tr("cannot be tried"), lead=tr("this run"), foot=session.problem.splitlines()[0])
    if shown is not None and shown.problem is not None and shown.run == session.run:
        return Odds(big=tr("cannot be tried"), lead=tr("this run"), foot=shown.problem.splitlines()[0])
    if shown is None or shown.answer is None:
        foot = tr("getting ready") if session.getting_ready else tr("counting")
        return Odds(big=tr("counting"), lead=tr("gets through"), foot=foot, going=0.0)
    going = None if shown.full else min(1.0, shown.n / 10_000)
    odds = odds_of(
        shown.answer, session.troubles, going=going, coarse=shown.n < 2000 and not shown.full, stale=not near
    )
    before = before_of(session)
    if before is not None:
        odds = replace(odds, lead=tr("gets through (before: {often})", often=before.words))
    if fresh:
        odds = replace(odds, hint=hinting.hint_lines(session))
    if fresh and session.cause is not None:
        odds = _looked(session, odds, session.cause)
    if shown.answer.unknown is not None and near:
        words = unknown_words(shown.answer.unknown, shown.answer.success.share).partition(": ")[2].rstrip(".")
        tests = shown.answer.unknown.tests
        return replace(odds, time=tr("by {tests} tests of the robot: {words}", tests=tests, words=words))
    if near and shown.stands_in:
        return replace(odds, time=tr("at its start it stands in {name}", name=shown.stands_in[0]))
    return odds


def before_of(session: RunSession) -> Before | None:
    """How the run did before the last change; None if there was none, or it was not counted."""
    history = session.history
    return session.kept.of(history.steps[history.at - 1].state.run) if history.at else None


def _looked(session: RunSession, odds: Odds, cause: Failure) -> Odds:
    row = next((n for n, trouble in enumerate(odds.troubles) if trouble.of == cause), None)
    if row is None:
        return odds
    numbers = trials_of(session, cause)
    picked = session.picked
    nth = numbers.index(picked.number) + 1 if picked is not None and picked.number in numbers else 0
    return replace(odds, looked=row, which=tr("{nth} of {all}", nth=nth, all=len(numbers)))


def row_at(session: RunSession, x: float, y: float) -> str | None:
    """The row of what fails under a pixel of the odds card, or one of its buttons."""
    if session._fresh() is None:
        return None
    return odds_places(session.places.odds, session.places.unit, odds_shown(session)).at(x, y)
