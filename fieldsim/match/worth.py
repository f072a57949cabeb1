"""What practice is worth: points for a second saved, and for a success more in a hundred tries.

Each match is played once more on the same luck with one thing changed, so that luck drops out of the difference. For a
success more, every try that failed is made to succeed by itself (as the next match did in which that run got through),
and the gain is that mean times a hundredth over the share that failed: a hundredth of the tries would give the same on
average, but with far more chance in it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from fieldsim.match.answer import Estimate, WorthAnswer
from fieldsim.match.bank import Bank, changed
from fieldsim.match.play import Bools, Floats, Order, Played, play
from fieldsim.sim.kernel.match import LEAST, MEAN, Drawn
from fieldsim.stats.intervals import mean_interval

AMOUNTS = (1.0, 5.0)


def estimate(values: Floats) -> Estimate:
    """The mean of values (M,) with its 95 % interval."""
    return Estimate(*mean_interval(values))


def worth(
    bank: Bank, order: Order, base: Played, threads: int | None = None, watch: Callable[[], None] = lambda: None
) -> tuple[WorthAnswer, ...]:
    """What practice is worth in one order, the most first; ``base`` are the bank's matches in that order."""
    found = []
    for kind, what, change in [*_seconds(bank, order), *_successes(bank, order)]:
        gains = [estimate(gain) for gain in change(base, threads)]
        found.append(WorthAnswer(kind, what, gains[0], gains[1]))
        watch()
    return tuple(sorted(found, key=lambda each: -each.five.mean))


Change = Callable[[Played, int | None], list[Floats]]


def _seconds(bank: Bank, order: Order) -> Iterator[tuple[str, str, Change]]:
    match, rules = bank.match, bank.rules
    runs = [match.runs[r] for r in order]
    general = np.array(
        [[match.changeover_between(a.run, b.run) is match.changeover for b in match.runs] for a in match.runs]
    )

    def by_hand(where: Bools) -> Change:
        def saved(seconds: float) -> Bank:
            less = np.zeros(3)
            less[[MEAN, LEAST]] = seconds
            quicker = np.where(where[:, :, None], np.maximum(rules.change - less, 0.0), rules.change)
            return Bank(match, rules._replace(change=quicker), bank.drawn)

        return _gains(saved, order)

    if len(runs) > 1 or match.rerun != "never":
        if general.any():
            yield "changeover", "", by_hand(general)
        for change in match.between:
            same = [[match.changeover_between(a.run, b.run) is change for b in match.runs] for a in match.runs]
            if np.any(same):
                yield "change", f"{change.start} to {change.end}", by_hand(np.array(same))
        if bank.drawn.out.any() and match.rescue.mean > 0:

            def fetched(seconds: float) -> Bank:
                rescue = rules.rescue.copy()
                rescue[[MEAN, LEAST]] = np.maximum(rescue[[MEAN, LEAST]] - seconds, 0.0)
                return Bank(match, rules._replace(rescue=rescue), bank.drawn)

            yield "rescue", "", _gains(fetched, order)
    for r in order:

        def driven(seconds: float, r: int = r) -> Bank:
            drawn = bank.drawn
            # The whole of a try becomes quicker, so that it is over by so many seconds sooner.
            whole = drawn.seconds[:, r]
            factor = np.where(whole > 0, np.maximum(whole - seconds, 0.0) / np.where(whole > 0, whole, 1.0), 1.0)
            tables = {name: getattr(drawn, name).copy() for name in ("seconds", "begins", "ends")}
            tables["seconds"][:, r] *= factor
            for name in ("begins", "ends"):
                here = tables[name][:, r]
                # An act that is not reached stays so, however quick the run.
                tables[name][:, r] = np.where(np.isfinite(here), here, 0.0) * factor[..., None]
                tables[name][:, r][~np.isfinite(here)] = np.inf
            return Bank(match, rules, drawn._replace(**tables))

        yield "run", match.runs[r].name, _gains(driven, order)


def _gains(make: Callable[[float], Bank], order: Order) -> Change:
    return lambda base, threads: [play(make(amount), order, threads).score - base.score for amount in AMOUNTS]


def _successes(bank: Bank, order: Order) -> Iterator[tuple[str, str, Change]]:
    for r in order:
        through = bank.drawn.through[:, r].astype(bool)
        # A run that always or never gets through tells nothing of what a success more would be.
        if through[:, 0].all() or not through[:, 0].any():
            continue

        def change(base: Played, threads: int | None, r: int = r) -> list[Floats]:
            one = _per_hundredth(bank, order, base, r, threads)
            return [amount * one for amount in AMOUNTS]

        yield "success", bank.match.runs[r].name, change


def _per_hundredth(bank: Bank, order: Order, base: Played, r: int, threads: int | None) -> Floats:
    """(M,) what each match gives to the mean gain for one more success in a hundred tries of run r."""
    drawn = bank.drawn
    good = np.flatnonzero(drawn.through[:, r, 0])
    matches = np.arange(len(bank))
    # The next match in which the first try got through, the first one again after the last.
    donor = good[np.searchsorted(good, matches) % len(good)]
    total = np.zeros(len(bank))
    failing = np.ones(len(bank), dtype=bool)
    for number in range(drawn.seconds.shape[2]):
        made = failing.sum()
        failing = failing & (drawn.through[:, r, number] == 0)
        if not failing.any():
            break

        def lent(table: Floats, number: int = number, here: Bools = failing) -> Floats:
            given = table.copy()
            given[here, r, number] = table[donor[here], r, 0]
            return given

        # What is done by hand keeps its own luck.
        tables = changed(drawn, lent)._replace(change=drawn.change, rescue=drawn.rescue)
        gain = play(Bank(bank.match, bank.rules, Drawn(*tables)), order, threads).score - base.score
        total += 0.01 / (failing.sum() / made) * gain
    return total
