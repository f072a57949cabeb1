"""A kind of segment is one module, and every table by kind knows all kinds."""

from __future__ import annotations

import pkgutil
import typing
from dataclasses import replace
from math import hypot, inf, pi, radians

import numpy as np
import pytest

import fieldsim.model.segments as segments
from fieldsim.draw.aligned import ALIGNED
from fieldsim.model import (
    Act,
    Alignment,
    Arc,
    Drive,
    Field,
    Line,
    LineSquare,
    Obstacle,
    Robot,
    Round,
    Run,
    Segment,
    Sensor,
    Sight,
    Square,
    Stand,
    StartByEye,
    Straight,
    Target,
    Turn,
    Until,
    Wait,
)
from fieldsim.model.robot import Body
from fieldsim.model.segments import KINDS
from fieldsim.model.segments.kind import AlignmentKind, SegmentKind
from fieldsim.sim.drivetrain import NOISE
from fieldsim.sim.endings import ENDINGS, ending_words
from fieldsim.sim.kernel.course import CAUGHT, NOT_REACHED, TOO_SKEW
from fieldsim.sim.motion import along_piece
from fieldsim.studies.sources import WAYS
from fieldsim.window.run.numbers import _kind
from fieldsim.window.run.segments import FIRST, new_segment

DRIVE = Drive(track=120.0, wheel=60.0, speed=200.0, turn_speed=90.0)
FIELD = Field(
    "Yard",
    (2000.0, 1000.0),
    obstacles=(Obstacle("post", Round((900.0, 500.0), 40.0)),),
    lines=(Line("stripe", (300.0, 100.0), (300.0, 900.0)),),
    targets=(Target("bell", (1000.0, 500.0), 20.0),),
)
ROBOT = Robot("Box", Body(160.0, 140.0, 50.0), DRIVE, sensors=(Sensor("l", (60.0, 40.0)), Sensor("r", (60.0, -40.0))))
EACH: tuple[Segment, ...] = (
    Straight(-300.0),
    Turn(90.0),
    Turn(-90.0, about="right wheel"),
    Arc(45.0, -300.0),
    Square("rear", "near wall", 150.0),
    LineSquare("stripe", ("l", "r"), 150.0, passes=2.0),
    Until("stripe", "l", -300.0),
    Act("bell", takes=2.0),
    Wait(1.5),
)


def run_of(*steps: Segment, field: Field = FIELD, robot: Robot = ROBOT) -> Run:
    return Run("Round", field, robot, StartByEye((500.0, 500.0), 0.0), steps)


def test_every_module_of_a_kind_is_in_the_list() -> None:
    there = {name for _, name, _ in pkgutil.iter_modules(segments.__path__)} - {"kind"}
    assert {kind.__module__.rpartition(".")[2] for kind in KINDS} == there
    assert {type(each) for each in EACH} == set(KINDS)


def test_keys_differ_and_stand_for_an_attribute() -> None:
    assert len({kind.key for kind in KINDS}) == len(KINDS)
    for kind in KINDS:
        assert issubclass(kind, SegmentKind)
        assert kind.head in kind.__dataclass_fields__
        assert issubclass(kind, AlignmentKind) == (kind in typing.get_args(Alignment))


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.key)
def test_every_table_by_kind_knows_it(kind: type[Segment]) -> None:
    assert kind in NOISE
    assert kind in FIRST
    assert kind in WAYS
    first = new_segment(run_of(Wait(1.0)), kind.key, (500.0, 500.0, 0.0))
    assert isinstance(first, kind)
    assert _kind(first)
    if isinstance(first, Alignment):
        assert kind in ALIGNED
        assert set(ENDINGS[type(first)]) >= {NOT_REACHED, TOO_SKEW}
        assert ending_words(first, CAUGHT) == "caught"


@pytest.mark.parametrize("segment", EACH, ids=lambda each: each.in_words())
def test_words_say_the_numbers(segment: Segment) -> None:
    words = segment.in_words()
    said = getattr(segment, segment.head)
    assert (f"{abs(said):g}" if isinstance(said, float) else str(said)) in words


