"""The room a robot needs: gaps, spins, pivots, corners, and what each attachment adds. Plane geometry, mm."""

from __future__ import annotations

from collections.abc import Iterator
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from fieldsim.language import tr
from fieldsim.model import Attachment, Point, Robot
from fieldsim.sim.shapes import footprint
from fieldsim.studies.base.answer import AttachmentReach, Number
from fieldsim.studies.base.sources import CORNER, PLANE, cited


def narrowest_corner(length: float, width: float) -> float:
    """Narrowest right-angled corner between two corridors of equal width that a rectangle can be moved through, mm.

    It goes in with its length along the first corridor and comes out with its length along the second, turned by a
    quarter. Touching both outer walls at a tilt t it stays clear of the inner corner while the corridor's width c has

        c (sin t + cos t) >= long sin t cos t + short,

    which is hardest at 45 degrees or at the ends: c = max(width, (short + long/2) / sqrt 2). If it is wider than long
    it must back out of the corner instead of driving on. With short = 0 this is the ladder, long = 2 sqrt 2 c.

    >>> round(narrowest_corner(2**1.5, 0.0), 9)
    1.0
    >>> round(narrowest_corner(170.0, 140.0), 1)
    159.1
    """
    short, long = min(length, width), max(length, width)
    return max(width, (short + long / 2) / sqrt(2))


def footprint_points(robot: Robot, wear: tuple[str, ...]) -> NDArray[np.float64]:
    """Corners (n, 2) of all that the robot carries, robot frame, mm."""
    return np.concatenate([part.points for part in footprint(robot, wear)])


def radius_about(points: NDArray[np.float64], about: Point = (0.0, 0.0)) -> float:
    """How far the farthest of points (n, 2) is from a point, mm."""
    return float(np.hypot(*(points - np.array(about)).T).max())


def attachment_reach(robot: Robot, attachment: Attachment, worn: bool) -> AttachmentReach:
    """What one attachment, worn alone, does to the room the robot needs."""
    body = robot.body
    own = np.array(attachment.outline)
    bare, with_it = footprint_points(robot, ()), footprint_points(robot, (attachment.name,))
    spin, gap = radius_about(with_it), float(np.ptp(with_it[:, 1]))
    return AttachmentReach(
        name=attachment.name,
        worn=worn,
        ahead=max(0.0, float(own[:, 0].max()) - (body.length - body.axle)),
        behind=max(0.0, -body.axle - float(own[:, 0].min())),
        left=max(0.0, float(own[:, 1].max()) - body.width / 2),
        right=max(0.0, -body.width / 2 - float(own[:, 1].min())),
        spin_radius=spin,
        spin_more=spin - radius_about(bare),
        narrowest_gap=gap,
        gap_more=gap - float(np.ptp(bare[:, 1])),
        height=attachment.height,
    )


def room_numbers(robot: Robot, wear: tuple[str, ...]) -> Iterator[Number]:
    """The room it needs as worn."""
    group = tr("Room it needs")
    points = footprint_points(robot, wear)
    half = robot.drive.track / 2
    length, width = (float(np.ptp(points[:, axis])) for axis in (0, 1))
    side = float(np.abs(points[:, 1]).max())
    spin = radius_about(points)
    yield Number(
        "footprint_length",
        length,
        "mm",
        tr("length over all"),
        tr("foremost to rearmost point"),
        cited(PLANE),
        group=group,
    )
    yield Number(
        "narrowest_gap",
        width,
        "mm",
        tr("narrowest gap, driving straight"),
        tr("width over all: outermost point left to outermost point right"),
        cited(PLANE),
        tr("like all of these without any error: leave room"),
        group,
    )
    yield Number(
        "spin_radius",
        spin,
        "mm",
        tr("radius of the circle it sweeps on the spot"),
        tr("farthest point from the middle of the axle"),
        cited(PLANE),
        group=group,
    )
    yield Number(
        "pivot_radius_left",
        radius_about(points, (0.0, half)),
        "mm",
        tr("and about the left wheel"),
        tr("farthest point from where the left wheel touches the mat"),
        cited(PLANE),
        group=group,
    )
    yield Number(
        "pivot_radius_right",
        radius_about(points, (0.0, -half)),
        "mm",
        tr("and about the right wheel"),
        tr("farthest point from where the right wheel touches the mat"),
        cited(PLANE),
        group=group,
    )
    yield Number(
        "spin_side_room",
        spin - side,
        "mm",
        tr("room at its side to spin beside a wall"),
        tr("spin radius - outermost point to the side"),
        cited(PLANE),
        "",
        group,
    )
    how = tr("shunting to and fro; wider than long, so it backs out") if width > length else tr("shunting to and fro")
    yield Number(
        "corner_width",
        narrowest_corner(length, width),
        "mm",
        tr("narrowest right-angled corner, at the very best"),
        tr(
            "two corridors of the same width; larger of width and (shorter + longer / 2) / root 2, for the "
            "rectangle around all of it, touching both outer walls and the inner corner"
        ),
        cited(CORNER),
        how,
        group,
    )
    yield Number(
        "corner_width_spin",
        max(spin * (1 + 1 / sqrt(2)), spin + side),
        "mm",
        tr("the same: drive in, spin, drive out"),
        tr(
            "the whole spin circle touches both outer walls and the inner corner: spin radius x (1 + 1 / "
            "root 2); spin radius + outermost point to the side, if that is more"
        ),
        cited(PLANE),
        "",
        group,
    )
