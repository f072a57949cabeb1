"""`jigs` as a study."""

from __future__ import annotations

from typing import Any

from fieldsim.catalog.shared import PICTURE_SAVED, RUN, SEED, THREADS, need, read_run, told, trials
from fieldsim.catalog.study import Flag, Given, Option, Outcome, Study, Watch, Word
from fieldsim.language import tr_later


def _ask(run: Any, given: Given, watch: Watch) -> Outcome:
    from fieldsim.draw import draw_jigs
    from fieldsim.report.words.jigs import headline, jigs_statement
    from fieldsim.studies.jigs import rank

    answer = rank(
        run,
        keep=given["keep"],
        trials=given["trials"],
        seed=given["seed"],
        need=given["need"],
        threads=given["threads"],
        race=not given["every_trial"],
        watch=watch,
    )
    return told(
        "jigs", answer, jigs_statement(answer), lambda sheet: draw_jigs(answer, headline(answer), sheet),
        JIGS.pictures, meets_need=answer.meets_need is not False,
    )  # fmt: skip


JIGS = Study(
    name="jigs",
    about=tr_later("Which jig to start a run from: all of them ranked, and a start by eye."),
    arguments=(RUN,),
    options=(
        Option(
            "--keep",
            Word(("targets", "path")),
            tr_later(
                "From another jig: re-aim the first segments so that the rest stays where it is, or "
                "drive the same ones."
            ),
            default="targets",
        ),
        trials(10_000, tr_later("For each start.")),
        SEED,
        need(tr_later("Exit with 1 if even from the best start a smaller share gets through.")),
        Option("--every-trial", Flag(), tr_later("Do not give up on hopeless starts early.")),
        THREADS,
    ),
    types=("studies.jigs:JigsAnswer",),
    read=read_run,
    ask=_ask,
    example=("runs/bakery/flour-round.yaml", "--trials", "200"),
    saving=PICTURE_SAVED,
    pictures={
        "jigs": (
            tr_later("How often the run gets through from each start"),
            tr_later(
                "A mark for each start, best first: how often the run gets through from there. The "
                "bar is what luck could "
                "make of it; a square is truly behind the best, a circle may be as good."
            ),
        )
    },
)
