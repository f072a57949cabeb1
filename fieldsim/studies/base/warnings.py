"""What is out of proportion in a base, or missing in its file, in words."""

from __future__ import annotations

from collections.abc import Iterator
from math import hypot

from fieldsim.language import tr, tr_later
from fieldsim.model import Robot
from fieldsim.studies.base.answer import BaseWarning
from fieldsim.studies.base.statics import Stand

# From here on a design is out of proportion. All of them: common practice, no source.
LIGHT_WHEELS = 0.5  # share of the weight on both wheels: with less they lose grip before they lose power
UNEVEN_WHEELS = 0.6  # share that one wheel has of what both carry: the lighter one slips first and it veers
HALF_WAY_TO_TIPPING = 0.5  # own acceleration as a share of the one that tips it: bumps and attachments need the rest
NEAR_SLIP = 0.8  # own acceleration as a share of the one at which wheels slip: friction is not known any better
NEAR_TOP_SPEED = 0.9  # own speed as a share of the motors' top speed: they need the rest to hold the course
WIDE_BODY = 1.4  # body's width over the track
LONG_SWING = 1.25  # spin circle's radius over half the diagonal of the rectangle around it all
COARSE_TURN = 1.0  # degrees of turning for one degree of both motors


def base_warnings(robot: Robot, known: dict[str, float | None], stand: Stand | None) -> Iterator[BaseWarning]:
    """What is out of proportion; ``known`` are the base's numbers by their ids."""
    drive, body = robot.drive, robot.body
    if robot.weight is None:
        yield BaseWarning(
            "no_weight",
            tr(
                "The file does not give the weight, so nothing is said of load, tipping and slipping: weigh the "
                "robot and balance it on an edge, lengthwise, across and on its side."
            ),
            "",
        )
    if not robot.casters:
        yield BaseWarning(
            "no_casters",
            tr(
                "The file does not give the casters, so nothing is said of load, tipping and slipping: measure "
                "where they touch the mat."
            ),
            "",
        )
    yield from _drive_warnings(robot, known)
    if drive.track > body.width:
        yield BaseWarning(
            "wheels_outside",
            tr(
                "The wheels touch the mat {track:g} mm apart but the body is only {width:g} mm wide. Gaps and "
                "circles are those of body and attachments: give the body the width over the wheels.",
                track=drive.track,
                width=body.width,
            ),
            "",
        )
    elif body.width > WIDE_BODY * drive.track:
        yield BaseWarning(
            "wide_body",
            tr(
                "The body is {width:.1f} times as wide as the track (more than {wide_body:g} times): a small "
                "slip of a wheel turns it far, and it needs wide gaps.",
                width=body.width / drive.track,
                wide_body=WIDE_BODY,
            ),
        )
    half = hypot(known["footprint_length"] or 0.0, known["narrowest_gap"] or 0.0) / 2
    swing = (known["spin_radius"] or 0.0) / half
    if swing > LONG_SWING:
        yield BaseWarning(
            "long_swing",
            tr(
                "On the spot it sweeps a circle {swing:.2f} times as large as it would with the axle in its "
                "middle (more than {long_swing:g} times): one end swings far out.",
                swing=swing,
                long_swing=LONG_SWING,
            ),
        )
    if stand is not None and robot.weight is not None:
        if not stand.stands:
            yield BaseWarning(
                "does_not_stand",
                tr(
                    "As the file has it it does not stand: its centre of mass is not over the ground between wheels "
                    "and casters. "
                    "Measure again, or move a caster."
                ),
                "",
            )
        else:
            yield from _stand_warnings(robot, known, stand)
        if robot.weight.at[2] <= 0:
            yield BaseWarning(
                "no_height",
                tr("The centre of mass is given at or below the mat, so nothing tips it: measure again."),
                "",
            )


def _drive_warnings(robot: Robot, known: dict[str, float | None]) -> Iterator[BaseWarning]:
    drive = robot.drive
    for kind, share, speed, top, beyond, near in (
        (
            "speed",
            known["speed_share"],
            drive.speed,
            known["top_speed"],
            tr_later(
                "Its speed of {speed:g} mm/s is more than the motors can do ({top:.0f} mm/s): it will drive at that, "
                "and plans are timed so."
            ),
            tr_later(
                "Its speed of {speed:g} mm/s is {share:.0f} % of what the motors can do (more than {most:.0f} %): "
                "nothing is left to hold the course with, and a tired battery is slower."
            ),
        ),
        (
            "turning_speed",
            known["turn_speed_share"],
            drive.turn_speed,
            known["fastest_turn"],
            tr_later(
                "Its turning speed of {speed:g} degrees/s is more than the motors can do ({top:.0f} degrees/s): it "
                "will drive at that, and plans are timed so."
            ),
            tr_later(
                "Its turning speed of {speed:g} degrees/s is {share:.0f} % of what the motors can do (more than "
                "{most:.0f} %): nothing is left to hold the course with, and a tired battery is slower."
            ),
        ),
    ):
        assert share is not None
        assert top is not None
        if share > 1:
            yield BaseWarning(f"{kind}_beyond_motor", tr(beyond, speed=speed, top=top), "")
        elif share > NEAR_TOP_SPEED:
            yield BaseWarning(f"{kind}_near_top", tr(near, speed=speed, share=share * 100, most=NEAR_TOP_SPEED * 100))
    step = known["turn_step"] or 0.0
    if step > COARSE_TURN:
        yield BaseWarning(
            "coarse_turn",
            tr(
                "One degree of the motors turns it by {step:.1f} degrees (more than {coarse_turn:g}): a wider "
                "track, smaller wheels or a slower gear turn it more finely.",
                step=step,
                coarse_turn=COARSE_TURN,
            ),
        )


