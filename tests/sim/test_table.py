"""Tables that are not the drawing: closed forms, what moves with what, and wild ones against a twin that leaves nothing
out and moves the things themselves."""

from __future__ import annotations

from dataclasses import replace
from math import erf, exp, hypot, radians, sqrt

import numpy as np
import pytest
import shapely
from plans import PERFECT, STILL, TYPICAL, cluttered, open_floor, robot, run
from reference import certified_clearance

from fieldsim.model import (
    Accuracy,
    Act,
    Box,
    Jig,
    Line,
    Obstacle,
    OtherTable,
    Outline,
    Round,
    Run,
    Sensor,
    Square,
    SquareNoise,
    StartArea,
    StartByEye,
    Straight,
    StraightNoise,
    Target,
    TurnNoise,
    Until,
)
from fieldsim.sim.draws import BLOCK, Draws
from fieldsim.sim.kernel.drive import drive
from fieldsim.sim.kernel.path import H, S, T, X, Y
from fieldsim.sim.plan import Plan, plan
from fieldsim.sim.table import seen_from
from fieldsim.sim.trials import simulate

FLOOR = open_floor()


def drawn(ready: Plan, seed: int = 1) -> np.ndarray:
    """(rows, BLOCK) drawn numbers of the first trials."""
    z = np.zeros((ready.drivetrain.rows, BLOCK))
    Draws(seed).block(0, ready.drivetrain.streams, z)
    return z


def table_draws(plan_: Run, count: int, source: int = 11, number: int = 1) -> np.ndarray:
    """(3, count) the numbers drawn for one thing: x, y, heading."""
    ready = plan(plan_)
    at = 0
    for stream in ready.drivetrain.streams:
        if (stream.source, stream.segment) == (source, number):
            return drawn(ready)[at : at + 3, :count]
        at += stream.rows
    raise AssertionError("nothing is drawn for it")


# --- closed forms --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("spread", "sd"), [(OtherTable(x=5.0), 5.0), (OtherTable(y=5.0, heading=2.0), 0.0)])
def test_a_block_ahead_is_met_as_often_as_the_normal_tail_says(spread: OtherTable, sd: float) -> None:
    """10 mm are left before it. Moved sideways it is as near; turned by v about its middle, 200 wide and 100 deep, a
    corner comes nearer by 100 sin v + 50 (cos v - 1)."""
    block = Obstacle("block", Box((2110.0 + 300 + 10 + 50, 2000.0), (100.0, 200.0)), spread=spread)
    plan_ = run(Straight(300), field=open_floor((4000.0, 4000.0), block))
    n = 20_000
    trials = simulate(plan_, n)
    if sd:
        tail = 0.5 * (1 - erf(10.0 / sd / sqrt(2)))
        assert trials.share.share == pytest.approx(1 - tail, abs=4 * sqrt(tail / n))
    else:
        # The front is 140 wide: the corner lies in front of it, moved sideways by less than 70 - 100... so by its edge.
        z = table_draws(plan_, 1000)
        for k in (int(np.argmax(z[2])), int(np.argmin(z[2])), 7):
            turned, aside = radians(2.0 * z[2, k]), 5.0 * z[1, k]
            box = shapely.affinity.rotate(shapely.box(2420, 1900, 2520, 2100), turned, (2470, 2000), use_radians=True)
            gap = shapely.affinity.translate(box, 0.0, aside).distance(shapely.box(2240, 1930, 2410, 2070))
            (column,) = np.flatnonzero(trials.obstacles == 0)
            assert trials.clearance[k, column] == pytest.approx(gap, abs=1e-9)


