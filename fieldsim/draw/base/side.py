"""A robot's base from the side: height bands, centre of mass, what it stands on."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, Any

import numpy as np

from fieldsim.draw.base.above import write_name
from fieldsim.draw.base.frame import framed
from fieldsim.draw.base.parts import BODY, BODY_EDGE, CASTER, MIDDLE, NAME, TYRE, worn_look
from fieldsim.draw.labels import around
from fieldsim.draw.look import (
    PALETTE,
    SMALL,
)
from fieldsim.language import tr
from fieldsim.lettering import shorten

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from fieldsim.model import Band, Robot
    from fieldsim.studies.base.answer import BaseAnswer


def draw_side(axes: Axes, robot: Robot, answer: BaseAnswer, inches: tuple[float, float]) -> None:
    from matplotlib.patches import Circle, Rectangle

    body, wheel = robot.body, robot.drive.wheel
    parts: list[tuple[str, float, float, Band, dict[str, Any]]] = [
        (
            "body", -body.axle, body.length - body.axle, body.height,
            {"facecolor": BODY, "edgecolor": BODY_EDGE, "linewidth": 1.8, "zorder": 3},
        )
    ]  # fmt: skip
    for attachment in robot.attachments:
        xs = [x for x, _ in attachment.outline]
        parts.append((attachment.name, min(xs), max(xs), attachment.height, worn_look(attachment.name in answer.wear)))
    known = [end for *_, band, _ in parts for end in band if isfinite(end)]
    high = 0.0 if robot.weight is None else robot.weight.at[2]
    top = 1.18 * max(*known, wheel, high, 1.0)
    xs = [x for _, start, end, *_ in parts for x in (start, end)] + [wheel / 2, -wheel / 2]
    edge = 0.12 * (max(xs) - min(xs))
    places = framed(
        axes, (min(xs) - edge, -0.06 * top), (max(xs) + edge, top), inches,
        tr("from its right side: x, forward, mm"), tr("height, mm"),
    )  # fmt: skip

    for n, (_, start, end, (bottom, above), look) in enumerate(parts):
        roof = above if isfinite(above) else top
        gid = "side-body" if n == 0 else f"side-attachment-{n}"
        axes.add_patch(Rectangle((start, bottom), end - start, roof - bottom, gid=gid, **look))
    axes.add_patch(
        Circle(
            (0.0, wheel / 2), wheel / 2, facecolor="none", edgecolor=TYRE, linewidth=2.4, linestyle=(0, (4, 1)),
            zorder=4, gid="side-wheel",
        )
    )  # fmt: skip
    axes.axhline(0.0, color="black", linewidth=2.2, zorder=4.2, gid="mat")
    for n, caster in enumerate(robot.casters, 1):
        axes.plot(caster.at[0], 0.0, **CASTER, zorder=5.2, gid=f"side-caster-{n}")
    near = 6 * places.mm_per_point
    places.keep_clear(-wheel / 2, 0.0, wheel / 2, wheel, 1.0)
    if robot.weight is not None:
        x = robot.weight.at[0]
        if answer.tips_over is not None:
            for way, edge_x in zip(("backward", "forward"), answer.tips_over, strict=True):
                axes.plot(
                    [edge_x, x], [0.0, high], color=PALETTE["purple"], linewidth=2, linestyle=(0, (1, 1)), zorder=5,
                    gid=f"tips-{way}",
                )  # fmt: skip
            places.keep_clear(answer.tips_over[0], 0.0, answer.tips_over[1], high, 2.0)
        axes.plot([x, x], [0.0, high], color="black", linewidth=0.8, zorder=4.8, gid="plumb")
        axes.plot(x, high, **MIDDLE, zorder=6.2, gid="side-centre-of-mass")
        places.keep_clear(x - near, high - near, x + near, high + near, 4.0)
    thick = 3 * places.mm_per_point
    places.keep_clear(places.bounds[0], -thick, places.bounds[2], thick, 6.0)
    for _, start, end, band, _ in parts[1:]:
        places.keep_clear(start, band[0], end, min(band[1], top), 0.4)
    for name, start, end, band, _ in parts:
        bottom, roof = band[0], min(band[1], top)
        shown = tr("body") if name == "body" else shorten(name, NAME)
        words = f"{shown}, {_band_words(band)}"
        width, height = places.size(words, SMALL)
        x, middle = (start + end) / 2, (bottom + roof) / 2
        rows = np.linspace(roof - height, bottom + height, 5) if roof - bottom > 2 * height else [middle]
        inside = [(x, float(z)) for z in rows] if 1.05 * width < end - start else []
        beside = around(x, middle, (end - start) / 2, (roof - bottom) / 2, 1.05 * width, 1.3 * height)
        write_name(axes, places.find([*inside, *beside], width, height, inside=len(inside)), words)
        if name == "body":
            places.keep_clear(start, bottom, end, roof, 1.0)


def _band_words(band: Band) -> str:
    if not isfinite(band[1]):
        return tr("height not given") if band[0] == 0 else tr("from {bottom:g} mm up", bottom=band[0])
    return tr("{bottom:g} to {top:g} mm", bottom=band[0], top=band[1])
