"""`compare` as a study."""

from __future__ import annotations

from typing import Any

from fieldsim.catalog.shared import PICTURE_SAVED, SEED, THREADS, told, trials
from fieldsim.catalog.study import Argument, Given, Outcome, Study, Watch, WrongWordsError
from fieldsim.language import tr, tr_later


def _read(given: Given) -> Any:
    from fieldsim.files import load_run

    if len(given["run_files"]) < 2:
        raise WrongWordsError(tr("give at least two runs to compare."))
    return [load_run(path) for path in given["run_files"]]


def _ask(runs: Any, given: Given, watch: Watch) -> Outcome:
    from fieldsim.draw import draw_compare
    from fieldsim.report.words.compare import compare_statement, difference_words
    from fieldsim.studies.compare import compare

    names = [run.name for run in runs]
    # Two files may hold runs of the same name.
    names = [
        f"{name} ({path.stem})" if names.count(name) > 1 else name
        for name, path in zip(names, given["run_files"], strict=True)
    ]
    answer = compare(
        runs, names=names, trials=given["trials"], seed=given["seed"], threads=given["threads"], watch=watch
    )
    return told(
        "compare", answer, compare_statement(answer),
        lambda sheet: draw_compare(answer, difference_words(answer.differences[0]), sheet), COMPARE.pictures,
    )  # fmt: skip


COMPARE = Study(
    name="compare",
    about=tr_later("Which of two or more runs is better, trial by trial, and where the other one fails."),
    arguments=(Argument("run_files", tr_later("RUN RUN..."), many=True),),
    options=(trials(10_000), SEED, THREADS),
    types=("studies.compare:CompareAnswer",),
    read=_read,
    ask=_ask,
    example=("runs/bakery/flour-round.yaml", "runs/bakery/yard-bell.yaml", "--trials", "200"),
    saving=PICTURE_SAVED,
    pictures={
        "compare": (
            tr_later("The runs side by side"),
            tr_later(
                "Above, how often each run gets through; below, the difference of each two on the "
                "same trials. The bars "
                "are what luck could make of it."
            ),
        )
    },
)