def test_a_target_that_is_elsewhere_is_hit_as_rayleigh_says() -> None:
    """Equal spreads in x and y: within r of it with 1 - exp(-r^2 / 2 s^2) (any statistics text)."""
    target = Target("lever", (2410.0, 2000.0), 6.0, spread=OtherTable(4.0, 4.0))
    trials = simulate(run(Straight(300), Act("lever"), field=replace(FLOOR, targets=(target,))), 20_000)
    wanted = 1 - exp(-(6.0**2) / (2 * 4.0**2))
    assert trials.share.share == pytest.approx(wanted, abs=4 * sqrt(wanted * (1 - wanted) / 20_000))


def test_a_target_that_is_turned_asks_for_another_heading() -> None:
    """Within 3 degrees, turned by 2 give or take: 2 Phi(1.5) - 1."""
    target = Target("lever", (2410.0, 2000.0), 6.0, 0.0, 3.0, spread=OtherTable(heading=2.0))
    trials = simulate(run(Straight(300), Act("lever"), field=replace(FLOOR, targets=(target,))), 20_000)
    wanted = erf(1.5 / sqrt(2))
    assert trials.share.share == pytest.approx(wanted, abs=4 * sqrt(wanted * (1 - wanted) / 20_000))
    assert (trials.miss < 1e-9).all()


EXACT = Accuracy(square=SquareNoise(0.0, 0.0), edge=0.0)


KERB = Line("kerb", (2500.0, 1000.0), (2500.0, 3000.0), 20.0)


def test_until_a_line_stops_where_the_line_lies() -> None:
    """Eye and heading are exact but for its looks: so every trial stops just past the moved edge, by the next look."""
    kerb = replace(KERB, spread=OtherTable(6.0, 0.0, 1.0))
    seeing = replace(robot(EXACT), sensors=(Sensor("left eye", (100.0, 30.0)), Sensor("right eye", (100.0, -30.0))))
    floor, until = replace(FLOOR, lines=(kerb,)), Until("kerb", "left eye", 700.0)
    plan_ = Run("To the kerb", floor, seeing, StartByEye((2000.0, 2000.0), 0.0, STILL), (until,))
    trials = simulate(plan_, 1000)
    x, _, h = table_draws(plan_, 1000, source=12)
    # The near edge, 10 before the middle, turned about (2500, 2000), where the eye's way y = 2030 crosses it.
    turned = np.radians(h)
    edge = 2500.0 + 6.0 * x - 10.0 / np.cos(turned) - 30.0 * np.tan(turned)
    past = trials.poses[:, -1, 0] + 100.0 - edge
    look = 200.0 * plan_.robot.accuracy.sample
    assert past.min() >= -1e-9
    assert past.max() <= look + 1e-9
    assert past.std() == pytest.approx(look / sqrt(12), rel=0.1)


def test_squares_stand_on_what_has_moved() -> None:
    """Flat on a turned and shifted block, exactly: the heading is the block's, and the front lies on its side."""
    block = Obstacle("block", Box((2500.0, 2000.0), (100.0, 600.0)), spread=OtherTable(8.0, 8.0, 3.0))
    floor = open_floor((4000.0, 4000.0), block)
    plan_ = run(Straight(100), Square("front", "block", 400.0), field=floor, accuracy=EXACT)
    trials = simulate(plan_, 500)
    assert trials.share.share == 1.0
    x, y, h = table_draws(plan_, 500)
    turned = np.radians(3.0 * h)
    np.testing.assert_allclose(trials.poses[:, -1, 2], 3.0 * h, atol=1e-9)
    front = trials.poses[:, -1, :2] + 110.0 * np.column_stack([np.cos(turned), np.sin(turned)])
    off = (front[:, 0] - 2500.0 - 8.0 * x) * np.cos(turned) + (front[:, 1] - 2000.0 - 8.0 * y) * np.sin(turned)
    np.testing.assert_allclose(off, -50.0, atol=1e-6)


# --- what moves with what ------------------------------------------------------------------------------------------


