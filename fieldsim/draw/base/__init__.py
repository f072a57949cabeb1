"""The picture of a base: from above and from the side, to scale, with the circles it sweeps and what it tips over.

Every number written in it is the answer's, rounded as in the text; what a colour tells is told by a line style, a
marker or a hatch as well.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fieldsim.draw.base.above import draw_above
from fieldsim.draw.base.frame import ABOVE
from fieldsim.draw.base.parts import AXLE, CASTER, CIRCLES, MIDDLE, SENSOR, TYRE, worn_look
from fieldsim.draw.base.side import draw_side
from fieldsim.draw.look import (
    ALONE,
    FOOT,
    LARGE,
    LEFT,
    NORMAL,
    PALETTE,
    RIGHT,
    SMALL,
    WIDTH,
    Sheet,
    glyphs_missing_are_boxes,
    plain_style,
)
from fieldsim.language import tr, tr_later, tr_many
from fieldsim.report.words.base import amount, headline

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from fieldsim.model import Point, Robot
    from fieldsim.studies.base.answer import BaseAnswer


# Inches. The view from above is ABOVE wide and high, the side view stands to its right, the numbers below that.
HEIGHT = 8.3
HEAD = 0.85
BESIDE = 0.8
SIDE = 2.75
LIST_ROW = 0.225
# Below the view from above it is as wide, and need not be as high.
SIDE_STACKED = 1.9

TO_SCALE = tr_later("To scale, but for how wide the wheels and how large the casters are: the file does not say.")

TITLE = 40

# What stands in the list below the side view: the number's id and how it is called there.
LIST = (
    ("narrowest_gap", tr_later("narrowest gap, driving straight")),
    ("corner_width_spin", tr_later("narrowest corner: in, spin, out")),
    ("top_speed", tr_later("the motors drive at most")),
    ("turn_step", tr_later("finest turn step")),
    ("wheel_load_share", tr_later("weight on the drive wheels")),
    ("tip_forward", tr_later("it tips forwards, braking, at")),
    ("tip_backward", tr_later("it tips backwards, speeding up, at")),
    ("tip_sideways", tr_later("it tips sideways, in a turn, at")),
    ("slip_acceleration", tr_later("a wheel may slip from")),
)


def draw_base(robot: Robot, answer: BaseAnswer, sheet: Sheet = ALONE) -> Figure:
    """A figure of the base: from above, from its right side, and the main numbers; in a report without these, and one
    view below the other.

    ``robot`` gives the outlines, ``answer`` every number. Attachments that are worn are filled, the others dotted. Save
    it with ``fieldsim.draw.save``.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    with plain_style(), glyphs_missing_are_boxes():
        if not sheet.alone:
            return _stacked(robot, answer, sheet)
        figure = Figure(figsize=(WIDTH, HEIGHT), facecolor="white")
        FigureCanvasAgg(figure)
        look: dict[str, Any] = {"va": "top", "parse_math": False}
        title = figure.text(LEFT / WIDTH, 1 - 0.13 / HEIGHT, "", fontsize=LARGE, weight="bold", **look)
        for limit in range(TITLE, 5, -4):
            title.set_text(headline(answer, limit))
            if title.get_window_extent().x1 <= figure.bbox.x1 * (1 - RIGHT / WIDTH):
                break
        figure.text(LEFT / WIDTH, 1 - 0.46 / HEIGHT, tr(TO_SCALE), fontsize=NORMAL, color="#333333", **look)
        wide, high = ABOVE
        x = LEFT + wide + BESIDE
        room = WIDTH - RIGHT - x
        _views(figure, robot, answer, (LEFT, HEIGHT - HEAD - high), (x, HEIGHT - HEAD - SIDE), (room, SIDE))
        _list(figure, answer, x, HEIGHT - HEAD - SIDE - 0.85)
        _put_legend(figure, robot, answer, FOOT + 0.02, 4)
        figure.text(
            LEFT / WIDTH, 0.1 / HEIGHT, tr("These numbers are no proof: the table decides."), fontsize=SMALL,
            color="#333333",
        )  # fmt: skip
    return figure


