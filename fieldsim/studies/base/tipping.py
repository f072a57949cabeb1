"""Weight on the wheels, tipping and slipping, as numbers: what `statics` finds of the robot as its file has it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import atan, degrees

from fieldsim.language import tr, tr_later
from fieldsim.model import Drive, Robot
from fieldsim.sim.motion import top_speed
from fieldsim.studies.base.answer import Number
from fieldsim.studies.base.limits import tightest_arc
from fieldsim.studies.base.sources import DERIVED, GUESSED, SPRINGS, STATICS, TIPPING, TRACTION, cited
from fieldsim.studies.base.statics import GRAVITY, Stand

NO_WEIGHT = tr_later("not known: the file does not give the weight")
NO_CASTERS = tr_later("not known: the file does not give the casters")
FALLS = tr_later("it does not stand: its centre of mass is not over the ground between wheels and casters")


def _missing(robot: Robot, stand: Stand | None) -> str:
    """Why nothing can be said of weight and tipping; empty if it can."""
    if robot.weight is None:
        return tr(NO_WEIGHT)
    if stand is None:
        return tr(NO_CASTERS)
    return "" if stand.stands else tr(FALLS)


def weight_numbers(robot: Robot, stand: Stand | None) -> Iterator[Number]:
    """Shares of the weight on wheels and casters."""
    group = tr("Weight on the wheels")
    why = _missing(robot, stand)
    loads = None if why or stand is None else stand.loads()
    mass = 0.0 if robot.weight is None else robot.weight.mass
    sure, source, formula = "", cited(STATICS), tr("moments about the supports")
    if stand is not None and len(stand.supports) > 3:
        source, formula = cited(STATICS, SPRINGS), tr("moments, and equal springs under every support")
        sure = tr("wheels and casters taken as equally springy")
    in_a_row = len({caster.at[0] for caster in robot.casters}) == 1
    both = formula if not in_a_row else tr("1 - x of the centre of mass / x of the casters")

    def one(name: str, index: Sequence[int], words: str, how: str, where: str, note: str = "") -> Number:
        if loads is None:
            return Number(name, None, "share", words, how, where, why, group)
        value = float(loads[list(index)].sum())
        kilograms = tr("{part:.2f} kg of {mass:g} kg", part=value * mass, mass=mass) + (f"; {note}" if note else "")
        return Number(name, value, "share", words, how, where, kilograms, group)

    yield one(
        "wheel_load_share",
        (0, 1),
        tr("both drive wheels carry"),
        both,
        cited(STATICS) if in_a_row else source,
        "" if in_a_row else sure,
    )
    yield one("wheel_load_left", (0,), tr("the left wheel"), formula, source, sure if in_a_row else "")
    yield one("wheel_load_right", (1,), tr("the right wheel"), formula, source)
    for n, caster in enumerate(robot.casters, 1):
        where = tr("caster {n}, at [{x:g}, {y:g}]", n=n, x=caster.at[0], y=caster.at[1])
        yield one(f"caster_load_{n}", (n + 1,), where, formula, source)


def tipping_numbers(robot: Robot, stand: Stand | None, friction: float) -> Iterator[Number]:
    """What tips it, and what makes a wheel slip."""
    group = tr("Tipping and slipping")
    drive = robot.drive
    why = _missing(robot, stand)
    if why or stand is None:
        for name, unit, words, formula, source in _tipping_words(drive):
            yield Number(name, None, unit, words, formula, source, why, group)
        return
    low = tr("nothing tips it: its centre of mass is not above the mat") if stand.high <= 0 else ""
    forward, backward = stand.tips((1.0, 0.0)), stand.tips((-1.0, 0.0))
    sideways = min((tip for side in (1.0, -1.0) if (tip := stand.tips((0.0, side))) is not None), default=None)
    slips = [stand.slips(side, friction) for side in (1.0, -1.0)]
    slip = min((value for value in slips if value is not None), default=None)
    limits = [value for value in (slip, forward, backward) if value is not None]
    radius = stand.tip_radius(min(drive.speed, top_speed(drive)))
    tight = tightest_arc(drive)
    first, before = tr("it tips before a wheel slips"), tr("a wheel slips before")
    # All the grip there is sideways, with all of the weight on the wheels, which is never quite so.
    slides = tr("it slides before") if sideways is not None and sideways > friction * GRAVITY else ""
    found: dict[str, tuple[float | None, str]] = {
        "stand_margin": (stand.margin, ""),
        "tip_tilt": (None if low else degrees(atan(stand.margin / stand.high)), low),
        "tip_forward": (forward, low or ("" if slips[1] is None else before)),
        "tip_backward": (backward, low or ("" if slips[0] is None else before)),
        "tip_sideways": (sideways, low or slides),
        "tip_radius": (
            radius,
            tr("the motors drive no arc that tight at this speed") if tight is None or radius < tight else "",
        ),
        "slip_forward": (slips[0], first if slips[0] is None else ""),
        "slip_backward": (slips[1], first if slips[1] is None else ""),
        "slip_acceleration": (slip, first if slip is None else ""),
        "acceleration_share": (
            (drive.acceleration / min(limits), "")
            if min(limits, default=0.0) > 0
            else (None, tr("a wheel carries nothing, so it slips at once"))
        ),
    }
    for name, unit, words, formula, source in _tipping_words(drive):
        value, note = found[name]
        yield Number(name, value, unit, words, formula, source, note, group)


def _tipping_words(drive: Drive) -> tuple[tuple[str, str, str, str, str], ...]:
    """Id, unit, words, formula and source of each number of tipping and slipping."""
    grip = tr("friction x a wheel's load under this acceleration = its push, mass x acceleration x (1/2 +- y / track)")
    speed = min(drive.speed, top_speed(drive))
    return (
        (
            "stand_margin",
            "mm",
            tr("from under the centre of mass to the edge"),
            tr("shortest way to the edge of the ground between wheels and casters"),
            cited(STATICS),
        ),
        (
            "tip_tilt",
            "degrees",
            tr("it topples when the table is tilted by"),
            tr("tan(tilt) = way to the edge / height of the centre of mass"),
            cited(STATICS),
        ),
        (
            "tip_forward",
            "mm/s^2",
            tr("it tips forwards when it brakes with"),
            tr("g x way from under the centre of mass to the edge / its height, over the foremost supports"),
            cited(TIPPING),
        ),
        (
            "tip_backward",
            "mm/s^2",
            tr("it tips backwards when it speeds up with"),
            tr("g x way from under the centre of mass to the edge / its height, over the rearmost supports"),
            cited(TIPPING),
        ),
        (
            "tip_sideways",
            "mm/s^2",
            tr("it tips sideways in a turn with"),
            tr(
                "g x way from under the centre of mass to the edge / its height, over the line from a wheel to a "
                "caster, the nearer side"
            ),
            cited(TIPPING),
        ),
        (
            "tip_radius",
            "mm",
            tr("at {speed:.0f} mm/s it tips in arcs tighter than", speed=speed),
            tr(
                "largest R with m R^2 + k n_y R = k n c over all edges: m their way from the centre of mass c, "
                "n their outward direction, k = height x speed^2 / g"
            ),
            cited(TIPPING, DERIVED),
        ),
        ("slip_forward", "mm/s^2", tr("a wheel slips when it speeds up with"), grip, cited(TRACTION, GUESSED)),
        ("slip_backward", "mm/s^2", tr("a wheel slips when it brakes with"), grip, cited(TRACTION, GUESSED)),
        (
            "slip_acceleration",
            "mm/s^2",
            tr("so a wheel may slip from here on"),
            tr("the smaller of the two"),
            cited(TRACTION, GUESSED),
        ),
        (
            "acceleration_share",
            "share",
            tr("its {acceleration:g} mm/s^2 is, of the smallest of these", acceleration=drive.acceleration),
            tr("acceleration / smallest of slipping, tipping forwards and tipping backwards"),
            cited(TIPPING, TRACTION, GUESSED),
        ),
    )
