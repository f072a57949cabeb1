"""`causes` as a study."""

from __future__ import annotations

from typing import Any

from fieldsim.catalog.shared import PICTURE_SAVED, RUN, SEED, THREADS, read_run, told, trials_of_each
from fieldsim.catalog.study import Given, Outcome, Study, Watch
from fieldsim.language import tr_later


def _ask(run: Any, given: Given, watch: Watch) -> Outcome:
    from fieldsim.draw import draw_causes, draw_causes_apart
    from fieldsim.report.words.causes import causes_headline, causes_statement
    from fieldsim.studies.causes import causes

    answer = causes(run, trials=given["trials"], seed=given["seed"], threads=given["threads"], watch=watch)
    return told(
        "causes", answer, causes_statement(answer),
        lambda sheet: draw_causes(answer, causes_headline(answer)) if sheet.alone else draw_causes_apart(answer),
        CAUSES.pictures,
    )  # fmt: skip


CAUSES = Study(
    name="causes",
    about=tr_later("What makes a run fail and spread: each source of noise, and what a change there is worth."),
    arguments=(RUN,),
    options=(trials_of_each(2_000), SEED, THREADS),
    types=("studies.causes:CausesAnswer",),
    read=read_run,
    ask=_ask,
    example=("runs/bakery/practice-loop.yaml", "--trials", "100"),
    saving=PICTURE_SAVED,
    pictures={
        "causes failures": (
            tr_later("What each source is worth"),
            tr_later("How many fewer fail without each source of noise. The bar is what luck could make of it."),
        ),
        "causes spread": (
            tr_later("What the spread is made of"),
            tr_later(
                "For each thing, the part of its variance that each source makes by itself; what is "
                "missing is many small "
                "ones and what they do together."
            ),
        ),
    },
)