def _stacked(robot: Robot, answer: BaseAnswer, sheet: Sheet) -> Figure:
    """The two views one below the other."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    rows = -(-len(_legend(robot, answer)) // 2)
    legend = 0.25 + 0.17 * rows
    below = legend + 0.4
    height = below + SIDE_STACKED + 0.6 + ABOVE[1] + 0.15
    figure = Figure(figsize=(sheet.width, height), facecolor="white")
    FigureCanvasAgg(figure)
    left = (sheet.width - ABOVE[0] + LEFT - RIGHT) / 2
    _views(figure, robot, answer, (left, height - 0.15 - ABOVE[1]), (left, below), (ABOVE[0], SIDE_STACKED))
    _put_legend(figure, robot, answer, 0.05, 2)
    return figure


def _views(
    figure: Figure, robot: Robot, answer: BaseAnswer, above_at: Point, side_at: Point, side_size: tuple[float, float]
) -> None:
    """Both views, their lower left corners in inches from the figure's; the one from above is ``ABOVE`` large."""
    width, height = figure.get_size_inches()
    x, y = above_at
    above = figure.add_axes((x / width, y / height, ABOVE[0] / width, ABOVE[1] / height))
    above.set_label("above")
    draw_above(above, robot, answer)
    x, y = side_at
    side = figure.add_axes((x / width, y / height, side_size[0] / width, side_size[1] / height))
    side.set_label("side")
    draw_side(side, robot, answer, side_size)


def _put_legend(figure: Figure, robot: Robot, answer: BaseAnswer, bottom: float, columns: int) -> None:
    figure.legend(
        handles=_legend(robot, answer), loc="lower center", bbox_to_anchor=(0.5, bottom / figure.get_size_inches()[1]),
        ncols=columns, fontsize=SMALL, frameon=False, handlelength=2.8, columnspacing=1.8, borderpad=0,
    )  # fmt: skip


# --- words -------------------------------------------------------------------------------------------------------


def _list(figure: Figure, answer: BaseAnswer, x: float, top: float) -> None:
    figure.text(x / WIDTH, top / HEIGHT, tr("The main numbers"), fontsize=NORMAL, weight="bold", va="top")
    for row, (name, words) in enumerate(LIST, 1):
        y = (top - row * LIST_ROW) / HEIGHT
        number = answer.number(name)
        figure.text(x / WIDTH, y, tr(words), fontsize=NORMAL, va="top")
        figure.text((x + 2.1) / WIDTH, y, amount(number), fontsize=NORMAL, va="top")
    below = []
    if any(answer.number(name).value is None for name, _ in LIST):
        below.append(tr("-: not known, or there is none; the text tells why."))
    if answer.warnings:
        count = len(answer.warnings)
        below.append(tr_many("{n} thing to look at: see the text.", "{n} things to look at: see the text.", count))
    for row, told in enumerate(below, len(LIST) + 1):
        y = (top - (row + 0.2) * LIST_ROW) / HEIGHT
        figure.text(x / WIDTH, y, told, fontsize=NORMAL, weight="bold", va="top")


def _legend(robot: Robot, answer: BaseAnswer) -> list[Any]:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    handles: list[Any] = [
        Line2D(
            [], [], color=colour, linewidth=1.6, linestyle=style,
            label=tr(words, radius=amount(answer.number(name))),
        )
        for name, words, colour, style in CIRCLES
    ]  # fmt: skip
    handles.append(Patch(facecolor=TYRE, edgecolor="black", label=tr("wheel, from above")))
    handles.append(Line2D([], [], color=TYRE, linewidth=2.4, linestyle=(0, (4, 1)), label=tr("wheel, from the side")))
    handles.append(Line2D([], [], **AXLE, label=tr("middle of the axle")))
    if robot.casters:
        handles.append(Line2D([], [], **CASTER, label=tr("caster")))
    if robot.sensors:
        handles.append(Line2D([], [], **SENSOR, label=tr("light sensor")))
    if robot.weight is not None:
        handles.append(Line2D([], [], **MIDDLE, label=tr("centre of mass")))
    if answer.stands_on:
        handles.append(
            Line2D(
                [],
                [],
                color=PALETTE["purple"],
                linewidth=2,
                linestyle=(0, (1, 1)),
                label=tr("what it stands on, tips over"),
            )
        )
    for worn, words in ((True, tr("attachment, worn")), (False, tr("attachment, not worn"))):
        if any((each.name in answer.wear) == worn for each in robot.attachments):
            handles.append(Patch(**worn_look(worn), label=words))
    return handles