def test_ways_and_turns_by_hand() -> None:
    found = [segment.travel(120.0) for segment in EACH]
    assert found == [
        (-300.0, 0.0),
        (0.0, 90.0),
        # About the right wheel to the right: the middle of the axle drives forwards over a quarter of a circle.
        (pytest.approx(pi / 2 * 60.0), -90.0),
        (pytest.approx(-pi / 4 * 300.0), 45.0),
        (-150.0, 0.0),
        (150.0, 0.0),
        (-300.0, 0.0),
        (0.0, 0.0),
        (0.0, 0.0),
    ]


@pytest.mark.parametrize("about", [None, "left wheel", "right wheel"])
@pytest.mark.parametrize("angle", [50.0, -50.0])
def test_a_turn_leaves_its_own_point_where_it_is(about: str | None, angle: float) -> None:
    turn = Turn(angle, about=about)  # type: ignore[arg-type]
    s, t = turn.travel(120.0)
    x, y, h = along_piece((0.0, 0.0, 0.0), s, t, 1.0)
    side = {None: 0.0, "left wheel": 60.0, "right wheel": -60.0}[about]
    still = np.array([x - side * np.sin(radians(h)), y + side * np.cos(radians(h))])
    assert np.allclose(still, (0.0, side), atol=1e-9)
    # A moving wheel drives the angle about that point.
    moving = hypot(0.0, turn.arm(120.0)) * radians(abs(angle))
    assert turn.way(120.0) == pytest.approx(moving)


def test_no_wheel_rolls_faster_than_the_motors_can() -> None:
    fast = [replace(each, speed=4_000.0) for each in EACH if hasattr(each, "speed")]
    for segment in fast:
        if isinstance(segment, Arc):
            # The outer wheel drives a circle of 360 mm where the middle drives one of 300.
            assert segment.speed_on(DRIVE, 450.0) == pytest.approx(450.0 * 300.0 / 360.0)
        else:
            assert segment.speed_on(DRIVE, 450.0) == 450.0
    assert Turn(90.0, turn_speed=3_600.0).speed_on(DRIVE, 450.0) == 450.0
    assert Turn(90.0).speed_on(DRIVE, 450.0) == pytest.approx(pi / 2 * 60.0)
    assert Turn(90.0, about="left wheel").speed_on(DRIVE, 450.0) == pytest.approx(pi / 2 * 120.0)
    assert {each.speed_on(DRIVE, 450.0) for each in EACH if isinstance(each, Stand)} == {inf}


def test_only_what_stands_takes_time_by_itself() -> None:
    assert [each.standing for each in EACH] == [0.0] * 7 + [2.0, 1.5]


def test_what_an_alignment_is_on() -> None:
    aligned = [each for each in EACH if isinstance(each, Alignment)]
    assert [(each.on, each.place, each.legs, each.brakes) for each in aligned] == [
        ("near wall", "against", 1, False),
        ("stripe", "line", 2, True),
        ("stripe", "line", 1, True),
    ]
    assert [each.looks_with for each in aligned if isinstance(each, Sight)] == [("l", "r"), ("l",)]


def test_what_no_path_could_mend() -> None:
    open_board = replace(FIELD, walls=None)
    beside = replace(ROBOT, sensors=(Sensor("l", (60.0, 40.0)), Sensor("r", (20.0, 40.0))))
    for segment, field, robot, place in (
        (Square("front", "far wall", 100.0), open_board, ROBOT, "against"),
        (Square("front", "post", 100.0), FIELD, ROBOT, "against"),
        (LineSquare("stripe", ("l", "r"), 100.0), FIELD, beside, "sensors"),
    ):
        assert [each.path for each in segment.impossible(field, robot)] == [(place,)]
        with pytest.raises(ValueError, match=f"'{place}' of square 2|'{place}' of line square 2"):
            run_of(Straight(10.0), segment, field=field, robot=robot)
    for segment in EACH:
        assert list(segment.impossible(FIELD, ROBOT)) == []
