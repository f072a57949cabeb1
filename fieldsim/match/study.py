"""`match`: several runs under one clock: what they score, in which order, and where practice pays.

The best order and the policy are chosen on some matches and judged on others, so that what luck made look good is not
counted as a gain. All orders are judged on the same matches, so that luck drops out of their differences.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from fieldsim import __version__
from fieldsim.language import tr
from fieldsim.match.answer import (
    BestAnswer,
    Estimate,
    MatchAnswer,
    MatchRunAnswer,
    OrderAnswer,
    PolicyAnswer,
    ScoreAnswer,
    TimeSpent,
)
from fieldsim.match.bank import Bank, fill
from fieldsim.match.follow import follow, rules_told
from fieldsim.match.kept import followed_by, worth_keeping
from fieldsim.match.order import best_order
from fieldsim.match.play import Floats, Order, Played, play, timed
from fieldsim.match.policy import best_policy
from fieldsim.match.worth import estimate, worth
from fieldsim.model import Accuracy
from fieldsim.model.match import Match
from fieldsim.sim.draws import BLOCK
from fieldsim.sim.kernel.match import ACTING, CHANGING, CUT, DRIVING, EARNED, LOST, RESCUING, SUCCESS, TRIES
from fieldsim.stats.intervals import wilson
from fieldsim.stats.quantiles import percentile_ranks, rank

Watch = Callable[[int, int], None]

# Matches that an order is chosen on, at most: of those that follow after the ones it is judged on.
CHOSEN_ON = 10_000


def study(
    match: Match,
    *,
    trials: int = 10_000,
    seed: int = 1,
    threads: int | None = None,
    watch: Watch = lambda done, wanted: None,
) -> MatchAnswer:
    """Play a match ``trials`` times, in the order as written and in the best one; choose that on fresh matches.

    ``watch(done, wanted)`` counts first tries of runs. Trial n has the same luck whatever the order, the number of
    trials and of threads.
    """
    choosing = min(trials, CHOSEN_ON)
    wanted = (trials + choosing) * len(match.runs)
    judged = fill(match, trials, seed, threads=threads, watch=lambda done, _: watch(done, wanted))
    before = -(-trials // BLOCK)
    chosen = fill(
        match, choosing, seed, first_block=before, threads=threads,
        watch=lambda done, _: watch(trials * len(match.runs) + done, wanted),
    )  # fmt: skip
    written = tuple(range(len(match.runs)))
    base = play(judged, written, threads)
    found = best_order(chosen, threads)
    top = play(judged, found.order, threads)
    # What is not better in the matches it was chosen on is not worth a change.
    if found.score <= float(play(chosen, written, threads).score.mean()) + 1e-9:
        found_order, top = written, base
    else:
        found_order = found.order
    best = BestAnswer(
        order=_names(match, found_order),
        dropped=tuple(each.name for r, each in enumerate(match.runs) if r not in found_order),
        gain=estimate(top.score - base.score),
        chosen_on=choosing,
        tried=found.tried,
        exact=found.exact,
        at_most_better=found.at_most_better,
        result=result(judged, top, threads),
    )
    return MatchAnswer(
        version=__version__,
        match=match.name,
        field=match.runs[0].run.field.name,
        robots=tuple(dict.fromkeys(each.run.robot.name for each in match.runs)),
        limit=match.limit,
        rerun=match.rerun,
        trials=trials,
        seed=seed,
        written=result(judged, base, threads),
        best=best,
        worth=worth(judged, written, base, threads),
        policy=_policy(judged, chosen, written, found_order, threads),
        notes=tuple(notes(match)),
    )


def _policy(judged: Bank, chosen: Bank, written: Order, best: Order, threads: int | None) -> PolicyAnswer | None:
    """The policy made on the chosen matches, followed in the judged ones."""
    policy = best_policy(chosen, best, threads)
    if policy is None:
        return None
    base, top = play(judged, written, threads).score, play(judged, best, threads).score
    followed = follow(policy, judged, best, written)
    score, same = followed.score, int(followed.as_planned.sum())
    rules = rules_told(policy, followed, judged)
    against_written = rules_told(policy, followed, judged, as_written=True)
    # It takes the runs for independent. If it does no better than the order in the matches it was made on, keep that.
    if follow(policy, chosen, best).score.mean() <= play(chosen, best, threads).score.mean() + 1e-9:
        score, rules, against_written, same = top, (), (), len(judged)
    kept = worth_keeping(against_written, lambda some: followed_by(some, policy, chosen, written))
    return PolicyAnswer(
        score=estimate(score),
        over_written=estimate(score - base),
        over_best=estimate(score - top),
        rules=rules,
        rules_as_written=against_written,
        follows_best=wilson(same, len(judged)),
        kept=kept,
        kept_worth=estimate(followed_by(kept, policy, judged, written) - base),
        knows=_names(judged.match, policy.runs),
    )


def _names(match: Match, order: Order) -> tuple[str, ...]:
    return tuple(match.runs[r].name for r in order)


def percentile(values: Floats, q: float) -> Estimate:
    """The q-quantile of values, with its interval by order statistics."""
    ordered = np.sort(values)
    low, high = percentile_ranks(len(ordered), q)
    return Estimate(*(float(ordered[k - 1]) for k in (rank(len(ordered), q), low, high)))


def result(bank: Bank, played: Played, threads: int | None = None) -> OrderAnswer:
    """What matches in one order come to."""
    match, count = bank.match, len(bank)
    spent = {which: played.column(which).sum(axis=1) for which in (DRIVING, ACTING, CHANGING, RESCUING)}
    runs = []
    starts, ends = timed(bank, played)
    for r in played.order:
        less = tuple(other for other in played.order if other != r and r not in match.needed[other])
        begun = played.column(TRIES)[:, r] > 0
        lanes = []
        if begun.any():
            lanes = [
                tuple(float(v) for v in np.quantile(times[begun, r], [0.05, 0.5, 0.95], method="inverted_cdf"))
                for times in (starts, ends)
            ]
        runs.append(
            MatchRunAnswer(
                run=match.runs[r].name,
                points=estimate(played.column(EARNED)[:, r] + played.column(LOST)[:, r]),
                rescues=float(played.column(LOST)[:, r].mean()),
                seconds=estimate(played.column(DRIVING)[:, r] + played.column(ACTING)[:, r]),
                by_hand=estimate(played.column(CHANGING)[:, r] + played.column(RESCUING)[:, r]),
                begun=wilson(int(begun.sum()), count),
                success=wilson(int(played.column(SUCCESS)[:, r].sum()), count),
                cut=wilson(int(played.column(CUT)[:, r].sum()), count),
                tries=float(played.column(TRIES)[:, r].mean()),
                without=estimate(play(bank, less, threads).score - played.score) if less else None,
                lanes=tuple((low, middle, high) for low, middle, high in lanes),
            )
        )
    score = played.score
    return OrderAnswer(
        order=_names(match, played.order),
        score=ScoreAnswer(
            mean=estimate(score),
            sd=float(score.std(ddof=1)) if count > 1 else 0.0,
            p05=percentile(score, 0.05),
            median=percentile(score, 0.5),
            p95=percentile(score, 0.95),
        ),
        inside=wilson(int(played.inside.sum()), count),
        runs=tuple(runs),
        spent=TimeSpent(
            estimate(spent[DRIVING]),
            estimate(spent[ACTING]),
            estimate(spent[CHANGING]),
            estimate(spent[RESCUING]),
            estimate(match.limit - played.clock),
        ),
    )


def notes(match: Match) -> Iterator[str]:
    """What is taken for granted, and what makes the answer say less than it could."""
    points = [match.points_of(name) for name in match.targets]
    if not any(points) and not match.points.finish:
        yield (
            tr(
                "Nothing in this match scores: give the targets 'points' in the field's file, or 'points: "
                "{finish: 5}' in the match's."
            )
        )
    robots = {each.run.robot.name: each.run.robot for each in match.runs}
    if len(robots) > 1:
        yield (
            tr(
                "The runs are driven by {n} robots, each with a day of its own; the event's rules say "
                "whether that may be.",
                n=len(robots),
            )
        )
    for name, robot in robots.items():
        if robot.accuracy == Accuracy():
            yield tr("The file of '{name}' has no 'accuracy': it is taken to drive perfectly.", name=name)
        elif robot.accuracy.between is not None:
            yield (
                tr(
                    "'{name}' is taken just as its file has it: what its tests leave unknown is not in these "
                    "numbers (try tells it for each run).",
                    name=name,
                )
            )
    field = match.runs[0].run.field
    if not field.start_areas and match.rescue != type(match.rescue)():
        yield tr("The field has no start areas, so no robot counts as standing out on the field.")
