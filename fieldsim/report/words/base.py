"""The answer of ``fieldsim base`` in words, and as plain JSON types.

Nothing is computed here; numbers are only rounded. Room that must be there is rounded up; what the robot can bear or do
is rounded down.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from fieldsim.language import tr, tr_later
from fieldsim.lettering import cells, padded, shorten
from fieldsim.report.phrases import NAME_CELLS, ceiled, fixed, floored
from fieldsim.report.statement import Part, Points, Row, Section, Statement, Table, rows, statement_text
from fieldsim.studies.base.answer import FRICTION, AttachmentReach, BaseAnswer, Number
from fieldsim.studies.base.sources import NO_SOURCE, told_apart

__all__ = ["amount", "base_text", "headline"]

TITLE_CELLS = 40
MOST_WORN = 3
METRE = 1000.0

UP = {
    "footprint_length", "narrowest_gap", "spin_radius", "pivot_radius_left", "pivot_radius_right", "spin_side_room",
    "corner_width", "corner_width_spin", "stop_distance", "arc_radius_motor", "arc_acceleration", "tip_radius",
}  # fmt: skip
DOWN = {
    "top_speed", "fastest_turn", "stand_margin", "tip_tilt", "tip_forward", "tip_backward", "tip_sideways",
    "slip_forward", "slip_backward", "slip_acceleration",
}  # fmt: skip


def base_text(answer: BaseAnswer, explain: bool = False, width: int = 100) -> str:
    """The whole answer as text, ending in a line end.

    ``width`` is in terminal cells; below 40 it is taken as 40. With ``explain`` each number has its formula and source
    below it.
    """
    return statement_text(base_statement(answer, explain), width)


def base_statement(answer: BaseAnswer, explain: bool = False) -> Statement:
    """The answer as a statement."""
    friction = (
        tr(
            "Friction between wheels and mat: {friction:g} (common practice, no source). To measure yours, tilt the "
            "mat under wheels that cannot roll (and no casters) until they slide: it is the tangent of that tilt.",
            friction=answer.friction,
        )
        if answer.friction == FRICTION
        else tr(
            "Friction between wheels and mat: {friction:g}. To measure yours, tilt the mat under wheels that cannot "
            "roll (and no casters) until they slide: it is the tangent of that tilt.",
            friction=answer.friction,
        )
    )
    found = []
    notes: list[str] = []
    column = max(cells(number.words) for number in answer.numbers)
    for group, numbers in groupby(answer.numbers, key=lambda number: number.group):
        told = tuple(
            Row(
                (padded(number.words, column), amount(number), _note(number)),
                (tr("formula: {formula}", formula=number.formula), *_cited(number.source, notes)) if explain else (),
            )
            for number in numbers
        )
        found.append(
            Section(
                group, (Table((tr("what"), tr("how much"), tr("note")), told, below_head=tr("formula and source")),)
            )
        )
    if answer.attachments:
        found.append(
            Section(
                tr("Attachments, each worn alone"),
                (
                    Table((tr("attachment"), tr("stands out"), tr("spin circle"), tr("narrowest gap")),
                          rows(map(_reach_row, answer.attachments))),
                    tr("Their weight is not in the file: load, tipping and slipping are those of the robot without "
"them."),
                ),
            )
        )  # fmt: skip
    # Numbered where there is something to weigh, and said in a line where there is not.
    look: tuple[Part, ...] = (tr("Nothing is out of proportion (limits: common practice, no source)."),)
    if answer.warnings:
        look = (Points(tuple(warning.words for warning in answer.warnings)),)
        if any(warning.source == tr(NO_SOURCE) for warning in answer.warnings):
            look += (tr("How much is too much is common practice, no source."),)
    found.append(Section(tr("What to look at"), look))
    if notes:
        found.append(Section(tr("Sources"), (Points(tuple(notes)),)))
    return Statement(
        name=tr("{robot}: the base in numbers", robot=shorten(answer.robot, TITLE_CELLS)),
        title=headline(answer),
        about=(friction,),
        headline="",
        sections=tuple(found),
        closing=(tr("These numbers are no proof: the table decides."),),
    )


def _cited(source: str, notes: list[str]) -> Iterator[str]:
    """The numbers of a formula's sources among the notes; new ones are put behind them."""
    if not source:
        return
    numbers = []
    for each in told_apart(source):
        if each not in notes:
            notes.append(each)
        numbers.append(str(notes.index(each) + 1))
    yield tr("source: {source}", source=", ".join(numbers))


def headline(answer: BaseAnswer, limit: int = TITLE_CELLS) -> str:
    """'Box one, wearing scoop: the base in numbers'; names are at most ``limit`` cells long, and three are told."""
    worn = [shorten(name, min(limit, NAME_CELLS)) for name in answer.wear]
    robot = shorten(answer.robot, limit)
    if len(worn) > MOST_WORN:
        return tr("{robot}, wearing {n} attachments: the base in numbers", robot=robot, n=len(worn))
    if len(worn) > 1:
        return tr(
            "{robot}, wearing {some} and {last}: the base in numbers",
            robot=robot, some=", ".join(worn[:-1]), last=worn[-1],
        )  # fmt: skip
    if worn:
        return tr("{robot}, wearing {attachment}: the base in numbers", robot=robot, attachment=worn[0])
    return tr("{robot}, bare: the base in numbers", robot=robot)


def amount(number: Number) -> str:
    """A number with its unit, such as '130.4 mm', '5448 mm/s^2 (5.44 m/s^2)' or '70.5 %'; '-' where there is none.

    >>> amount(Number("spin_radius", 130.384, "mm", "", "", ""))
    '130.4 mm'
    >>> amount(Number("tip_forward", 13075.5, "mm/s^2", "", "", ""))
    '13075 mm/s^2 (13.07 m/s^2)'
    >>> amount(Number("tip_forward", None, "mm/s^2", "", "", ""))
    '-'
    """
    value = number.value
    if value is None:
        return "-"
    rounded = ceiled if number.id in UP else floored if number.id in DOWN else fixed
    size = abs(value)
    match number.unit:
        case "share":
            return f"{rounded(value * 100, 1)} %"
        case "mm/s^2":
            return f"{rounded(value, 0)} mm/s^2 ({rounded(value / METRE, 2)} m/s^2)"
        case "s":
            return f"{rounded(value, 2)} s"
        case "mm" | "degrees":
            return f"{rounded(value, 1 if size >= 10 or size == 0 else 2 if size >= 1 else 3)} {tr(number.unit)}"
    return f"{rounded(value, 0 if size >= 10 else 2)} {tr(number.unit)}"


def _note(number: Number) -> str:
    return f"({number.note})" if number.note else ""


def _reach_row(reach: AttachmentReach) -> tuple[str, str, str, str]:
    sides = (
        (tr_later("{far} mm ahead"), reach.ahead),
        (tr_later("{far} mm behind"), reach.behind),
        (tr_later("{far} mm left"), reach.left),
        (tr_later("{far} mm right"), reach.right),
    )
    out = ", ".join(tr(words, far=ceiled(far, 1)) for words, far in sides if far > 0)
    name = shorten(reach.name, NAME_CELLS)
    spin, gap = ceiled(reach.spin_radius, 1), ceiled(reach.narrowest_gap, 1)
    return (
        tr("{name} (worn)", name=name) if reach.worn else name,
        tr("stands out {far}", far=out) if out else tr("stands out nowhere"),
        tr("spin circle {circle} mm (+{more})", circle=spin, more=ceiled(reach.spin_more, 1)),
        tr("gap {gap} mm (+{more})", gap=gap, more=ceiled(reach.gap_more, 1)),
    )
