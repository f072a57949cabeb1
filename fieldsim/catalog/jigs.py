"""`jigs` as a study."""

from __future__ import annotations

from typing import Any

from fieldsim.catalog.shared import PICTURE_SAVED, RUN, SEED, THREADS, need, read_run, told, trials
from fieldsim.catalog.study import Flag, Given, Option, Outcome, Study, Text, Watch, Word, WrongWordsError
from fieldsim.language import tr, tr_later

# The picture where a jig may be built anywhere.
ANYWHERE = {
    "jigs": (
        tr_later("Where the jig may be built"),
        tr_later(
            "The start area from above. A disc for each place of the axle that was tried, the larger and lighter "
            "the more get through; the body where it starts now and where it should."
        ),
    ),
}


def _read(given: Given) -> Any:
    if given["area"] is not None and not given["anywhere"]:
        raise WrongWordsError(tr("--area goes with --anywhere: in which start area a jig may be built."))
    return read_run(given)


def _anywhere(run: Any, given: Given, watch: Watch) -> Outcome:
    from fieldsim.draw.anywhere import draw_anywhere
    from fieldsim.planning.anywhere import anywhere
    from fieldsim.report.words.anywhere import anywhere_statement, headline

    placed = anywhere(
        run, area=given["area"], keep=given["keep"], trials=given["trials"], seed=given["seed"], need=given["need"],
        threads=given["threads"], watch=watch,
    )  # fmt: skip
    answer = placed.answer
    return told(
        "jigs", answer, anywhere_statement(answer), lambda sheet: draw_anywhere(placed, headline(answer), sheet),
        ANYWHERE, meets_need=answer.meets_need is not False,
    )  # fmt: skip


def _ask(run: Any, given: Given, watch: Watch) -> Outcome:
    if given["anywhere"]:
        return _anywhere(run, given, watch)
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
        Option("--anywhere", Flag(), tr_later("Where in the start area should the jig be built?")),
        Option("--area", Text(), tr_later("With --anywhere: another start area."), sign=tr_later("AREA")),
        Option("--every-trial", Flag(), tr_later("Do not give up on hopeless starts early.")),
        THREADS,
    ),
    types=("studies.jigs:JigsAnswer", "planning.anywhere:AnywhereAnswer"),
    read=_read,
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
        ),
    },
)