def test_the_mat_takes_all_with_it_but_the_walls() -> None:
    """A start by eye in the open, a model, a line, a target and the finish lie on it: nothing changes among them, and
    what the robot drives is turned about the field's middle with it. From a wall it is as far as it has moved."""
    mat = OtherTable(5.0, 4.0, 1.0)
    things = replace(
        open_floor((4000.0, 4000.0), Obstacle("post", Round((2500.0, 2100.0), 20.0))),
        targets=(Target("lever", (2410.0, 2000.0), 1e-6, 0.0, 1e-6),),
        start_areas=(StartArea("home", Box((2325.0, 2000.0), (170.001, 140.001))),),
    )
    plan_ = run(Straight(300), Act("lever"), field=replace(things, mat=mat), finish="home")
    trials = simulate(plan_, 400)
    assert trials.success.all()
    still = simulate(replace(plan_, field=things), 1)
    post = list(trials.obstacles).index(0)
    np.testing.assert_allclose(trials.clearance[:, post], still.clearance[0, 0], atol=1e-9)
    x, y, h = table_draws(plan_, 400, source=14, number=0)
    np.testing.assert_allclose(trials.poses[:, 0, 0], 2000.0 + 5.0 * x, atol=1e-9)
    np.testing.assert_allclose(trials.poses[:, 0, 1], 2000.0 + 4.0 * y, atol=1e-9)
    np.testing.assert_allclose(trials.poses[:, 1, 2], 1.0 * h, atol=1e-9)
    np.testing.assert_allclose(trials.poses[:, 1, 1], 2000.0 + 4.0 * y + 300.0 * np.sin(np.radians(h)), atol=1e-9)
    to_wall = replace(plan_, start=StartByEye((3780.0, 2000.0), 0.0, STILL), segments=(Straight(100),), finish=None)
    near = simulate(to_wall, 400)
    wall = [near.plan.solids[o].name for o in near.obstacles].index("right wall")
    u = np.radians(h)
    front = 2000.0 + 5.0 * x + 1990.0 * np.cos(u) + 70.0 * np.abs(np.sin(u))
    assert near.clearance[:, wall] == pytest.approx(np.maximum(4000.0 - front, 0.0), abs=2e-5)


BLOCK_BEHIND = Obstacle("stand", Box((1890.0, 2000.0), (100.0, 300.0)), spread=OtherTable(6.0, 6.0, 2.0))


def in_the_jig(built_on: str | None, *obstacles: Obstacle, x: float = 1940.0, **field: object) -> Run:
    jig = Jig("jig", (x, 2070.0), 0.0, "rear left", STILL, built_on)
    floor = replace(open_floor((4000.0, 4000.0), *obstacles), jigs=(jig,), **field)
    return replace(run(Straight(300), field=floor), start="jig")


def test_a_jig_moves_with_what_it_is_built_on() -> None:
    """Against a block that has moved the robot begins as far turned and shifted as the block, and drives off freely; a
    jig that is built on the walls stays; one that is said to be on the mat goes with that."""
    x, y, h = table_draws(in_the_jig(None, BLOCK_BEHIND), 300)
    for built_on in (None, "stand"):
        trials = simulate(in_the_jig(built_on, BLOCK_BEHIND), 300)
        assert trials.success.all()
        turned = np.radians(2.0 * h)
        np.testing.assert_allclose(trials.poses[:, 0, 2], 2.0 * h, atol=1e-9)
        np.testing.assert_allclose(trials.poses[:, 0, 0], 1890.0 + 6.0 * x + 110.0 * np.cos(turned), atol=1e-9)
        np.testing.assert_allclose(trials.poses[:, 0, 1], 2000.0 + 6.0 * y + 110.0 * np.sin(turned), atol=1e-9)
    on_walls = simulate(in_the_jig("walls", x=1990.0, mat=OtherTable(5.0)), 50)
    np.testing.assert_array_equal(on_walls.poses[:, 0, 0], on_walls.poses[0, 0, 0])
    for built_on in (None, "mat"):
        on_mat = in_the_jig(built_on, x=1990.0, mat=OtherTable(5.0))
        np.testing.assert_allclose(
            simulate(on_mat, 50).poses[:, 0, 0], 2050.0 + 5.0 * table_draws(on_mat, 50, 14, 0)[0], atol=1e-9
        )


