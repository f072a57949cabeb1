"""`base` as a study."""

from __future__ import annotations

from typing import Any

from fieldsim.catalog.shared import PICTURE_SAVED, told
from fieldsim.catalog.study import Argument, Decimal, Flag, Given, Option, Outcome, Study, Text, Watch
from fieldsim.language import tr_later


def _read(given: Given) -> Any:
    from fieldsim.files import load_robot

    return load_robot(given["robot_file"])


def _ask(robot: Any, given: Given, watch: Watch) -> Outcome:
    from fieldsim.draw.base import draw_base
    from fieldsim.report.words.base import base_statement
    from fieldsim.studies.base import base
    from fieldsim.studies.base.answer import FRICTION

    answer = base(robot, given["wear"], FRICTION if given["friction"] is None else given["friction"])
    return told(
        "base", answer, base_statement(answer, given["explain"]), lambda sheet: draw_base(robot, answer, sheet),
        BASE.pictures, kept=base_statement(answer, explain=True),
    )  # fmt: skip


BASE = Study(
    name="base",
    about=tr_later(
        "The base in numbers: reach, gaps, steps, speed, load on the wheels, what tips it and what makes it skid."
    ),
    arguments=(Argument("robot_file", tr_later("ROBOT")),),
    options=(
        Option(
            "--wear",
            Text(),
            tr_later("An attachment that is on; may be given again."),
            sign=tr_later("ATTACHMENT"),
            many=True,
        ),
        Option("--friction", Decimal(0.01, 2), tr_later("Between wheels and mat.  [default: 0.6]")),
        Option("--explain", Flag(), tr_later("Each number with its formula and source.")),
    ),
    types=("studies.base.answer:BaseAnswer",),
    read=_read,
    ask=_ask,
    example=("runs/bakery/box-one.yaml",),
    saving=PICTURE_SAVED,
    pictures={
        "base": (
            tr_later("The base to scale"),
            tr_later(
                "The robot from above with the circles it sweeps, and from its right side. How wide the wheels and how "
                "large the casters are is a guess: the file does not say."
            ),
        )
    },
)
