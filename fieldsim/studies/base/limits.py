"""What the drive makes of one degree, and how fast it is: kinematics of two wheels, closed forms."""

from __future__ import annotations

from collections.abc import Iterator
from math import degrees, pi, radians, sin

from fieldsim.language import tr
from fieldsim.model import Drive, Robot, Turn
from fieldsim.sim.motion import Profile, profile, top_speed
from fieldsim.studies.base.answer import Number
from fieldsim.studies.base.sources import BRAKING, CIRCLE, ENCODER, PLANE, TRAPEZOID, WHEELS, cited


def one_degree(robot: Robot) -> Iterator[Number]:
    """What one degree of wheels and motors drives and turns."""
    drive, group = robot.drive, tr("What one degree does")
    wheel = pi * drive.wheel / 360
    motor = wheel * drive.gear
    spin = degrees(2 * motor / drive.track)
    yield Number(
        "travel_per_wheel_degree",
        wheel,
        "mm",
        tr("one degree of a wheel drives"),
        tr("pi x wheel / 360"),
        cited(CIRCLE),
        group=group,
    )
    yield Number(
        "travel_per_motor_degree",
        motor,
        "mm",
        tr("one degree of a motor drives"),
        tr("gear x pi x wheel / 360"),
        cited(CIRCLE),
        group=group,
    )
    yield Number(
        "motor_degrees_metre",
        1000 / motor,
        "degrees",
        tr("a straight of 1 m takes, of each motor"),
        tr("1000 mm / mm for one motor degree"),
        cited(CIRCLE),
        group=group,
    )
    yield Number(
        "motor_degrees_quarter_turn",
        90 / spin,
        "degrees",
        tr("a quarter turn on the spot takes, of each motor"),
        tr("90 x track / (wheel x gear)"),
        cited(WHEELS),
        group=group,
    )
    one = tr("if the motors know one degree from the next")
    yield Number(
        "straight_step",
        motor,
        "mm",
        tr("finest step of a straight"),
        tr("both motors turn by one degree"),
        cited(WHEELS, ENCODER),
        one,
        group,
    )
    yield Number(
        "turn_step",
        spin,
        "degrees",
        tr("finest step of a turn on the spot"),
        tr("each motor turns by one degree, one forwards and one backwards: 2 x mm for one motor degree / track"),
        cited(WHEELS, ENCODER),
        one,
        group,
    )
    yield Number(
        "pivot_step",
        spin / 2,
        "degrees",
        tr("finest step of a turn about one wheel"),
        tr("one motor turns by one degree: mm for one motor degree / track"),
        cited(WHEELS, ENCODER),
        one,
        group,
    )
    yield Number(
        "turn_step_at_metre",
        1000 * sin(radians(spin)),
        "mm",
        tr("one such turn step is, sideways after 1 m"),
        tr("1000 mm x sin(finest turn step)"),
        cited(PLANE),
        "",
        group,
    )


def speed_and_time(robot: Robot) -> Iterator[Number]:
    """How fast it is, and how long usual moves take."""
    drive, group = robot.drive, tr("Speed and time")
    top = top_speed(drive)
    speed = min(drive.speed, top)
    fastest_turn = degrees(2 * top / drive.track)
    metre = Profile(1000.0, speed, drive.acceleration)
    ramp = speed * speed / (2 * drive.acceleration)
    yield Number(
        "top_speed",
        top,
        "mm/s",
        tr("the motors can drive at most"),
        tr("motor speed / 360 x gear x pi x wheel"),
        cited(CIRCLE),
        group=group,
    )
    yield Number(
        "speed_share",
        drive.speed / top,
        "share",
        tr("its speed of {speed:g} mm/s is, of that", speed=drive.speed),
        tr("speed / top speed"),
        cited(CIRCLE),
        group=group,
    )
    yield Number(
        "fastest_turn",
        fastest_turn,
        "degrees/s",
        tr("the motors can turn it on the spot at most"),
        tr("2 x top speed / track"),
        cited(WHEELS),
        group=group,
    )
    yield Number(
        "turn_speed_share",
        drive.turn_speed / fastest_turn,
        "share",
        tr("its turning speed of {turn_speed:g} degrees/s is, of that", turn_speed=drive.turn_speed),
        tr("turning speed / fastest turning speed"),
        cited(WHEELS),
        group=group,
    )
    yield Number(
        "metre_time",
        metre.seconds,
        "s",
        tr("a straight of 1 m takes"),
        tr("way / speed + speed / acceleration; if it never comes to full speed, 2 x root of way / acceleration"),
        cited(TRAPEZOID),
        "" if metre.peak >= speed else tr("it comes to {peak:.0f} mm/s only", peak=metre.peak),
        group,
    )
    yield Number(
        "quarter_turn_time",
        profile(Turn(90.0), drive).seconds,
        "s",
        tr("a quarter turn on the spot takes"),
        tr("the same for a wheel's way, track x pi / 4"),
        cited(TRAPEZOID, WHEELS),
        group=group,
    )
    yield Number(
        "stop_distance",
        ramp,
        "mm",
        tr("it comes to a stop (and to speed) within"),
        tr("speed x speed / (2 x acceleration)"),
        cited(BRAKING),
        group=group,
    )
    tight = tightest_arc(drive)
    yield Number(
        "arc_radius_motor",
        tight,
        "mm",
        tr("tightest arc the motors can drive at its speed"),
        tr("the outer wheel at top speed: track / 2 / (top speed / speed - 1)"),
        cited(WHEELS),
        tr("there is none: at its speed the motors have nothing left for an outer wheel") if tight is None else "",
        group,
    )
    # Tighter than that the motors slow it down; R top^2 / (R + track/2)^2 is largest for a pivot, R = track/2.
    sideways = speed * speed / tight if tight is not None and tight < drive.track / 2 else top * top / (2 * drive.track)
    yield Number(
        "arc_acceleration",
        sideways,
        "mm/s^2",
        tr("in its sharpest arc it is pushed sideways with"),
        tr(
            "speed x speed / tightest arc, but if that arc is wider than a pivot, which the motors drive at "
            "top speed: top speed x top speed / (2 x track)"
        ),
        cited(WHEELS, BRAKING),
        "",
        group,
    )


def tightest_arc(drive: Drive) -> float | None:
    """Radius, mm, of the tightest arc whose outer wheel the motors can drive at the robot's speed; None: none is."""
    top = top_speed(drive)
    return None if drive.speed >= top else drive.track / 2 / (top / drive.speed - 1)
