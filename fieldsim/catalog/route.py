"""`route` as a study."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from fieldsim.catalog.shared import SEED, THREADS, need, told, trials
from fieldsim.catalog.study import (
    Argument,
    Decimal,
    Given,
    Option,
    Outcome,
    PathName,
    Study,
    Text,
    Watch,
    WrongWordsError,
)
from fieldsim.language import tr, tr_later
from fieldsim.report.origin import Origin


def _names(given: tuple[str, ...] | None) -> tuple[str, ...]:
    """Names given one after another, or with commas between them."""
    return tuple(name.strip() for words in given or () for name in words.split(",") if name.strip())


def _known(names: tuple[str, ...], there: list[str], flag: str) -> None:
    from fieldsim.model.bounds import nearest

    for name in names:
        if name not in there:
            near = nearest(name, there)
            if near:
                raise WrongWordsError(
                    tr("{flag}: there is no '{name}'; did you mean '{near}'?", flag=flag, name=name, near=near)
                )
            known = ", ".join(there) or "-"
            raise WrongWordsError(
                tr("{flag}: there is no '{name}'; there are: {known}.", flag=flag, name=name, known=known)
            )


def field_and_targets(given: Given, field_file: str) -> tuple[Any, ...]:
    """The field, the robot, the targets, what is worn and the finish, as they are named."""
    from fieldsim.files import load_field, load_robot

    if given["robot"] is None:
        raise WrongWordsError(tr("Say which robot drives: --robot ROBOT, the name of its file."))
    field, robot = load_field(field_file), load_robot(given["robot"])
    targets, wear = _names(given["to"]), _names(given["wear"])
    _known(targets, [t.name for t in field.targets], "--to")
    _known(wear, [a.name for a in robot.attachments], "--wear")
    finish = given["finish"]
    if finish is not None:
        _known((finish,), [a.name for a in field.start_areas], "--finish")
    if not targets and finish is None:
        raise WrongWordsError(tr("Say where it is to go: --to TARGET, or --finish AREA."))
    return field, robot, targets, wear, finish


def _read(given: Given) -> Any:
    from fieldsim.model import WALLS

    field, robot, targets, wear, finish = field_and_targets(given, given["field_file"])
    touch = _names(given["may_touch"])
    _known(touch, [o.name for o in field.obstacles] + list(WALLS), "--may-touch")
    return field, robot, targets, wear, touch, finish


def _ask(asked: Any, given: Given, watch: Watch) -> Outcome:
    from fieldsim.draw.route import draw_route
    from fieldsim.planning.legs import Task
    from fieldsim.planning.route import route, starts_in
    from fieldsim.report.words.route import headline, route_statement

    field, robot, targets, wear, touch, finish = asked
    starts = starts_in(field, robot, given["start"])
    task = Task(field, robot, wear, starts, targets, finish, touch, given["within"])
    routed = route(
        task, trials=given["trials"], seed=given["seed"], need=given["need"], threads=given["threads"], watch=watch
    )
    answer = routed.answer
    outcome = told(
        "route", answer, route_statement(answer), lambda sheet: draw_route(routed, headline(answer), sheet),
        ROUTE.pictures, maps=True, meets_need=bool(answer.proposals) and answer.meets_need is not False,
    )  # fmt: skip

    def save(folder: Path, origin: Origin) -> list[Path]:
        from fieldsim.files.proposed import write_runs

        made = outcome.save(folder, origin)
        runs = [each.ready.run for each in routed.tried]
        return made + write_runs(folder, runs, Path(given["field_file"]), Path(given["robot"]))

    return Outcome(answer, outcome.text, save, outcome.meets_need)


ROUTE = Study(
    name="route",
    about=tr_later("Propose whole runs to targets, those that get through most often, or prove that there is no way."),
    arguments=(Argument("field_file", tr_later("FIELD")),),
    options=(
        Option("--robot", PathName(), tr_later("The robot's file."), sign=tr_later("ROBOT")),
        Option(
            "--from",
            Text(),
            tr_later("The jig to start from, or the start area whose jigs may be used.  [default: every jig]"),
            own_name="start",
            sign=tr_later("JIG|AREA"),
        ),
        Option(
            "--to",
            Text(),
            tr_later("The targets, in their order, with commas between them."),
            sign=tr_later("TARGET,TARGET"),
            many=True,
        ),
        Option("--finish", Text(), tr_later("The start area it must end inside."), sign=tr_later("AREA")),
        Option("--within", Decimal(0, above=True), tr_later("The most seconds a run may take.")),
        Option(
            "--wear",
            Text(),
            tr_later("An attachment that is on; may be given again."),
            sign=tr_later("ATTACHMENT"),
            many=True,
        ),
        Option(
            "--may-touch",
            Text(),
            tr_later("An obstacle that the robot may touch; may be given again."),
            sign=tr_later("OBSTACLE"),
            many=True,
        ),
        need(tr_later("Exit with 1 if even the best way gets through less often.")),
        trials(10_000, tr_later("Fresh trials of each way that is told.")),
        SEED,
        THREADS,
    ),
    types=("planning.route:RouteAnswer",),
    read=_read,
    ask=_ask,
    example=(
        "fields/practice.yaml", "--robot", "runs/bakery/box-one.yaml", "--wear", "scoop", "--to", "bell",
        "--trials", "500",
    ),
    saving=tr_later("Save the proposed runs as files, with report and picture."),
    pictures={
        "route": (
            tr_later("The ways on the field"),
            tr_later(
                "A small map for each proposed run: the ground it sweeps, its trials as thin lines, the segments by "
                "their numbers."
            ),
        )
    },
)  # fmt: skip
