"""`aim` as a study."""

from __future__ import annotations

from typing import Any

from fieldsim.catalog.shared import PICTURE_SAVED, RUN, SEED, THREADS, told, trials
from fieldsim.catalog.study import Argument, Given, Option, Outcome, Study, Text, Watch, WrongWordsError
from fieldsim.language import tr_later

STEP = Option(
    "--step", Text(), tr_later("How finely numbers are typed, such as 1mm,1deg.  [default: 1mm,0.5deg]"),
    sign=tr_later("STEP"),
)  # fmt: skip


def read_step(given: Given) -> Any:
    """The steps that were given. Raises WrongWordsError."""
    from fieldsim.planning.numbers import Step, StepError, step_of

    try:
        return Step() if given["step"] is None else step_of(given["step"])
    except StepError as problem:
        raise WrongWordsError(str(problem)) from None


def _read(given: Given) -> Any:
    from fieldsim.files import load_run
    from fieldsim.model.errors import PlanError
    from fieldsim.planning.aim import known_target

    run = load_run(given["run_file"])
    try:
        known_target(run, given["target"])
    except PlanError as problem:
        raise WrongWordsError(str(problem)) from None
    return run, read_step(given)


def _ask(read: Any, given: Given, watch: Watch) -> Outcome:
    from fieldsim.draw.aim import draw_aim
    from fieldsim.planning.aim import aim
    from fieldsim.report.words.aim import aim_statement, headline

    run, step = read
    aimed = aim(
        run, given["target"], step=step, trials=given["trials"], seed=given["seed"], threads=given["threads"],
        watch=watch,
    )  # fmt: skip
    answer = aimed.answer
    return told(
        "aim", answer, aim_statement(answer), lambda sheet: draw_aim(aimed, headline(answer), sheet), AIM.pictures
    )


AIM = Study(
    name="aim",
    about=tr_later("Where the tool lands, seen from a target, and the numbers to type that bring it there."),
    arguments=(RUN, Argument("target", tr_later("TARGET"), kind=Text())),
    options=(STEP, trials(10_000), SEED, THREADS),
    types=("planning.aim:AimAnswer",),
    read=_read,
    ask=_ask,
    example=("runs/bakery/flour-round.yaml", "flour lid", "--trials", "200"),
    saving=PICTURE_SAVED,
    pictures={
        "aim": (
            tr_later("Where the tool lands"),
            tr_later(
                "The target from above, with the circle that is allowed. A dot is the tool point of one trial, the "
                "diamond their middle, the square the plan."
            ),
        )
    },
)
