"""`base`: the base in numbers. What its wheels and motors make of a degree, the room it needs, what stands on what, and
what tips it or makes it skid. Closed forms and plane statics, no trials.

mm, degrees, seconds, mm/s^2, kg; shares of the weight from 0 to 1. ``limits`` knows the drive, ``reach`` the room,
``statics`` the rigid body and ``tipping`` its numbers; ``warnings`` says what is out of proportion.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

from fieldsim import __version__
from fieldsim.language import tr
from fieldsim.model import Point, Robot
from fieldsim.model.bounds import Named, unknown_name
from fieldsim.model.errors import Complaint, PlanError
from fieldsim.studies.base.answer import FRICTION, BaseAnswer
from fieldsim.studies.base.limits import one_degree, speed_and_time
from fieldsim.studies.base.reach import attachment_reach, room_numbers
from fieldsim.studies.base.statics import stand_of
from fieldsim.studies.base.tipping import tipping_numbers, weight_numbers
from fieldsim.studies.base.warnings import base_warnings


def base(robot: Robot, wear: Sequence[str] = (), friction: float = FRICTION) -> BaseAnswer:
    """The base in numbers.

    Parameters
    ----------
    robot : Robot
        As it stands in its file. ``weight`` and ``casters`` may be missing: then what hangs on them is None.
    wear : sequence of str
        Names of the attachments that are on. They change the room it needs; their weight is in no file.
    friction : float
        Between wheels and mat, more than 0 and at most 3. The default is common practice, no source.

    Returns
    -------
    BaseAnswer
        Numbers in mm, degrees, seconds, mm/s^2 and shares; warnings in words.

    Raises
    ------
    PlanError
        An attachment the robot does not have, or a friction that cannot be.
    """
    wear = tuple(dict.fromkeys(wear))
    _check(robot, wear, friction)
    stand = stand_of(robot)
    numbers = (
        *one_degree(robot),
        *speed_and_time(robot),
        *room_numbers(robot, wear),
        *weight_numbers(robot, stand),
        *tipping_numbers(robot, stand, friction),
    )
    hull: tuple[Point, ...] = ()
    tips_over = None
    if stand is not None:
        hull = tuple((float(x), float(y)) for x, y in stand.hull)
        if stand.stands:
            tips_over = (stand.middle[0] - stand.room((-1.0, 0.0)), stand.middle[0] + stand.room((1.0, 0.0)))
    return BaseAnswer(
        version=__version__,
        robot=robot.name,
        wear=wear,
        numbers=numbers,
        warnings=tuple(base_warnings(robot, {number.id: number.value for number in numbers}, stand)),
        attachments=tuple(
            attachment_reach(robot, attachment, attachment.name in wear) for attachment in robot.attachments
        ),
        friction=friction,
        stands_on=hull,
        tips_over=tips_over,
    )


def _check(robot: Robot, wear: tuple[str, ...], friction: float) -> None:
    names = [attachment.name for attachment in robot.attachments]
    complaints = []
    for name in wear:
        if name not in names:
            found = unknown_name(Named("an attachment", of="attachment"), name, names)
            complaints.append(Complaint(("wear",), found.message, found.hint))
    if not (isfinite(friction) and 0 < friction <= 3):
        complaints.append(
            Complaint(
                ("friction",),
                tr("is {friction}; it must be more than 0 and at most 3", friction=repr(friction)),
                tr("{friction} is a fair guess", friction=FRICTION),
            )
        )
    if complaints:
        raise PlanError([f"{c.path[0]} {c.message}; {c.hint}" for c in complaints], complaints)