def test_a_jig_on_a_wall_stays_with_it() -> None:
    jig = Jig("corner", (0.0, 500.0), 0.0, "rear left", STILL)
    floor = replace(open_floor(), jigs=(jig,), mat=OtherTable(5.0, 5.0))
    trials = simulate(replace(run(Straight(300), field=floor), start="corner"), 50)
    np.testing.assert_array_equal(trials.poses[:, 0, 0], 60.0)
    assert trials.success.all()


def test_without_a_spread_no_bit_changes_and_nothing_more_is_drawn() -> None:
    """Spreads of what the run asks nothing of are not drawn either; those of one thing leave the others' draws."""
    plain = cluttered(3)
    line, target = (
        Line("kerb", (900.0, 0.0), (900.0, 900.0), spread=OtherTable(5.0)),
        Target("lever", (500.0, 500.0), 5.0, spread=OtherTable(5.0)),
    )
    more = replace(plain, field=replace(plain.field, lines=(line,), targets=(target,)))
    assert plan(more).drivetrain.rows == plan(plain).drivetrain.rows
    first = plain.field.obstacles[0]
    moved = replace(plain.field, obstacles=(replace(first, spread=OtherTable(1e-9)), *plain.field.obstacles[1:]))
    a, b = simulate(plain, 200), simulate(replace(plain, field=moved), 200)
    np.testing.assert_array_equal(a.poses, b.poses)
    assert a.obstacles.tolist() == b.obstacles.tolist()
    others = a.obstacles != 0
    np.testing.assert_array_equal(a.clearance[:, others], b.clearance[:, others])
    np.testing.assert_allclose(a.clearance, b.clearance, atol=1e-7)


# --- the twin ------------------------------------------------------------------------------------------------------

WILD = Accuracy(straight=StraightNoise(60.0, 100.0, 40.0), turn=TurnNoise(60.0, 60.0))


def scattered(seed: int, accuracy: Accuracy, size: float) -> Run:
    """The cluttered run, where each second thing has a spread of its own and the mat has one too."""
    rng = np.random.default_rng(seed)
    plan_ = cluttered(seed, 12, accuracy)

    def spread() -> OtherTable:
        return OtherTable(*(float(v) for v in rng.uniform(0, size, 2)), float(rng.uniform(0, size / 2)))

    things = [replace(o, spread=spread()) if n % 2 else o for n, o in enumerate(plan_.field.obstacles)]
    wedge = Outline(((1500.0, 500.0), (1700.0, 500.0), (1500.0, 620.0)))
    things += [
        Obstacle("barrel", Round((900.0, 700.0), 40.0), spread=spread()),
        Obstacle("wedge", wedge, spread=spread()),
    ]
    return replace(plan_, field=replace(plan_.field, obstacles=tuple(things), mat=spread()))


def moved_cores(ready: Plan, z: np.ndarray) -> list[tuple[int, np.ndarray, float]]:
    """Every core where it stands in one trial, moved step by step: the thing about its middle, then the mat."""
    field = ready.run.field
    rows = {}
    at = 0
    for stream in ready.drivetrain.streams:
        rows[stream.source, stream.segment] = at
        at += stream.rows
    found = []
    for number, thing in enumerate(ready.solids):
        for core in thing.cores:
            points = core.points.copy()
            steps = []
            if number < len(field.obstacles):
                shape = field.obstacles[number].shape
                # The outline is a triangle.
                about = np.mean(shape.points if isinstance(shape, Outline) else [shape.center], axis=0)
                steps.append((field.obstacles[number].spread, rows.get((11, number + 1)), about))
                steps.append((field.mat, rows.get((14, 0)), np.array(field.size) / 2))
            for spread, row, about in steps:
                if row is None:
                    continue
                v = radians(spread.heading) * z[row + 2]
                turn = np.array([(np.cos(v), np.sin(v)), (-np.sin(v), np.cos(v))])
                points = (points - about) @ turn + about + (spread.x * z[row], spread.y * z[row + 1])
            found.append((number, points, core.radius))
    return found


