"""`log` as a study."""

from __future__ import annotations

from typing import Any

from fieldsim.catalog.shared import PICTURE_SAVED, SEED, THREADS, told
from fieldsim.catalog.study import Argument, Given, Option, Outcome, Study, Watch, Whole
from fieldsim.language import tr_later


def _read(given: Given) -> Any:
    from fieldsim.logbook.runs import read_log

    return read_log(given["log_file"])


def _ask(read: Any, given: Given, watch: Watch) -> Outcome:
    from fieldsim.draw.table_time import draw_log
    from fieldsim.logbook.judge import judge
    from fieldsim.report.words.logbook import logbook_statement

    log, runs = read
    answer = judge(log.entries, runs, trials=given["trials"], seed=given["seed"], threads=given["threads"], watch=watch)
    words = logbook_statement(answer)
    return told(
        "log", answer, words,
        lambda paper: draw_log(answer, words.title, words.about[0], words.headline, paper), LOG.pictures,
    )  # fmt: skip


LOG = Study(
    name="log",
    about=tr_later(
        "Runs really driven at the table against their forecast: too hopeful, too gloomy or honest, and why."
    ),
    arguments=(Argument("log_file", tr_later("LOG")),),
    options=(
        Option("--trials", Whole(1000, 1_000_000), tr_later("Trials a run."), default=10_000),
        SEED,
        THREADS,
    ),
    types=("logbook.answer:LogAnswer",),
    read=_read,
    ask=_ask,
    example=("runs/bakery/log.csv", "--trials", "1000"),
    saving=PICTURE_SAVED,
    pictures={
        "log": (
            tr_later("Forecast and table"),
            tr_later(
                "For each run how often it was forecast to get through, and how often it did at the "
                "table. The bars are "
                "what luck could make of it."
            ),
        )
    },
)