def _stand_warnings(robot: Robot, known: dict[str, float | None], stand: Stand) -> Iterator[BaseWarning]:
    own = robot.drive.acceleration
    wheels, left = known["wheel_load_share"] or 0.0, known["wheel_load_left"] or 0.0
    if wheels < LIGHT_WHEELS:
        yield BaseWarning(
            "light_wheels",
            tr(
                "The drive wheels carry only {wheels:.0f} % of the weight (less than {light_wheels:.0f} %): "
                "move weight over the axle, or the axle under the weight.",
                wheels=wheels * 100,
                light_wheels=LIGHT_WHEELS * 100,
            ),
        )
    heavy = max(left, wheels - left) / wheels if wheels else 1.0
    if heavy > UNEVEN_WHEELS:
        yield BaseWarning(
            "uneven_wheels",
            tr(
                "One drive wheel carries {heavy:.0f} % of what both carry (more than {uneven_wheels:.0f} %): "
                "the other slips first, and then it veers.",
                heavy=heavy * 100,
                uneven_wheels=UNEVEN_WHEELS * 100,
            ),
        )
    lifted = [
        tr("The left wheel carries nothing: it hangs in the air or just touches."),
        tr("The right wheel carries nothing: it hangs in the air or just touches."),
        *(
            tr("The caster {n} carries nothing: it hangs in the air or just touches.", n=n)
            for n in range(1, len(robot.casters) + 1)
        ),
    ]
    for words, load in zip(lifted, stand.loads(), strict=True):
        if load <= 0:
            yield BaseWarning("lifted", words, "")
    slip = known["slip_acceleration"]
    if slip is not None and own > NEAR_SLIP * slip:
        if own > slip:
            words = tr(
                "Its acceleration of {own:g} mm/s^2 is more than the {limit:.0f} mm/s^2 at which a wheel slips: "
                "then the wheels turn farther than it drives. Lower the acceleration, or put more weight on the "
                "wheels.",
                own=own,
                limit=slip,
            )
        else:
            words = tr(
                "Its acceleration of {own:g} mm/s^2 is more than {share:.0f} % of the {limit:.0f} mm/s^2 at which "
                "a wheel slips: then the wheels turn farther than it drives. Lower the acceleration, or put more "
                "weight on the wheels.",
                own=own,
                limit=slip,
                share=NEAR_SLIP * 100,
            )
        yield BaseWarning("beyond_slip" if own > slip else "near_slip", words)
    for name, limit, beyond, near in (
        (
            "forward",
            known["tip_forward"],
            tr_later(
                "Its acceleration of {own:g} mm/s^2 is more than the {limit:.0f} mm/s^2 at which it tips forwards "
                "when it brakes: lower the weight, move the casters out, or accelerate less."
            ),
            tr_later(
                "Its acceleration of {own:g} mm/s^2 is more than half of the {limit:.0f} mm/s^2 at which it tips "
                "forwards when it brakes: lower the weight, move the casters out, or accelerate less."
            ),
        ),
        (
            "backward",
            known["tip_backward"],
            tr_later(
                "Its acceleration of {own:g} mm/s^2 is more than the {limit:.0f} mm/s^2 at which its front lifts "
                "when it speeds up: lower the weight, move the casters out, or accelerate less."
            ),
            tr_later(
                "Its acceleration of {own:g} mm/s^2 is more than half of the {limit:.0f} mm/s^2 at which its front "
                "lifts when it speeds up: lower the weight, move the casters out, or accelerate less."
            ),
        ),
    ):
        if limit is not None and own > HALF_WAY_TO_TIPPING * limit:
            far = own > limit
            yield BaseWarning(
                f"{'beyond' if far else 'near'}_tip_{name}", tr(beyond if far else near, own=own, limit=limit)
            )
    back = known["tip_backward"]
    if known["slip_forward"] is None and back is not None:
        yield BaseWarning(
            "tips_before_slips",
            tr(
                "Speeding up ever harder, its front lifts (at {back:.0f} mm/s^2) before a wheel slips: nothing "
                "warns you by skidding. Its own acceleration is {own:g} mm/s^2.",
                back=back,
                own=own,
            ),
            "",
        )
    if known["slip_backward"] is None and known["tip_forward"] is not None:
        yield BaseWarning(
            "tips_before_slips_braking",
            tr(
                "Braking ever harder, it tips forwards (at {tip_forward:.0f} mm/s^2) before a wheel slips. Its "
                "own acceleration is {own:g} mm/s^2.",
                tip_forward=known["tip_forward"],
                own=own,
            ),
            "",
        )
    sideways, pushed = known["tip_sideways"], known["arc_acceleration"]
    if sideways is not None and pushed is not None and pushed > HALF_WAY_TO_TIPPING * sideways:
        if pushed > sideways:
            words = tr(
                "In its sharpest arcs it is pushed sideways with {pushed:.0f} mm/s^2, more than the {limit:.0f} "
                "mm/s^2 at which it tips: drive tight arcs slower.",
                pushed=pushed,
                limit=sideways,
            )
        else:
            words = tr(
                "In its sharpest arcs it is pushed sideways with {pushed:.0f} mm/s^2, more than half of the "
                "{limit:.0f} mm/s^2 at which it tips: drive tight arcs slower.",
                pushed=pushed,
                limit=sideways,
            )
        yield BaseWarning("tips_in_arcs" if pushed > sideways else "near_tip_in_arcs", words)
