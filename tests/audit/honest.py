"""How often an honest log is called wrong: a robot that drives just as its file says, on paper.

Days differ as the file says; each log has so many drives on so many days. The verdict may call 5 % of honest logs too
hopeful or too gloomy, and fewer where few drives allow few counts.
"""

from __future__ import annotations

import datetime
from collections import Counter
from math import sqrt

import numpy as np

from fieldsim import load_run
from fieldsim.logbook.beliefs import weigh
from fieldsim.logbook.days import days_of, plan_of_day
from fieldsim.logbook.judge import chances_of
from fieldsim.logbook.scores import judged
from fieldsim.logbook.trials import Case, sampled
from fieldsim.model.measured import LogEntry
from fieldsim.sim.plan import plan
from fieldsim.stats.intervals import Share

RUN = "runs/bakery/flour-round.yaml"
LAYOUTS = [(6, 1), (12, 1), (12, 3), (24, 4), (24, 24), (60, 6)]
WRONG = ("too hopeful", "too gloomy")
FIRST = datetime.date(2026, 11, 2)


def false_alarms(drives: int, days: int, logs: int, seed: int = 1) -> float:
    """Share of honest logs that are called wrong."""
    run = load_run(RUN)
    entries = [
        LogEntry(line=n + 2, run="Flour round", result="through", date=FIRST + datetime.timedelta(days=n % days))
        for n in range(drives)
    ]
    own = Case("Flour round", run, entries)
    (weighed,) = weigh([own], [], trials=4000, seed=1)
    chances = chances_of(weighed)
    counts = days_of([own], [chances])
    share = float(chances.mean())
    rng = np.random.default_rng([seed, drives, days])
    ready, case = plan(run), Case("Flour round", run, [])
    # Each day of a log has as many drives; what a day lets through is drawn from 400 drives of that day.
    pool = []
    for day in range(min(logs * days // 4 + days, 1000)):
        today = plan_of_day(ready, rng.standard_normal(3))
        sample = sampled(case, today, 400, 31, 1, lambda more: None, first_block=day)
        pool.append(float((sample.outcome == 0).mean()))
    through = Counter(int(rng.binomial(drives // days, rng.choice(pool, days)).sum()) for _ in range(logs))
    # The verdict hangs on how many got through.
    wrong = [
        often
        for count, often in through.items()
        if judged(count, counts, Share(share, share, share), None).verdict in WRONG
    ]
    return sum(wrong) / logs


def table(short: bool = False) -> str:
    logs = 200 if short else 2000
    lines = ["| drives on days | honest logs | called wrong % (sd) |", "|---|---|---|"]
    for drives, days in LAYOUTS[1:4:2] if short else LAYOUTS:
        wrong = false_alarms(drives, days, logs)
        lines.append(
            f"| {drives} on {days} | {logs} | {100 * wrong:.1f} ({100 * sqrt(wrong * (1 - wrong) / logs):.1f}) |"
        )
    return "\n".join(lines)