@pytest.mark.parametrize(
    ("seed", "accuracy", "size"),
    [
        pytest.param(1, TYPICAL, 3.0, id="small"),
        pytest.param(2, TYPICAL, 60.0, id="large", marks=pytest.mark.slow),
        pytest.param(3, WILD, 200.0, id="absurd"),
        pytest.param(4, PERFECT, 20.0, id="without other noise", marks=pytest.mark.slow),
    ],
)
def test_moved_things_are_measured_as_if_the_field_had_been_drawn_so(
    seed: int, accuracy: Accuracy, size: float
) -> None:
    """Certified branch and bound (``reference``) on every piece, part and core, nothing left out, of the things moved
    themselves; the path alone is the kernel's. Absurd tables leave no bound untried: 200 mm and 100 degrees."""
    plan_ = scattered(seed, accuracy, size)
    fast = simulate(plan_, 24, seed)
    ready = plan(plan_)
    z = drawn(ready, seed)
    course = ready.course
    horizon = course.horizon
    body = [tuple(point) for point in ready.parts[0].points]
    came = 0
    for number in range(0, 24, 6):
        path = drive(course.wheels, course.alignments, z, number, moves=course.moves).path
        np.testing.assert_allclose(path[course.wheels.piece][:, [X, Y]], fast.poses[number, :, :2], atol=1e-9)
        least, first = np.full(len(ready.solids), horizon), len(path) - 1
        for o, points, radius in moved_cores(ready, z[:, number]):
            for p, row in enumerate(path[:-1]):
                far = hypot(*(points.mean(axis=0) - row[[X, Y]])) - np.ptp(points, axis=0).max() - abs(row[S]) - 130.0
                if far - radius > horizon:
                    continue
                gap, _ = certified_clearance(body, (row[X], row[Y], row[H]), row[S], row[T], points, radius, 1e-5)
                came += 1
                if gap <= 2e-5:
                    gap, first = 0.0, min(first, p)
                least[o] = min(least[o], gap)
        told = np.full(len(ready.solids), horizon)
        told[fast.obstacles] = fast.clearance[number]
        np.testing.assert_allclose(told, least, atol=2e-5)
        assert fast.contact_piece[number] == first
    assert came > 100


def test_seen_from_a_moved_thing_it_is_as_if_it_had_stayed() -> None:
    """The same rigid motion in Python (targets, finish) and in the kernel (all else): distances stay."""
    plan_ = scattered(5, PERFECT, 50.0)
    ready = plan(plan_)
    z = drawn(ready)
    moves = ready.course.moves
    poses = np.random.default_rng(1).uniform(0, 1000, (8, 3))
    for k in range(len(moves.what)):
        number = next((n for n, by in enumerate(moves.obstacle) if by == k), None)
        if number is None or len(ready.solids[number].cores) > 1:
            continue
        core = ready.solids[number].cores[0].points
        seen = seen_from(moves, k, z[:, :8], poses)
        for trial in range(8):
            moved = next(points for o, points, _ in moved_cores(ready, z[:, trial]) if o == number)
            here = np.hypot(*(moved - poses[trial, :2]).T)
            there = np.hypot(*(core - seen[trial, :2]).T)
            np.testing.assert_allclose(here, there, atol=1e-9)
            away, toward = moved[0] - poses[trial, :2], core[0] - seen[trial, :2]
            bearing = np.arctan2(away[1], away[0]) - poses[trial, 2]
            assert np.exp(1j * bearing) == pytest.approx(
                np.exp(1j * (np.arctan2(toward[1], toward[0]) - seen[trial, 2])), abs=1e-9
            )
