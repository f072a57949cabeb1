"""`jigs` as a study."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from fieldsim.catalog.route import field_and_targets
from fieldsim.catalog.shared import PICTURE_SAVED, RUN, SEED, THREADS, need, read_run, told, trials
from fieldsim.catalog.study import Flag, Given, Option, Outcome, PathName, Study, Text, Watch, Word, WrongWordsError
from fieldsim.language import tr, tr_later
from fieldsim.report.origin import Origin

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


# The pictures where a jig is looked for before there is a run.
BUILDING = {
    "jigs": (
        ANYWHERE["jigs"][0],
        tr_later(
            "The start area from above. A disc for each place of the axle that the best run was driven from, re-aimed; "
            "the larger and lighter, the more get through; the body in the field's own jig and where it should stand."
        ),
    ),
    "ways": (
        tr_later("The ways on the field"),
        tr_later(
            "A small map for the run from the best place, and for the best from the field's own jigs: the ground it "
            "sweeps, its trials as thin lines, the segments by their numbers."
        ),
    ),
}


def _for_target(given: Given) -> bool:
    """Whether a place is asked for to a target, before there is any run."""
    return bool(given["to"]) or given["finish"] is not None or given["robot"] is not None


def _holds_a_field(file: Path) -> bool:
    from fieldsim.files import kind_of
    from fieldsim.model.errors import FileError

    try:
        return kind_of(file) == "field"
    except FileError:
        # Reading it as a run says what is wrong.
        return False


def _read(given: Given) -> Any:
    if _for_target(given):
        return field_and_targets(given, given["run_file"])
    if _holds_a_field(Path(given["run_file"])):
        raise WrongWordsError(
            tr("This is a field, no run: say where a jig should lead, and who drives: --to TARGET --robot ROBOT.")
        )
    if given["wear"]:
        raise WrongWordsError(tr("--wear goes with --to: what the robot wears is in the run's file."))
    if given["area"] is not None and not given["anywhere"]:
        raise WrongWordsError(tr("--area goes with --anywhere: in which start area a jig may be built."))
    return read_run(given)


def _building(asked: Any, given: Given, watch: Watch) -> Outcome:
    from fieldsim.draw.anywhere import draw_anywhere
    from fieldsim.draw.route import draw_route
    from fieldsim.planning.building import build
    from fieldsim.report.words.building import building_statement, headline, picture_title

    field, robot, targets, wear, finish = asked
    built = build(
        field, robot, wear, targets, finish, area=given["area"], trials=given["trials"], seed=given["seed"],
        need=given["need"], threads=given["threads"], watch=watch,
    )  # fmt: skip
    answer = built.answer

    def draw(sheet: Any) -> Any:
        area = draw_anywhere(built, picture_title(answer), headline(answer), sheet)
        if sheet.alone or built.best is None:
            return area
        return {"jigs": area, "ways": draw_route(built.routed, headline(answer), sheet)}

    outcome = told(
        "jigs", answer, building_statement(answer), draw, BUILDING, maps=True,
        meets_need=answer.best is not None and answer.meets_need is not False,
    )  # fmt: skip

    def save(folder: Path, origin: Origin) -> list[Path]:
        from fieldsim.files.proposed import write_field_and_run

        made = outcome.save(folder, origin)
        if built.best is None:
            return made
        return made + write_field_and_run(
            folder, built.best.ready.run, field, Path(given["run_file"]), Path(given["robot"])
        )

    return replace(outcome, save=save)


def _anywhere(run: Any, given: Given, watch: Watch) -> Outcome:
    from fieldsim.draw.anywhere import draw_anywhere
    from fieldsim.planning.anywhere import anywhere
    from fieldsim.report.words.anywhere import anywhere_statement, headline, picture_title

    placed = anywhere(
        run, area=given["area"], keep=given["keep"], trials=given["trials"], seed=given["seed"], need=given["need"],
        threads=given["threads"], watch=watch,
    )  # fmt: skip
    answer = placed.answer
    return told(
        "jigs", answer, anywhere_statement(answer), 
        lambda sheet: draw_anywhere(placed, picture_title(answer), headline(answer), sheet),
        ANYWHERE, maps=True, meets_need=answer.meets_need is not False,
    )  # fmt: skip


def _ask(run: Any, given: Given, watch: Watch) -> Outcome:
    if _for_target(given):
        return _building(run, given, watch)
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
        Option("--area", Text(), tr_later("With --anywhere or --to: in which start area."), sign=tr_later("AREA")),
        Option(
            "--to",
            Text(),
            tr_later("With a field instead of a run: where should a jig be built for these targets?"),
            sign=tr_later("TARGET,TARGET"),
            many=True,
        ),
        Option("--robot", PathName(), tr_later("With --to: the robot's file."), sign=tr_later("ROBOT")),
        Option("--finish", Text(), tr_later("With --to: the start area it must end inside."), sign=tr_later("AREA")),
        Option(
            "--wear",
            Text(),
            tr_later("With --to: an attachment that is on; may be given again."),
            sign=tr_later("ATTACHMENT"),
            many=True,
        ),
        Option("--every-trial", Flag(), tr_later("Do not give up on hopeless starts early.")),
        THREADS,
    ),
    types=("studies.jigs:JigsAnswer", "planning.anywhere:AnywhereAnswer", "planning.building:BuildAnswer"),
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
