"""From an answer to the words and columns that the window shows of it: how often, what fails most, the ribbon. Knows no
screen, and judges nothing: every share and percentile is that of the answer, or counted over the trials that were kept.
"""

from __future__ import annotations

import numpy as np

from fieldsim.language import named, tr, tr_many
from fieldsim.model.errors import shown
from fieldsim.report import phrases
from fieldsim.report.phrases import fixed, how_often_apart, how_often_shortly
from fieldsim.sim.failures import Failure
from fieldsim.sim.trials import Trials
from fieldsim.studies.answer import TargetAnswer, TryAnswer
from fieldsim.window.paint.scene import Column, Kind, Odds, Trouble

__all__ = ["columns_of", "failing_kind", "failing_words", "odds_of", "troubles_of"]


def failing_kind(why: str) -> Kind:
    """The kind of mark for ``fieldsim.sim.failures.Failure.why``."""
    if why in ("touches", "misses"):
        return "touches" if why == "touches" else "misses"
    return "outside" if why == "ends outside" else "lost"


def failing_words(failure: Failure) -> str:
    """What went wrong in a trial: 'touches mill', 'not reached left wall'."""
    return phrases.failing_words(failure.why, shown(named(failure.what)))


def troubles_of(
    answer: TryAnswer, most: int = 3
) -> tuple[tuple[Trouble, ...], tuple[tuple[int, Kind], ...], frozenset[str]]:
    """What fails first most often, the segments on which anything fails, and the obstacles that are touched."""
    rows = []
    for each in answer.first[:most]:
        often = how_often_shortly(each.share, answer.trials)
        what = named(each.what) or tr("the finish")
        if each.why == "misses":
            where = tr("missed, segment {number}", number=each.segment)
        elif each.why == "ends outside":
            where = tr("not inside at the end, segment {number}", number=each.segment)
        else:
            where = tr("{why}, segment {number}", why=tr(each.why), number=each.segment)
        failure = Failure(each.why, each.what, each.segment)
        rows.append(Trouble(failing_kind(each.why), what, where, often, failure))
    segments: dict[int, Kind] = {}
    for each in answer.first:
        segments.setdefault(each.segment, failing_kind(each.why))
    return (
        tuple(rows),
        tuple(sorted(segments.items())),
        frozenset(each.what for each in answer.first if each.why == "touches"),
    )


def odds_of(
    answer: TryAnswer, troubles: tuple[Trouble, ...], *, going: float | None = None, coarse: bool = False,
    stale: bool = False,
) -> Odds:  # fmt: skip
    """The answer in few words. ``going`` is the share of the trials that are done, None if it is over."""
    n = answer.trials
    foot = tr_many("{n} trial", "{n} trials", n)
    if coarse:
        foot = tr("coarse: {trials}", trials=foot)
    if going is not None:
        foot = tr("{trials}, going on", trials=foot)
    elif answer.interrupted:
        foot = tr("{trials}, seed {seed}, stopped early", trials=foot, seed=answer.seed)
    else:
        foot = tr("{trials}, seed {seed}", trials=foot, seed=answer.seed)
    time = tr("planned time {seconds} s", seconds=fixed(answer.time.nominal, 1))
    if n == 0:
        return Odds(
            big=tr("not known yet") if going is not None else tr("no trial"), lead=tr("gets through"), time=time,
            foot=foot, going=going, stale=stale,
        )  # fmt: skip
    # They stand in two lines: without its own 'in 1000' the interval would be read as part of a count.
    big, between = how_often_apart(answer.success, n)
    share = answer.success
    nothing = tr("nothing failed in any of them") if not troubles else ""
    return Odds(
        big=big, lead=tr("gets through"), between=between, share=share.share, low=share.low, high=share.high, time=time,
        troubles=troubles, nothing_fails=nothing, foot=foot, going=going, stale=stale,
    )  # fmt: skip


def columns_of(answer: TryAnswer, trials: Trials | None = None) -> tuple[Column, ...]:
    """The ribbon: the answer's percentiles for each driving segment and each act, with what else is shown of them over
    the trials at hand."""
    found = []
    for entry in answer.ribbon:
        g = entry.segment - 1
        quarter: tuple[float | None, float | None] = (None, None)
        if trials is not None and len(trials):
            came = (trials.ended_segment == 0) | (trials.ended_segment > g)
            if came.any():
                low, high = np.quantile(trials.ribbon[came, g], (0.25, 0.75), method="inverted_cdf")
                quarter = float(low), float(high)
        known = answer.trials > 0
        p05, p50, p95 = (entry.p05, entry.median, entry.p95) if known else (None, None, None)
        found.append(Column(g, g + 1, entry.nominal, p05, quarter[0], p50, quarter[1], p95))
    found += [_act_column(target, n, trials) for n, target in enumerate(answer.targets) if target.within is not None]
    return tuple(sorted(found, key=lambda column: column.begin))


def _act_column(target: TargetAnswer, act: int, trials: Trials | None) -> Column:
    """What the miss of an act leaves of what its target allows, over the trials that came so far."""
    assert target.within is not None
    within, g = target.within, target.segment - 1
    planned = max(0.0, within - target.nominal_miss)
    if target.miss_median is None or target.miss_p95 is None:
        return Column(g, g + 1, planned, act=True, allowed=within)
    p05, p50 = max(0.0, within - target.miss_p95), max(0.0, within - target.miss_median)
    quarter: tuple[float | None, float | None] = (None, None)
    p95 = p50
    if trials is not None and trials.reached[:, act].any():
        misses = trials.miss[trials.reached[:, act], act]
        far, near, least = np.quantile(misses, (0.75, 0.25, 0.05), method="inverted_cdf")
        quarter = max(0.0, within - float(far)), max(0.0, within - float(near))
        p95 = max(0.0, within - float(least))
    return Column(g, g + 1, planned, p05, quarter[0], p50, quarter[1], p95, act=True, allowed=within)
